"""Lays that share a roll with a flaw are cut in the order in which least is lost: all that tells an order tells it."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.cutting.actions import choices
from planner.cutting.actions.booking import Told
from planner.cutting.actions.table import tell_lay
from planner.cutting.flaws_ahead import flaws_ahead, lost_at_flaws
from planner.cutting.models import Batch, Lay, LayRoll, Marker
from planner.cutting.reading import lays_of
from planner.cutting.rolls_there import dues_before
from planner.cutting.turns import next_to_cut
from planner.materials.models import Fabric, Roll, RollFlaw, Workroom
from planner.materials.promised import StillPromised
from planner.materials.rolls import on_shelf
from tests.cutting import once
from tests.cutting.table_makers import only_cloth, roll_of
from tests.cutting.test_flaw_told import at_table, cut, plain, ticket
from tests.factories import NOON, TODAY, make_order
from tests.papers.words import all_words
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db


@once.once
def two_lays() -> Batch:
    """Two garments in lays of their own, of 1.70 m and 2.46 m with what is at their ends. R9 has 10 m and a flaw from
    2.50 to 2.80 m: the first lay first loses 1.10 m, the second first 0.34 m.
    """
    Workroom.the()
    Workroom.objects.update(most_plies=1)
    late = make_order([(the_style(), {"neck": "self band"}, "ink", {"S": 1})], due_on=TODAY + timedelta(40))
    soon = make_order([(the_style(), {"neck": "self band"}, "ink", {"L": 1})], due_on=TODAY + timedelta(40))
    made = once.waiting_batch(late, soon)
    plan = made.cut_plans.get(fabric__name="jersey")
    assert not choices.choose_kinds(made, plan.pk, "apart", [("110", "S"), ("110", "L")], None).problem
    made = once.settled(made)
    Fabric.objects.update(damage_percent=0, pack_quantity=Decimal("0.01"))
    made.lays.update(end_allowance_mm=20)
    LayRoll.objects.filter(lay_cloth__lay__batch=made).delete()
    lays = list(made.lays.order_by("number"))
    assert len(lays) == 2
    roll = roll_of(only_cloth(lays[0]), metres="10")
    for lay, length_mm in zip(lays, (1660.0, 2420.0), strict=True):
        Marker.objects.filter(pk=lay.marker_id).update(length_mm=length_mm)
        LayRoll.objects.create(lay_cloth=only_cloth(lay), roll=roll, spreads=1)
    RollFlaw.objects.create(roll=roll, from_m="2.5", to_m="2.8")
    return made


@pytest.fixture
def batch() -> Batch:
    return two_lays()


def numbers(batch: Batch) -> tuple[int, int]:
    first, second = batch.lays.order_by("number").values_list("number", flat=True)
    return first, second


def page_of(client: Client, batch: Batch) -> str:
    return plain(client.get(reverse("batch-detail", args=[batch.number])).content.decode())


def on_page(client: Client, batch: Batch) -> list[int]:
    return [
        int(number) for number in re.findall(r'<article class="lay" id="lay-(\d+)"', page_of(client, batch))
    ]


def sheet(client: Client, batch: Batch) -> str:
    return plain(all_words(client.get(reverse("cut-sheet", args=[batch.number])).content))


def lay_of(batch: Batch, number: int) -> Lay:
    return batch.lays.get(number=number)


def old_tickets(client: Client, batch: Batch) -> tuple[int, ...]:
    return client.get(reverse("batch-detail", args=[batch.number])).context["papers"].old_tickets


def test_page_ticket_sheet_roll_and_table_tell_the_order_in_which_least_is_lost(
    maker_client: Client, batch: Batch
) -> None:
    first, second = numbers(batch)
    assert on_page(maker_client, batch) == [second, first]
    assert next_to_cut(batch) == second
    words = (
        f"R9: once lay {second} is cut from it, flaw 0.04–0.34 m from its end; begin the ply at 0.34 m, so that"
        " 2.04 m come off the roll"
    )
    assert words in at_table(maker_client, lay_of(batch, first))
    of_first, of_second = (ticket(maker_client, lay_of(batch, number)) for number in (first, second))
    assert words in of_first
    assert "2nd of 2 to cut" in of_first
    assert "1st of 2 to cut" in of_second
    for said in (of_second, at_table(maker_client, lay_of(batch, second))):
        assert "from its end" not in said
    order = sheet(maker_client, batch).partition("Order of cutting")[2].partition("Cutting counts")[0]
    assert words in order
    why = f"efore lay {first}, so that less is lost at flaws"
    assert order.index(f"B{why}") < order.index(words)
    assert f"<span>b{why}</span>" in page_of(maker_client, batch)
    # What is filled in at the table is what is told.
    form = maker_client.get(reverse("lay-detail", args=[batch.number, first])).context["form"]
    assert form[f"used-{only_cloth(lay_of(batch, first)).pk}-0"].value() == "2.04 m"
    # No more is needed than is lost so, and the rest of the roll is free: 10 − 4.16 − 0.34 m.
    assert sum(lost_at_flaws().values()) == Decimal("0.34")
    (shelf,) = on_shelf(Roll.objects.with_left().filter(number="R9"))
    assert [promise.lay for promise in shelf.promises] == [second, first]
    assert shelf.free_m == Decimal("5.50")
    assert [due.lay for due in dues_before(None, StillPromised())] == [second, first]


def test_cut_as_told_the_papers_hold_and_cut_otherwise_facts_win(maker_client: Client, batch: Batch) -> None:
    first, second = numbers(batch)
    maker_client.post(reverse("print-paper", args=[batch.number, "cut-tickets"]))
    maker_client.post(reverse("print-paper", args=[batch.number, "cut-sheet"]))
    assert old_tickets(maker_client, batch) == ()
    # As told: the longer one first, and what the ticket of the other says is so now.
    assert cut(maker_client, lay_of(batch, second))[0] == 200
    assert Roll.objects.with_left().get(number="R9").left_m == Decimal("7.54")
    assert on_page(maker_client, batch)[-1] == first == next_to_cut(batch)
    assert old_tickets(maker_client, batch) == ()
    papers = maker_client.get(reverse("batch-detail", args=[batch.number])).context["papers"]
    assert not papers.sheet.is_old
    assert "R9: flaw 0.04–0.34 m from its end; begin the ply at 0.34 m" in ticket(
        maker_client, lay_of(batch, first)
    )
    assert cut(maker_client, lay_of(batch, first))[0] == 200
    assert Roll.objects.with_left().get(number="R9").left_m == Decimal("5.50")


def test_cut_in_another_order_the_other_ticket_is_old_and_says_what_is_so_then(
    maker_client: Client, batch: Batch
) -> None:
    first, second = numbers(batch)
    maker_client.post(reverse("print-paper", args=[batch.number, "cut-tickets"]))
    assert cut(maker_client, lay_of(batch, first), used="1.70 m")[0] == 200
    assert old_tickets(maker_client, batch) == (second,)
    said = ticket(maker_client, lay_of(batch, second))
    assert "R9: flaw 0.8–1.1 m from its end; begin the ply at 1.1 m, so that 3.56 m come off the roll" in said
    assert cut(maker_client, lay_of(batch, second))[0] == 200
    assert Roll.objects.with_left().get(number="R9").left_m == Decimal("4.74")


def test_what_is_begun_comes_first_whatever_is_lost(maker_client: Client, batch: Batch) -> None:
    first, second = numbers(batch)
    for cloth in (only_cloth(lay_of(batch, first)),):
        type(cloth).objects.filter(pk=cloth.pk).update(spreads=2)
        LayRoll.objects.filter(lay_cloth=cloth).update(spreads=2)
    roll = Roll.objects.get(number="R9")
    assert next_to_cut(batch) == second
    told = Told(only_cloth(lay_of(batch, first)).pk, 1, Decimal("1.70"), roll.pk)
    assert not tell_lay(lay_of(batch, first), [told], None, NOON).problem
    assert on_page(maker_client, Batch.objects.get(pk=batch.pk)) == [first, second]
    assert next_to_cut(batch) == first
    assert "begin the ply at 1.1 m" in at_table(maker_client, lay_of(batch, first))


def test_a_flaw_noted_later_changes_the_order_and_every_paper_that_tells_it_is_old(
    maker_client: Client, batch: Batch
) -> None:
    first, second = numbers(batch)
    RollFlaw.objects.all().delete()
    assert on_page(maker_client, batch) == [first, second]
    maker_client.post(reverse("print-paper", args=[batch.number, "cut-tickets"]))
    maker_client.post(reverse("print-paper", args=[batch.number, "cut-sheet"]))
    roll = Roll.objects.get(number="R9")
    # Behind both of them it is of no matter to any paper.
    far = RollFlaw.objects.create(roll=roll, from_m=6, to_m=7)
    papers = maker_client.get(reverse("batch-detail", args=[batch.number])).context["papers"]
    assert (papers.old_tickets, papers.sheet.is_old) == ((), False)
    far.delete()
    RollFlaw.objects.create(roll=roll, from_m="2.5", to_m="2.8")
    # The ticket of the second tells of no flaw, but that it is cut first now.
    papers = maker_client.get(reverse("batch-detail", args=[batch.number])).context["papers"]
    assert (papers.old_tickets, papers.sheet.is_old) == ((first, second), True)
    assert on_page(maker_client, batch) == [second, first]
    RollFlaw.objects.all().delete()
    assert old_tickets(maker_client, batch) == ()


def test_cloth_counts_more_than_days_and_where_nothing_is_saved_days_decide(
    maker_client: Client, batch: Batch
) -> None:
    first, second = numbers(batch)
    soon = lay_of(batch, first).bundles.get().line.order
    type(soon).objects.filter(pk=soon.pk).update(due_on=TODAY + timedelta(4))
    assert on_page(maker_client, batch) == [second, first]
    assert "Lays that share a roll with a flaw come so that least is lost there." in page_of(
        maker_client, batch
    )
    assert "First due" in sheet(maker_client, batch)
    # Now the second is due first, and the flaw lies where both come before it.
    type(soon).objects.filter(pk=soon.pk).update(due_on=TODAY + timedelta(60))
    RollFlaw.objects.update(from_m=5, to_m=6)
    assert on_page(maker_client, batch) == [second, first]
    assert next_to_cut(batch) == second
    assert "least is lost there" not in page_of(maker_client, batch)
    # One that was cut off already gives no order either.
    RollFlaw.objects.update(from_m=-2, to_m=-1)
    assert on_page(maker_client, batch) == [second, first]
    assert next_to_cut(batch) == second


def test_an_earlier_batch_comes_first_on_the_same_roll_and_each_goes_by_what_it_leaves(batch: Batch) -> None:
    """Of a batch before this one 1.20 m lie on the roll: 1.30 m are left before the flaw, so no order loses less."""
    first, second = numbers(batch)
    lay = lay_of(batch, first)
    cloth = only_cloth(lay)
    earlier = Batch.objects.create(number="B-0900", due_on=TODAY, made_on=TODAY, state="cutting")
    marker = Marker.objects.create(key="short", job={}, state="ready", length_mm=1160.0)
    lay.pk, lay.number, lay.batch, lay.marker = None, 1, earlier, marker
    lay.save()
    cloth.pk, cloth.lay = None, lay
    cloth.save()
    LayRoll.objects.create(lay_cloth=cloth, roll=Roll.objects.get(number="R9"), spreads=1)
    (shelf,) = on_shelf(Roll.objects.with_left().filter(number="R9"))
    assert [(one.batch, one.lay) for one in shelf.promises] == [
        ("B-0900", 1), (batch.number, first), (batch.number, second)
    ]  # fmt: skip
    assert next_to_cut(batch) == first
    assert shelf.lost_m == Decimal("1.60")


def test_what_flaws_are_in_the_way_is_read_in_three_queries(
    batch: Batch, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    lays = lays_of(batch)
    first, second = numbers(batch)
    with django_assert_num_queries(3):
        assert flaws_ahead(lays).turns_of(batch) == {second: 0, first: 1}
    with django_assert_num_queries(3):
        next_to_cut(batch)
    RollFlaw.objects.all().delete()
    lays = lays_of(batch)
    with django_assert_num_queries(0):
        assert not flaws_ahead(lays).turns
