"""Orders that are entered or changed tell what will be cut, which is nested ahead in the background, and by when: the
batches that hold them follow their day."""

from __future__ import annotations

from typing import Any

from django.db.models.signals import post_save

from planner.cutting.batch_days import follow_order
from planner.cutting.tasks import queue_ahead
from planner.materials.signals import workroom_saved
from planner.orders.models import Order


def listen() -> None:
    """Hears of every order that is saved, whose lines are written in the same transaction, and of a workroom changed:
    another table may want other lays, and nesting ahead may be switched on."""
    post_save.connect(
        _order_saved, sender=Order, dispatch_uid="batches and what is nested ahead follow orders"
    )
    workroom_saved.connect(_saved, dispatch_uid="lays of open orders are nested ahead for another table")


def _order_saved(instance: Order, *, created: bool, raw: bool = False, **_: Any) -> None:
    if not created and not raw:
        follow_order(instance)
    queue_ahead()


def _saved(**_: Any) -> None:
    queue_ahead()
