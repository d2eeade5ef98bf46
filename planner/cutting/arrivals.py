"""Cloth that comes in or is gone: batches whose plies fitted on nothing there, or now do not, get rolls once more."""

from __future__ import annotations

from typing import Any

from django.db.models.signals import post_delete, post_save

from planner.cutting.counted_on import after_telling
from planner.cutting.models import Batch
from planner.cutting.tasks import queue_arrived
from planner.materials.models import Roll, RollFlaw, StockMove


def listen() -> None:
    """Hears of every move of stock, and of flaws."""
    post_save.connect(_moved, sender=StockMove, dispatch_uid="rolls for lays that are short")
    post_save.connect(_flawed, sender=RollFlaw, dispatch_uid="rolls for lays that lie across a flaw")
    post_delete.connect(_mended, sender=RollFlaw, dispatch_uid="rolls for lays that lay across a flaw")


def _moved(instance: StockMove, *, created: bool, **_: Any) -> None:
    """In the background, batches not wholly cut that were short of this cloth get a roll of it, and those of which
    nothing is cut get others for a roll with too little left. What the table tells sees to that itself.
    """
    if not created or instance.fabric_colour_id is None:
        return
    if instance.quantity <= 0:
        if instance.roll_id is not None and instance.reason != StockMove.Reason.CUT:
            _is_less(instance.roll_id)
        return
    _is_more(instance.fabric_colour_id)


def _flawed(instance: RollFlaw, **_: Any) -> None:
    """A flaw noted on the page of a roll, where plies may be to lie. What the table tells sees to that itself."""
    _is_less(instance.roll_id)


def _mended(instance: RollFlaw, **_: Any) -> None:
    """It was none: a ply may fit there."""
    colour = Roll.objects.filter(pk=instance.roll_id).values_list("fabric_colour", flat=True).first()
    if colour is not None:
        _is_more(colour)


def _is_less(roll: int) -> None:
    """Batches being cut that count on the roll let go of it in the background, where nobody does it before."""
    found, asked = after_telling({roll})
    numbers = {promise.batch for one in found for promise in one.promises}.difference(asked)
    if numbers:
        begun = Batch.objects.filter(number__in=numbers, state=Batch.State.CUTTING).order_by("pk")
        for pk in begun.values_list("pk", flat=True):
            queue_arrived(pk)


def _is_more(colour: int) -> None:
    """Batches that are short of this cloth (FabricColour pk) get it in the background."""
    short = Batch.objects.planned_not_cut().filter(
        lays__cut_at=None,
        lays__cloths__fabric_colour=colour,
        lays__cloths__rolls__isnull=False,
        lays__cloths__rolls__roll=None,
    )
    for pk in short.order_by("pk").values_list("pk", flat=True).distinct():
        queue_arrived(pk)
