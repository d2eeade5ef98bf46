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
    `shorter_than` is plainly out of reach.
    """
    last: _Round | None = None
    for number in range(rounds):
        now = _round(poses, parts, points, quarters, priced=last is None or last.overlap > 0)
        if now is None:
            return None
        points = now.points
        if last is not None:
            slow = last.length - now.length < gain * poses.height
            if now.overlap == 0 and last.overlap == 0 and slow:
                return Compacted(points, now.length)
            if number > 7 and now.overlap > 0.9 * last.overlap > 0:
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


def _round(
    poses: Poses, parts: Parts, points: Array, quarters: Sequence[int], *, priced: bool
) -> _Round | None:
    step = _STEP * poses.height
    bounds = np.array([poses.bounds[s][q] for s, q in zip(poses.shape_of, quarters, strict=True)])
    low, high = points + bounds[:, :2], points + bounds[:, 2:]
    pose = [4 * s + q for s, q in zip(poses.shape_of, quarters, strict=True)]
    rows = sides(parts, points, pose, step)
    solved = _solved(_programme(poses.height, low, high, rows, step, priced=priced))
    if solved is None:
        return None
    count = len(points)
    overlap = float(solved[2 * count + 1 :].sum())
    moved = points + np.stack([solved[:count], solved[count : 2 * count]], axis=1)
    return _Round(moved, float(solved[2 * count]), 0.0 if overlap <= _HAIR * poses.height else overlap)


def _programme(
    height: float, low: Array, high: Array, rows: Sides, step: float, *, priced: bool
) -> highspy.HighsLp:
    """Columns: moves along, moves across, the length, and with `priced` the overlap left in each row."""
    count, pairs = len(low), len(rows.least)
    spare = pairs if priced else 0
    per_row = 5 if priced else 4
    columns = np.empty((pairs, per_row), dtype=np.int32)
    values = np.ones((pairs, per_row))
    columns[:, 0], columns[:, 1] = rows.first, rows.second
    columns[:, 2], columns[:, 3] = count + rows.first, count + rows.second
    values[:, 0], values[:, 1] = -rows.normal[:, 0], rows.normal[:, 0]
    values[:, 2], values[:, 3] = -rows.normal[:, 1], rows.normal[:, 1]
    if priced:
        columns[:, 4] = 2 * count + 1 + np.arange(pairs)
    # The length is beyond every piece's end.
    ends = np.stack([np.full(count, 2 * count), np.arange(count)], axis=1).astype(np.int32)
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = 2 * count + 1 + spare, pairs + count
    lp.col_cost_ = np.concatenate([np.zeros(2 * count), [1.0], np.full(spare, _PRICE)])
    upper = np.concatenate([np.full(count, step), np.minimum(step, height - high[:, 1])])
    lower = np.minimum(np.concatenate([np.maximum(-step, -low[:, 0]), np.maximum(-step, -low[:, 1])]), upper)
    lp.col_lower_ = np.concatenate([lower, [0.0], np.zeros(spare)])
    lp.col_upper_ = np.concatenate([upper, np.full(1 + spare, np.inf)])
    lp.row_lower_ = np.concatenate([rows.least, high[:, 0]])
    lp.row_upper_ = np.full(pairs + count, np.inf)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    starts = [np.arange(pairs) * per_row, pairs * per_row + 2 * np.arange(count + 1)]
    lp.a_matrix_.start_ = np.concatenate(starts).astype(np.int32)
    lp.a_matrix_.index_ = np.concatenate([columns.ravel(), ends.ravel()])
    lp.a_matrix_.value_ = np.concatenate([values.ravel(), np.tile([1.0, -1.0], count)])
    return lp


def _solved(lp: highspy.HighsLp) -> Array | None:
    highs = highspy.Highs()  # type: ignore[no-untyped-call]
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("presolve", "off")  # solved in milliseconds, so it is not worth its time
    highs.passModel(lp)
    highs.run()
    if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return np.asarray(highs.getSolution().col_value)
