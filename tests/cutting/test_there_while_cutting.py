"""Pieces promised to a batch that is being cut are not there for an earlier one that is not cut yet."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.spec import ClothKey
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.buying import what_to_buy
from planner.cutting.claims import Shelf
from planner.cutting.models import Batch, LayRoll
from planner.cutting.stored import planned_batch
from planner.materials.models import FabricColour, Roll
from tests.cutting.once import once, settled, waiting_batch
from tests.factories import make_order, stock
from tests.papers.words import all_words
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}
JERSEY = ClothKey("jersey", "ink")


def promise(batch: Batch, roll: Roll | None) -> None:
    """All jersey plies of the batch come from this roll, or are to be bought."""
    LayRoll.objects.filter(
        lay_cloth__lay__batch=batch, lay_cloth__fabric_colour__fabric__name="jersey"
    ).update(roll=roll)


@once
def later_being_cut() -> Batch:
    """The first has nothing dealt out; the later one is being cut from a roll of 8 m."""
    the_style()
    first = settled(waiting_batch(make_order([(the_style(), RIB, "ink", {"M": 2})])))
    later = settled(waiting_batch(make_order([(the_style(), RIB, "ink", {"M": 5})])))
    ink = FabricColour.objects.get(fabric__name="jersey", name="ink")
    stock(ink, Decimal(8), roll="R-1")
    promise(first, None)
    promise(later, Roll.objects.get(number="R-1"))
    for batch in (first, later):
        refresh_needs(batch)
    Batch.objects.filter(pk=later.pk).update(state=Batch.State.CUTTING)
    later.refresh_from_db()
    return later


@pytest.fixture
def batches() -> tuple[Batch, Batch]:
    later = later_being_cut()
    return Batch.objects.exclude(pk=later.pk).get(), later


def promised_m(batch: Batch) -> float:
    """What the jersey plies of a batch take of the roll."""
    lays = batch.lays.filter(cloths__fabric_colour__fabric__name="jersey")
    return (
        sum((lay.marker.length_mm + 2 * lay.end_allowance_mm) * lay.cloths.get().spreads for lay in lays)
        / 1000
    )


def shelf(batch: Batch) -> Shelf:
    return planned_batch(batch).claims.shelves[JERSEY]


def test_what_the_later_one_is_cut_from_is_not_there_for_the_earlier(batches: tuple[Batch, Batch]) -> None:
    first, later = batches
    found = shelf(first)
    assert 0 < promised_m(later) < 8
    assert float(found.on_shelf) == pytest.approx(8 - promised_m(later), abs=0.011), "to the centimetre"
    assert found.by == (later.number,)
    assert shelf(later).on_shelf == 8, (
        "what it is cut from is its own, though nothing was dealt to the first yet"
    )


def test_a_later_one_not_being_cut_takes_nothing_from_the_earlier(batches: tuple[Batch, Batch]) -> None:
    first, later = batches
    Batch.objects.filter(pk=later.pk).update(state=Batch.State.PLANNED)
    assert (shelf(first).on_shelf, shelf(first).by) == (8, ())


def test_all_that_is_told_of_the_earlier_one_says_so(
    batches: tuple[Batch, Batch], maker_client: Client
) -> None:
    first, later = batches
    free = shelf(first).on_shelf
    assert free < 8
    html = maker_client.get(reverse("batch-detail", args=[first.number])).content.decode()
    (row,) = [one for one in html.split("<tr") if 'data-label="What"><span>jersey' in one]
    told = " ".join(re.sub(r"<[^>]+>", " ", row).replace("\N{THIN SPACE}", " ").split())
    assert f"{free} m" in told
    assert f"8.00 m on hand, {8 - free} m of it for {later.number}" in told
    address = reverse("batch-buy-list", args=[first.number])
    data = maker_client.get(f"{address}?as=csv").content.decode("utf-8-sig")
    line = next(row for row in csv.DictReader(io.StringIO(data, newline="")) if row["item"] == "jersey")
    assert Decimal(line["there for it"]) == free
    assert f"{free} m" in all_words(maker_client.get(address).content)


def test_nothing_is_bought_twice_for_both(batches: tuple[Batch, Batch]) -> None:
    """Each batch alone buys no more than both together do, but for what is sold in steps."""
    first, later = batches
    each = [
        need.to_buy_m
        for batch in (first, later)
        for need in planned_batch(batch).needs.cloths
        if need.cloth == JERSEY
    ]
    (together,) = [need.to_buy_m for need in what_to_buy().needs.cloths if need.cloth == JERSEY] or [0.0]
    assert each[1] == 0
    assert each[0] == pytest.approx(together, abs=0.11)
