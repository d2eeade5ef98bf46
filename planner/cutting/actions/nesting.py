"""Nesting a marker in the worker: claimed by one, its best so far stored as it comes, cut off and taken up again."""

from __future__ import annotations

import time
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from planner.core.lays import model as core
from planner.core.lays.nest import NestingFailed, nest
from planner.core.lays.stored import job_from_json
from planner.cutting.models import Batch, Lay, Marker
from planner.cutting.stored import marker_fields, read_marker

#: The page shows a better marker at most so often, and hears of the worker at least so often (seconds).
BREATH = 1.0


class _Desk:
    """What the worker keeps about one marker while it nests: writes the best, asks whether to stop."""

    def __init__(self, pk: int) -> None:
        self.pk = pk
        self.best: core.Marker | None = None
        self.written: core.Marker | None = None
        self.wrote_at = self.asked_at = 0.0
        self.stop = False

    def better(self, marker: core.Marker) -> None:
        """A better marker; written at once or with the next breath."""
        self.best = marker
        self._breathe()

    def should_stop(self) -> bool:
        """Whether somebody asked to keep the best, or the marker is gone."""
        self._breathe()
        return self.stop

    def _breathe(self) -> None:
        if time.monotonic() - self.wrote_at < BREATH:
            return
        self.wrote_at = time.monotonic()
        fields = {} if self.best is None or self.best is self.written else marker_fields(self.best)
        row = Marker.objects.filter(pk=self.pk)
        if not row.update(heartbeat_at=timezone.now(), **fields):
            self.stop = True
            return
        self.written = self.best
        self.stop = bool(row.values_list("stop_wanted", flat=True)[0])


def nest_one(pk: int) -> str:
    """Nests a waiting marker and stores the outcome; what became of it, in a word.

    Two workers never nest the same marker: only who turns it from waiting to nesting goes on.
    """
    now = timezone.now()
    claimed = Marker.objects.filter(pk=pk, state=Marker.State.WAITING).update(
        state=Marker.State.NESTING, stop_wanted=False, started_at=now, heartbeat_at=now, message=""
    )
    if not claimed:
        return "not waiting"
    row = Marker.objects.get(pk=pk)
    desk = _Desk(pk)
    try:
        best = nest(
            job_from_json(row.job),
            seconds=row.seconds,
            seed=row.seed,
            on_progress=desk.better,
            should_stop=desk.should_stop,
            start=read_marker(row),
        )
    except NestingFailed as fault:
        Marker.objects.filter(pk=pk).update(state=Marker.State.FAILED, message=str(fault)[:300])
        return "failed"
    except Exception:
        # Whatever it was, no page may wait for it for ever; the worker's log tells the rest.
        Marker.objects.filter(pk=pk).update(state=Marker.State.FAILED, message="the nesting broke down")
        raise
    state = Marker.State.STOPPED if desk.stop else Marker.State.READY
    message = "in plain rows, nothing better was found" if best.how == "rows" else ""
    Marker.objects.filter(pk=pk).update(state=state, message=message, **marker_fields(best))
    after_nesting(pk)
    return str(state)


def after_nesting(pk: int) -> None:
    """Divides lays that came out too long for the table, and reckons the needs of their batches anew."""
    from planner.cutting.actions.planning import refresh_needs, split_lay
    from planner.materials.models import Workroom

    table_mm = float(Workroom.the().table_length_mm)
    lays = Lay.objects.filter(marker_id=pk, batch__in=Batch.objects.in_work().order_by())
    for lay in lays.select_related("marker", "batch"):
        too_long = lay.marker.length_mm + 2 * lay.end_allowance_mm > table_mm + 1e-6
        if not (too_long and split_lay(lay) > 1):
            refresh_needs(lay.batch)


@transaction.atomic
def stop_and_keep(marker: Marker) -> bool:
    """Asks the worker to end with the best so far. A marker nobody has begun keeps waiting (False)."""
    return bool(Marker.objects.filter(pk=marker.pk, state=Marker.State.NESTING).update(stop_wanted=True))


@transaction.atomic
def run_longer(marker: Marker, seconds: float) -> bool:
    """Nests a finished marker again for so many seconds with another seed; it never gets longer.

    Refused (False) while it is being nested, or once a lay with it is cut.
    """
    from planner.cutting.tasks import nest_marker

    free = Marker.objects.filter(pk=marker.pk, state__in=["ready", "stopped", "failed"])
    free = free.exclude(lays__cut_at__isnull=False)
    changed = Marker.objects.filter(pk__in=list(free.values_list("pk", flat=True))).update(
        state=Marker.State.WAITING, seconds=seconds, seed=marker.seed + 7, stop_wanted=False
    )
    if changed:
        transaction.on_commit(lambda: nest_marker.enqueue(marker.pk))
    return bool(changed)


@transaction.atomic
def take_up_again(now: datetime, *, all_nesting: bool = False) -> int:
    """Queues every marker whose nesting was cut off or that was never begun; how many.

    `all_nesting` is for a start where no other worker can be running: then whatever is still marked as being
    nested was cut off, however lately it was heard of.
    """
    from planner.cutting.tasks import nest_marker

    cut_off = (
        Marker.objects.filter(state=Marker.State.NESTING) if all_nesting else Marker.objects.cut_off(now)
    )
    cut_off.update(state=Marker.State.WAITING)
    waiting = list(
        Marker.objects.filter(state=Marker.State.WAITING, lays__isnull=False).values_list("pk", flat=True)
    )
    for pk in dict.fromkeys(waiting):
        transaction.on_commit(lambda pk=pk: nest_marker.enqueue(pk))
    return len(set(waiting))
