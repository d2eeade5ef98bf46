"""Where several workers share a database: what one was cut off from, another that lives takes up, and once only."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult
from pytest_django import DjangoCaptureOnCommitCallbacks as Commit
from pytest_django import Settings

from planner.cutting.actions import cut_off, nesting
from planner.cutting.models import Batch, CutPlan, Marker
from planner.cutting.tasks import nest_marker, queue_nesting, queue_settling, settle_batch
from planner.running.taking_up import LOOK_AT, MOST_TRIES, Watch, put_back
from planner.settings import base
from tests.cutting.once import make_planned_batch
from tests.cutting.settling_makers import lay_in_rows, waiting_batch
from tests.factories import NOON, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
RUNNING, READY = TaskResultStatus.RUNNING, TaskResultStatus.READY


@pytest.fixture
def queue(settings: Settings) -> None:
    """Tasks go into the queue of a workroom, which is in the database; nobody works on them."""
    settings.TASKS = base.TASKS


@pytest.fixture
def batch() -> Batch:
    return make_planned_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})]))


def under_way(worker: str = "gone", *, tries: int = 1, since: datetime = NOON, pk: int = 7) -> DBTaskResult:
    """A settling that a worker is at, or was."""
    return DBTaskResult.objects.create(
        status=RUNNING,
        started_at=since,
        args_kwargs={"args": [pk], "kwargs": {}},
        task_path=settle_batch.module_path,
        worker_ids=[worker] * tries,
        backend_name="default",
        exception_class_path="",
        traceback="",
    )


def look(watch: Watch, at: datetime) -> int:
    """All turns up to the next look."""
    return sum(watch.turn(at) for _ in range(LOOK_AT))


def asked(task_path: str, status: str = READY) -> list[int]:
    rows = DBTaskResult.objects.filter(status=status, task_path=task_path)
    return sorted(row.args_kwargs["args"][0] for row in rows)


def test_a_settling_whose_worker_was_killed_is_taken_up_by_another_that_lives() -> None:
    task, watch = under_way(), Watch("lives")
    assert look(watch, NOON + timedelta(seconds=20)) == 0, "heard of just now"
    assert look(watch, NOON + timedelta(seconds=50)) == 0, "silent, but looked at once"
    assert look(watch, NOON + timedelta(seconds=80)) == 1
    task.refresh_from_db()
    assert (task.status, task.started_at) == (READY, None)
    assert look(watch, NOON + timedelta(seconds=110)) == 0


def test_a_worker_that_lives_keeps_its_task_however_long_that_takes() -> None:
    task, own, other = under_way("slow"), Watch("slow"), Watch("other")
    for seconds in range(10, 600, 10):
        now = NOON + timedelta(seconds=seconds)
        assert own.turn(now) + other.turn(now) == 0
    task.refresh_from_db()
    assert task.status == RUNNING


def test_after_a_machine_has_slept_those_that_live_are_heard_of_before_anything_is_taken_up() -> None:
    under_way("slow")
    own, other, morning = Watch("slow"), Watch("other"), NOON + timedelta(hours=8)
    assert look(other, morning) == 0
    own.turn(morning + timedelta(seconds=5))
    assert look(other, morning + timedelta(seconds=30)) == 0


def test_what_waits_already_is_not_put_into_the_queue_twice() -> None:
    waits, task = under_way(), under_way()
    DBTaskResult.objects.filter(pk=waits.pk).update(status=READY)
    assert not put_back(task, after_crash=False)
    assert asked(settle_batch.module_path) == [7]
    task.refresh_from_db()
    assert task.status == TaskResultStatus.FAILED
    other = under_way(pk=8)
    assert put_back(other, after_crash=False)
    assert asked(settle_batch.module_path) == [7, 8]
    assert not put_back(other, after_crash=False), "no longer as it was read"


def test_a_task_at_which_workers_break_down_again_and_again_is_given_up() -> None:
    task, watch = under_way(tries=MOST_TRIES), Watch("lives")
    assert look(watch, NOON + timedelta(minutes=1)) + look(watch, NOON + timedelta(minutes=2)) == 0
    task.refresh_from_db()
    assert task.status == TaskResultStatus.FAILED
    assert "given up" in task.traceback


@pytest.mark.usefixtures("queue")
def test_a_lay_and_its_task_are_taken_up_as_one(
    batch: Batch, django_capture_on_commit_callbacks: Commit
) -> None:
    marker = batch.lays.first().marker
    Marker.objects.filter(pk=marker.pk).update(state=Marker.State.NESTING, heartbeat_at=NOON)
    DBTaskResult.objects.all().delete()
    task, watch = under_way(pk=marker.pk), Watch("lives")
    DBTaskResult.objects.filter(pk=task.pk).update(task_path=nest_marker.module_path)
    with django_capture_on_commit_callbacks(execute=True):
        look(watch, NOON + timedelta(minutes=1))
        look(watch, NOON + timedelta(minutes=2))
    marker.refresh_from_db()
    assert marker.state == Marker.State.WAITING
    assert asked(nest_marker.module_path) == [marker.pk]


@pytest.mark.usefixtures("queue")
def test_a_batch_that_is_taken_up_is_asked_for_once(django_capture_on_commit_callbacks: Commit) -> None:
    """Formerly each start added a task for every lay that waited, beside those that waited already."""
    order = make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])
    with django_capture_on_commit_callbacks(execute=True):
        batch = waiting_batch(order)
    waiting = sorted(batch.lays.values_list("marker_id", flat=True))
    assert len(waiting) > 1
    with django_capture_on_commit_callbacks(execute=True):
        assert cut_off.take_up_again(NOON) == len(waiting)
        for lay in batch.lays.all():
            queue_nesting(lay.marker)
        queue_settling(batch.pk)
    assert asked(nest_marker.module_path) == waiting
    assert asked(settle_batch.module_path) == [batch.pk]
    # One that a worker has begun with may have seen how things were before: then it is asked for once more.
    DBTaskResult.objects.update(status=RUNNING)
    with django_capture_on_commit_callbacks(execute=True):
        queue_settling(batch.pk)
    assert asked(settle_batch.module_path) == [batch.pk]


@pytest.mark.usefixtures("queue")
def test_what_follows_a_nesting_is_done_though_its_worker_was_killed_in_between(
    batch: Batch, django_capture_on_commit_callbacks: Commit
) -> None:
    """The lay is stored as nested, and nobody was asked yet to go on with the plan."""
    lay_in_rows(batch)
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    DBTaskResult.objects.all().delete()
    with django_capture_on_commit_callbacks(execute=True):
        assert nesting.nest_one(batch.lays.first().marker_id) == "not waiting"
    assert asked(settle_batch.module_path) == [batch.pk]
