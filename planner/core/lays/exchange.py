"""Two pieces of about the same size change places: which may, and where each of them goes then.

Where sizes of one style lie side by side this is what decides: whose back stands in the row with whose front. A piece
that fits only nearly where another lay is freed by compaction (`compact.py`), which moves all others a little.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from planner.core.lays.poses import Array, Poses

#: A piece is about of another's size where it is at most so much larger.
_ALIKE = 1.5
#: Pieces smaller than this share of the largest find room anywhere: which of them lies where decides nothing.
_SMALL = 0.05


def alike(areas: Sequence[float], shape_of: Sequence[int]) -> list[tuple[int, int]]:
    """Pairs of pieces of about the same size, but not of the same shape; `areas` those of the pieces."""
    return [
        (i, j)
        for i, j in combinations(range(len(areas)), 2)
        if shape_of[i] != shape_of[j] and max(areas[i], areas[j]) < _ALIKE * min(areas[i], areas[j])
    ]


def exchanges(poses: Poses) -> list[tuple[int, int]]:
    """Which two change places, and pieces with themselves: these are turned half round. None of the small ones."""
    areas = [poses.areas[s] for s in poses.shape_of]
    large = [area > _SMALL * max(areas) for area in areas]
    turned = [(i, i) for i, s in enumerate(poses.shape_of) if large[i] and _half_turns(poses.turns[s])]
    return [(i, j) for i, j in alike(areas, poses.shape_of) if large[i] and large[j]] + turned


def exchanged(
    poses: Poses, points: Array, quarters: Sequence[int], first: int, second: int
) -> tuple[Array, list[int]]:
    """The places (n × 2) and quarter turns after an exchange, as one of :func:`exchanges`.

    The middle of each piece's bounds goes where that of the other's was, in its turn where it may be turned so.
    Pieces may then overlap, and stick out of the strip.
    """
    there, turns = points.copy(), list(quarters)
    for piece, other in ((first, second), (second, first)):
        wanted = (quarters[other] + (2 if first == second else 0)) % 4
        if wanted in poses.turns[poses.shape_of[piece]]:
            turns[piece] = wanted
        middle = points[other] + _middle(poses, other, quarters[other])
        there[piece] = middle - _middle(poses, piece, turns[piece])
    return there, turns


def _half_turns(turns: Sequence[int]) -> bool:
    return any((q + 2) % 4 in turns for q in turns)


def _middle(poses: Poses, piece: int, quarter: int) -> Array:
    x0, y0, x1, y1 = poses.bounds[poses.shape_of[piece]][quarter]
    return np.array([x0 + x1, y0 + y1]) / 2
