"""Notions taken out of the stock for a batch of which it needs less by now: a plan made anew cuts fewer garments."""

from __future__ import annotations

from decimal import Decimal

from planner.core.units import Display, format_length
from planner.cutting.actions.notions_out import surplus_of
from planner.cutting.models import Batch
from planner.papers.figures import figure


def surplus_in_words(batch: Batch, display: Display) -> tuple[str, ...]:
    """ "2 pcs of shell button, white", notion by notion. One query."""
    rows = batch.needs.taken_too_much().select_related("notion_colour__notion").order_by("pk")
    return tuple(
        f"{_amount(more, row.notion_colour.notion.unit, display)} of {row.notion_colour}"
        for row in rows
        if row.notion_colour and (more := surplus_of(row))
    )


def _amount(quantity: Decimal, unit: str, display: Display) -> str:
    if unit == "m":
        return format_length(float(quantity) * 1000, display, "cloth")
    return figure(quantity.normalize(), unit)
