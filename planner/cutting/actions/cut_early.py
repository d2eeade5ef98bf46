"""Batches cut before their plan stood: plies still to be cut have no rolls, for these are dealt out once it does."""

from __future__ import annotations

from planner.cutting.actions.table import left_of
from planner.cutting.models import Batch, LayCloth
from planner.cutting.roll_rows import plies_apart, write_to_buy


def buy_where_not_dealt(batch: Batch) -> None:
    """Plies still to be cut that were given no roll yet are to be bought, so that they are given what is there.

    Of plies that are begun those left become plies of their own. Call it in a transaction.
    """
    rows = LayCloth.objects.filter(lay__batch=batch, lay__cut_at=None, rolls=None, spreads__gt=0)
    # From the uppermost down, see `plies_apart`.
    for row in rows.order_by("-pk"):
        if not row.cut_spreads:
            write_to_buy([row])
        elif left := left_of(row):
            write_to_buy([plies_apart(row, left)])
