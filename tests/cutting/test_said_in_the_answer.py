"""Who comes second at the page of a batch is told so in the answer to what was pressed, and of what is so."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import choices, gathering, planning
from planner.cutting.actions.notions_out import take_notions_out
from planner.cutting.actions.planning import take_plan_back
from planner.cutting.models import Batch, CutPlan, Lay
from planner.materials.models import FabricColour, NotionColour
from tests.cutting.meanwhile import settled_plies
from tests.cutting.table_makers import jersey_lay
from tests.cutting.test_table_views import HTMX, text
from tests.factories import NOON
from tests.sewing.makers import cut_all, nest_all

pytestmark = pytest.mark.django_db
EITHER_WAY: tuple[dict[str, str], ...] = ({}, HTMX)


@pytest.fixture
def batch() -> Batch:
    return settled_plies()


@pytest.fixture
def plan(batch: Batch) -> CutPlan:
    return batch.cut_plans.get(fabric__name="jersey")


def page_of(client: Client, batch: Batch) -> str:
    return text(client.get(reverse("batch-detail", args=[batch.number])))


def chosen(plan: CutPlan) -> list[tuple[str, dict[str, str]]]:
    """What may be pressed of a plan on a page that was opened before: address, what is sent."""
    number = plan.batch.number
    return [
        (reverse("plan-aim", args=[number, plan.pk]), {"aim": "fewest_lays"}),
        (reverse("plan-plies", args=[number, plan.pk]), {"plies": "3"}),
        (reverse("plan-again", args=[number, plan.pk]), {}),
    ]


# ---- a choice for a plan that is no more ----


def test_a_choice_for_a_plan_that_was_dropped_is_refused_with_the_reason(
    maker_client: Client, batch: Batch, plan: CutPlan
) -> None:
    keep = reverse("lay-keep", args=[batch.number, jersey_lay(batch).number])
    page = reverse("batch-detail", args=[batch.number])
    for drop, says in (
        (take_plan_back, "The plan of this batch was taken back meanwhile. Nothing was changed."),
        (gathering.cancel_batch, "This batch was cancelled meanwhile. Nothing was changed."),
    ):
        assert drop(batch, None, NOON)
        for address, sent in chosen(plan):
            answer = maker_client.post(address, sent)
            assert (answer.status_code, says in text(answer)) == (409, True), address
            # Nothing of what the page shows is there any more: it is loaded anew, and says why.
            assert maker_client.post(address, sent, headers=HTMX)["HX-Redirect"] == page
        assert says in page_of(maker_client, batch)
        # A lay that was to stay as it is is gone.
        assert maker_client.post(keep, {"keep": "1"})["Location"] == page
        assert maker_client.post(keep, {"keep": "1"}, headers=HTMX)["HX-Redirect"] == page
        assert "this lay is no more. Nothing was changed" in page_of(maker_client, batch)


def test_a_choice_for_a_plan_made_anew_is_refused_with_the_reason(
    maker_client: Client, batch: Batch, plan: CutPlan
) -> None:
    assert take_plan_back(batch, None, NOON)
    assert not planning.plan_batch(batch, NOON).problems
    nest_all(batch)
    for address, sent in chosen(plan):
        for headers in EITHER_WAY:
            answer = maker_client.post(address, sent, headers=headers)
            assert (answer.status_code, text(answer).count(choices.CHANGED)) == (409, 1), address
    assert choices.CHANGED not in page_of(maker_client, batch), "said once"


def test_a_choice_for_a_plan_being_cut_is_refused_with_the_reason(
    maker_client: Client, batch: Batch, plan: CutPlan
) -> None:
    wrong = reverse("plan-plies", args=[batch.number, plan.pk])
    for headers in EITHER_WAY:
        answer = maker_client.post(wrong, {"plies": "many"}, headers=headers)
        assert answer.status_code == 422
        assert text(answer).count("Type a whole number from 1 to") == 1, "at its field alone"
    cut_all(batch)
    keep = reverse("lay-keep", args=[batch.number, jersey_lay(batch).number]), {"keep": "1"}
    for address, sent in (*chosen(plan), keep):
        for headers in EITHER_WAY:
            answer = maker_client.post(address, sent, headers=headers)
            assert (answer.status_code, text(answer).count(choices.CUT_ALREADY)) == (409, 1), address
    assert choices.CUT_ALREADY not in text(maker_client.get(reverse("order-list")))
    assert not Lay.objects.filter(is_kept=True).exists()


# ---- plans taken back, notions taken out ----


def pressed(client: Client, batch: Batch, name: str) -> str:
    return text(client.post(reverse(name, args=[batch.number]), follow=True))


def test_a_plan_that_is_taken_back_is_not_told_to_be_cut(maker_client: Client, batch: Batch) -> None:
    assert take_plan_back(batch, None, NOON)
    page = pressed(maker_client, batch, "batch-take-back")
    assert "The plan had been taken back before; nothing was changed." in page
    assert "is cut already" not in page
    assert gathering.cancel_batch(batch, None, NOON)
    assert "This batch is cancelled; nothing was changed." in pressed(maker_client, batch, "batch-take-back")


def test_notions_of_a_batch_without_a_plan_were_not_taken_out_before(
    maker_client: Client, batch: Batch
) -> None:
    assert take_notions_out(batch, None, NOON)
    assert "They had been taken out before" in pressed(maker_client, batch, "batch-notions")
    assert take_plan_back(batch, None, NOON)
    page = pressed(maker_client, batch, "batch-notions")
    assert "The plan was taken back meanwhile, so no notions are known for it; nothing was changed." in page
    assert "taken out before" not in page
    assert gathering.cancel_batch(batch, None, NOON)
    assert "This batch is cancelled; nothing was changed." in pressed(maker_client, batch, "batch-notions")


def test_whoever_drops_a_plan_is_told_to_put_its_notions_back(maker_client: Client, batch: Batch) -> None:
    take_notions_out(batch, None, NOON)
    kinds = batch.needs.filter(notion_colour__isnull=False).count()
    told = f"Put its notions back on the shelf: {kinds} kinds of notions taken out for it count as in stock again."
    assert told in pressed(maker_client, batch, "batch-take-back")
    cancelled = pressed(maker_client, batch, "batch-cancel")
    assert "is cancelled. Its garments can be batched again." in cancelled
    assert "Put its notions back" not in cancelled


def test_a_batch_that_needs_no_notions_or_is_cut_is_told_so(maker_client: Client, batch: Batch) -> None:
    batch.needs.filter(notion_colour__in=NotionColour.objects.all()).delete()
    assert "This batch needs no notions." in pressed(maker_client, batch, "batch-notions")
    cut_all(batch)
    assert "part of it is cut already" in pressed(maker_client, batch, "batch-take-back")


# ---- something it needs is gone ----


def test_a_planned_batch_of_which_something_is_gone_is_not_told_to_be_planned(
    maker_client: Client, batch: Batch
) -> None:
    FabricColour.objects.filter(fabric__name="jersey", name="ink").update(name="midnight")
    batch.items.first().line.style.pieces.get(name="front").outlines.all().delete()
    page = page_of(maker_client, batch)
    assert "Something this batch needs is gone" in page
    assert "Plan it to see what to buy" not in page
    assert "Something it needs is gone, so what is planned cannot be shown; see below." in page
