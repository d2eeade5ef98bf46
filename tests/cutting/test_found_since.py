"""Lays nested since a batch was settled: a better plan that they make known is offered, and never a worse one taken."""

from __future__ import annotations

from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.wishes import PlanFacts
from planner.cutting import cut_plans, judged_plans
from planner.cutting.actions import choices, found_since, planning, settling
from planner.cutting.actions.found_since import look_again, plan_once_more
from planner.cutting.actions.laying import put_lays, ready_lays
from planner.cutting.actions.situation import read_situation
from planner.cutting.cut_plans import facts_of
from planner.cutting.models import Batch, CutPlan, Marker
from planner.cutting.setting import judged
from planner.cutting.why import MAY_BE_BETTER, NOT_THE_BEST, how_good
from tests.cutting import once
from tests.cutting.settling_makers import lay_in_rows
from tests.factories import NOON, make_order
from tests.sewing.makers import cut_all, the_style

pytestmark = pytest.mark.django_db
BUTTON = "Plan once more with them"


def twin() -> Batch:
    return once.waiting_batch(
        make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 4, "L": 2})])
    )


@pytest.fixture
def batch() -> Batch:
    return once.settled(twin())


def jersey(batch: Batch) -> CutPlan:
    return batch.cut_plans.get(fabric__name="jersey")


def told(batch: Batch) -> PlanFacts:
    facts = facts_of(jersey(batch))
    assert facts is not None
    return facts


def lays_of(batch: Batch) -> list[tuple[int, int]]:
    return list(batch.lays.order_by("pk").values_list("pk", "marker_id"))


def page(client: Client, batch: Batch) -> str:
    return client.get(reverse("batch-detail", args=[batch.number])).content.decode()


@pytest.fixture
def nested_since(batch: Batch) -> Batch:
    """Another batch with the same garments, of which S and M never share a marker; its markers came out short."""
    other = twin()
    kinds = [("110", "S"), ("110", "M")]
    assert not choices.choose_kinds(other, jersey(other).pk, "apart", kinds, None).problem
    lay_in_rows(other, longer_by=0.6)
    return other


def settle_to_the_end(batch: Batch) -> None:
    for _ in range(12):
        lay_in_rows(batch)
        settling.settle(batch.pk)
        if not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
            return
    raise AssertionError("the plan never settled")


def test_a_better_plan_that_is_known_by_now_is_told_and_taken_when_she_asks(
    maker_client: Client, helper_client: Client, batch: Batch, nested_since: Batch
) -> None:
    lays, before = lays_of(batch), told(batch)
    assert look_again(batch.pk) == "a better plan is known"
    facts = told(batch)
    assert lays_of(batch) == lays, "nothing is changed by looking"
    assert facts.since is not None
    assert facts.since.cost < facts.best.cost == before.best.cost
    assert how_good(facts) in (NOT_THE_BEST, MAY_BE_BETTER)
    html = page(maker_client, batch)
    assert html.count(BUTTON) == 1
    assert "Proven: no plan costs less" not in html.split("How the rib")[0].split("How the jersey")[1]
    assert BUTTON not in page(helper_client, batch)
    address = reverse("plan-again", args=[batch.number, jersey(batch).pk])
    assert helper_client.post(address).status_code == 403
    swapped = maker_client.post(address, headers={"HX-Request": "true"})
    assert swapped.status_code == 200
    assert BUTTON not in swapped.content.decode()
    assert f'id="plan-choices-{jersey(batch).pk}">' in swapped.content.decode(), (
        "what she did not open stays closed"
    )
    assert jersey(batch).state == CutPlan.State.NESTING
    settle_to_the_end(batch)
    after = told(batch)
    assert after.best.cost < before.best.cost
    assert (after.since, after.before) == (None, ())
    assert lays_of(batch) != lays
    look_again(batch.pk)
    assert BUTTON not in page(maker_client, batch)


def test_where_nothing_better_is_known_nothing_is_offered(maker_client: Client, batch: Batch) -> None:
    lays = lays_of(batch)
    assert look_again(batch.pk) == "nothing better"
    assert told(batch).since is None
    assert BUTTON not in page(maker_client, batch)
    # Asked all the same, with JavaScript or without: the page says so, and nothing is changed.
    answer = maker_client.post(reverse("plan-again", args=[batch.number, jersey(batch).pk]))
    assert answer.status_code == 422
    assert found_since.NOTHING_SINCE in answer.content.decode()
    assert jersey(batch).state == CutPlan.State.SETTLED
    assert lays_of(batch) == lays


def test_what_was_proven_is_told_on_unless_it_is_known_better(batch: Batch) -> None:
    """A short look on a busy machine proves less than settling did."""
    seen, proven = read_situation(batch), told(batch)
    assert seen is not None
    assert proven.gap_share is None
    unsure = judged_plans.Judged("jersey", (), replace(proven, gap_share=0.04), is_new=False)
    for lost, gap_share in ((0.0, None), (0.003, 0.04)):
        found_since._note(jersey(batch), proven, replace(unsure, lost=lost))
        assert told(batch).gap_share == gap_share


def test_planned_once_more_it_ends_with_the_plan_that_stood_rather_than_with_a_dearer_one(
    batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What an estimate promised did not hold: the plan that stood is better, though by less than a change is worth."""
    plan, stood, sections = jersey(batch), told(batch), told(batch).plans[0]
    seen = read_situation(batch)
    assert seen is not None
    apart = choices.NewChoices("money", "maker", 1, ())
    one = next(one for one in seen.plans if one.plan.pk == plan.pk)
    worse = choices._tried(seen, one, apart)
    assert worse is not None
    others = [lay.planned for lay in seen.lays if lay.planned.fabric != "jersey"]
    put_lays(batch, ready_lays([*others, *worse.lays], seen.lays, seconds=2), seen.shop)
    monkeypatch.setattr(judged_plans, "BETTER_SHARE", 0.9)
    monkeypatch.setattr(judged_plans, "UNSURE_SHARE", 0.9)
    cut_plans.store_facts(plan, replace(worse.facts, before=sections))
    plan.state = CutPlan.State.NESTING
    plan.save()
    settle_to_the_end(batch)
    assert told(batch).best.lays == stood.best.lays
    assert told(batch).best.cost == stood.best.cost
    assert told(batch).before == ()


def test_a_batch_that_moves_or_is_cut_is_left_alone(
    maker_client: Client, batch: Batch, nested_since: Batch
) -> None:
    facts = jersey(batch).facts
    CutPlan.objects.filter(pk=jersey(batch).pk).update(state=CutPlan.State.NESTING)
    assert look_again(batch.pk) == "not settled"
    CutPlan.objects.filter(pk=jersey(batch).pk).update(state=CutPlan.State.SETTLED)
    Marker.objects.filter(pk=batch.lays.first().marker_id).update(state=Marker.State.WAITING)
    assert look_again(batch.pk) == "being nested"
    Marker.objects.filter(pk=batch.lays.first().marker_id).update(state=Marker.State.READY)
    cut_all(batch)
    assert look_again(batch.pk) == "not planned, or cut"
    assert plan_once_more(batch, jersey(batch).pk).problem == choices.CUT_ALREADY
    assert jersey(batch).facts == facts
    # What was known of a better plan before is told no more, for the plan stays: neither on the page nor on papers.
    plan = jersey(batch)
    cut_plans.store_facts(plan, replace(told(batch), since=told(batch).best))
    plan.save()
    assert "better plan" in how_good(told(batch))
    assert "better plan" not in page(maker_client, batch)
    assert "better plan" not in " ".join(judged(Batch.objects.get(pk=batch.pk), "metric"))


def test_every_batch_of_the_same_cloth_is_looked_at(batch: Batch, monkeypatch: pytest.MonkeyPatch) -> None:
    other, asked = twin(), list[int]()
    monkeypatch.setattr(found_since, "queue_look_again", asked.append)
    found_since.ask_those_alike(other)
    assert asked == [batch.pk, other.pk]
    # What was nested of a plan that is taken back before it stands is not lost either; one that stands was looked at.
    assert planning.take_plan_back(other, None, NOON)
    assert asked == [batch.pk, other.pk] * 2
    assert planning.take_plan_back(batch, None, NOON)
    assert asked == [batch.pk, other.pk] * 2
