"""Batches on their way to a settled plan: lays nested in plain rows, as quick as it goes."""

from __future__ import annotations

from planner.core.lays.rows import first_marker
from planner.core.lays.stored import job_from_json
from planner.cutting.actions import gathering, planning, settling
from planner.cutting.marker_store import marker_fields
from planner.cutting.models import Batch, CutPlan, Marker
from planner.orders.models import LineQuantity, Order
from tests.factories import NOON, TODAY


def waiting_batch(*orders: Order, extra: int = 0) -> Batch:
    """Planned, nothing nested yet; of every size so many `extra` may be cut."""
    batch = gathering.create_batch(None, TODAY)
    rows = list(LineQuantity.objects.filter(line__order__in=orders))
    filled = gathering.fill_batch(
        batch, {row.pk: row.quantity for row in rows}, {row.pk: extra for row in rows}
    )
    planned = planning.plan_batch(batch, NOON, seconds=2, think_seconds=10)
    assert not filled.problems
    assert not planned.problems, planned.problems
    batch.refresh_from_db()
    return batch


def lay_in_rows(batch: Batch, *, longer_by: float = 1.0, **more: object) -> None:
    """Ends the nesting of what waits, in plain rows; the length may be told otherwise, as what is `more` noted."""
    for row in Marker.objects.filter(lays__batch=batch, state=Marker.State.WAITING).distinct():
        marker = first_marker(job_from_json(row.job))
        fields = {**marker_fields(marker), "length_mm": marker.length_mm * longer_by}
        Marker.objects.filter(pk=row.pk).update(state=Marker.State.READY, **fields | more)


def settled(batch: Batch) -> Batch:
    """The batch with its plan settled, as the worker would, but that lays are nested only once: their seed says that
    the second time is over, which would find nothing else.
    """
    for _ in range(20):
        lay_in_rows(batch, seed=Marker.POLISH_SEED)
        settling.settle(batch.pk)
        if not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
            batch.refresh_from_db()
            return batch
    raise AssertionError("the plan never settled")
