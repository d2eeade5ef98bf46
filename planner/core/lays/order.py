"""In which order the lays of a batch are cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class LayState:
    """How far a lay is: cut, begun, or waiting for cloth that is still to be bought.

    `due_on` is the first day that anything cut from it is due, None where nobody said. `at_flaws` is its turn among the
    lays that share rolls with flaws, as :func:`planner.core.rolls.orders_losing_least` gives it; None for others.
    """

    number: int
    is_cut: bool = False
    is_begun: bool = False
    waits: bool = False
    due_on: date | None = None
    at_flaws: int | None = None

    @property
    def rank(self) -> int:
        """Lays of a lower one come first: cut, begun, with its cloth there, waiting for cloth."""
        if self.is_cut:
            return 0
        if self.is_begun:
            return 1
        return 3 if self.waits else 2


def cutting_order(lays: Sequence[LayState]) -> tuple[int, ...]:
    """Numbers of the lays in the order they are cut (common practice).

    What is cut comes first, then what is begun, so that it leaves the table; then what has its cloth, and last what
    waits for cloth. Among these what is due first comes first, then the lower number, for lays are numbered so that
    long plies come while the rolls are full. Lays of the same rank that share rolls with flaws change places with one
    another as `at_flaws` says: cloth lost at a flaw is lost, and these lays are cut one after the other anyway.
    """

    found = _but_for_flaws(lays)
    turns = [n for n, lay in enumerate(found) if not lay.is_cut and lay.at_flaws is not None]
    changed = sorted((found[n] for n in turns), key=lambda lay: (lay.rank, lay.at_flaws, lay.number))
    for n, lay in zip(turns, changed, strict=True):
        found[n] = lay
    return tuple(lay.number for lay in found)


def brought_forward(lays: Sequence[LayState]) -> dict[int, tuple[int, ...]]:
    """By lay (number) those that it comes before for the sake of flaws alone; lays without any are left out."""
    if all(lay.at_flaws is None for lay in lays):
        return {}
    turn = {number: n for n, number in enumerate(cutting_order(lays))}
    otherwise = [lay.number for lay in _but_for_flaws(lays)]
    found = {
        number: tuple(sorted(other for other in otherwise[:n] if turn[other] > turn[number]))
        for n, number in enumerate(otherwise)
    }
    return {number: others for number, others in found.items() if others}


def _but_for_flaws(lays: Sequence[LayState]) -> list[LayState]:
    def key(lay: LayState) -> tuple[int, date, int]:
        # What is cut stands as it is numbered: its day tells nobody what to do next.
        due = date.max if lay.is_cut or lay.due_on is None else lay.due_on
        return lay.rank, due, lay.number

    return sorted(lays, key=key)
