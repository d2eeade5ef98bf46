"""Rolls and ends: flaws, what lays are promised of them, and ends cut off, with and without JavaScript."""

from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from planner.cutting.models import Batch, Lay, LayCloth, LayFact, LayRoll, Marker
from planner.materials import actions, roll_actions
from planner.materials.models import Fabric, Roll, RollFlaw, StockMove, Workroom
from planner.materials.rolls import on_shelf
from tests.answers import assert_refused_at
from tests.factories import NOON, TODAY, make_fabric_colour, stock

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}
BOTH = pytest.mark.parametrize("headers", [{}, HTMX], ids=["plain", "htmx"])


def read(answer: Any) -> str:
    return answer.content.decode().replace("\N{THIN SPACE}", " ")


def a_roll(metres: float = 10, number: str = "R2", **fields: Any) -> Roll:
    roll = stock(make_fabric_colour(), metres, roll=number, shade_lot="7A").roll
    assert roll is not None
    Roll.objects.filter(pk=roll.pk).update(**fields)
    return roll


def line_of(roll: Roll) -> Any:
    return on_shelf(Roll.objects.with_left().filter(pk=roll.pk))[0]


def promise(
    roll: Roll, spreads: int = 3, *, length_mm: float = 2390.0, mode: str = "open", **lay: Any
) -> LayRoll:
    """A lay of a planned batch that is to take so many spreads of the roll."""
    batch, _ = Batch.objects.get_or_create(
        number="B-0007", defaults={"due_on": TODAY, "made_on": TODAY, "state": "planned"}
    )
    marker = Marker.objects.create(key=f"m{Lay.objects.count()}", job={}, state="ready", length_mm=length_mm)
    row = Lay.objects.create(
        batch=batch, number=batch.lays.count() + 1, mode=mode, lay_width_mm=1400,
        one_way=True, end_allowance_mm=20, estimated_length_mm=3000, marker=marker, **lay,
    )  # fmt: skip
    cloth = LayCloth.objects.create(lay=row, fabric_colour=roll.fabric_colour, spreads=spreads)
    return LayRoll.objects.create(lay_cloth=cloth, roll=roll, spreads=spreads)


@BOTH
def test_the_page_of_a_roll_shows_what_is_left_its_lot_and_no_flaw(
    helper_client: Client, headers: dict[str, str]
) -> None:
    page = read(helper_client.get(reverse("roll-detail", args=[a_roll().pk]), headers=headers))
    assert ("<html" in page) == (not headers)
    assert "10.0 m left, shade lot 7A." in page
    assert "No flaw is noted." in page
    assert "No lay is to be cut from it yet." in page


def test_no_roll_has_no_page(helper_client: Client) -> None:
    assert helper_client.get(reverse("roll-detail", args=[999])).status_code == 404
    assert (
        helper_client.post(reverse("flaw-new", args=[999]), {"from_m": "1", "to_m": "2"}).status_code == 404
    )


@BOTH
def test_a_flaw_is_noted_and_removed(helper_client: Client, headers: dict[str, str]) -> None:
    roll = a_roll()
    url = reverse("flaw-new", args=[roll.pk])
    assert "Note a flaw" in read(helper_client.get(url, headers=headers))
    data = {"from_m": "320 cm", "to_m": "3.4", "note": "hole"}
    page = read(helper_client.post(url, data, headers=headers, follow=not headers))
    assert "The flaw from 3.2 m to 3.4 m is noted." in page
    assert "Between flaws at most 6.6 m in one piece." in page
    flaw = RollFlaw.objects.get()
    assert (flaw.from_m, flaw.to_m, flaw.note) == (Decimal("3.20"), Decimal("3.40"), "hole")
    stock_page = read(helper_client.get(reverse("colour-stock", args=[roll.fabric_colour_id])))
    assert "Flaw from 3.2 m to 3.4 m: hole" in stock_page
    remove = reverse("flaw-remove", args=[flaw.pk])
    assert helper_client.get(remove).status_code == 405
    page = read(helper_client.post(remove, headers=headers, follow=not headers))
    assert "The flaw from 3.2 m to 3.4 m is removed." in page
    assert not RollFlaw.objects.exists()


WRONG_FLAWS = (
    ("from_m", "", "Please fill this in."),
    ("from_m", "-1", "less than nothing"),
    ("from_m", "the middle", "is not a length"),
    ("from_m", "10", "There are only 10 m on this roll."),
    ("from_m", "3.25", "A flaw is noted there already."),
    ("to_m", "", "Please fill this in."),
    ("to_m", "3.1", "A flaw ends further in than it begins."),
    ("to_m", "10.5", "There are only 10 m on this roll."),
    ("note", "x" * 121, "At most 120 letters"),
)


def test_a_wrong_flaw_is_answered_at_its_field_and_kept(helper_client: Client, subtests: Any) -> None:
    """With HTMX and without by turns."""
    roll = a_roll()
    RollFlaw.objects.create(roll=roll, from_m="3.20", to_m="3.40")
    for at, (field, typed, said) in enumerate(WRONG_FLAWS):
        with subtests.test(field, typed=typed):
            data = {"from_m": "3.1", "to_m": "3.3", "note": "", field: typed}
            url = reverse("flaw-new", args=[roll.pk])
            answer = helper_client.post(url, data, headers=HTMX if at % 2 else {})
            assert_refused_at(answer, field, said, typed)
            assert RollFlaw.objects.count() == 1


def test_flaws_move_with_what_is_taken_off_the_outer_end(helper: User) -> None:
    roll = a_roll()
    for low, high in (("0.50", "0.80"), ("1.80", "2.20"), ("6.00", "6.10")):
        RollFlaw.objects.create(roll=roll, from_m=low, to_m=high)
    actions.take_out_cloth(roll, Decimal("2.00"), person=helper, at=NOON)
    line = line_of(roll)
    assert [(flaw.from_m, flaw.to_m) for flaw in line.flaws] == [
        (Decimal("0"), Decimal("0.20")),
        (Decimal("4.00"), Decimal("4.10")),
    ]
    assert line.is_end
    assert line.longest_m == Decimal("3.90")


def test_a_count_leaves_flaws_where_they_are_and_shows_none_beyond_the_roll(helper: User) -> None:
    roll = a_roll()
    RollFlaw.objects.create(roll=roll, from_m="9.00", to_m="9.50")
    actions.count_cloth(roll, Decimal("9.20"), person=helper, at=NOON)
    assert [(f.from_m, f.to_m) for f in line_of(roll).flaws] == [(Decimal("9.00"), Decimal("9.20"))]
    actions.count_cloth(roll, Decimal("8.00"), person=helper, at=NOON)
    assert line_of(roll).flaws == ()
    assert not line_of(roll).is_end


def test_whoever_counts_a_roll_with_flaws_differently_is_told_to_look_at_them(helper_client: Client) -> None:
    roll = a_roll()
    RollFlaw.objects.create(roll=roll, from_m="9.00", to_m="9.50")
    url = reverse("roll-count", args=[roll.pk])
    told = "Look where its flaws lie now"
    assert told not in read(helper_client.post(url, {"metres": "10"}, follow=True))
    assert told in read(helper_client.post(url, {"metres": "9.8"}, follow=True))


@BOTH
def test_an_end_is_cut_off_and_keeps_lot_width_and_its_flaws(
    helper_client: Client, helper: User, headers: dict[str, str]
) -> None:
    roll = a_roll(full_width_mm=Decimal("1480"))
    for low, high in (("0.20", "0.30"), ("2.90", "3.10"), ("5.00", "5.20")):
        RollFlaw.objects.create(roll=roll, from_m=low, to_m=high, note="join")
    url = reverse("roll-part", args=[roll.pk])
    assert "Cut off an end to keep" in read(helper_client.get(url, headers=headers))
    page = read(helper_client.post(url, {"metres": "3"}, headers=headers, follow=not headers))
    assert "3.0 m are kept as R2-2; 7.0 m left." in page
    end = Roll.objects.get(number="R2-2")
    assert (end.shade_lot, end.full_width_mm) == ("7A", Decimal("1480.0"))
    assert [(f.from_m, f.to_m, f.note) for f in line_of(end).flaws] == [
        (Decimal("0.20"), Decimal("0.30"), "join"),
        (Decimal("2.90"), Decimal("3.00"), "join"),
    ]
    assert [(f.from_m, f.to_m) for f in line_of(roll).flaws] == [
        (Decimal("0.00"), Decimal("0.10")),
        (Decimal("2.00"), Decimal("2.20")),
    ]
    assert line_of(end).is_end
    assert line_of(end).left_m == 3
    # What is on hand of the cloth is the same as before.
    assert StockMove.objects.filter(fabric_colour=roll.fabric_colour).total() == 10
    parted = roll_actions.part_roll(roll, Decimal(1), person=helper, at=NOON)
    assert parted.end.number == "R2-3"


def test_ends_of_a_roll_with_a_long_number_are_told_apart(helper: User) -> None:
    roll = a_roll(number="mill 7, bale 12, received on the 3rd top")
    assert len(roll.number) == 40
    first, second = (roll_actions.part_roll(roll, Decimal(1), person=helper, at=NOON).end for _ in range(2))
    assert (first.number, second.number) == (f"{roll.number[:38]}-2", f"{roll.number[:38]}-3")


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("metres", "10", "The roll has 10 m; cut off less than that."),
        ("metres", "0", "more than 0 m"),
        ("number", "r2", "There is a roll r2 of this cloth already."),
    ],
)
def test_a_wrong_end_is_answered_at_its_field(
    helper_client: Client, field: str, typed: str, said: str
) -> None:
    roll = a_roll()
    data = {"metres": "3", "number": "", "note": "", field: typed}
    answer = helper_client.post(reverse("roll-part", args=[roll.pk]), data)
    assert_refused_at(answer, field, said)
    assert Roll.objects.count() == 1


@BOTH
def test_lays_a_roll_is_promised_to_are_shown_with_their_metres(
    helper_client: Client, headers: dict[str, str]
) -> None:
    """3 plies of 2.39 m and 2 × 20 mm are 7.29 m; face to face a spread is two plies."""
    roll = a_roll(15)
    promise(roll)
    promise(roll, 1, length_mm=1960.0, mode="face_to_face")
    page = read(helper_client.get(reverse("roll-detail", args=[roll.pk]), headers=headers))
    assert "B-0007, lay 1" in page
    assert [(p.lay, p.spreads, p.metres) for p in line_of(roll).promises] == [
        (1, 3, Decimal("7.29")),
        (2, 1, Decimal("4.00")),
    ]
    assert "<span>3 plies</span>" in page
    assert "<span>1 pair of plies</span>" in page
    assert "Free: 3.71 m." in page
    stock_page = read(helper_client.get(reverse("colour-stock", args=[roll.fabric_colour_id])))
    assert "7.29 m promised to" in stock_page


def test_what_is_spread_of_a_roll_is_told_as_on_the_page_of_its_lay(helper_client: Client) -> None:
    roll = a_roll(15)
    promise(roll, 2, mode="folded")
    address = reverse("roll-detail", args=[roll.pk])
    assert "<span>2 folded lengths</span>" in read(helper_client.get(address))
    Fabric.objects.update(is_tube=True)
    assert "<span>2 tube lengths</span>" in read(helper_client.get(address))


def test_what_is_lost_at_a_flaw_before_promised_plies_is_not_free(helper_client: Client) -> None:
    """Plies of 2.43 m do not lie before a flaw from 1.0 to 1.2 m: the first 1.2 m are lost, as cut off with it."""
    roll = a_roll(15)
    promise(roll)
    RollFlaw.objects.create(roll=roll, from_m="1.00", to_m="1.20")
    assert (line_of(roll).free_m, line_of(roll).lost_m) == (Decimal("6.51"), Decimal("1.20"))
    page = read(helper_client.get(reverse("roll-detail", args=[roll.pk])))
    assert "Free: 6.51 m, besides 1.2 m that are cut off and lost at the flaw" in page
    # Two plies lie before this one, and 0.24 m of good cloth with the flaw go before the third.
    RollFlaw.objects.update(from_m="5.10", to_m="5.20")
    assert line_of(roll).lost_m == Decimal("0.34")
    RollFlaw.objects.update(from_m="9.00", to_m="9.20")
    assert line_of(roll).lost_m == 0


def test_what_is_cut_or_of_a_batch_that_is_over_is_promised_no_longer(helper: User) -> None:
    roll = a_roll(15)
    planned = promise(roll)
    promise(roll, 2, cut_at=NOON)
    LayFact.objects.create(
        lay_cloth=planned.lay_cloth, roll=roll, spreads=1, used_m="2.43", person=helper, told_at=NOON
    )
    LayFact.objects.create(
        lay_cloth=planned.lay_cloth, roll=roll, spreads=1, used_m="2.43", told_at=NOON, taken_back_at=NOON
    )
    assert [(p.lay, p.spreads, p.metres) for p in line_of(roll).promises] == [(1, 2, Decimal("4.86"))]
    Batch.objects.update(state="cancelled")
    assert line_of(roll).promises == ()


def test_cloth_washed_first_takes_more_of_the_roll() -> None:
    """5 % lost in the wash: 1.90 m on the table are 2.00 m of the roll."""
    roll = a_roll()
    fabric = roll.fabric_colour.fabric
    fabric.shrinkage_handling, fabric.shrinkage_length_percent = "wash_first", Decimal("5")
    fabric.save()
    promise(roll, 1, length_mm=1860.0)
    assert line_of(roll).promised_m == Decimal("2.00")


def test_more_promised_than_there_is_is_said(helper_client: Client, helper: User) -> None:
    roll = a_roll()
    promise(roll)
    actions.count_cloth(roll, Decimal("5"), person=helper, at=NOON)
    page = read(helper_client.get(reverse("roll-detail", args=[roll.pk])))
    assert "Lays are to take 7.29 m, more than there is. Open <a href" in page
    assert "and give the lays not cut other rolls." in page
    stock_page = read(helper_client.get(reverse("colour-stock", args=[roll.fabric_colour_id])))
    assert "Not enough for them. Open <a href" in stock_page
    assert line_of(roll).free_m == 0


def test_the_pages_ask_the_same_number_of_times_however_much_there_is(
    helper_client: Client, django_assert_num_queries: Any
) -> None:
    roll = a_roll(90)
    for n in range(5):
        RollFlaw.objects.create(roll=roll, from_m=n, to_m=f"{n}.5")
        promise(roll, 2)
    Workroom.the()
    # Session, person, roll, roll with begun, flaws, promises, count of moves, moves, workroom.
    with django_assert_num_queries(9):
        helper_client.get(reverse("roll-detail", args=[roll.pk]))


def test_a_stranger_sees_no_roll(client: Client) -> None:
    assert client.get(reverse("roll-detail", args=[a_roll().pk])).status_code == 302
