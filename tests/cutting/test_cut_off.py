"""Nesting cut off while other workers go on: taken up once, with its best; what breaks the worker down is given up."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django_tasks.base import Task, TaskResultStatus
from django_tasks_db.models import DBTaskResult

from planner.cutting.actions import nesting
from planner.cutting.actions.cut_off import GIVEN_UP, take_up_silent
from planner.cutting.models import Batch, Marker
from planner.cutting.tasks import nest_marker
from planner.running.prepare import take_up_again
from planner.running.taking_up import MOST_TRIES
from tests.cutting.once import make_planned_batch
from tests.factories import NOON, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
LATER = NOON + timedelta(minutes=5)


@pytest.fixture
def marker() -> Marker:
    """Being nested, last heard of at noon."""
    order = make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])
    batch: Batch = make_planned_batch(order)
    marker = batch.lays.first().marker
    Marker.objects.filter(pk=marker.pk).update(state=Marker.State.NESTING, heartbeat_at=NOON)
    return marker


@pytest.fixture
def queued(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    pks: list[int] = []
    monkeypatch.setattr(Task, "enqueue", lambda task, pk: pks.append(pk))
    return pks


def state(marker: Marker) -> tuple[str, bool]:
    marker.refresh_from_db()
    return marker.state, marker.placements is not None


def test_a_worker_that_stays_silent_was_cut_off(
    marker: Marker, queued: list[int], django_capture_on_commit_callbacks: Callable
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        assert take_up_silent({}, NOON + timedelta(seconds=5)) == ({}, 0), "heard of just now"
        heard, again = take_up_silent({}, LATER)
        assert (heard, again) == ({marker.pk: NOON}, 0), "looked at once"
        assert queued == []
        assert take_up_silent(heard, LATER) == ({}, 1)
        assert take_up_silent(heard, LATER) == ({}, 0), "another worker that looks finds it queued"
    assert queued == [marker.pk]
    assert state(marker) == ("waiting", True)


def test_a_worker_that_is_heard_of_between_two_looks_goes_on(marker: Marker, queued: list[int]) -> None:
    """So it is after the machine has slept: everybody was silent for hours, and goes on."""
    heard, _ = take_up_silent({}, LATER)
    Marker.objects.filter(pk=marker.pk).update(heartbeat_at=LATER)
    assert take_up_silent(heard, LATER + timedelta(seconds=30)) == ({}, 0)
    assert state(marker) == ("nesting", True)


def test_a_marker_under_way_is_nested_by_nobody_else(marker: Marker, monkeypatch: pytest.MonkeyPatch) -> None:
    Marker.objects.filter(pk=marker.pk).update(state=Marker.State.WAITING, seed=1)
    outcomes: list[str] = []

    def meanwhile(job: object, **options: object) -> object:
        outcomes.append(nesting.nest_one(marker.pk))
        return options["start"]

    monkeypatch.setattr(nesting, "nest", meanwhile)
    assert nesting.nest_one(marker.pk) == "ready"
    assert outcomes == ["not waiting"]


def test_a_marker_over_which_the_worker_crashes_again_and_again_is_given_up_with_its_best(
    marker: Marker, queued: list[int], django_capture_on_commit_callbacks: Callable
) -> None:
    """Formerly the task was given up, and the marker was asked for once more at every start."""
    DBTaskResult.objects.create(
        status=TaskResultStatus.RUNNING,
        args_kwargs={"args": [marker.pk], "kwargs": {}},
        task_path=nest_marker.module_path,
        worker_ids=["w"] * MOST_TRIES,
        backend_name="default",
        exception_class_path="",
        traceback="",
    )
    with django_capture_on_commit_callbacks(execute=True):
        assert take_up_again(after_crash=True) == 0
    assert queued == []
    assert state(marker) == ("failed", True)
    assert marker.message == GIVEN_UP
    assert nesting.run_longer(marker, 5.0), "it may be tried again"
