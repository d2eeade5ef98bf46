"""Nesting a marker in the worker: it is claimed by one worker, stores its best so far as it comes, can be cut off and
taken up again.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from typing import TypeVar

from django.db import OperationalError, connection, transaction
from django.utils import timezone

from planner.core.lays import kept_code
from planner.core.lays import model as core
from planner.core.lays.nest import NestingFailed
from planner.core.lays.ruled import nest_ruled as nest
from planner.core.lays.stored import job_from_json
from planner.cutting.marker_store import (
    LAID_BEFORE,
    answer_from_store,
    examples_for,
    marker_fields,
    read_marker,
)
from planner.cutting.models import Batch, CutPlan, Lay, Marker
from planner.cutting.nesting_words import left_in_words, rows_in_words
from planner.cutting.querysets import MarkerQuerySet
from planner.cutting.tasks import (
    FIRST_SEED,
    LATER,
    SLICE_SECONDS,
    STEP,
    longer_seed,
    nest_marker,
    queue_arrived,
    queue_nesting,
    queue_rolls,
    queue_settling,
)
from planner.materials.models import Workroom

log = logging.getLogger(__name__)
_T = TypeVar("_T")

#: On a very busy machine the database may be locked for longer than it is waited for; then a write is tried so often.
TRIES = 5
#: The page shows a better marker at most so often, and hears of the worker at least so often (seconds).
BREATH = 1.0
#: What became of a nesting that gave way to what is more urgent.
GAVE_WAY = "gave way"
#: Asked now and then while a marker is nested: whether something more urgent waits.
GivesWay = Callable[[], bool]
#: While fewer markers than this wait needs are reckoned again after each, while fewer than twice as many after every
#: second, and so on.
NEEDS_EVERY = 10


class _Desk:
    """What the worker keeps for one marker while it nests: it writes the best and asks whether to stop."""

    def __init__(self, pk: int, gives_way: GivesWay | None = None) -> None:
        self.pk, self.gives_way = pk, gives_way
        self.gave_way = False
        self.best: core.Marker | None = None
        self.written: core.Marker | None = None
        self.wrote_at = 0.0
        self.stop = False

    def better(self, marker: core.Marker) -> None:
        """A better marker; written at once or with the next breath."""
        self.best = marker
        self._breathe()

    def should_stop(self) -> bool:
        """Whether somebody asked to keep the best, or the marker is gone."""
        self._breathe()
        return self.stop or self.gave_way

    def _breathe(self) -> None:
        if time.monotonic() - self.wrote_at < BREATH:
            return
        self.wrote_at = time.monotonic()
        fields = {} if self.best is None or self.best is self.written else marker_fields(self.best)
        try:
            row = _still_nested(self.pk)
            if not row.update(heartbeat_at=timezone.now(), **fields):
                self.stop = True
                return
            self.written = self.best
            # None where a lay with it was cut between the two, or it is gone.
            self.stop = row.values_list("stop_wanted", flat=True).first() is not False
            self.gave_way = not self.stop and self.gives_way is not None and self.gives_way()
        except OperationalError:
            # The next breath tells it all; nothing that was nested is lost by it.
            _missed()


def _missed() -> None:
    log.warning("the database could not be reached while a lay was being nested", exc_info=True)
    if not connection.in_atomic_block:
        # A connection that was cut does not come back by itself; the next try makes another.
        connection.close_if_unusable_or_obsolete()


def _patiently(write: Callable[[], _T]) -> _T:
    """The result of `write`, tried again while the database cannot be reached: what was nested must not be lost."""
    for _ in range(TRIES - 1):
        try:
            return write()
        except OperationalError:
            _missed()
    return write()


def nest_one(pk: int, gives_way: GivesWay | None = None) -> str:
    """Nests a waiting marker, or goes on with it for a while, and stores the outcome. Returns what became of it, in a
    word.

    Where it `gives_way` it waits again with the best so far, and whoever asked for it asks again. Two workers never
    nest the same marker, nor two markers that ask the same: only the one that turns it from waiting to nesting goes on,
    and none does while another marker with the same question is being nested.
    """
    if answer_known(pk):
        return LAID_BEFORE
    now = timezone.now()
    asked = Marker.objects.filter(state=Marker.State.NESTING).exclude(pk=pk).order_by()
    with transaction.atomic():  # one at a time, else two of the same question might not see each other
        claimed = (
            Marker.objects.filter(pk=pk, state=Marker.State.WAITING)
            .exclude(key__in=asked.values("key"))
            .update(
                state=Marker.State.NESTING, stop_wanted=False, started_at=now, heartbeat_at=now, message=""
            )
        )
    if not claimed:
        return _follow_up(pk)
    row = Marker.objects.get(pk=pk)
    desk = _Desk(pk, gives_way)
    now_seconds = min(row.seconds, SLICE_SECONDS)
    was_awaited = kept_code.is_awaited()
    try:
        best = nest(
            job_from_json(row.job),
            seconds=now_seconds,
            seed=row.seed,
            on_progress=desk.better,
            should_stop=desk.should_stop,
            start=read_marker(row),
            examples=examples_for(row),
        )
    except NestingFailed as fault:
        told = fault.told_in(Workroom.the().display)
        stays = _patiently(
            lambda: end_without(pk, told, f"nesting it longer failed ({told}), so it stays as it was")
        )
        answer_alike(row.key)
        return "stays as it was" if stays else "failed"
    except Exception:
        # Whatever it was, no page may wait for it for ever; the worker's log tells the rest.
        _patiently(lambda: _end_broken(pk))
        answer_alike(row.key)
        raise
    left = row.seconds - now_seconds
    waits = ""
    if desk.gave_way:
        waits = _patiently(lambda: _give_way(pk, best))
    elif left >= 1.0 and not desk.stop:
        waits = _patiently(lambda: _go_on_later(row, best, left))
    if waits:
        return waits
    state = Marker.State.STOPPED if desk.stop or _is_to_stop(pk) else Marker.State.READY
    message = rows_in_words(row, best) if best.how == "rows" else ""
    now = timezone.now()
    fields = {"state": state, "message": message, "heartbeat_at": now, **marker_fields(best)}
    _patiently(lambda: _still_nested(pk).update(**fields))
    after_nesting(pk)
    answer_alike(row.key)
    if was_awaited and best.how == "unsearched":
        _searched_meanwhile()
    return str(state)


def _searched_meanwhile() -> None:
    """Has a marker nested again if our search became ready while the library nested it alone: nothing else would."""
    from planner.cutting.actions.polishing import polish_unsearched

    polish_unsearched()


def _end_broken(pk: int) -> None:
    end_without(pk, "the nesting broke down", "nesting it longer broke down, so it stays as it was")


def end_without(pk: int, failed: str, stays: str) -> bool:
    """Ends a nesting that came to nothing, and says why. A marker that was laid before `stays` as it is and can be cut
    (True); any other has `failed`.
    """
    going = Marker.objects.unfinished().filter(pk=pk)
    laid = going.exclude(seed=FIRST_SEED).filter(length_mm__isnull=False)
    if laid.update(state=Marker.State.READY, message=stays[:300]):
        after_nesting(pk)
        return True
    going.update(state=Marker.State.FAILED, message=failed[:300])
    return False


def _still_nested(pk: int) -> MarkerQuerySet:
    """The marker a worker is nesting, unless a lay with it was cut meanwhile: then it stays as it was cut."""
    return Marker.objects.filter(pk=pk).exclude(state=Marker.State.STOPPED)


def _follow_up(pk: int) -> str:
    """Where a marker is nested already, sees to what follows from it: a worker may have been cut off in between."""
    row = Marker.objects.filter(pk=pk, state__in=[Marker.State.READY, Marker.State.STOPPED]).first()
    if row is not None:
        after_nesting(pk)
        answer_alike(row.key)
    return "not waiting"


def _is_to_stop(pk: int) -> bool:
    """Whether somebody asked to keep the best, be it since the last breath."""
    return Marker.objects.filter(pk=pk, state=Marker.State.NESTING, stop_wanted=True).exists()


def _give_way(pk: int, best: core.Marker) -> str:
    """Stores the best so far and lets the marker wait again; "" where it is to stop by now."""
    nesting = Marker.objects.filter(pk=pk, state=Marker.State.NESTING, stop_wanted=False)
    if not nesting.update(state=Marker.State.WAITING, **marker_fields(best)) and _is_to_stop(pk):
        return ""
    return GAVE_WAY


def _go_on_later(row: Marker, best: core.Marker, left: float) -> str:
    """Stores the best so far and goes on from it, with another seed, when nothing else waits; "" where it is to stop by
    now."""
    with transaction.atomic():
        message = f"goes on when no other lay waits, {left_in_words(left)} to go"
        nesting = Marker.objects.filter(pk=row.pk, state=Marker.State.NESTING, stop_wanted=False)
        going = nesting.update(
            state=Marker.State.WAITING,
            seconds=left,
            seed=row.seed + STEP,
            message=message,
            **marker_fields(best),
        )
        if going:
            row.seconds = left
            transaction.on_commit(lambda: nest_marker.using(priority=LATER).enqueue(row.pk))
        elif _is_to_stop(row.pk):
            return ""
    return "goes on later" if going else "not waiting"


def answer_known(pk: int) -> bool:
    """Takes the answer to a waiting marker from the store, where the same has been asked and answered since."""
    row = Marker.objects.filter(pk=pk, state=Marker.State.WAITING, seed=FIRST_SEED).first()
    if row is None or not Marker.objects.answering(row.key).exists():
        return False
    found = answer_from_store(row.key, job_from_json(row.job))
    if found is None:
        return False
    fields = {"state": Marker.State.READY, "message": LAID_BEFORE, "seed": found.seed}
    fields |= marker_fields(found.marker)
    answered = Marker.objects.filter(pk=pk, state=Marker.State.WAITING).update(**fields)
    if answered:
        after_nesting(pk)
    return bool(answered)


def answer_alike(key: str) -> None:
    """Answers the other markers that waited with the same question, or asks for their nesting once more."""
    alike = Marker.objects.filter(key=key, state=Marker.State.WAITING)
    for row in list(alike.defer("job", "placements")):
        if not answer_known(row.pk):
            queue_nesting(row)


def after_nesting(pk: int) -> None:
    """Reckons the needs of the batches of this marker anew, and goes on with their cut plans.

    Reckoning the needs of a large batch takes seconds: with many lays still to come it is not done for every one.
    """
    from planner.cutting.actions.planning import refresh_needs

    batches = Batch.objects.in_work().filter(lays__marker_id=pk).order_by("pk").distinct()
    for batch in batches:
        left = Marker.objects.unfinished().filter(lays__batch=batch).order_by().distinct().count()
        if left % (1 + left // NEEDS_EVERY) == 0:
            refresh_needs(batch)
        is_settled = not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists()
        # A lay of a settled plan that came out shorter changes what the plan comes to and what its rolls give.
        if not is_settled or (batch.cut_plans.exists() and not batch.lays.begun().exists()):
            queue_settling(batch.pk)
        if batch.lays.filter(rest_of__isnull=False, cut_at=None).exists():
            queue_rolls(batch.pk)
        if (
            batch.state == Batch.State.CUTTING
            and _all_nested(batch)
            and batch.lays.to_cut().waiting().exists()
        ):
            queue_arrived(batch.pk)  # lays planned anew while it is cut


def _all_nested(batch: Batch) -> bool:
    """Whether every lay has a length, be it that one is nested for longer."""
    first = batch.lays.filter(marker__seed=Marker.FIRST_SEED)
    return not first.filter(marker__state__in=[Marker.State.WAITING, Marker.State.NESTING]).exists()


def stop_and_keep(marker: Marker) -> bool:
    """Asks the worker to end with the best so far; one that waits to go on is ended here.

    A marker nobody has begun keeps waiting (False). Each write is one of its own, so that nothing is locked while what
    follows from it is reckoned.
    """
    row = Marker.objects.filter(pk=marker.pk)
    if row.filter(state=Marker.State.NESTING).update(stop_wanted=True):
        return True
    begun = row.filter(state=Marker.State.WAITING).exclude(seed=FIRST_SEED)
    if not begun.update(state=Marker.State.STOPPED, message=""):
        return False
    after_nesting(marker.pk)
    return True


@transaction.atomic
def keep_as_cut(pk: int) -> bool:
    """Ends the nesting of a marker a lay of which is being cut, at once: it stays as it is, whatever a worker finds.

    False where it was not being nested. What follows from it is reckoned once all is committed, for the needs of a
    large batch take seconds; where that fails, what was told stands all the same.
    """
    going = Marker.objects.filter(pk=pk, state__in=[Marker.State.WAITING, Marker.State.NESTING])
    if not going.update(state=Marker.State.STOPPED, stop_wanted=True, message=""):
        return False
    transaction.on_commit(lambda: after_nesting(pk), robust=True)
    return True


@transaction.atomic
def run_longer(marker: Marker, seconds: float) -> bool:
    """Nests a finished marker again for so many seconds with another seed; it never gets longer.

    Refused (False) while it is being nested, or once a lay with it is cut.
    """
    free = Marker.objects.filter(pk=marker.pk, state__in=["ready", "stopped", "failed"])
    free = free.exclude(lays__in=Lay.objects.begun())
    states = dict(free.values_list("pk", "state"))
    # One that failed has no answer yet, whatever is seen of it: it is nested as for the first time.
    seed = FIRST_SEED if Marker.State.FAILED in states.values() else longer_seed(marker.seed)
    changed = Marker.objects.filter(pk__in=list(states)).update(
        state=Marker.State.WAITING, seconds=seconds, seed=seed, stop_wanted=False, message=""
    )
    if changed:
        marker.seconds, marker.seed = seconds, seed
        queue_nesting(marker)
    return bool(changed)
