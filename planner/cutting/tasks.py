"""What the background worker does for this room, and in which order."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils import timezone
from django_tasks import task
from django_tasks.base import TaskResultStatus

if TYPE_CHECKING:
    from django_tasks.base import Task

    from planner.cutting.models import Marker

#: Choosing lays goes before nesting them; nesting for an hour or a night gives way to all else.
SOONER, LATER = 20, -50
#: A lay that has no length yet goes before those that have one: first what a plan still waits for, then the others.
FIRST, SETTLES, AGAIN = 0, -10, -20
#: What plans are held against is nested when no lay waits that is to be cut.
BESIDE = -40
#: What is not planned yet is nested when there is nothing else at all to do, a while after an order was changed (s):
#: she may be typing the next one.
AHEAD, QUIET_SECONDS = -60, 60.0
#: A nesting that shall go on longer is done in pieces of about so long, others first (s).
SLICE_SECONDS = 60.0
#: A marker with another seed than the first has been nested before and has an answer; it is polished with the second.
FIRST_SEED, POLISH_SEED = 0, 3  # as in `Marker`, which is not read here
#: Asked for once more by somebody, or gone on with, a marker is nested with a seed further on by a multiple of this;
#: the seeds between are for nesting it again by itself, see `times_again`.
STEP = 7


@task()
def nest_marker(pk: int) -> str:
    """Nests one marker; harmless when asked twice. One that has a length gives way to what is more urgent."""
    from planner.cutting.actions.nesting import GAVE_WAY, nest_one
    from planner.cutting.models import Marker

    row = Marker.objects.filter(pk=pk).only("seed", "seconds").first()
    urgency = FIRST if row is None else urgency_of(row)
    done = nest_one(pk, gives_way=partial(waits_before, urgency) if urgency < FIRST else None)
    if row is not None and done == GAVE_WAY:
        queue_nesting(row)
    return done


@task(priority=SOONER)
def settle_batch(pk: int) -> str:
    """Goes on with the cut plans of a batch as far as it can be taken now; harmless when asked twice."""
    from planner.cutting.actions.settling import settle

    return settle(pk)


@task(priority=SOONER)
def roll_batch(pk: int) -> str:
    """Assigns the rolls of a batch again, or of the rests of one being cut; harmless when asked twice."""
    from planner.cutting.actions.rolling import assign_rolls
    from planner.cutting.models import Batch

    batch = Batch.objects.filter(pk=pk, state=Batch.State.PLANNED).first()
    if batch is None:
        from planner.cutting.actions.rest_on import go_on

        return go_on(pk)
    done = assign_rolls(batch)
    return done.problem or f"{done.short} spreads short"


@task(priority=SOONER)
def cloth_for_batch(pk: int) -> str:
    """Cloth came in that a batch was short of; harmless when asked twice."""
    from planner.cutting.actions.arrived import cloth_came_in

    return cloth_came_in(pk)


@task(priority=BESIDE)
def nest_singles(pk: int) -> str:
    """Nests one of the single sizes that the plans of a batch are held against; harmless when asked twice."""
    from planner.cutting.actions.singles import nest_next

    return nest_next(pk)


@task(priority=BESIDE)
def look_again(pk: int) -> str:
    """Whether lays nested since a batch was settled make better plans known; harmless when asked twice."""
    from planner.cutting.actions.found_since import look_again as look

    return look(pk)


@task(priority=AHEAD)
def nest_ahead() -> str:
    """Nests what open orders will be cut in; harmless when asked twice."""
    from planner.cutting.actions.ahead import nest_ahead as nest

    if _is_done_by_another(nest_ahead.module_path):
        queue_ahead()
        return "another worker does it"
    return nest()


def queue_nesting(marker: Marker) -> None:
    """Asks the worker to nest a marker, once all is committed."""
    _ask(_nesting_of(marker), marker.pk)


def queue_nestings(markers: Iterable[Marker]) -> None:
    """The same for all markers of a plan, in one transaction; what waits already is asked for in one query."""
    wanted = [(_nesting_of(marker), marker.pk) for marker in markers]

    def ask() -> None:
        waiting = _asked_for(nest_marker.module_path)
        with transaction.atomic():
            for nesting, pk in wanted:
                if pk not in waiting:
                    nesting.enqueue(pk)

    if wanted:
        transaction.on_commit(ask)


def _nesting_of(marker: Marker) -> Task[[int], str]:
    urgency = urgency_of(marker)
    return nest_marker if urgency == FIRST else nest_marker.using(priority=urgency)


def urgency_of(marker: Marker) -> int:
    """The priority a marker is nested with: by how long it shall take and whether it has been nested before."""
    if marker.seconds > SLICE_SECONDS:
        return LATER
    if marker.seed == FIRST_SEED:
        return FIRST
    return SETTLES if marker.seed == POLISH_SEED else AGAIN


def times_again(seed: int) -> int:
    """How often a marker with this seed was nested again by itself since somebody asked for it."""
    return 0 if seed == FIRST_SEED else (seed - POLISH_SEED) % STEP


def longer_seed(seed: int) -> int:
    """The seed for nesting a marker for longer, which nobody has nested again by itself yet."""
    return (seed // STEP + 1) * STEP + POLISH_SEED


def queue_settling(batch_pk: int) -> None:
    """Asks the worker to go on with a batch's cut plans, once all is committed."""
    _ask(settle_batch, batch_pk)


def queue_rolls(batch_pk: int) -> None:
    """Asks the worker to assign the rolls of a batch again, once all is committed."""
    _ask(roll_batch, batch_pk)


def queue_arrived(batch_pk: int) -> None:
    """Tells the worker that cloth came in for a batch, once all is committed."""
    _ask(cloth_for_batch, batch_pk)


def queue_singles(batch_pk: int) -> None:
    """Asks the worker to nest what a settled batch is held against, when nothing else waits, once all is committed."""
    _ask(nest_singles, batch_pk)


def queue_look_again(batch_pk: int) -> None:
    """Asks the worker whether better plans of a batch are known by now, when nothing else waits, once all is
    committed."""
    _ask(look_again, batch_pk)


def queue_ahead() -> None:
    """Asks the worker to nest, in a while, what is not planned yet, once all is committed."""
    from django_tasks_db.models import DBTaskResult

    def ask() -> None:
        waiting = DBTaskResult.objects.filter(status=TaskResultStatus.READY, task_path=nest_ahead.module_path)
        if not waiting.order_by().exists():
            nest_ahead.using(run_after=timezone.now() + timedelta(seconds=QUIET_SECONDS)).enqueue()

    transaction.on_commit(ask)


def _ask(wanted: Task[[int], str], pk: int) -> None:
    """Puts a task into the queue once all is committed, unless the same waits there: that sees what was committed."""

    def ask() -> None:
        if not is_asked(wanted.module_path, [pk]):
            wanted.enqueue(pk)

    transaction.on_commit(ask)


def waits_before(priority: int) -> bool:
    """Whether something waits in the queue that goes before a task of this priority."""
    from django_tasks_db.models import DBTaskResult

    return DBTaskResult.objects.ready().filter(priority__gt=priority).order_by().exists()


def is_done_before(priority: int) -> bool:
    """Whether a worker is at something that goes before a task of this priority."""
    from django_tasks_db.models import DBTaskResult

    return DBTaskResult.objects.running().filter(priority__gt=priority).order_by().exists()


def _is_done_by_another(task_path: str) -> bool:
    """Whether a worker is at a task of this kind, besides who asks from one."""
    from django_tasks_db.models import DBTaskResult

    return int(DBTaskResult.objects.running().filter(task_path=task_path).order_by().count()) > 1


def is_asked(task_path: str, arguments: Sequence[object]) -> bool:
    """Whether this task waits in the queue already, for no worker has begun with it."""
    from django_tasks_db.models import DBTaskResult

    ready = DBTaskResult.objects.ready().order_by()
    return bool(ready.filter(task_path=task_path, args_kwargs__args=list(arguments)).exists())


def _asked_for(task_path: str) -> set[object]:
    """What tasks of this kind, each of one argument, wait in the queue for."""
    from django_tasks_db.models import DBTaskResult

    ready = DBTaskResult.objects.ready().order_by().filter(task_path=task_path)
    return {held["args"][0] for held in ready.values_list("args_kwargs", flat=True)}
