"""Tasks that a stop or a crash cut off are taken up again, but not for ever."""

import pytest
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from planner.running.prepare import take_up_again
from planner.running.taking_up import MOST_TRIES

pytestmark = pytest.mark.django_db


def _task(status: str, tries: int = 1) -> DBTaskResult:
    return DBTaskResult.objects.create(
        status=status,
        args_kwargs={"args": [], "kwargs": {}},
        task_path="planner.running.nothing",
        worker_ids=["w"] * tries,
        backend_name="default",
        exception_class_path="",
        traceback="",
    )


def test_only_what_was_under_way_goes_back_into_the_queue() -> None:
    cut_off = _task(TaskResultStatus.RUNNING)
    done = _task(TaskResultStatus.SUCCESSFUL)
    assert take_up_again(after_crash=False) == 1
    cut_off.refresh_from_db()
    done.refresh_from_db()
    assert (cut_off.status, done.status) == (TaskResultStatus.READY, TaskResultStatus.SUCCESSFUL)


def test_a_task_that_crashes_the_worker_again_and_again_is_given_up() -> None:
    patient = _task(TaskResultStatus.RUNNING, MOST_TRIES - 1)
    hopeless = _task(TaskResultStatus.RUNNING, MOST_TRIES)
    assert take_up_again(after_crash=True) == 1
    patient.refresh_from_db()
    hopeless.refresh_from_db()
    assert (patient.status, hopeless.status) == (TaskResultStatus.READY, TaskResultStatus.FAILED)
    assert "given up" in hopeless.traceback


def test_an_ordinary_restart_counts_as_nobodys_fault() -> None:
    often = _task(TaskResultStatus.RUNNING, MOST_TRIES + 3)
    assert take_up_again(after_crash=False) == 1
    often.refresh_from_db()
    assert often.status == TaskResultStatus.READY
