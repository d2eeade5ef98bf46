"""Compaction: all pieces of an arrangement moved at once, exactly, to the shortest strip near where they lie.

A linear programme over the moves of all pieces, after Z. Li and V. Milenkovic, "Compaction and separation algorithms
for non-convex polygons and their applications" (European Journal of Operational Research 84, 1995): each two parts
near each other stay on their sides of one edge of their no-fit polygon, no piece moves farther than a step, and the
strip's length is minimised; again from where that leads, while it gains. Overlaps may be there at first: they are
pushed apart at a price. Most pieces move little, so sides of parts a step and more from each other are left out of the
programme, and put in where the moves would not keep to them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray

from planner.core.lays.poses import Array, Poses
from planner.core.lays.sides import Parts, Sides, sides

#: Farthest that a piece moves along and across in one step, as a share of the strip's height.
_STEP = 0.02
#: An overlap that is left counts as none below this share of the strip's height.
_HAIR = 1e-7
#: The compaction gives up where a round leaves more than this share of the overlap.
_STUCK = 0.95
#: It gives up where the strip is still longer than the length it is to be below by more than this share after the
#: first round, the second and so on (measured: of 131 that ended shorter 3 would have been given up, and two rounds in
#: five are saved).
_HOPELESS = (0.006, 0.005, 0.002, 0.001)
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
    solver = _solver()
    points = _within(poses, points, quarters)
    for number in range(rounds):
        now = _round(solver, poses, parts, points, quarters)
        if now is None:
            return None
        points = now.points
        if last is not None:
            slow = last.length - now.length < gain * poses.height
            if now.overlap == 0 and last.overlap == 0 and slow:
                return Compacted(points, now.length)
            if now.overlap > _STUCK * last.overlap > 0:
                return None
        if now.length > shorter_than * (1 + _HOPELESS[min(number, len(_HOPELESS) - 1)]):
            return None
        last = now
    return Compacted(points, last.length) if last and last.overlap == 0 else None


def _solver() -> highspy.Highs:
    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    for name, value in _OPTIONS.items():
        solver.setOptionValue(name, value)
    return solver


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


def _round(
    solver: highspy.Highs, poses: Poses, parts: Parts, points: Array, quarters: Sequence[int]
) -> _Round | None:
    step = _STEP * poses.height
    bounds = np.array([poses.bounds[s][q] for s, q in zip(poses.shape_of, quarters, strict=True)])
    low, high = points + bounds[:, :2], points + bounds[:, 2:]
    pose = [4 * s + q for s, q in zip(poses.shape_of, quarters, strict=True)]
    rows = sides(parts, points, pose, step)
    near = rows.least > -step
    solved = _solved(solver, poses.height, low, high, _those(rows, near), step)
    if solved is not None and not _kept(_those(rows, ~near), solved.moves):
        solved = _solved(solver, poses.height, low, high, rows, step)
    if solved is None:
        return None
    overlap = 0.0 if solved.overlap <= _HAIR * poses.height else solved.overlap
    return _Round(points + solved.moves, solved.length, overlap)


def _those(rows: Sides, chosen: NDArray[np.bool_]) -> Sides:
    return Sides(rows.first[chosen], rows.second[chosen], rows.normal[chosen], rows.least[chosen])


def _kept(rows: Sides, moves: Array) -> bool:
    """Do the pieces stay on these sides of each other when they are moved so?"""
    apart = ((moves[rows.second] - moves[rows.first]) * rows.normal).sum(axis=1)
    return bool((apart >= rows.least).all())


@dataclass(frozen=True)
class _Solved:
    """All moves (n × 2), the strip's length then, and the overlap that is left."""

    moves: Array
    length: float
    overlap: float


def _solved(
    solver: highspy.Highs, height: float, low: Array, high: Array, rows: Sides, step: float
) -> _Solved | None:
    """Columns: moves along, moves across, the length, and the overlap left in each row that has some now.

    Rows: the sides, in which the length counts nothing and fills the fifth place where no overlap is; then that the
    length is beyond every piece's end.
    """
    count, over = len(low), rows.least > 0
    spare = np.where(over, 2 * count + np.cumsum(over), 2 * count)
    along, across = rows.normal.T
    index = np.stack([rows.first, rows.second, count + rows.first, count + rows.second, spare], axis=1)
    value = np.stack([-along, along, -across, across, over], axis=1)
    ends = np.stack([np.arange(count), np.full(count, 2 * count)], axis=1)
    entries = np.concatenate([np.full(len(over), 5), np.full(count, 2)])
    upper = np.concatenate([np.full(count, step), np.minimum(step, height - high[:, 1])])
    lower = np.minimum(np.maximum(-step, -low.T.ravel()), upper)
    left = np.zeros(over.sum())
    solver.passModel(
        2 * count + 1 + len(left),
        len(entries),
        int(entries.sum()),
        int(highspy.MatrixFormat.kRowwise),
        int(highspy.ObjSense.kMinimize),
        0.0,
        np.concatenate([np.zeros(2 * count), [1.0], left + _PRICE]),
        np.concatenate([lower, [0.0], left]),
        np.concatenate([upper, [np.inf], left + np.inf]),
        np.concatenate([rows.least, high[:, 0]]),
        np.full(len(entries), np.inf),
        np.concatenate([[0], np.cumsum(entries)]).astype(np.int32),
        np.concatenate([index.ravel(), ends.ravel()]).astype(np.int32),
        np.concatenate([value.ravel(), np.tile([-1.0, 1.0], count)]),
        np.zeros(2 * count + 1 + len(left), dtype=np.int32),
    )
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    found = np.asarray(solver.getSolution().col_value)
    moves = found[: 2 * count].reshape(2, count).T
    return _Solved(moves, float(found[2 * count]), float(found[2 * count + 1 :].sum()))
