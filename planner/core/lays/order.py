"""In which order the lays of a batch are cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LayState:
    """How far a lay is: cut, begun, or waiting for cloth that is still to be bought."""

    number: int
    is_cut: bool = False
    is_begun: bool = False
    waits: bool = False


def cutting_order(lays: Sequence[LayState]) -> tuple[int, ...]:
    """Numbers of the lays in the order they are cut (common practice).

    What is cut comes first, then what is begun, so that it leaves the table; then what has its cloth, and last what
    waits for cloth. By number where there is no difference.
    """

    def rank(lay: LayState) -> int:
        if lay.is_cut:
            return 0
        if lay.is_begun:
            return 1
        return 3 if lay.waits else 2

    return tuple(lay.number for lay in sorted(lays, key=lambda lay: (rank(lay), lay.number)))
