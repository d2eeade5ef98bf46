"""Cloth that comes in, is gone or is let go of by another batch: batches whose plies fitted on nothing there, or now do
not, get rolls once more.

Of those that still have to buy it is looked whether another plan would buy less now, and of those planned from stock
what they would be without.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.db.models.signals import post_delete, post_save

from planner.cutting.counted_on import after_telling
from planner.cutting.models import Batch, CutPlan
from planner.cutting.tasks import queue_arrived, queue_look_again
from planner.materials.models import FabricColour, Roll, RollFlaw, StockMove


def listen() -> None:
    """Hears of every move of stock, and of flaws."""
    post_save.connect(_moved, sender=StockMove, dispatch_uid="rolls for lays that are short")
    post_save.connect(_flawed, sender=RollFlaw, dispatch_uid="rolls for lays that lie across a flaw")
    post_delete.connect(_mended, sender=RollFlaw, dispatch_uid="rolls for lays that lay across a flaw")


def _moved(instance: StockMove, *, created: bool, **_: Any) -> None:
    """In the background, batches not wholly cut that were short of this cloth get a roll of it, and those of which
    nothing is cut get others for a roll with too little left. What the table tells sees to that itself; where less was
    cut than was kept for it, there is more for the others.
    """
    if not created or instance.fabric_colour_id is None:
        return
    if instance.quantity <= 0 and instance.reason != StockMove.Reason.CUT:
        if instance.roll_id is not None:
            counted_on_again({instance.roll_id})
        _look_again(instance.fabric_colour_id)
        return
    cloth_is_free({instance.fabric_colour_id})


def _flawed(instance: RollFlaw, **_: Any) -> None:
    """A flaw noted on the page of a roll, where plies may be to lie. What the table tells sees to that itself."""
    counted_on_again({instance.roll_id})
    if (colour := _colour_of(instance)) is not None:
        _look_again(colour)


def _mended(instance: RollFlaw, **_: Any) -> None:
    """It was none: a ply may fit there."""
    if (colour := _colour_of(instance)) is not None:
        cloth_is_free({colour})


def _colour_of(flaw: RollFlaw) -> int | None:
    return Roll.objects.filter(pk=flaw.roll_id).values_list("fabric_colour", flat=True).first()


def counted_on_again(rolls: Collection[int]) -> None:
    """Of rolls (pk) that have less than is counted on, or of which more is: batches nothing of which is cut get their
    rolls again in the background, those being cut let go of what is not there.
    """
    found, asked = after_telling(rolls)
    numbers = {promise.batch for one in found for promise in one.promises}.difference(asked)
    if numbers:
        begun = Batch.objects.filter(number__in=numbers, state=Batch.State.CUTTING).order_by("pk")
        for pk in begun.values_list("pk", flat=True):
            queue_arrived(pk)


def cloth_is_free(colours: Collection[int], *, besides: int | None = None) -> None:
    """Batches that are short of one of these cloths (FabricColour pk) get it in the background, but for the batch
    that lets go of it (pk). Of those planned from stock it is looked what they would be without: that may buy no more
    by now.
    """
    for pk in dict.fromkeys(pk for pk, _ in _short_of(colours)):
        if pk != besides:
            queue_arrived(pk)
    for pk in _from_stock(colours):
        if pk != besides:
            queue_look_again(pk)


def _look_again(colour: int) -> None:
    """Whether other plans of batches that are short of this cloth (FabricColour pk) would buy less of it now."""
    for pk, state in _short_of({colour}):
        if state == Batch.State.PLANNED:
            queue_look_again(pk)


def _from_stock(colours: Collection[int]) -> list[int]:
    """Batches (pk) of which nothing is cut, whose plan of one of these cloths (FabricColour pk) is made from stock."""
    fabrics = FabricColour.objects.filter(pk__in=colours).values("fabric")
    plans = CutPlan.objects.filter(aim=CutPlan.Aim.FROM_STOCK, fabric__in=fabrics)
    planned = plans.filter(state=CutPlan.State.SETTLED, batch__state=Batch.State.PLANNED)
    return list(planned.order_by("batch").values_list("batch", flat=True).distinct())


def _short_of(colours: Collection[int]) -> list[tuple[int, str]]:
    """Batches (pk, state) with plies of these colours still to be cut for which no roll has cloth."""
    short = Batch.objects.planned_not_cut().filter(
        lays__cut_at=None,
        lays__cloths__fabric_colour__in=colours,
        lays__cloths__rolls__isnull=False,
        lays__cloths__rolls__roll=None,
    )
    return list(short.order_by("pk").values_list("pk", "state").distinct())
