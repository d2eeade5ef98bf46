"""Plies to be bought some of which are cut from cloth that was bought meanwhile: a roll for the rest comes in."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import arrived, table
from planner.cutting.actions.booking import Told
from planner.cutting.models import Batch, Lay, LayCloth, LayRoll
from planner.cutting.portions import spread_m
from planner.cutting.roll_rows import copies_of
from planner.cutting.rolls_there import promised_to
from planner.cutting.spread_rows import runs_in
from planner.cutting.stored import planned_bundles
from planner.materials.models import FabricColour, Roll, RollFlaw, StockMove, Workroom
from tests.cutting.lot_makers import come_in, two_plies_to_buy
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON

pytestmark = pytest.mark.django_db


def a_row_above(lay: Lay) -> LayCloth:
    """Two plies of another colour that lie above the others, to be bought as well."""
    ink = only_cloth(lay)
    moss = copies_of([(ink, 2)])[0]
    moss.fabric_colour = FabricColour.objects.get(fabric=ink.fabric_colour.fabric, name="moss")
    moss.save()
    LayRoll.objects.create(lay_cloth=moss, roll=None, spreads=2)
    return moss


def so_much(lay: Lay, number: str, spreads: int, lot: str = "") -> Roll:
    """A roll of ink with cloth for so many spreads."""
    metres = spread_m(lay) * spreads + Decimal("0.02")
    return roll_of(lay.cloths.order_by("pk").first(), number, str(round(metres, 2)), lot)


def stock_of(roll: Roll, metres: str) -> None:
    """So much more of a roll is there than was thought."""
    StockMove.objects.create(
        fabric_colour=roll.fabric_colour,
        roll=roll,
        quantity=Decimal(metres),
        reason=StockMove.Reason.COUNTED,
        moved_at=NOON,
    )


def as_they_lie(batch: Batch) -> list[tuple[int, int, str, tuple[str, ...], str]]:
    """First and last ply, colour, bundles and roll of the jersey's plies, from the bottom."""
    runs = runs_in(batch.lays.all(), planned_bundles(batch.bundles.in_full()))
    of_lay = runs[jersey_lay(batch).number]
    return [(r.first, r.last, r.cloth.colour, r.bundles, r.roll.roll if r.roll else "-") for r in of_lay]


def test_plies_left_of_a_row_that_is_cut_in_part_get_their_roll(helper_client: Client) -> None:
    """Their bundle keeps one shade lot, plies above keep their numbers, and what was told stays with what is cut."""
    Workroom.the()
    Workroom.objects.update(bundle_size=2)
    batch = plies_batch(5)
    lay = jersey_lay(batch)
    ink = only_cloth(lay)
    LayRoll.objects.filter(lay_cloth=ink).delete()
    LayRoll.objects.create(lay_cloth=ink, roll=None, spreads=5)
    a_row_above(lay)
    first = so_much(lay, "R1", 1, "A")
    told = Told(ink.pk, 1, round(spread_m(lay), 2), first.pk)
    assert not table.tell_lay(lay, [told], None, NOON).problem
    one, two, three = batch.bundles.filter(lay=lay).order_by("pk").values_list("number", flat=True)
    before = as_they_lie(batch)
    assert [row[1] for row in before] == [1, 2, 4, 5, 7]

    so_much(lay, "R2", 9, "B")
    arrived.cloth_came_in(batch.pk)
    assert as_they_lie(batch) == before, "another lot will not do: a bundle has a ply of A"

    other = so_much(lay, "R3", 4, "A")
    arrived.cloth_came_in(batch.pk)
    assert as_they_lie(batch) == [
        (1, 1, "ink", (one,), "R1"),
        (2, 2, "ink", (one,), "R3"),
        (3, 4, "ink", (two,), "R3"),
        (5, 5, "ink", (three,), "R3"),
        (6, 7, "moss", before[-1][3], ""),
    ]
    assert [due.spreads for due in promised_to(batch)[other.pk]] == [4]
    assert list(batch.bundles.filter(lay=lay).order_by("pk").values_list("shade_lot", flat=True)) == ["A"] * 3
    page = helper_client.get(reverse("lay-detail", args=[batch.number, lay.number])).content.decode()
    assert "R3" in page

    # Taken back, all five are of one lot again, from a roll that has cloth for them.
    assert not table.take_fact_back(lay.cloths.get(cut_spreads=1).facts.get(), None, NOON).problem
    arrived.cloth_came_in(batch.pk)
    assert {row[-1] for row in as_they_lie(batch) if row[2] == "ink"} == {"R2"}


def test_plies_left_may_be_of_any_lot_where_nobody_knows_which_was_cut() -> None:
    Workroom.the()
    batch = plies_batch(5)
    lay = jersey_lay(batch)
    ink = only_cloth(lay)
    LayRoll.objects.filter(lay_cloth=ink).delete()
    LayRoll.objects.create(lay_cloth=ink, roll=None, spreads=5)
    assert not table.tell_lay(lay, [Told(ink.pk, 2, round(2 * spread_m(lay), 2))], None, NOON).problem
    assert Lay.objects.waiting().filter(pk=lay.pk).exists()
    so_much(lay, "R1", 6, "B")
    arrived.cloth_came_in(batch.pk)
    assert sorted(lay.cloths.values_list("spreads", "cut_spreads")) == [(2, 2), (3, None)]
    assert not Lay.objects.waiting().filter(pk=lay.pk).exists()


def test_both_plies_of_a_pair_may_lie_either_side_of_a_flaw_of_a_roll_that_comes_in() -> None:
    """As they do where rolls are dealt out before anything is cut; formerly only one piece for both would do."""
    batch = two_plies_to_buy()
    lay = jersey_lay(batch)
    Lay.objects.filter(pk=lay.pk).update(mode=Lay.Mode.FACE_TO_FACE)
    LayCloth.objects.filter(lay=lay).update(spreads=1)
    LayRoll.objects.filter(lay_cloth__lay=lay).update(spreads=1)
    lay = jersey_lay(batch)
    come_in(batch, "R1", 0.7, "A")
    assert LayRoll.objects.get(lay_cloth__lay=lay).roll is None, "there is room for one of them"
    roll = so_much(lay, "R2", 1, "A")
    ply_m = spread_m(lay) / 2
    RollFlaw.objects.create(roll=roll, from_m=ply_m + Decimal("0.05"), to_m=ply_m + Decimal("0.10"))
    stock_of(roll, "0.30")
    arrived.cloth_came_in(batch.pk)
    planned = LayRoll.objects.get(lay_cloth__lay=lay)
    assert (planned.roll, planned.spreads) == (roll, 1)
    assert [(due.spreads, due.plies.plies) for due in promised_to(batch)[roll.pk]] == [(1, 2)]
