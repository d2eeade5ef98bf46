"""Cloth that comes in: batches whose plies fitted on nothing there get their rolls once more."""

from __future__ import annotations

from typing import Any

from django.db.models.signals import post_save

from planner.cutting.models import Batch
from planner.cutting.tasks import queue_arrived
from planner.materials.models import StockMove


def listen() -> None:
    """Hears of every move of stock."""
    post_save.connect(_moved, sender=StockMove, dispatch_uid="rolls for lays that are short")


def _moved(instance: StockMove, *, created: bool, **_: Any) -> None:
    """In the background, batches not wholly cut that were short of this cloth get a roll of it."""
    if not created or instance.fabric_colour_id is None or instance.quantity <= 0:
        return
    short = Batch.objects.planned_not_cut().filter(
        lays__cut_at=None,
        lays__cloths__fabric_colour=instance.fabric_colour_id,
        lays__cloths__rolls__isnull=False,
        lays__cloths__rolls__roll=None,
    )
    for pk in short.order_by("pk").values_list("pk", flat=True).distinct():
        queue_arrived(pk)
