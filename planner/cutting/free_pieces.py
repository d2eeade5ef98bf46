"""What lies in stock for a batch, as the core is asked with it."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

from planner.core.lays.from_stock import Stock
from planner.core.lays.model import PlannedLay
from planner.core.spec import ClothKey, Workshop
from planner.cutting.models import Batch
from planner.cutting.rolls_there import rolls_there


def free_pieces(batch: Batch, lays: Iterable[PlannedLay], fabrics: Collection[str], shop: Workshop) -> Stock:
    """The rolls and ends that this batch may have, of the colours these lays are cut from in these fabrics."""
    return free_of(batch, {key for lay in lays for key in lay.cloths if key.fabric in fabrics}, shop)


def free_of(batch: Batch | None, keys: set[ClothKey], shop: Workshop) -> Stock:
    """The rolls and ends of these colours that a batch may have, or (None) anything new.

    They are numbered afresh, so that the same stock is always the same question.
    """
    return {
        key: tuple(replace(roll, key=f"{n}") for n, roll in enumerate(rolls))
        for key, rolls in rolls_there(batch, keys, shop).items()
    }
