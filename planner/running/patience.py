"""Going on where the database stays locked for longer than the usual wait. Needs Django to be set up.

SQLite has one writer at a time, and one that writes much may hold it longer than the others wait. That must neither end
the server or the worker nor lose a task: what could not be done is done a little later.
"""

import logging
import time
from collections.abc import Callable
from datetime import timedelta
from threading import Event
from typing import Any

from django.db import OperationalError, connection
from django.utils import timezone
from django_tasks.base import TaskResultStatus
from django_tasks_db.management.commands.db_worker import Worker
from django_tasks_db.models import DBTaskResult

from planner.cutting.actions.cut_off import take_up_again as take_up_markers
from planner.cutting.tasks import is_asked
from planner.running.prepare import take_up_again
from planner.running.taking_up import MOST_TRIES, Task, put_back

log = logging.getLogger(__name__)

#: The first wait after a database that could not be reached (s); each further one is twice as long, up to the longest.
FIRST_WAIT, LONGEST_WAIT = 1.0, 60.0
#: So often a step of the start is tried.
TRIES = 3


def wait_after(tries: int) -> float:
    """Seconds to wait after this many failures in a row."""
    return float(min(FIRST_WAIT * 2 ** (tries - 1), LONGEST_WAIT))


def try_patiently(step: Callable[[], object], stop: Event) -> bool:
    """Does a step of the start that the workroom can do without, again while the database is locked. Returns whether it
    was done; given up when `stop` is set.
    """
    for tries in range(1, TRIES + 1):
        try:
            step()
        except OperationalError:
            log.exception("the database could not be reached at the start")
            connection.close()
            if stop.wait(wait_after(tries)):
                return False
        else:
            return True
    return False


class PatientWorker(Worker):
    """The queue's own worker, which outlives a database that cannot be reached for a while.

    A task that failed for that goes back into the queue, to be run a little later. `is_alone` where no other worker can
    be at work: then whatever is under way in the queue is what this one was at.
    """

    def __init__(self, worker_id: str, *, is_alone: bool, interval: float = 0.5) -> None:
        super().__init__(
            queue_names=["default"], interval=interval, batch=False, backend_name="default", startup_delay=False,
            max_tasks=None, worker_id=worker_id, excluded_queue_names=[],
        )  # fmt: skip
        self._is_alone = is_alone
        self._to_do_again: list[Task] = []

    def run(self) -> None:
        """Works until it is told to stop."""
        failed = 0
        while True:
            done = self._run_tasks
            try:
                if failed:
                    self._take_up()
                super().run()
            except OperationalError:
                failed = 1 if self._run_tasks > done else failed + 1
                wait = wait_after(failed)
                log.exception("the database could not be reached; the worker tries again in %.0f s", wait)
                connection.close()
                if not self.running:
                    return
                time.sleep(wait)
            else:
                return

    def _take_up(self) -> None:
        """Puts back the task this worker was at when the database could not even be told that it failed."""
        self._put_again()
        if self._is_alone:
            take_up_again(after_crash=True)
            return
        for task in DBTaskResult.objects.running():
            if task.worker_ids[-1:] == [self.worker_id]:
                put_back(task, after_crash=True)

    def run_task(self, db_task_result: Task) -> None:
        """Runs a task; one that failed because the database could not be reached is run again later."""
        super().run_task(db_task_result)
        if db_task_result.status == TaskResultStatus.FAILED and _was_unreachable(db_task_result):
            self._to_do_again.append(db_task_result)
            self._put_again()

    def _put_again(self) -> None:
        while self._to_do_again:
            again_later(self._to_do_again[-1])
            if self._is_alone:
                # A marker whose outcome could not be written is nested again, from the best that was.
                take_up_markers(timezone.now(), all_nesting=True)
            self._to_do_again.pop()


def _was_unreachable(task: Task) -> bool:
    return bool(task.exception_class_path == f"{OperationalError.__module__}.{OperationalError.__qualname__}")


def again_later(task: Task) -> bool:
    """Puts a failed task back into the queue, to be run after a while. Returns whether it did.

    Not any number of times, and not where the same was asked for meanwhile.
    """
    tries = len(task.worker_ids)
    if tries >= MOST_TRIES or is_asked(task.task_path, task.args_kwargs["args"]):
        return False
    fields: dict[str, Any] = {
        "status": TaskResultStatus.READY,
        "started_at": None,
        "finished_at": None,
        "run_after": timezone.now() + timedelta(seconds=wait_after(tries)),
    }
    again = bool(DBTaskResult.objects.failed().filter(pk=task.pk).update(**fields))
    if again:
        log.warning("%s is done again later: the database could not be reached", task.task_path)
    return again
