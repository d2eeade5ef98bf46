"""The day a batch is due: it follows from its orders, and nobody types it."""

from __future__ import annotations

from django.db.models import Min, Q

from planner.cutting.models import Batch, BatchItem
from planner.cutting.querysets import BatchQuerySet
from planner.orders.models import Order


def follow_orders(batches: BatchQuerySet) -> None:
    """Those of the batches that are on the go become due on the earliest day of their orders: of the open ones, for
    nobody waits for the others, of all where none is open. A batch that holds nothing has no day.

    One query, and one for each batch whose day changes.
    """
    day = "items__line__order__due_on"
    going = Batch.objects.on_the_go().filter(pk__in=batches.order_by().values("pk"))
    rows = going.annotate(
        first=Min(day, filter=Q(items__line__order__state=Order.State.OPEN)), of_all=Min(day)
    ).order_by()
    for pk, before, first, of_all in rows.values_list("pk", "due_on", "first", "of_all"):
        if before != (first or of_all):
            Batch.objects.filter(pk=pk).update(due_on=first or of_all)


def follow_order(order: Order) -> None:
    """The same for all batches that hold something of an order whose day or state may have changed."""
    held = BatchItem.objects.filter(line__order=order).order_by().values("batch")
    follow_orders(Batch.objects.filter(pk__in=held))
