"""What an earlier batch has to buy takes no piece from a later one, and what is free is what lies on the shelf."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.needs import ClothNeed
from planner.core.spec import ClothKey
from planner.cutting.actions import rolling, table
from planner.cutting.actions.booking import Told
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.bill import BillSetting, make_bill
from planner.cutting.claims import Shelf, claims
from planner.cutting.models import Batch, LayRoll
from planner.cutting.reckoning import cloth_figures
from planner.cutting.stock import free_workshop
from planner.cutting.stored import planned_batch
from planner.materials.models import Fabric, FabricColour, Roll, Workroom
from planner.materials.rolls import on_shelf
from tests.cutting.once import once, settled, waiting_batch
from tests.factories import NOON, make_order, stock
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}
JERSEY = ClothKey("jersey", "ink")


def ink() -> FabricColour:
    the_style()
    return FabricColour.objects.get(fabric__name="jersey", name="ink")


@once
def two_batches() -> Batch:
    """Two, one after the other: the plies of the later one are shorter. Of jersey, sold by 0.1 m, 2 % are kept for
    flaws, and none is there; rib there is enough."""
    the_style()
    stock(FabricColour.objects.get(fabric__name="rib", name="ink"), 50)
    first = settled(waiting_batch(make_order([(the_style(), RIB, "ink", {"M": 5})])))
    later = settled(waiting_batch(make_order([(the_style(), RIB, "ink", {"M": 1})])))
    Fabric.objects.filter(name="jersey").update(damage_percent=2, pack_quantity=Decimal("0.1"))
    for batch in (first, later):
        refresh_needs(batch)
    assert ply_m(later) + Decimal("0.1") < ply_m(first)
    return later


@pytest.fixture
def batches() -> tuple[Batch, Batch]:
    later = two_batches()
    return Batch.objects.exclude(pk=later.pk).get(), later


def ply_m(batch: Batch) -> Decimal:
    """The shortest ply of its jersey."""
    lays = batch.lays.filter(cloths__fabric_colour=ink())
    return min(Decimal(repr(lay.marker.length_mm + 2 * lay.end_allowance_mm)) / 1000 for lay in lays)


def jersey(batch: Batch) -> ClothNeed:
    return next(need for need in planned_batch(batch).needs.cloths if need.cloth == JERSEY)


def shelf(batch: Batch) -> Shelf:
    return planned_batch(batch).claims.shelves[JERSEY]


def rolls_of(batch: Batch) -> list[str]:
    rows = LayRoll.objects.filter(lay_cloth__lay__batch=batch, lay_cloth__fabric_colour=ink())
    return [str(row.roll) if row.roll else "buy" for row in rows.order_by("pk")]


def end_for(batch: Batch) -> Decimal:
    """An end just long enough for a ply."""
    length = round(ply_m(batch) + Decimal("0.005"), 2)
    stock(ink(), length, roll="R-1")
    return length


def test_an_end_too_short_for_the_first_batch_is_there_for_the_next(batches: tuple[Batch, Batch]) -> None:
    first, later = batches
    end_m = end_for(later)
    rolling.assign_rolls(first)
    assert set(rolls_of(first)) == {"buy"}
    assert rolling.assign_rolls(later).short == 0
    assert rolls_of(later) == ["R-1"]
    assert jersey(later).in_stock_m == pytest.approx(float(end_m))
    # What is free is what lies on the shelf. Ends kept are 0.5 m: what the first leaves of the 0.1 m steps it is
    # bought in is none, whatever it comes to.
    assert Workroom.the().keep_remnant_m > Decimal("0.1")
    assert (shelf(later).there, shelf(later).coming) == (end_m, 0)
    assert shelf(later).packs_to_come == jersey(first).to_buy_packs > 0
    figures = cloth_figures(jersey(later), planned_batch(later).shop.cloths[JERSEY])
    assert figures.in_stock == end_m


def test_what_is_bought_as_told_is_enough_for_each_batch_though_rows_are_promised_by_the_centimetre(
    batches: tuple[Batch, Batch],
) -> None:
    """Formerly each of two batches whose plies fill a roll asked for a centimetre more, which What to buy did not."""
    Fabric.objects.filter(name="jersey").update(damage_percent=0)
    for batch in batches:
        refresh_needs(batch)
    stock(ink(), sum(round(Decimal(repr(jersey(batch).need_m)), 3) for batch in batches), roll="R-1")
    for batch in batches:
        rolling.assign_rolls(batch)
        assert set(rolls_of(batch)) == {"R-1"}
    (there,) = on_shelf(Roll.objects.with_left().filter(number="R-1"))
    assert sum(promise.metres for promise in there.promises) > there.left_m
    assert [jersey(batch).to_buy_m for batch in batches] == [0, 0]


def test_of_a_roll_promised_in_part_the_rest_is_free_as_page_bill_and_buy_list_tell(
    batches: tuple[Batch, Batch], maker_client: Client
) -> None:
    """The roll holds one ply of the first batch and some more; what is kept for flaws is kept from nobody."""
    first, later = batches
    stock(ink(), round(ply_m(first) + Decimal("0.3"), 2), roll="R-1")
    rolling.assign_rolls(first)
    assert rolls_of(first).count("R-1") == 1
    (there,) = on_shelf(Roll.objects.with_left().filter(number="R-1"))
    assert 0 < there.free_m <= Decimal("0.3")
    assert shelf(later).there == there.free_m
    assert free_workshop(None).cloths[JERSEY].in_stock_m == pytest.approx(float(there.free_m))
    free = f"{there.free_m}\N{THIN SPACE}m"
    html = maker_client.get(reverse("batch-detail", args=[later.number])).content.decode()
    (row,) = [one for one in html.split("<tr") if 'data-label="What"><span>jersey,' in one]
    assert f'data-label="There for it" class="num"><span>{free}<' in row
    assert f"of it for {first.number}<" in row
    bill = make_bill(planned_batch(later), BillSetting("metric", "EUR", open=("all",)))
    (line,) = [line for line in bill.lines if line.what == "jersey"]
    assert line.there == free
    steps = " ".join(line.steps).replace("\N{THIN SPACE}", " ")
    assert f"still to be taken for {first.number} = {there.free_m} m there." in steps
    assert "to be bought for" not in steps


def test_what_a_roll_bought_for_others_leaves_is_told_besides_what_is_free(
    batches: tuple[Batch, Batch], maker_client: Client
) -> None:
    """By the roll of 25 m: the first batch buys one; the later one needs none as long as its plies are not dealt."""
    _, later = batches
    Fabric.objects.filter(name="jersey").update(sold_by="roll", pack_quantity=25)
    LayRoll.objects.filter(lay_cloth__lay__batch=later).delete()
    found, need = shelf(later), jersey(later)
    wanted = claims(later).spoken_for[JERSEY]
    assert (found.on_hand, found.to_come) == (0, 25)
    assert float(found.coming) == pytest.approx(25 - float(wanted), abs=0.002)
    assert (need.coming_m, need.to_buy_m) == (pytest.approx(float(found.coming)), 0)
    html = maker_client.get(reverse("batch-detail", args=[later.number])).content.decode()
    (row,) = [one for one in html.split("<tr") if 'data-label="What"><span>jersey,' in one]
    assert 'class="num"><span>0.00\N{THIN SPACE}m<span' in row
    (number,) = found.by
    left = re.search(r"besides ([\d.]+)\N{THIN SPACE}m left of what is to be bought for (B-\d+)<", row)
    assert left is not None
    assert (float(left[1]), left[2]) == (pytest.approx(need.coming_m, abs=0.01), number)
    assert f"enough once what {number} needs is bought<" in row
    assert f"All cloth is there once what {number} needs is bought: then cut" in html
    figures = cloth_figures(need, planned_batch(later).shop.cloths[JERSEY])
    assert "in stock 0 + " in figures.words
    assert "left of what is to be bought for others" in figures.words


def test_only_those_are_named_that_cloth_is_bought_for(
    batches: tuple[Batch, Batch], maker_client: Client
) -> None:
    """The first batch has its plies on a roll, the second buys one of 25 m: what that leaves is for the third."""
    first, later = batches
    Fabric.objects.filter(name="jersey").update(sold_by="roll", pack_quantity=25)
    stock(ink(), round(max(ply_m(first), ply_m(later)) * 9, 2), roll="R-1")
    rolling.assign_rolls(first)
    assert set(rolls_of(first)) == {"R-1"}
    LayRoll.objects.filter(lay_cloth__lay__batch=later, lay_cloth__fabric_colour=ink()).update(roll=None)
    third = settled(waiting_batch(make_order([(the_style(), RIB, "ink", {"M": 1})])))
    LayRoll.objects.filter(lay_cloth__lay__batch=third, lay_cloth__fabric_colour=ink()).update(roll=None)
    found = shelf(third)
    assert found.by == (first.number, later.number)
    assert found.bought_for == (later.number,)
    refresh_needs(third)
    page = maker_client.get(reverse("batch-detail", args=[third.number])).content.decode()
    assert f"(with {later.number}: 1 roll (25.0\N{THIN SPACE}m) in all)" in page


def test_a_later_batch_takes_nothing_an_earlier_one_is_given_when_cloth_comes_in(
    batches: tuple[Batch, Batch],
) -> None:
    """A ply of the earlier one may have been to be bought until now: asked in the wrong order both come right."""
    first, later = batches
    stock(ink(), round(ply_m(first) + Decimal("0.01"), 2), roll="R-1")
    rolling.assign_rolls(later)
    assert rolls_of(later) == ["R-1"]
    rolling.assign_rolls(first)
    assert "R-1" in rolls_of(first)
    rolling.assign_rolls(later)
    assert rolls_of(later) == ["buy"]


def test_plies_cut_of_those_to_be_bought_are_to_be_bought_no_more(batches: tuple[Batch, Batch]) -> None:
    """Its spread was cut from a roll that was not planned: it takes nothing of what is left there."""
    first, later = batches
    stock(ink(), "20", roll="R-9")
    lay = first.lays.filter(cloths__fabric_colour=ink()).first()
    cloth = lay.cloths.get()
    told = table.tell_lay(
        lay, [Told(cloth.pk, cloth.spreads, Decimal("5.00"), Roll.objects.get().pk)], None, NOON
    )
    assert not told.problem
    assert shelf(later).on_hand == 15
    rest = [c for one in first.lays.filter(cut_at=None) for c in one.cloths.filter(fabric_colour=ink())]
    assert bool(rest) is bool(shelf(later).packs_to_come)
