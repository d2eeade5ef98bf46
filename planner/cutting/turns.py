"""Which lay of a batch is cut when: the same on its page, on its papers and at the table."""

from __future__ import annotations

from collections.abc import Sequence

from planner.core.lays.order import LayState, cutting_order
from planner.cutting.models import Batch, Lay


def in_turn(lays: Sequence[Lay]) -> list[Lay]:
    """Lays (read `with_turn`, or given what it notes) in the order they are cut. No query."""
    by_number = {lay.number: lay for lay in lays}
    states = [
        LayState(lay.number, lay.cut_at is not None, lay.some_cut, lay.waits, lay.first_due) for lay in lays
    ]
    return [by_number[number] for number in cutting_order(states)]


def next_to_cut(batch: Batch) -> int:
    """The number of the lay whose turn it is, 0 where all are cut. One query."""
    uncut = list(batch.lays.filter(cut_at__isnull=True).with_turn())
    return in_turn(uncut)[0].number if uncut else 0
