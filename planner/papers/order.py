"""Lays in the order in which they are cut, as the papers show it."""

from __future__ import annotations

from collections.abc import Sequence

from planner.core.lays.order import LayState, cutting_order
from planner.papers.data import LayPaper


def in_order(lays: Sequence[LayPaper]) -> list[LayPaper]:
    """Lays (with `due_on` and `at_flaws`) as they are cut one after the other."""
    states = [
        LayState(lay.number, lay.is_cut, bool(lay.plies_cut), waits(lay), lay.due_on, lay.at_flaws)
        for lay in lays
    ]
    by_number = {lay.number: lay for lay in lays}
    return [by_number[number] for number in cutting_order(states)]


def waits(lay: LayPaper) -> bool:
    """Whether cloth of plies that are not cut is still to be bought."""
    if lay.is_cut:
        return False
    return any(row.roll is not None and not row.roll.number and not row.is_cut for row in lay.ply_rows)
