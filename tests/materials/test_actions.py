"""Stock comes in, is counted again and goes out; what is used is not thrown away."""

import re
from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from planner.materials import actions
from planner.materials.models import Fabric, FabricColour, NotionColour, Roll, StockMove
from tests.factories import (
    NOON,
    make_fabric,
    make_fabric_colour,
    make_notion,
    make_notion_colour,
    make_style,
    make_supplier,
    stock,
)

pytestmark = pytest.mark.django_db


def on_hand(colour: FabricColour | NotionColour) -> Decimal:
    row = type(colour).objects.with_stock().get(pk=colour.pk)
    return row.on_hand_m if isinstance(colour, FabricColour) else row.on_hand


def test_a_roll_comes_in_with_who_and_when(maker: User) -> None:
    colour = make_fabric_colour()
    got = actions.receive_cloth(colour, Decimal("25.5"), shade_lot="7A", person=maker, at=NOON)
    assert (got.move.quantity, got.move.reason) == (Decimal("25.5"), "bought")
    assert (got.move.person, got.move.moved_at) == (maker, NOON)
    assert (got.roll.shade_lot, got.roll.fabric_colour) == ("7A", colour)
    assert on_hand(colour) == Decimal("25.50")


def test_a_roll_without_a_number_gets_one_of_its_own(maker: User) -> None:
    colour = make_fabric_colour()
    numbers = {actions.receive_cloth(colour, Decimal(1), person=maker, at=NOON).roll.number for _ in range(3)}
    assert len(numbers) == 3
    assert "" not in numbers


def test_a_number_is_given_to_one_roll_of_a_cloth(maker: User) -> None:
    colour = make_fabric_colour()
    actions.receive_cloth(colour, Decimal(1), number="a1", person=maker, at=NOON)
    with pytest.raises(actions.StockError, match="roll A1") as refused:
        actions.receive_cloth(colour, Decimal(1), number="A1", person=maker, at=NOON)
    assert refused.value.field == "number"
    assert Roll.objects.count() == StockMove.objects.count() == 1


def test_a_number_somebody_typed_is_not_given_once_more(maker: User) -> None:
    """As cloth is told apart on papers: in any colour of it, in small letters or large."""
    colour, other = make_fabric_colour(name="black"), make_fabric_colour(name="ecru")
    first = actions.receive_cloth(colour, Decimal(1), person=maker, at=NOON).roll.pk
    for ahead, name in ((2, "R"), (3, "r")):
        actions.receive_cloth(other, Decimal(1), number=f"{name}{first + ahead + 1}", person=maker, at=NOON)
    got = [actions.receive_cloth(colour, Decimal(1), person=maker, at=NOON).roll.number for _ in range(3)]
    numbers = [number.casefold() for number in Roll.objects.values_list("number", flat=True)]
    assert len(set(numbers)) == len(numbers) == 6, (numbers, got)
    assert all(re.fullmatch(r"R\d+", number) for number in got)


def test_no_two_rolls_of_a_cloth_are_kept_with_one_number() -> None:
    colour = make_fabric_colour()
    stock(colour, 1, roll="R7")
    with pytest.raises(IntegrityError), transaction.atomic():
        stock(colour, 1, roll="R7")
    stock(make_fabric_colour("rib"), 1, roll="R7")


def test_nothing_or_less_does_not_come_in(maker: User) -> None:
    for metres in ("0", "-1"):
        with pytest.raises(actions.StockError):
            actions.receive_cloth(make_fabric_colour(), Decimal(metres), person=maker, at=NOON)
    assert not Roll.objects.exists()


def test_counting_a_roll_moves_the_difference(maker: User) -> None:
    colour = make_fabric_colour()
    roll = stock(colour, 10, roll="1").roll
    other = stock(colour, 4, roll="2").roll
    counted = actions.count_cloth(roll, Decimal("8.2"), person=maker, at=NOON)
    assert counted.difference == counted.move.quantity == Decimal("-1.80")
    assert (counted.move.reason, counted.before) == ("counted", Decimal("10.00"))
    left = {row.pk: row.left_m for row in Roll.objects.with_left()}
    assert left == {roll.pk: Decimal("8.20"), other.pk: Decimal("4.00")}
    assert on_hand(colour) == Decimal("12.20")


def test_counting_what_is_right_is_noted_and_changes_nothing(maker: User) -> None:
    colour = make_fabric_colour()
    roll = stock(colour, 10, roll="1").roll
    counted = actions.count_cloth(roll, Decimal(10), person=maker, at=NOON)
    assert counted.move.quantity == 0
    assert on_hand(colour) == 10


def test_loose_cloth_is_counted_apart_from_the_rolls(maker: User) -> None:
    colour = make_fabric_colour()
    stock(colour, 10, roll="1")
    stock(colour, 3)
    assert actions.count_loose_cloth(colour, Decimal(1), person=maker, at=NOON).before == 3
    assert on_hand(colour) == 11


def test_damaged_cloth_leaves_the_roll(maker: User) -> None:
    colour = make_fabric_colour()
    roll = stock(colour, 10, roll="1").roll
    taken = actions.take_out_cloth(roll, Decimal("1.25"), note="oil", person=maker, at=NOON)
    assert (taken.move.quantity, taken.move.reason, taken.left) == (
        Decimal("-1.25"),
        "damaged",
        Decimal("8.75"),
    )


def test_no_more_leaves_a_roll_than_is_on_it(maker: User) -> None:
    colour = make_fabric_colour()
    roll = stock(colour, 10, roll="1").roll
    stock(colour, 50, roll="2")
    with pytest.raises(actions.StockError, match=r"only 10 m on roll 1"):
        actions.take_out_cloth(roll, Decimal("10.01"), person=maker, at=NOON)
    assert on_hand(colour) == 60


def test_notions_come_in_are_counted_and_taken_out(maker: User) -> None:
    label = make_notion_colour("size label")
    actions.receive_notion(label, Decimal(100), person=maker, at=NOON)
    assert actions.count_notion(label, Decimal(96), person=maker, at=NOON).difference == -4
    assert actions.take_out_notion(label, Decimal(6), reason="used", person=maker, at=NOON).left == 90
    assert on_hand(label) == 90
    with pytest.raises(actions.StockError, match="only"):
        actions.take_out_notion(label, Decimal(91), person=maker, at=NOON)


def test_low_is_less_than_the_mark() -> None:
    fabric = make_fabric("voile", low_m=Decimal(5))
    ink, moss = make_fabric_colour(fabric, "ink"), make_fabric_colour(fabric, "moss")
    make_fabric_colour(make_fabric("never told"), "ink")
    stock(ink, 5)
    stock(moss, "4.99")
    assert list(FabricColour.objects.low()) == [moss]


def test_what_is_used_is_not_thrown_away_and_the_reason_is_told() -> None:
    make_style("110", "box top")
    fabric = Fabric.objects.get(name="jersey")
    with pytest.raises(actions.StillUsedError, match=r"jersey cannot be deleted: .*styles \(110 box top\)"):
        actions.delete_unused(fabric)
    with pytest.raises(actions.StillUsedError, match="styles"):
        actions.delete_unused(make_notion("size label"))
    assert Fabric.objects.filter(name="jersey").exists()


def test_cloth_with_recorded_stock_is_not_thrown_away() -> None:
    colour = make_fabric_colour()
    stock(colour, 2, roll="12")
    with pytest.raises(actions.StillUsedError, match=r"recorded stock, rolls received \(12\)"):
        actions.delete_unused(colour)


def test_a_supplier_of_something_is_not_thrown_away() -> None:
    supplier = make_supplier()
    make_fabric("voile", supplier=supplier)
    with pytest.raises(actions.StillUsedError, match=r"cloth \(voile\)"):
        actions.delete_unused(supplier)


def test_what_is_unused_is_thrown_away_with_its_colours() -> None:
    colour = make_fabric_colour("voile", "moss")
    assert actions.delete_unused(colour.fabric).name == "voile"
    assert not FabricColour.objects.filter(pk=colour.pk).exists()
