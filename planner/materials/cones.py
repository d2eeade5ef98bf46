"""Counted cones of thread, kept in step with the metres that are booked in or out."""

from __future__ import annotations

import math
from collections.abc import Collection
from decimal import Decimal

from planner.materials.models import NotionColour


def keep_in_step(colours: Collection[int | None]) -> None:
    """Of thread whose cones were counted there are none where the books have no metres left, and no fewer than hold
    the metres that came back. For colours (pk) whose stock has just moved, within that transaction.
    """
    counted = NotionColour.objects.filter(pk__in=colours, cones__isnull=False)
    for colour in counted.with_stock():
        # SQLite sums in binary: what cancels out may come to a hair.
        left = round(max(colour.on_hand, Decimal(0)), 2)
        cones = max(colour.cones or 0, math.ceil(left / colour.notion.pack_quantity)) if left else 0
        if cones != colour.cones:
            NotionColour.objects.filter(pk=colour.pk).update(cones=cones)
