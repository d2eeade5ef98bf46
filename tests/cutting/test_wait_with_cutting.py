"""A lay of a plan that does not stand yet: nowhere told as to be cut, and cut only by who says that it is so."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.models import Batch, CutPlan, Lay, LayCloth, LayRoll, Marker
from tests.cutting.once import make_planned_batch
from tests.factories import NOON

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    """Two lays, one of jersey and one of rib; both nested, their plans settled."""
    return make_planned_batch()


def next_step(client: Client) -> str:
    page = client.get(reverse("batch-list")).content.decode()
    return page.split('data-label="Next">')[1].split("</td>")[0]


# ---- the list of batches ----


@pytest.mark.parametrize("state", Marker.State.values)
@pytest.mark.parametrize("seed", [Marker.FIRST_SEED, Marker.POLISH_SEED])
@pytest.mark.parametrize("length_mm", [None, 900.0])
def test_what_is_laid_is_counted_as_a_marker_tells_it(
    batch: Batch, state: str, seed: int, length_mm: float | None
) -> None:
    marker = batch.lays.first().marker
    marker.state, marker.seed, marker.length_mm = state, seed, length_mm
    marker.save()
    assert Batch.objects.with_counts().get().lays_not_laid == (0 if marker.is_laid else 1)


def test_the_list_says_what_can_be_cut(helper_client: Client, batch: Batch) -> None:
    assert next_step(helper_client) == "cut 2 lays"
    first, second = LayCloth.objects.filter(lay__batch=batch)
    LayRoll.objects.create(lay_cloth=first, roll=None, spreads=1)
    assert next_step(helper_client) == "cut 1 lay; 1 waits for cloth"
    LayRoll.objects.create(lay_cloth=second, roll=None, spreads=1)
    assert next_step(helper_client) == "2 lays wait for cloth"


def test_the_list_says_that_lays_are_still_planned(helper_client: Client, batch: Batch) -> None:
    batch.cut_plans.filter(fabric__name="rib").update(state=CutPlan.State.NESTING)
    assert next_step(helper_client) == "its lays are still being planned: wait with cutting"


def test_the_list_tells_lays_still_being_nested_of_a_batch_being_cut(
    helper_client: Client, batch: Batch
) -> None:
    first, second = batch.lays.order_by("number")
    Lay.objects.filter(pk=first.pk).update(cut_at=NOON)
    Batch.objects.filter(pk=batch.pk).update(state=Batch.State.CUTTING)
    assert next_step(helper_client) == "cut 1 more of 2 lays"
    Marker.objects.filter(lays=second).update(state=Marker.State.NESTING)
    assert next_step(helper_client) == "1 lay is not nested yet"
