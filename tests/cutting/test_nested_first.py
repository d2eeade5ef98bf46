"""Several batches at the worker: a lay without a length goes before polishing, and a page says who is nested first."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django_tasks_db.models import DBTaskResult
from pytest_django import DjangoAssertNumQueries, DjangoCaptureOnCommitCallbacks, Settings

from planner.cutting.actions import nesting, polishing
from planner.cutting.models import Batch, CutPlan, Marker
from planner.cutting.plan_progress import nested_for_others, progress_of, seconds_left
from planner.cutting.stored import planned_batch
from planner.cutting.tasks import AGAIN, FIRST_SEED, POLISH_SEED, nest_marker, queue_nesting, urgency_of
from planner.settings import base
from tests.cutting.once import waiting_batch
from tests.cutting.settling_makers import lay_in_rows
from tests.factories import NOON, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}


def new_batch(**sizes: int) -> Batch:
    batch = waiting_batch(make_order([(the_style(), RIB, "ink", sizes)]))
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    return batch


def markers(batch: Batch) -> list[Marker]:
    return list(Marker.objects.filter(lays__batch=batch).order_by("pk"))


def words(batch: Batch) -> str:
    read = planned_batch(batch)
    return " ".join(one.now for one in progress_of(read, "metric", NOON, nested_for_others(read)).values())


def left(batch: Batch) -> float:
    read = planned_batch(batch)
    return seconds_left(read, NOON, nested_for_others(read))


def test_a_first_nesting_goes_before_every_other_and_a_plan_that_waits_before_polishing(
    settings: Settings, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    settings.TASKS = base.TASKS
    new = markers(new_batch(S=2, M=3))[0]
    rows = markers(new_batch(S=1, L=2))
    assert len(rows) >= 2
    polished, settles = rows[:2]
    polished.seed, settles.seed = POLISH_SEED + 1, POLISH_SEED
    DBTaskResult.objects.all().delete()
    with django_capture_on_commit_callbacks(execute=True):
        for row in (polished, settles, new):
            queue_nesting(row)
    waiting = DBTaskResult.objects.ready().filter(task_path=nest_marker.module_path)
    assert [task.args_kwargs["args"][0] for task in waiting] == [new.pk, settles.pk, polished.pk]


def test_what_is_asked_for_a_second_nesting_is_queued_as_such(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, int]] = []
    monkeypatch.setattr(polishing, "queue_nesting", lambda row: asked.append((row.pk, row.seed)))
    batch = new_batch(S=2, M=3)
    lay_in_rows(batch)
    row = markers(batch)[0]
    assert polishing._nest_again(row, 5.0)
    assert asked == [(row.pk, POLISH_SEED)]


def test_polishing_under_way_gives_way_and_is_asked_for_again(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []
    told: list[bool] = []

    def give_way(pk: int, gives_way: nesting.GivesWay | None = None) -> str:
        told.append(gives_way is not None)
        return nesting.GAVE_WAY if gives_way is not None else "ready"

    monkeypatch.setattr(nesting, "nest_one", give_way)
    monkeypatch.setattr("planner.cutting.tasks.queue_nesting", lambda row: asked.append(row.pk))
    row = markers(new_batch(S=2, M=3))[0]
    assert nest_marker.call(row.pk) == "ready"
    Marker.objects.filter(pk=row.pk).update(seed=POLISH_SEED)
    assert nest_marker.call(row.pk) == nesting.GAVE_WAY
    assert told == [False, True]
    assert asked == [row.pk]


def test_a_batch_that_waits_for_another_says_so_and_counts_its_time(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    before, batch = new_batch(S=2, M=3), new_batch(S=1, L=2)
    read = planned_batch(batch)
    alone = seconds_left(read, NOON)
    with django_assert_num_queries(1):
        others = nested_for_others(read)
    told = progress_of(read, "metric", NOON, others)
    assert all(f"Batch {before.number} is being nested first." in one.now for one in told.values())
    assert f"Batch {batch.number}" not in words(before), "it was planned first"
    both = sum(row.seconds for row in markers(before))
    assert left(batch) >= alone + 2 * both, "each of its lays is nested twice"
    # A lay of its own is being nested now: nobody is before it.
    Marker.objects.filter(pk=markers(batch)[0].pk).update(state=Marker.State.NESTING, started_at=NOON)
    assert "nested first" not in words(batch)
    batch.cut_plans.update(state=CutPlan.State.SETTLED)
    stands = planned_batch(batch)
    with django_assert_num_queries(0):
        assert nested_for_others(stands) == ()


def test_polishing_of_another_batch_is_not_before_a_new_one() -> None:
    before, batch = new_batch(S=2, M=3), new_batch(S=1, L=2)
    alone = left_alone(batch)
    lay_in_rows(before)
    Marker.objects.filter(lays__batch=before).update(state=Marker.State.WAITING, seed=POLISH_SEED + 1)
    assert "nested first" not in words(batch)
    assert left(batch) == alone
    Marker.objects.filter(lays__batch=before).update(seed=POLISH_SEED)
    assert "nested first" not in words(batch)


def left_alone(batch: Batch) -> float:
    return seconds_left(planned_batch(batch), NOON)


def test_the_second_nesting_is_counted_from_the_start_and_what_is_left_only_falls() -> None:
    batch = new_batch(S=2, M=3, L=2)
    found = [left(batch)]
    rows = markers(batch)
    for seed in (FIRST_SEED, POLISH_SEED):
        for row in rows:
            at = {"started_at": NOON, "heartbeat_at": NOON + timedelta(seconds=row.seconds + 1), "seed": seed}
            lay_row(row, **at)
            found.append(left(batch))
        if seed == FIRST_SEED:
            Marker.objects.filter(lays__batch=batch).update(state=Marker.State.WAITING, seed=POLISH_SEED)
            found.append(left(batch))
    assert found == sorted(found, reverse=True)


def lay_row(row: Marker, **changes: object) -> None:
    Marker.objects.filter(pk=row.pk).update(state=Marker.State.READY, length_mm=900.0, **changes)


@pytest.mark.parametrize(
    ("seconds", "about"),
    [(6, "A few seconds"), (30, "About half a minute"), (60, "About a minute"), (125, "About 2 minutes")],
)
def test_time_is_told_roughly(monkeypatch: pytest.MonkeyPatch, seconds: int, about: str) -> None:
    batch = new_batch(S=2, M=3)
    monkeypatch.setattr("planner.cutting.plan_progress.seconds_left", lambda *_: float(seconds))
    assert f"{about} of work left for the whole batch, more if lays change." in words(batch)


def test_nesting_longer_what_was_nested_once_only_is_no_first_nesting(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[int] = []
    monkeypatch.setattr(nesting, "queue_nesting", lambda row: asked.append(urgency_of(row)))
    batch = new_batch(S=2, M=3)
    lay_in_rows(batch)
    row = markers(batch)[0]
    assert row.seed == FIRST_SEED
    assert nesting.run_longer(row, 20.0)
    assert asked == [AGAIN]
