"""Rolls kept for a part of some plies are read of all batches being cut at once; pages ask no more for more of them."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from planner.cutting.lot_units import LotUnit, kept_units, kept_units_of, uncut_units
from planner.cutting.models import Batch, Lay, LayCloth, Marker
from planner.cutting.reading import lays_of
from tests.cutting.lot_makers import come_in, two_plies_to_buy
from tests.cutting.once import once
from tests.cutting.table_makers import jersey_lay, only_cloth

pytestmark = pytest.mark.django_db


@once
def with_a_part_kept(number: str, lot: str) -> Batch:
    """A batch being cut for which a roll is kept that gives one of its two plies."""
    batch = two_plies_to_buy()
    come_in(batch, number, 1.2, lot)
    return batch


def told(units: list[LotUnit]) -> list[tuple[object, ...]]:
    """All that is read of units."""
    return [
        (
            unit.lay.batch.number,
            unit.lay.number,
            unit.cloth,
            unit.wanted,
            unit.was_to_buy,
            unit.is_alone,
            unit.to_buy,
            [(one.roll.number, one.roll.shade_lot, one.spreads) for one in unit.kept if one.roll],
        )
        for unit in units
    ]


def of_each_batch() -> list[tuple[object, ...]]:
    """The same asked of one batch after the other."""
    batches = Batch.objects.filter(state=Batch.State.CUTTING).order_by("pk")
    return told([unit for batch in batches for unit in uncut_units(batch) if unit.kept])


def of_lays_read() -> list[tuple[object, ...]]:
    """The same of lays as the page of a batch reads them."""
    batches = Batch.objects.filter(state=Batch.State.CUTTING).order_by("pk")
    return told([unit for batch in batches for unit in kept_units_of(lays_of(batch))])


def test_those_of_all_batches_are_read_in_two_queries(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    first, second = with_a_part_kept("R12", "B03"), with_a_part_kept("R13", "C01")
    kept_units()
    with django_assert_num_queries(2):
        found = told(kept_units())
    assert [(row[0], row[-1]) for row in found] == [
        (first.number, [("R12", "B03", 1)]),
        (second.number, [("R13", "C01", 1)]),
    ]
    assert found == of_each_batch() == of_lays_read()


@pytest.mark.parametrize(
    "change",
    [
        lambda lay: Batch.objects.filter(pk=lay.batch_id).update(state=Batch.State.SEWING),
        lambda lay: Lay.objects.filter(pk=lay.pk).update(cut_at=timezone.now()),
        lambda lay: LayCloth.objects.filter(lay=lay).update(cut_spreads=1),
        lambda lay: Marker.objects.filter(lays=lay).update(state=Marker.State.NESTING),
    ],
    ids=["all cut", "lay cut", "a ply cut", "nested again"],
)
def test_nothing_is_said_of_plies_that_are_not_to_begin(change) -> None:
    lay = jersey_lay(with_a_part_kept("R12", "B03"))
    assert len(kept_units()) == 1
    change(lay)
    assert told(kept_units()) == of_each_batch() == of_lays_read() == []


def test_a_lay_of_a_rest_counts_all_its_plies() -> None:
    lay = jersey_lay(with_a_part_kept("R12", "B03"))
    Lay.objects.filter(pk=lay.pk).update(rest_of=lay.batch.lays.exclude(pk=lay.pk).first())
    cloth = only_cloth(lay)
    LayCloth.objects.create(lay=lay, fabric_colour=cloth.fabric_colour, spreads=3)
    (unit,) = kept_units()
    assert (unit.spreads, unit.on_no_roll) == (5, 5)
    assert told([unit]) == of_each_batch()


#: Each with the most it asks, the sign-in's two queries with it.
PAGES = {"today": 15, "buy-page": 9, "batch-detail": 15, "batch-needs": 14, "batch-running": 15}


def asked_by(client: Client, page: str, batch: Batch) -> int:
    arguments = [batch.number] if page.startswith("batch") else []
    address = reverse(page, args=arguments)
    client.get(address)  # the first time a server meets a style it reads it, and words its questions
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def test_pages_ask_as_much_for_two_batches_with_a_part_kept_as_for_one(helper_client: Client) -> None:
    first = with_a_part_kept("R12", "B03")
    with_one = {page: asked_by(helper_client, page, first) for page in PAGES}
    second = with_a_part_kept("R13", "C01")
    html = helper_client.get(reverse("buy-page")).content.decode()
    assert all(f"of {batch.number}: its 2 plies" in html for batch in (first, second))
    # What others on the table are promised of the same cloth is read once, on the needs of each of them.
    with_two = {**with_one, "batch-needs": with_one["batch-needs"] + 1}
    assert {page: asked_by(helper_client, page, first) for page in PAGES} == with_two
    assert {page: asked_by(helper_client, page, second) for page in PAGES} == with_two
    assert all(with_two[page] <= most for page, most in PAGES.items()), with_two
