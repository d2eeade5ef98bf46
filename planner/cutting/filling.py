"""What orders still have to give to a batch."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from planner.common.kept_questions import KeptQuestion
from planner.cutting.models import Batch
from planner.orders.models import LineQuantity, OrderLine


def rows_for_filling(batch: Batch) -> QuerySet[LineQuantity]:
    """All boxes of open order lines of which something is left, or which this batch holds already; by due day."""
    left = LineQuantity.objects.still_to_batch().order_by().values("line")
    lines = OrderLine.objects.filter(Q(pk__in=left) | Q(batch_items__batch=batch), order__state="open")
    return (
        LineQuantity.objects.with_batched()
        .filter(line__in=lines.values("pk"))
        .select_related("size", "line__style", "line__colourway", "line__order__customer")
        .prefetch_related("line__options__detail")
        .order_by("line__order__due_on", "line__order", "line__position", "line", "size__position")
    )


_LEFT = KeptQuestion(lambda: LineQuantity.objects.still_to_batch().order_by().values_list("left"))


def left_to_batch() -> int:
    """Garments of open orders that no batch holds yet."""
    return sum(left for (left,) in _LEFT.ask())
