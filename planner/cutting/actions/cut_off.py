"""Nesting that was cut off, at a stop or while other workers go on: noticed, and taken up with the best kept."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from planner.cutting.actions.nesting import end_without
from planner.cutting.models import Batch, CutPlan, Marker
from planner.cutting.tasks import queue_nesting, queue_nestings, queue_settling

#: When markers being nested were last heard of, by pk.
Heard = dict[int, datetime | None]

_WHY = "for the background worker broke down over it again and again"
GIVEN_UP = f"given up, {_WHY}; the best so far is kept"
KEPT = f"nesting it longer was given up, {_WHY}; it stays as it was"

#: States of cut plans that the worker has to go on with.
UNSETTLED = (CutPlan.State.QUICK, CutPlan.State.NESTING)


@transaction.atomic
def take_up_again(now: datetime, *, all_nesting: bool = False) -> int:
    """Queues every marker whose nesting was cut off or that was never begun, and every plan to be settled.

    What waits in the queue already is not asked for twice. Returned is how many markers wait now. `all_nesting` is for
    a start where no other worker can be running: then whatever is still marked as being nested was cut off, however
    lately it was heard of.
    """
    cut_off = (
        Marker.objects.filter(state=Marker.State.NESTING) if all_nesting else Marker.objects.cut_off(now)
    )
    cut_off.update(state=Marker.State.WAITING)
    waiting = Marker.objects.filter(state=Marker.State.WAITING, lays__isnull=False).distinct()
    rows = list(waiting.defer("job", "placements").order_by("pk"))
    queue_nestings(rows)
    unsettled = Batch.objects.planned_not_cut().filter(cut_plans__state__in=UNSETTLED).order_by("pk")
    for pk in unsettled.values_list("pk", flat=True).distinct():
        queue_settling(pk)
    return len(rows)


@transaction.atomic
def take_up_silent(before: Mapping[int, datetime | None], now: datetime) -> tuple[Heard, int]:
    """Queues markers that nobody has been heard of for long, and which were silent when looked at `before` too.

    Who is silent now, and how many were queued. One look is not enough: after a machine has slept every worker was
    silent for long, and those that live are heard of a moment later.
    """
    silent = dict(Marker.objects.cut_off(now).values_list("pk", "heartbeat_at"))
    again = 0
    for row in Marker.objects.filter(pk__in=silent).defer("job", "placements"):
        if row.pk not in before or before[row.pk] != silent[row.pk]:
            continue
        as_seen = Marker.objects.filter(
            pk=row.pk, state=Marker.State.NESTING, heartbeat_at=silent.pop(row.pk)
        )
        if as_seen.update(state=Marker.State.WAITING):
            queue_nesting(row)
            again += 1
    return silent, again


def give_up(pk: int) -> None:
    """Ends a marker over which the worker breaks down, as it was if it was laid before; it can be nested again when
    somebody asks for it.
    """
    end_without(pk, GIVEN_UP, KEPT)
