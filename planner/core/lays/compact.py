"""Compaction: all pieces of an arrangement moved at once, exactly, to the shortest strip near where they lie.

A linear programme over the moves of all pieces, after Z. Li and V. Milenkovic, "Compaction and separation algorithms
for non-convex polygons and their applications" (European Journal of Operational Research 84, 1995): each two parts
near each other stay on their sides of one edge of their no-fit polygon, no piece moves farther than a step, and the
strip's length is minimised; again from where that leads, while it gains. Overlaps may be there at first: they are
pushed apart at a price.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import highspy
import numpy as np

from planner.core.lays.poses import Array, Poses
from planner.core.lays.sides import Parts, Sides, sides

#: Farthest that a piece moves along and across in one step, as a share of the strip's height.
_STEP = 0.02
#: An overlap that is left counts as none below this share of the strip's height.
_HAIR = 1e-7
#: The compaction gives up where a round leaves more than this share of the overlap.
_STUCK = 0.95
#: A programme is solved in a millisecond or two, so it is not worth its time to prepare much.
_OPTIONS: dict[str, bool | int | str] = {
    "output_flag": False,
    "threads": 1,
    "presolve": "off",
    "simplex_scale_strategy": 0,
    "simplex_dual_edge_weight_strategy": 0,
}
#: What a unit of overlap costs, in units of length.
_PRICE = 100.0


@dataclass(frozen=True)
class Compacted:
    """Where the reference points went, and the strip's length."""

    points: Array
    length: float


def compacted(
    poses: Poses,
    parts: Parts,
    points: Array,
    quarters: Sequence[int],
    *,
    shorter_than: float = float("inf"),
    rounds: int = 14,
    gain: float = 1e-5,
) -> Compacted | None:
    """The arrangement pushed together, or None where it cannot be freed of overlap by small moves.

    Ends after so many `rounds`, when a round gains less than `gain` of the strip's height, or as soon as
    `shorter_than` is plainly out of reach or overlaps stay as they are. What sticks out of the strip is put back first.
    """
    last: _Round | None = None
    points = _within(poses, points, quarters)
    for number in range(rounds):
        now = _round(poses, parts, points, quarters)
        if now is None:
            return None
        points = now.points
        if last is not None:
            slow = last.length - now.length < gain * poses.height
            if now.overlap == 0 and last.overlap == 0 and slow:
                return Compacted(points, now.length)
            if now.overlap > _STUCK * last.overlap > 0:
                return None
        if number >= 3 and now.length > shorter_than * 1.01:
            return None
        last = now
    return Compacted(points, last.length) if last and last.overlap == 0 else None


@dataclass(frozen=True)
class _Round:
    points: Array
    length: float
    overlap: float


def _within(poses: Poses, points: Array, quarters: Sequence[int]) -> Array:
    """Pieces that stick out of the strip, across or before its beginning, are put back."""
    bounds = np.array([poses.bounds[s][q] for s, q in zip(poses.shape_of, quarters, strict=True)])
    beyond = np.maximum(points[:, 1] + bounds[:, 3] - poses.height, 0.0)
    before = np.maximum(-points - bounds[:, :2], 0.0)
    moved: Array = points + before - np.stack([np.zeros(len(points)), beyond], axis=1)
    return moved


def _round(poses: Poses, parts: Parts, points: Array, quarters: Sequence[int]) -> _Round | None:
    step = _STEP * poses.height
    bounds = np.array([poses.bounds[s][q] for s, q in zip(poses.shape_of, quarters, strict=True)])
    low, high = points + bounds[:, :2], points + bounds[:, 2:]
    pose = [4 * s + q for s, q in zip(poses.shape_of, quarters, strict=True)]
    rows = sides(parts, points, pose, step)
    solved = _solved(_programme(poses.height, low, high, rows, step))
    if solved is None:
        return None
    count = len(points)
    overlap = float(solved[2 * count + 1 :].sum())
    moved = points + np.stack([solved[:count], solved[count : 2 * count]], axis=1)
    return _Round(moved, float(solved[2 * count]), 0.0 if overlap <= _HAIR * poses.height else overlap)


def _programme(height: float, low: Array, high: Array, rows: Sides, step: float) -> highspy.HighsLp:
    """Columns: moves along, moves across, the length, and the overlap left in each row that has some now."""
    count = len(low)
    apart, over = np.flatnonzero(rows.least <= 0), np.flatnonzero(rows.least > 0)
    order = np.concatenate([apart, over])
    first, second, normal = rows.first[order], rows.second[order], rows.normal[order]
    columns = np.stack([first, second, count + first, count + second], axis=1)
    values = np.stack([-normal[:, 0], normal[:, 0], -normal[:, 1], normal[:, 1]], axis=1)
    spare = 2 * count + 1 + np.arange(len(over), dtype=np.int32)
    # The length is beyond every piece's end.
    ends = np.stack([np.full(count, 2 * count), np.arange(count)], axis=1).astype(np.int32)
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = 2 * count + 1 + len(over), len(order) + count
    lp.col_cost_ = np.concatenate([np.zeros(2 * count), [1.0], np.full(len(over), _PRICE)])
    upper = np.concatenate([np.full(count, step), np.minimum(step, height - high[:, 1])])
    lower = np.minimum(np.concatenate([np.maximum(-step, -low[:, 0]), np.maximum(-step, -low[:, 1])]), upper)
    lp.col_lower_ = np.concatenate([lower, [0.0], np.zeros(len(over))])
    lp.col_upper_ = np.concatenate([upper, np.full(1 + len(over), np.inf)])
    lp.row_lower_ = np.concatenate([rows.least[order], high[:, 0]])
    lp.row_upper_ = np.full(lp.num_row_, np.inf)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    entries = np.concatenate([np.full(len(apart), 4), np.full(len(over), 5), np.full(count, 2)])
    lp.a_matrix_.start_ = np.concatenate([[0], np.cumsum(entries)]).astype(np.int32)
    k = len(apart)
    lp.a_matrix_.index_ = np.concatenate(
        [columns[:k].ravel(), np.column_stack([columns[k:], spare]).ravel(), ends.ravel()]
    ).astype(np.int32)
    lp.a_matrix_.value_ = np.concatenate(
        [
            values[:k].ravel(),
            np.column_stack([values[k:], np.ones(len(over))]).ravel(),
            np.tile([1.0, -1.0], count),
        ]
    )
    return lp


def _solved(lp: highspy.HighsLp) -> Array | None:
    highs = highspy.Highs()  # type: ignore[no-untyped-call]
    for name, value in _OPTIONS.items():
        highs.setOptionValue(name, value)
    highs.passModel(lp)
    highs.run()
    if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return np.asarray(highs.getSolution().col_value)
