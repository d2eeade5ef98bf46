"""Stretches of a strip moved as they are: it is cut across twice, and what lies between is turned or put elsewhere.

Inside a stretch nothing changes, so only what lies at its edges has to be freed of overlap anew. It leads out of
arrangements that changes of single pieces do not leave: which row begins where, and on which side its wide ends lie.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.core.lays.charts import Laid
from planner.core.lays.depths import Ints
from planner.core.lays.poses import Array

#: A stretch begins with the strip so often, and as often ends with it; else it is cut out of the middle.
_FROM_AN_END = 0.25


@dataclass(frozen=True)
class Stretch:
    """The pieces (True where one belongs to it) whose middles lie between two cuts across the strip."""

    pieces: NDArray[np.bool_]
    first: float
    last: float


def any_stretch(middle: Array, length: float, random: np.random.Generator) -> Stretch:
    """Some stretch of a strip of this length on which the pieces have their middles at `middle` along it."""
    first, last = np.sort(random.uniform(0.0, length, 2))
    chosen = random.random()
    if chosen < _FROM_AN_END:
        first = 0.0
    elif chosen < 2 * _FROM_AN_END:
        last = length
    return Stretch((middle >= first) & (middle < last), float(first), float(last))


def turn_round(laid: Laid, bounds: Array, stretch: Stretch, poses: Ints) -> None:
    """The stretch by half a turn, where it lies: `poses` are those of all pieces turned so.

    `bounds[pose]` are those of a pose (x0, y0, x1, y1) from its reference point.
    """
    at = stretch.pieces
    x0, y0, x1, y1 = bounds[laid.pose[at]].T
    # Turned about the middle of its bounds, which stay where they are.
    laid.x[at] = (laid.x[at] + x0).min() + (laid.x[at] + x1).max() - laid.x[at]
    laid.y[at] = (laid.y[at] + y0).min() + (laid.y[at] + y1).max() - laid.y[at]
    laid.pose[at] = poses[at]


def put_elsewhere(laid: Laid, middle: Array, stretch: Stretch, length: float) -> None:
    """The stretch changes places with all that lies behind it, or, where nothing does, with all before it."""
    at, behind = stretch.pieces, middle >= stretch.last
    if behind.any():
        laid.x[at] += length - stretch.last
        laid.x[behind] -= stretch.last - stretch.first
    else:
        laid.x[at] -= stretch.first
        laid.x[~at] += length - stretch.first
