"""What orders still have to give to a batch."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from django.db.models import Q, QuerySet

from planner.common.kept_questions import KeptQuestion
from planner.core.listed import counted
from planner.cutting.models import Batch
from planner.orders.models import LineQuantity, Order, OrderLine


def rows_for_filling(batch: Batch, typed: Iterable[int] = ()) -> QuerySet[LineQuantity]:
    """All boxes of open order lines of which something is left; and of those, whatever the state of their order, which
    this batch holds already or into whose boxes (LineQuantity pk) something was `typed`. By due day.
    """
    left = LineQuantity.objects.still_to_batch().order_by().values("line")
    lines = OrderLine.objects.filter(
        Q(pk__in=left) | Q(batch_items__batch=batch) | Q(quantities__in=list(typed))
    )
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


def over_in_words(batch: Batch) -> tuple[str, ...]:
    """What a batch holds of orders that are not open any more, one sentence for each order. One query."""
    rows = batch.items.exclude(line__order__state=Order.State.OPEN).select_related("line__order")
    held: Counter[Order] = Counter()
    for item in rows.order_by("line__order", "pk"):
        held[item.line.order] += item.quantity
    return tuple(
        f"{order.number} is {order.get_state_display()}, and "
        f"{counted(garments, 'of its garments is', 'of its garments are')} in this batch. Take them out first, or "
        "reopen the order."
        for order, garments in held.items()
    )
