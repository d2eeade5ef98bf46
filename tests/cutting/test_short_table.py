"""A table made shorter than the lays of planned batches is saved, and it is said which of them no longer fit."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.models import Batch, Lay, Marker
from planner.cutting.plan_now import now_in_words
from planner.cutting.portions import up_to_cm
from planner.cutting.short_table import in_words, longer_than
from planner.materials.models import Workroom
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay
from tests.factories import NOON
from tests.materials.test_workroom_pages import workroom_data

pytestmark = pytest.mark.django_db


def test_lays_longer_than_the_table_are_named_when_it_is_saved(maker_client: Client) -> None:
    batch = plies_batch(2)
    lay = jersey_lay(batch)
    assert lay.marker.length_mm + 2 * lay.end_allowance_mm > 400
    assert longer_than(20_000) == {}
    assert longer_than(400) == {batch.number: [lay.number]}
    assert longer_than(1) == {batch.number: [1, 2]}
    address = reverse("workroom")
    fits = maker_client.post(address, workroom_data(table_length_mm="20 m", display="metric"), follow=True)
    assert "Longer than the table" not in fits.content.decode()
    page = maker_client.post(address, workroom_data(table_length_mm="0.4 m", display="metric"), follow=True)
    said = page.content.decode().replace("\N{THIN SPACE}", " ")
    assert Workroom.the().table_length_mm == Decimal(400)
    assert f"Longer than the table (0.4 m) is lay {lay.number} of {batch.number}." in said


def test_what_is_cut_or_fits_exactly_is_not_named() -> None:
    lay = jersey_lay(plies_batch(2))
    whole_mm = lay.marker.length_mm + 2 * lay.end_allowance_mm
    others = Lay.objects.exclude(pk=lay.pk)
    others.update(cut_at=NOON)
    assert longer_than(whole_mm) == {}
    assert longer_than(whole_mm - 1) == {lay.batch.number: [lay.number]}
    Lay.objects.update(cut_at=NOON)
    assert longer_than(300) == {}


def test_lays_of_several_batches_in_words() -> None:
    words = in_words({"B-0001": [1, 2, 4], "B-0002": [3]}, 500, "metric").replace("\N{THIN SPACE}", " ")
    assert words.startswith("Longer than the table (0.5 m) are lays 1, 2 and 4 of B-0001; lay 3 of B-0002. ")
    assert " is lay 3 of B-0002. " in in_words({"B-0002": [3]}, 500, "metric")
    assert in_words({}, 500, "metric") == ""


def test_the_plan_of_what_is_being_cut_is_not_said_to_be_taken_back(maker_client: Client) -> None:
    both = in_words({"B-0001": [1], "B-0002": [3]}, 500, "metric", {"B-0002"})
    assert both.endswith(
        "Have the rest of B-0002, of which something is cut, planned anew and take the plan of B-0001 back and plan"
        " again, or cut on a longer table."
    )
    batch = plies_batch(2)
    Batch.objects.filter(pk=batch.pk).update(state=Batch.State.CUTTING)
    data = workroom_data(table_length_mm="0.4 m", display="metric")
    page = maker_client.post(reverse("workroom"), data, follow=True).content.decode()
    assert f"Have the rest of {batch.number}, of which something is cut, planned anew, or cut" in page
    assert "ake the plan" not in page


def test_what_is_not_nested_yet_counts_with_its_estimate_not_with_the_rows_it_waits_in() -> None:
    batch = plies_batch(2)
    lay = jersey_lay(batch)
    estimate_mm = lay.estimated_length_mm + 2 * lay.end_allowance_mm
    others = Lay.objects.exclude(pk=lay.pk)
    others.update(cut_at=NOON)
    Marker.objects.filter(pk=lay.marker_id).update(
        state=Marker.State.WAITING, seed=Marker.FIRST_SEED, length_mm=2 * lay.estimated_length_mm
    )
    assert longer_than(estimate_mm + 1) == {}
    assert longer_than(estimate_mm - 1) == {batch.number: [lay.number]}
    lay = Lay.objects.for_page().get(pk=lay.pk)
    told = now_in_words([lay, *others.for_page()], "metric")
    left_m = up_to_cm(sum(c.spreads for c in lay.cloths.all()) * Decimal(repr(estimate_mm)) / 1000)
    assert f"still to cut 2 spreads of 1 lay, {left_m}" in told.replace("\N{THIN SPACE}", " ")
    Marker.objects.filter(pk=lay.marker_id).update(seed=Marker.POLISH_SEED)
    assert longer_than(estimate_mm + 1) == {batch.number: [lay.number]}, "it is nested, and only for longer"
