"""Notions taken out of the stock for a batch: more than it needs by now, for a plan made anew cuts fewer garments,
or more than the books had."""

from __future__ import annotations

from decimal import Decimal

from planner.core.units import Display, format_length
from planner.cutting.actions.notions_out import surplus_of
from planner.cutting.models import Batch
from planner.materials.models import NotionColour
from planner.papers.figures import figure


def surplus_in_words(batch: Batch, display: Display) -> tuple[str, ...]:
    """ "2 pcs of shell button, white", notion by notion. One query."""
    rows = batch.needs.taken_too_much().select_related("notion_colour__notion").order_by("pk")
    return tuple(
        f"{_amount(more, row.notion_colour.notion.unit, display)} of {row.notion_colour}"
        for row in rows
        if row.notion_colour and (more := surplus_of(row))
    )


def owing_in_words(batch: Batch, display: Display) -> tuple[str, ...]:
    """What the books have less than nothing of, of the notions of a batch, and what settles it. One query."""
    rows = NotionColour.objects.owing().filter(needs__batch=batch).order_by("pk")
    return tuple(
        f"The books lack {_amount(round(-row.on_hand, 2), row.notion.unit, display)} of {row} that were taken out. "
        "Note what came in, or count it again; else what is bought next goes there first, and as much is asked for "
        "again."
        for row in rows
    )


def _amount(quantity: Decimal, unit: str, display: Display) -> str:
    if unit == "m":
        return format_length(float(quantity) * 1000, display, "cloth")
    return figure(quantity.normalize(), unit)
