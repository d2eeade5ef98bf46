"""Tasks that a stop, a crash or a kill cut off: put back into the queue, but not for ever. Needs Django to be set up.

Where several workers share a database, none may take a task from another that is alive. So each notes every few seconds
with its task that it lives; one that stays silent was cut off.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, TypeAlias
from uuid import UUID

from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from planner.cutting.actions.cut_off import Heard, give_up, take_up_silent
from planner.cutting.querysets import SILENT_AFTER
from planner.cutting.tasks import is_asked, nest_marker

#: A row of the queue.
Task: TypeAlias = DBTaskResult[Any, Any]

#: A task under way at this many crashes is given up, so that it cannot take workers down for ever.
MOST_TRIES = 5
#: A worker says so often that it lives (s); at every so manieth time it looks for others that do not.
BEAT_EVERY, LOOK_AT = 10.0, 3


def put_back(task: Task, *, after_crash: bool) -> bool:
    """Puts a task that was cut off back into the queue. Returns whether it did.

    Not where the same task waits there already, nor `after_crash` where workers broke down over it again and again, nor
    where it has changed since it was read.
    """
    as_read = DBTaskResult.objects.running().filter(pk=task.pk, started_at=task.started_at)
    if not as_read.exists():
        return False
    if after_crash and len(task.worker_ids) >= MOST_TRIES:
        _end(task, f"The worker crashed {MOST_TRIES} times at this task; it is given up.")
        if task.task_path == nest_marker.module_path:
            # Else the marker, which still waits, would be asked for once more.
            give_up(task.args_kwargs["args"][0])
        return False
    if is_asked(task.task_path, task.args_kwargs["args"]):
        _end(task, "The worker was cut off; the same task is in the queue once more.")
        return False
    return bool(as_read.update(status=TaskResultStatus.READY, started_at=None))


def _end(task: Task, why: str) -> None:
    task.set_failed(RuntimeError(why))


@dataclass
class Watch:
    """What one of several workers does beside its work: it notes that it lives, and takes up what others were cut off
    from.

    A single look is not enough: after the machine has slept every worker was silent for long, and those that live are
    heard of a moment later.
    """

    worker_id: str
    _turns: int = 0
    _markers: Heard = field(default_factory=dict)
    _tasks: Mapping[UUID, datetime | None] = field(default_factory=dict)

    def turn(self, now: datetime) -> int:
        """To be called every `BEAT_EVERY` seconds. Returns how many tasks and markers were taken up."""
        self._beat(now)
        self._turns += 1
        if self._turns % LOOK_AT:
            return 0
        again = self._take_up_tasks(now)
        self._markers, markers = take_up_silent(self._markers, now)
        return again + int(markers)

    def _beat(self, now: datetime) -> None:
        """Notes at the task this worker is at when it was last heard of: nobody else needs to know when it began."""
        for task in DBTaskResult.objects.running():
            if task.worker_ids[-1:] == [self.worker_id]:
                DBTaskResult.objects.running().filter(pk=task.pk).update(started_at=now)

    def _take_up_tasks(self, now: datetime) -> int:
        silent = {
            task.pk: task for task in DBTaskResult.objects.running().filter(started_at__lt=now - SILENT_AFTER)
        }
        again = 0
        for pk, task in silent.items():
            if pk in self._tasks and self._tasks[pk] == task.started_at:
                again += put_back(task, after_crash=True)
        self._tasks = {pk: task.started_at for pk, task in silent.items()}
        return again
