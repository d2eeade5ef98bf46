"""Cloth that comes in or is gone: batches whose plies fitted on nothing there, or now do not, get rolls once more."""

from __future__ import annotations

from typing import Any

from django.db.models.signals import post_save

from planner.cutting.counted_on import after_telling
from planner.cutting.models import Batch
from planner.cutting.tasks import queue_arrived
from planner.materials.models import StockMove


def listen() -> None:
    """Hears of every move of stock."""
    post_save.connect(_moved, sender=StockMove, dispatch_uid="rolls for lays that are short")


def _moved(instance: StockMove, *, created: bool, **_: Any) -> None:
    """In the background, batches not wholly cut that were short of this cloth get a roll of it, and those of which
    nothing is cut get others for a roll with too little left. What the table tells sees to that itself.
    """
    if not created or instance.fabric_colour_id is None:
        return
    if instance.quantity <= 0:
        if instance.roll_id is not None and instance.reason != StockMove.Reason.CUT:
            after_telling({instance.roll_id})
        return
    short = Batch.objects.planned_not_cut().filter(
        lays__cut_at=None,
        lays__cloths__fabric_colour=instance.fabric_colour_id,
        lays__cloths__rolls__isnull=False,
        lays__cloths__rolls__roll=None,
    )
    for pk in short.order_by("pk").values_list("pk", flat=True).distinct():
        queue_arrived(pk)
