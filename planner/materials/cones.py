"""Counted cones of thread, kept in step with the metres that are booked in or out."""

from __future__ import annotations

import math
from collections.abc import Collection
from decimal import Decimal

from planner.materials.models import NotionColour, StockMove


def keep_in_step(colours: Collection[int | None]) -> None:
    """Of thread whose cones were counted there are none where the books have no metres left, and no fewer than hold
    the metres that came back. For colours (pk) whose stock has just moved, within that transaction.
    """
    for colour in NotionColour.objects.filter(pk__in=colours, cones__isnull=False).select_related("notion"):
        left = StockMove.objects.filter(notion_colour=colour).total()
        least = math.ceil(max(left, Decimal(0)) / colour.notion.pack_quantity)
        cones = max(colour.cones or 0, least) if left > 0 else 0
        if cones != colour.cones:
            NotionColour.objects.filter(pk=colour.pk).update(cones=cones)
