"""What of a batch may still change: lays without a marker, and plans that do not stand."""

from __future__ import annotations

from django.db import models
from django.db.models import Case, Exists, F, OuterRef, Q, Value, When

#: Lays with a marker that :attr:`Marker.is_laid` is true of.
LAID = Q(marker__length_mm__isnull=False) & (
    Q(marker__state__in=["ready", "stopped"])
    | (Q(marker__state__in=["waiting", "nesting"]) & Q(marker__seed__gt=0))
)


def marker_mm() -> Case:
    """Length of a lay's marker, without its ends (mm): as nested, else as estimated. One that waits has rows till then,
    which are longer than anything that will be cut."""
    return Case(When(LAID, then=F("marker__length_mm")), default=F("estimated_length_mm"))


def is_moving(batch: str, state: str) -> Case:
    """Whether the lays of a batch may still become others: a cut plan of it does not stand, and nothing is cut yet."""
    from planner.cutting.models import CutPlan

    is_open = CutPlan.objects.filter(batch=OuterRef(batch)).exclude(state=CutPlan.State.SETTLED)
    return Case(
        When(Q(**{state: "planned"}) & Exists(is_open), then=Value(True)),
        default=Value(False),
        output_field=models.BooleanField(),
    )
