"""Orders that are entered or changed tell what will be cut: in the background it is nested ahead."""

from __future__ import annotations

from typing import Any

from django.db.models.signals import post_save

from planner.cutting.tasks import queue_ahead
from planner.materials.signals import workroom_saved
from planner.orders.models import Order


def listen() -> None:
    """Hears of every order that is saved, whose lines are written in the same transaction, and of a workroom changed:
    another table may want other lays, and nesting ahead may be switched on."""
    post_save.connect(_saved, sender=Order, dispatch_uid="lays of open orders are nested ahead")
    workroom_saved.connect(_saved, dispatch_uid="lays of open orders are nested ahead for another table")


def _saved(**_: Any) -> None:
    queue_ahead()
