"""In which order the lays of a batch are cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class LayState:
    """How far a lay is: cut, begun, or waiting for cloth that is still to be bought.

    `due_on` is the first day that anything cut from it is due, None where nobody said.
    """

    number: int
    is_cut: bool = False
    is_begun: bool = False
    waits: bool = False
    due_on: date | None = None


def cutting_order(lays: Sequence[LayState]) -> tuple[int, ...]:
    """Numbers of the lays in the order they are cut (common practice).

    What is cut comes first, then what is begun, so that it leaves the table; then what has its cloth, and last what
    waits for cloth. Among these what is due first, and by number where there is no difference: so lays are numbered
    that long plies come while the rolls are full.
    """

    def rank(lay: LayState) -> int:
        if lay.is_cut:
            return 0
        if lay.is_begun:
            return 1
        return 3 if lay.waits else 2

    def key(lay: LayState) -> tuple[int, date, int]:
        # What is cut stands as it is numbered: its day tells nobody what to do next.
        due = date.max if lay.is_cut or lay.due_on is None else lay.due_on
        return rank(lay), due, lay.number

    return tuple(lay.number for lay in sorted(lays, key=key))
