"""Two people at one batch, one planning and one at the table: who comes second is told, and nothing is half done."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import choices, planning, rest, rolling, settling, table
from planner.cutting.actions.booking import Told
from planner.cutting.actions.gathering import cancel_batch
from planner.cutting.actions.planning import take_plan_back
from planner.cutting.models import Batch, CutPlan, Lay, LayFact, LayRoll
from planner.materials.actions import StillUsedError, delete_unused
from planner.materials.models import StockMove
from tests.cutting.meanwhile import before_the_lock, settled_plies
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.cutting.test_table_views import HTMX, address, as_filled_in, text
from tests.factories import NOON
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    return settled_plies()


@pytest.fixture
def lay(batch: Batch) -> Lay:
    return jersey_lay(batch)


def tell(lay: Lay, spreads: int) -> table.LayTold:
    return table.tell_lay(lay, [Told(only_cloth(lay).pk, spreads, Decimal(1))], None, NOON)


def nothing_told() -> bool:
    return not LayFact.objects.exists() and not StockMove.objects.filter(reason="cut").exists()


# ---- the page of a lay is open while the batch is planned anew ----


def test_what_is_told_of_a_lay_that_is_another_one_now_is_not_recorded(
    batch: Batch, lay: Lay, helper_client: Client
) -> None:
    sent = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    assert take_plan_back(batch, None, NOON)
    assert not planning.plan_batch(batch, NOON).problems
    nest_all(batch)
    for headers in ({}, HTMX):
        answer = helper_client.post(address(lay), sent, headers=headers)
        assert answer.status_code == 409
        assert "planned anew meanwhile" in text(answer)
    assert nothing_told()


def test_a_lay_that_is_gone_leads_back_to_its_batch_which_says_so(
    batch: Batch, lay: Lay, helper_client: Client, maker_client: Client
) -> None:
    sent = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    assert take_plan_back(batch, None, NOON)
    page = reverse("batch-detail", args=[batch.number])
    answer = helper_client.post(address(lay), sent)
    assert (answer.status_code, answer["Location"]) == (302, page)
    assert "this lay is no more. Nothing was changed" in text(helper_client.get(page))
    answer = helper_client.post(address(lay), sent, headers=HTMX)
    assert answer["HX-Redirect"] == page
    for name in ("lay-stop", "lay-longer", "lay-uncut", "lay-rest", "lay-rest-back"):
        answer = maker_client.post(address(lay, name), follow=True)
        assert "this lay is no more. Nothing was changed" in text(answer), name
    assert helper_client.get(address(lay, "lay-detail")).status_code == 404
    assert nothing_told()


def test_a_lay_that_goes_between_reading_and_writing_takes_nothing_with_it(
    batch: Batch, lay: Lay, helper_client: Client, beside: pytest.MonkeyPatch
) -> None:
    sent = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    before_the_lock(beside, table, lambda: take_plan_back(batch, None, NOON))
    answer = helper_client.post(address(lay), sent, follow=True)
    assert "this lay is no more. Nothing was changed" in text(answer)
    assert nothing_told()


def test_plies_that_got_other_rolls_are_looked_at_again(
    batch: Batch, lay: Lay, helper_client: Client
) -> None:
    sent = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    LayRoll.objects.filter(lay_cloth__lay=lay).delete()
    roll = roll_of(only_cloth(lay), shade_lot="A")
    LayRoll.objects.create(lay_cloth=only_cloth(lay), roll=roll, spreads=5)
    answer = helper_client.post(address(lay), sent)
    assert answer.status_code == 409
    assert "got other rolls meanwhile" in text(answer)
    assert nothing_told()
    sent = as_filled_in(text(answer))
    assert helper_client.post(address(lay), sent).status_code == 302, "seen now, it is recorded"


# ---- one ends a lay, another spreads on ----


def test_what_is_told_of_a_lay_that_somebody_ended_is_not_recorded(
    batch: Batch, lay: Lay, helper_client: Client
) -> None:
    assert not tell(lay, 2).problem
    sent = as_filled_in(text(helper_client.get(address(lay, "lay-detail"))))
    planned = rest.replan_rest(lay, None, NOON)
    assert not planned.problem
    answer = helper_client.post(address(lay), sent)
    assert answer.status_code == 409
    assert "Somebody ended this lay: its rest is planned as lays of their own" in text(answer)
    assert only_cloth(lay).cut_spreads == 2
    assert sum(only_cloth(one).spreads for one in planned.lays) > 0


def test_a_lay_is_not_ended_twice_and_its_rest_is_planned_once(
    batch: Batch, lay: Lay, beside: pytest.MonkeyPatch
) -> None:
    assert not tell(lay, 2).problem
    done: list[rest.RestPlanned] = []
    before_the_lock(beside, table, lambda: done.append(rest.replan_rest(lay, None, NOON)))
    second = rest.replan_rest(lay, None, NOON)
    assert not done[0].problem
    assert "meanwhile" in second.problem
    assert {one.pk for one in lay.rests.all()} == {one.pk for one in done[0].lays}
    assert sum(row.quantity for row in batch.bundles.all()) == 5


def test_a_rest_that_is_begun_meanwhile_is_not_taken_back(
    batch: Batch, lay: Lay, beside: pytest.MonkeyPatch
) -> None:
    assert not tell(lay, 2).problem
    planned = rest.replan_rest(lay, None, NOON)
    nest_all(batch)
    other = planned.lays[0]
    before_the_lock(beside, table, lambda: tell(other, 1))
    assert f"lay {other.number} is cut already" in rest.take_rest_back(lay)
    assert Lay.objects.filter(pk=other.pk).exists()


# ---- one plans, another cuts ----


def test_no_plan_is_changed_once_somebody_cuts(batch: Batch, lay: Lay) -> None:
    """Each is asked for before anything is cut, and comes to write after it."""
    before = list(batch.lays.order_by("pk").values_list("pk", "number", "marker"))
    plan = CutPlan.objects.filter(batch=batch).first()
    with pytest.MonkeyPatch.context() as patch:
        before_the_lock(patch, choices, lambda: tell(lay, 1))
        assert choices.choose_aim(batch, plan.pk, "fewest_lays").problem == choices.CHANGED
    assert take_plan_back(batch, None, NOON) is None
    assert choices.choose_aim(batch, plan.pk, "fewest_lays").problem == choices.CUT_ALREADY
    assert choices.keep_lay(lay, is_kept=True).problem == choices.CUT_ALREADY
    assert "Part of it is cut" in rolling.assign_rolls(batch).problem
    assert list(batch.lays.order_by("pk").values_list("pk", "number", "marker")) == before
    assert CutPlan.objects.get(pk=plan.pk).aim == plan.aim


def test_rolls_are_not_dealt_anew_under_somebody_who_begins_to_cut(
    batch: Batch, lay: Lay, beside: pytest.MonkeyPatch
) -> None:
    roll_of(only_cloth(lay), shade_lot="A")
    before = list(LayRoll.objects.order_by("pk").values_list("pk", "roll"))
    before_the_lock(beside, rolling, lambda: tell(lay, 1))
    assert "changed meanwhile" in rolling.assign_rolls(batch).problem
    assert list(LayRoll.objects.order_by("pk").values_list("pk", "roll")) == before


def test_the_worker_leaves_a_plan_alone_that_somebody_begins_to_cut(
    batch: Batch, lay: Lay, beside: pytest.MonkeyPatch
) -> None:
    CutPlan.objects.filter(batch=batch).update(state=CutPlan.State.QUICK)
    before = list(batch.lays.order_by("pk").values_list("pk", "number", "marker"))
    before_the_lock(beside, settling, lambda: tell(lay, 1))
    assert settling.settle(batch.pk) == "changed meanwhile"
    assert settling.settle(batch.pk) == "cut, so it stays"
    assert list(batch.lays.order_by("pk").values_list("pk", "number", "marker")) == before


def test_a_batch_cancelled_while_its_needs_are_reckoned_keeps_none(
    batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    cloth = batch.needs.filter(fabric_colour__isnull=False).first().fabric_colour
    held = rf"{cloth} cannot be deleted: it is held by batches \({batch.number}\), styles \([^()]*\)\.$"
    with pytest.raises(StillUsedError, match=held):
        delete_unused(cloth)
    before_the_lock(monkeypatch, planning, lambda: cancel_batch(batch, None, NOON))
    planning.refresh_needs(batch)
    assert not batch.needs.exists(), "else its cloths could never be deleted"


def test_a_lay_that_is_gone_is_not_kept(batch: Batch, lay: Lay) -> None:
    gone = Lay.objects.select_related("batch").get(pk=lay.pk)
    assert take_plan_back(batch, None, NOON)
    assert not planning.plan_batch(batch, NOON).problems
    for is_kept in (True, False):
        assert choices.keep_lay(gone, is_kept=is_kept).problem == choices.CHANGED
