"""Lays in the order in which they are cut, as the papers show it."""

from __future__ import annotations

from collections.abc import Sequence

from planner.core.lays.order import LayState, brought_forward, cutting_order
from planner.core.listed import lays_listed
from planner.papers.data import LayPaper


def in_order(lays: Sequence[LayPaper]) -> list[LayPaper]:
    """Lays (with `due_on` and `at_flaws`) as they are cut one after the other."""
    by_number = {lay.number: lay for lay in lays}
    return [by_number[number] for number in cutting_order(_states(lays))]


def forward_in_words(lays: Sequence[LayPaper]) -> dict[int, str]:
    """By lay (number) which others it comes before for the sake of flaws: "Before lay 1, so that less is lost …"."""
    found = brought_forward(_states(lays))
    return {number: f"B{before_in_words(others)[1:]}" for number, others in found.items()}


def before_in_words(others: Sequence[int]) -> str:
    """ "before lay 1, so that less is lost at flaws": why a lay comes before these (numbers)."""
    return f"before {lays_listed(list(others))}, so that less is lost at flaws"


def _states(lays: Sequence[LayPaper]) -> list[LayState]:
    return [
        LayState(lay.number, lay.is_cut, bool(lay.plies_cut), waits(lay), lay.due_on, lay.at_flaws)
        for lay in lays
    ]


def waits(lay: LayPaper) -> bool:
    """Whether cloth of plies that are not cut is still to be bought."""
    if lay.is_cut:
        return False
    return any(row.roll is not None and not row.roll.number and not row.is_cut for row in lay.ply_rows)
