"""What a plan is held against is nested too, beside everything else: once, for a short while, giving way to all."""

from __future__ import annotations

from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse
from django_tasks_db.models import DBTaskResult
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from planner.core.lays.rows import first_marker
from planner.core.lays.wishes import PlanFacts
from planner.cutting.actions import nesting, settling, singles
from planner.cutting.actions.singles import nest_next
from planner.cutting.cut_plans import facts_of, nested_lengths
from planner.cutting.models import Batch, Marker
from planner.cutting.plan_screens import PlanPanel, plan_panels
from planner.cutting.plan_words import length_in_words
from planner.cutting.stored import planned_batch
from planner.cutting.tasks import (
    BESIDE,
    LATER,
    nest_marker,
    nest_singles,
    queue_nesting,
    queue_singles,
    settle_batch,
    waits_before,
)
from planner.cutting.why import against_single, is_to_follow, outcome_in_words
from planner.cutting.wording import to_spread_in_words
from planner.settings import base
from tests.cutting import once
from tests.cutting.settling_makers import settled
from tests.factories import make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}


@pytest.fixture
def batch() -> Batch:
    return once.settled(once.waiting_batch(make_order([(the_style(), RIB, "ink", {"S": 2, "M": 4, "L": 2})])))


@pytest.fixture
def nested(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many pieces each marker held that was nested, in plain rows."""
    done: list[int] = []

    def in_rows(job, **_):  # type: ignore[no-untyped-def]
        done.append(len(job.items))
        return first_marker(job)

    monkeypatch.setattr(nesting, "nest", in_rows)
    return done


def told(batch: Batch) -> PlanFacts:
    facts = facts_of(batch.cut_plans.get(fabric__name="jersey"))
    assert facts is not None
    return facts


def to_the_end(batch: Batch) -> int:
    """As the worker does; how often it was called."""
    for n in range(1, 40):
        if nest_next(batch.pk) == "told anew":
            return n
    raise AssertionError("it never ended")


def head(facts: PlanFacts, *, follows: bool = False) -> str:
    return against_single(facts, "metric", "EUR", follows=follows).split(":")[0]


def test_a_settled_plan_is_held_against_single_sizes_that_are_nested_too(
    batch: Batch, nested: list[int]
) -> None:
    before = told(batch)
    assert is_to_follow(before)
    assert head(before, follows=True).endswith("; what it saves is told once those are nested too.")
    assert head(before).endswith("(those as estimated)")
    lays = list(batch.lays.values_list("pk", "number", "marker_id"))
    to_the_end(batch)
    after = told(batch)
    lengths = nested_lengths({one.key for one in after.single_lays})
    ends = 2 * batch.lays.first().end_allowance_mm
    cloth = sum(sum(n for _, n in one.spreads) * (lengths[one.key] + ends) for one in after.single_lays)
    assert len(lengths) == len({one.key for one in after.single_lays}) == 3
    assert after.single.cloth_mm == pytest.approx(cloth)
    assert after.single.nested == after.single.lays
    assert (after.best, after.others, after.prices) == (before.best, before.others, before.prices)
    assert not is_to_follow(after)
    assert head(after, follows=True).endswith("of single sizes, nested too")
    assert list(batch.lays.values_list("pk", "number", "marker_id")) == lays


def test_the_page_lists_the_lays_that_the_saving_is_reckoned_from(
    batch: Batch, nested: list[int], maker_client: Client
) -> None:
    """Lay by lay, with the length each marker has: their cloth comes to the sum above them."""
    address = reverse("batch-detail", args=[batch.number])
    (estimated,) = (one for one in panels(batch) if one.fabric == "jersey")
    assert estimated.singles is not None
    assert len(estimated.singles.lays) == told(batch).single.lays == 3
    assert all(", as estimated, spread" in words for words in estimated.singles.lays)
    to_the_end(batch)
    facts = told(batch)
    (panel,) = (one for one in panels(batch) if one.fabric == "jersey")
    assert panel.singles is not None
    assert panel.singles.total == outcome_in_words(facts.single, "metric", "EUR")
    lengths = nested_lengths({one.key for one in facts.single_lays})
    ends = 2 * batch.lays.first().end_allowance_mm
    for one, words in zip(facts.single_lays, panel.singles.lays, strict=True):
        (_, count), length = one.spreads[0], lengths[one.key]
        cloth = to_spread_in_words((length + ends) * count / 1000, "metric")
        assert words == (
            f"{one.garment.size}: {one.per_marker} in a marker of {length_in_words(length, 'metric')}, spread "
            f"{count}\N{NO-BREAK SPACE}× in ink: {cloth} of cloth"
        )
    html = maker_client.get(address).content.decode()
    assert html.count('<details class="plan-singles">') == len([one for one in panels(batch) if one.singles])
    assert panel.singles.lays[0] in html


def panels(batch: Batch) -> tuple[PlanPanel, ...]:
    return plan_panels(planned_batch(batch), "metric", "EUR", is_maker=True)


def test_what_was_nested_is_not_nested_again_whoever_asks(batch: Batch, nested: list[int]) -> None:
    to_the_end(batch)
    count = len(nested)
    assert nest_next(batch.pk) == "nothing to nest"
    other = once.settled(
        once.waiting_batch(make_order([(the_style(), RIB, "ink", {"S": 2, "M": 4, "L": 2})]))
    )
    # The lengths are there already when the other batch is settled, and again whenever it is reckoned.
    assert told(other).single == told(batch).single
    assert nest_next(other.pk) == "nothing to nest"
    settling.reckon_again(batch.pk)
    assert told(batch).single.nested == told(batch).single.lays
    assert len(nested) == count


def test_it_gives_way_to_what_is_to_be_cut_and_goes_on_later(
    batch: Batch, beside: pytest.MonkeyPatch, nested: list[int]
) -> None:
    beside.setattr(nesting, "BREATH", 0.0)
    stopped: list[bool] = []

    def look(job, *, should_stop, **_):  # type: ignore[no-untyped-def]
        stopped.append(should_stop())
        return first_marker(job)

    beside.setattr(nesting, "nest", look)
    beside.setattr(singles, "waits_before", lambda _: True)
    assert nest_next(batch.pk) == nesting.GAVE_WAY
    assert stopped == [True]
    rows = Marker.objects.filter(lays__isnull=True)
    assert [row.state for row in rows] == [Marker.State.WAITING]
    assert is_to_follow(told(batch))
    beside.setattr(singles, "waits_before", lambda _: False)
    to_the_end(batch)
    assert rows.all().count() == len({one.key for facts in _all_told(batch) for one in facts.single_lays})
    assert set(stopped[1:]) == {False}


def _all_told(batch: Batch) -> list[PlanFacts]:
    return [facts for plan in batch.cut_plans.all() if (facts := facts_of(plan)) is not None]


def test_it_comes_after_all_that_is_to_be_cut_and_before_a_night_of_nesting() -> None:
    assert min(nest_marker.priority, settle_batch.priority) > nest_singles.priority == BESIDE > LATER


def test_a_batch_that_settles_asks_for_it_once_and_what_is_to_be_cut_goes_before(
    settings: Settings, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    settings.TASKS = base.TASKS
    with django_capture_on_commit_callbacks(execute=True):
        batch = settled(once.waiting_batch(make_order([(the_style(), RIB, "ink", {"S": 1, "M": 1})])))
    waiting = DBTaskResult.objects.ready().filter(task_path=nest_singles.module_path)
    assert [task.args_kwargs["args"] for task in waiting] == [[batch.pk]]
    DBTaskResult.objects.exclude(pk__in=waiting).delete()
    assert not waits_before(BESIDE)
    with django_capture_on_commit_callbacks(execute=True):
        queue_singles(batch.pk)
    assert waiting.count() == 1
    row = batch.lays.first().marker
    with django_capture_on_commit_callbacks(execute=True):
        queue_nesting(row)
    assert waits_before(BESIDE)
    assert DBTaskResult.objects.ready().first().task_path == nest_marker.module_path
    # A night of nesting is no reason to give way.
    DBTaskResult.objects.exclude(pk__in=waiting).delete()
    row.seconds = 600.0
    with django_capture_on_commit_callbacks(execute=True):
        queue_nesting(row)
    assert not waits_before(BESIDE)


def test_there_is_a_bound_to_it_and_the_rest_is_called_estimated(
    batch: Batch, nested: list[int], beside: pytest.MonkeyPatch
) -> None:
    beside.setattr(singles, "MOST_MARKERS", 1)
    to_the_end(batch)
    after = told(batch)
    assert (after.single.nested, after.single.lays) == (1, 3)
    assert not is_to_follow(after)
    assert head(after, follows=True).endswith("(1 of those nested too, the others estimated)")


def test_one_over_which_the_nesting_breaks_down_holds_nothing_up_either(
    batch: Batch, beside: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []
    beside.setattr(singles, "queue_singles", asked.append)

    def break_down(job, **_):  # type: ignore[no-untyped-def]
        raise ZeroDivisionError("a fault of our own")

    beside.setattr(nesting, "nest", break_down)
    with pytest.raises(ZeroDivisionError):
        nest_next(batch.pk)
    assert asked == [batch.pk]
    # Nor does one that cannot be nested; both stay estimates.
    cannot = [True]

    def fail_once(job, **_):  # type: ignore[no-untyped-def]
        if cannot:
            cannot.pop()
            raise nesting.NestingFailed("no")
        return first_marker(job)

    beside.setattr(nesting, "nest", fail_once)
    to_the_end(batch)
    after = told(batch)
    assert (after.single.nested, after.single.lays, after.singles_done) == (1, 3, True)


def test_single_sizes_that_come_out_better_are_reckoned_with_in_all_that_is_said(
    batch: Batch, beside: pytest.MonkeyPatch
) -> None:
    """Half as long as the rows the lays of the plan lie in: no other plan is told to take the least cloth then."""

    def short(job, **_):  # type: ignore[no-untyped-def]
        marker = first_marker(job)
        return replace(marker, length_mm=marker.length_mm / 2)

    beside.setattr(nesting, "nest", short)
    lays = list(batch.lays.values_list("pk", "number", "marker_id"))
    before = told(batch)
    to_the_end(batch)
    after = told(batch)
    assert after.best.cloth_mm == before.best.cloth_mm
    assert after.single.cloth_mm < before.best.cloth_mm
    assert "more cloth" in against_single(after, "metric", "EUR")
    least = next(one for one in after.others if one.aim == "least_cloth")
    assert least.cloth_mm <= after.single.cloth_mm
    assert after.singles_done
    assert list(batch.lays.values_list("pk", "number", "marker_id")) == lays
    assert set(batch.cut_plans.values_list("state", flat=True)) == {"settled"}


def test_a_batch_that_is_not_settled_or_no_more_is_left_alone(batch: Batch, nested: list[int]) -> None:
    batch.cut_plans.update(state="nesting")
    assert nest_next(batch.pk) == "not settled"
    Batch.objects.filter(pk=batch.pk).update(state=Batch.State.CANCELLED)
    assert nest_next(batch.pk) == "not settled"
    assert nest_next(0) == "not settled"
    assert not nested
