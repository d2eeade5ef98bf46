"""Metres that may still change say so where they are bought and cut by: the batch, its needs, the buy list, today."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.cutting.actions.planning import refresh_needs
from planner.cutting.models import Batch, CutPlan
from planner.cutting.stored import planned_batch
from tests.cutting.once import waiting_batch
from tests.cutting.settling_makers import lay_in_rows
from tests.factories import make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
ESTIMATE = "Estimate: not all of its lays are nested yet. Wait with buying and cutting it."
MOVING = "Not settled: its lays may still change. Wait with buying and cutting it."
NO_ROLLS = (
    "Not settled: rolls are chosen once all cloths of the batch are settled; more may have to be bought"
)
PAGES = ("batch-detail", "batch-needs")


@pytest.fixture
def batch() -> Batch:
    return waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"M": 3})]))


def seen(client: Client, batch: Batch) -> dict[str, str]:
    """What the pages and the buy lists that tell of the batch's cloth say."""
    urls = {name: reverse(name, args=[batch.number]) for name in PAGES}
    urls |= {"buy-page": reverse("buy-page"), "today": reverse("today")}
    urls |= {
        "list": reverse("buy-list") + "?as=csv",
        "own list": reverse("batch-buy-list", args=[batch.number]) + "?as=csv",
    }
    return {name: client.get(url).content.decode() for name, url in urls.items()}


def test_until_its_lays_are_nested_cloth_is_an_estimate(maker_client: Client, batch: Batch) -> None:
    for name, text in seen(maker_client, batch).items():
        expected = "(an estimate)" if name == "today" else ESTIMATE
        assert expected in text, name
        assert MOVING not in text, name


def test_until_the_plan_is_settled_nested_lays_may_change(maker_client: Client, batch: Batch) -> None:
    lay_in_rows(batch)
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    refresh_needs(batch)
    for name, text in seen(maker_client, batch).items():
        expected = "(not settled yet)" if name == "today" else MOVING
        assert expected in text, name
        assert ESTIMATE not in text, name


def test_of_a_cloth_that_is_settled_before_others_it_is_said_that_it_has_no_rolls_yet(
    maker_client: Client, batch: Batch
) -> None:
    """Metres enough in ends too short are told to be enough until rolls are chosen, for the whole batch at once."""
    lay_in_rows(batch)
    batch.cut_plans.update(state=CutPlan.State.SETTLED)
    batch.cut_plans.filter(fabric__name="rib").update(state=CutPlan.State.NESTING)
    refresh_needs(batch)
    words = {cloth.fabric: words for cloth, words in planned_batch(batch).not_settled.items()}
    assert words.keys() == {"rib", "jersey"}
    assert words["rib"] == MOVING
    assert words["jersey"].startswith(NO_ROLLS)
    for name, text in seen(maker_client, batch).items():
        assert ("(not settled yet)" if name == "today" else NO_ROLLS) in text, name


def test_a_settled_plan_says_nothing_of_it(maker_client: Client, batch: Batch) -> None:
    lay_in_rows(batch)
    batch.cut_plans.update(state=CutPlan.State.SETTLED)
    refresh_needs(batch)
    for name, text in seen(maker_client, batch).items():
        assert ESTIMATE not in text, name
        assert MOVING not in text, name
        assert "not settled" not in text, name


def test_it_costs_no_query(
    maker_client: Client, batch: Batch, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    for name, args in (("batch-detail", [batch.number]), ("batch-needs", [batch.number]), ("buy-page", [])):
        with django_assert_max_num_queries(15):
            assert ESTIMATE in maker_client.get(reverse(name, args=args)).content.decode()
