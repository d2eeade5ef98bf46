"""Guided local search: pieces that overlap on a strip of fixed length are moved until none does.

Each piece in turn goes where the weighted sum of its overlaps with all others is least (`places.py`); overlaps that
stay get weightier, so the search leaves its local optima. Now and then two of about the same size change places
(`trades.py`). After J. Egeblad et al., "Fast neighborhood search for two-
and three-dimensional nesting problems" (European Journal of Operational Research 183, 2007) and S. Umetani et al.,
"Solving the irregular strip packing problem via guided local search for overlap minimization" (International
Transactions in Operational Research 16, 2009).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from planner.core.lays.charts import Laid, Room, Scratch, scratch_for
from planner.core.lays.compiled import Number, compiled, uncounted
from planner.core.lays.depths import CoarseTables, Depths, Ints, Tables
from planner.core.lays.exchange import alike
from planner.core.lays.nofit import Floats
from planner.core.lays.places import measure, place
from planner.core.lays.poses import Array, Poses
from planner.core.lays.stretches import any_stretch, put_elsewhere, turn_round
from planner.core.lays.trades import trade

#: By how much an overlap's weight grows in a pass, the smallest and the deepest, and how others shrink again.
_LEAST_GROWTH, _MOST_GROWTH, _DECAY = 1.2, 2.0, 0.95
#: Weights end here, far within what a 32-bit number holds.
_HEAVIEST = np.float32(1e15)
#: A piece is searched a place near by this often, over the whole strip otherwise.
_NEAR_BY = 0.5
#: A piece that overlaps others tries so often to change places with another.
_TRADES = 0.2
#: Two pieces that change places are so often of about the same size.
_ALIKE_OFTEN = 0.5
#: A stretch that is moved is turned so often, where it may be; else it is put elsewhere.
_TURNED_ROUND = 0.5
#: Passes between two questions whether to go on.
_PASSES = 5
#: Overlap less than this share of the least yet is progress.
_LESS = 0.98


@dataclass(frozen=True)
class State:
    """Where all pieces lie (cells), and in which poses."""

    x: Floats
    y: Floats
    pose: Ints


class Overlaps:
    """Pieces on a strip whose length can be set, and how deep they lie in each other."""

    def __init__(self, poses: Poses, depths: Depths, seed: int) -> None:
        self._poses, self._depths, self._random = poses, depths, np.random.default_rng(seed)
        _seed(seed)
        self.count = count = len(poses.shape_of)
        self.length = 0.0
        self._bounds = np.array([b for quarters in poses.bounds for b in quarters]) / depths.cell
        self._large = np.argsort([-poses.areas[s] for s in poses.shape_of])[: max(4, count * 2 // 3)]
        self._alike = alike([poses.areas[s] for s in poses.shape_of], poses.shape_of)
        self._laid = Laid(
            np.zeros(count, dtype=np.float32),
            np.zeros(count, dtype=np.float32),
            np.array([4 * s + poses.turns[s][0] for s in poses.shape_of], dtype=np.int64),
            np.ones((count, count), dtype=np.float32),
            np.zeros((count, count), dtype=np.float32),
        )
        turns = np.zeros((count, 4), dtype=np.int64)
        for i, s in enumerate(poses.shape_of):
            turns[i, : len(poses.turns[s])] = [4 * s + q for q in poses.turns[s]]
        self._turn_count = np.array([len(poses.turns[s]) for s in poses.shape_of], dtype=np.int64)
        self._turns = turns
        self._room = Room(np.zeros((len(self._bounds), 6), dtype=np.float32), turns, self._turn_count)
        self._scratch = scratch_for(count, 1, 1)
        x0, y0, x1, y1 = self._bounds.T
        self._middle = np.stack([(x0 + x1) / 2, (y0 + y1) / 2], axis=1).astype(np.float32)
        self._partners = _partners(count, self._alike)

    def set_length(self, length: float) -> None:
        """The strip is so long now; what lies beyond it is moved in."""
        self.length = length
        x0, y0, x1, y1 = self._bounds.T
        along, across = length / self._depths.cell, self._poses.height / self._depths.cell
        # A piece that fits across to a hair has room to lie at least.
        last_y = np.maximum(across - y1, -y0)
        within = np.stack([-x0, along - x1, -y0, last_y, x1 - x0, y1 - y0], axis=1)
        self._room = Room(within.astype(np.float32), self._turns, self._turn_count)
        step = self._depths.coarse.step
        columns, rows = int(along / step) + 2, math.ceil(across / step) + 2
        if columns > self._scratch.chart.shape[0]:
            self._scratch = scratch_for(self.count, columns + 8, rows)
        self._move_in()

    def _move_in(self) -> None:
        within = self._room.within[self._laid.pose]
        self._laid.x[:] = np.clip(self._laid.x, within[:, 0], np.maximum(within[:, 0], within[:, 1]))
        self._laid.y[:] = np.clip(self._laid.y, within[:, 2], within[:, 3])

    def scatter(self) -> None:
        """Everything anywhere."""
        chosen = self._random.integers(self._turn_count)
        self._laid.pose[:] = self._turns[np.arange(self.count), chosen]
        x0, x1, y0, y1 = self._room.within[self._laid.pose, :4].T
        self._laid.x[:] = self._random.uniform(x0, np.maximum(x0, x1) + 1e-6)
        self._laid.y[:] = self._random.uniform(y0, y1 + 1e-6)
        self._move_in()

    def lay(self, points: Array, quarters: list[int]) -> None:
        """Everything to these places, in the strip's unit; what lies beyond the strip is moved in."""
        self._laid.x[:], self._laid.y[:] = (points / self._depths.cell).T
        self._laid.pose[:] = [4 * s + q for s, q in zip(self._poses.shape_of, quarters, strict=True)]
        self._move_in()

    def points(self) -> Array:
        """The reference points of all pieces, in the strip's unit."""
        return np.stack([self._laid.x, self._laid.y], axis=1).astype(np.float64) * self._depths.cell

    def quarters(self) -> list[int]:
        """The quarter turns of all pieces."""
        return [int(pose) % 4 for pose in self._laid.pose]

    @property
    def state(self) -> State:
        """All places and poses, to come back to."""
        return State(self._laid.x.copy(), self._laid.y.copy(), self._laid.pose.copy())

    @state.setter
    def state(self, state: State) -> None:
        self._laid.x[:], self._laid.y[:], self._laid.pose[:] = state.x, state.y, state.pose
        self._move_in()

    def swap_two(self) -> None:
        """Two pieces change places, which shakes an arrangement without breaking it up.

        Often two of about the same size, each in the other's turn; else any two of the larger.
        """
        if len(self._large) < 2:
            return
        if self._alike and self._random.random() < _ALIKE_OFTEN:
            i, j = self._alike[int(self._random.integers(len(self._alike)))]
            self._take_turns(i, j)
        else:
            i, j = self._random.choice(self._large, 2, replace=False).tolist()
        for places in (self._laid.x, self._laid.y):
            places[i], places[j] = places[j], places[i]
        self._move_in()

    def move_stretch(self) -> None:
        """A stretch of the strip is turned round, where all its pieces may be, or put elsewhere (`stretches.py`)."""
        laid, length = self._laid, self.length / self._depths.cell
        middle = laid.x + self._middle[laid.pose, 0]
        stretch = any_stretch(middle, length, self._random)
        if stretch.pieces.sum() < 2:
            self.swap_two()
            return
        turned: Ints = laid.pose // 4 * 4 + (laid.pose + 2) % 4
        may_turn = (self._turns == turned[:, None]) & (np.arange(4) < self._turn_count[:, None])
        if may_turn.any(axis=1)[stretch.pieces].all() and self._random.random() < _TURNED_ROUND:
            turn_round(laid, self._bounds, stretch, turned)
        else:
            put_elsewhere(laid, middle, stretch, length)
        self._move_in()

    def _take_turns(self, i: int, j: int) -> None:
        """Each of two pieces in the other's turn, where it may be turned so."""
        quarters = self._laid.pose[[j, i]] % 4
        for piece, quarter in zip((i, j), quarters, strict=True):
            pose = self._laid.pose[piece] // 4 * 4 + quarter
            if pose in self._turns[piece, : self._turn_count[piece]]:
                self._laid.pose[piece] = pose

    def separate(self, enough: float, patience: int, over: Callable[[], bool]) -> float:
        """Moves pieces until no more than `enough` overlap is left, in cells times weight of the pieces.

        Gives up after so many passes without less overlap, or when `over`. Pieces then lie where the overlap was
        least; that is returned.
        """
        laid, depths = self._laid, self._depths
        best = Laid(laid.x.copy(), laid.y.copy(), laid.pose.copy(), laid.weight, laid.deep)
        least, stale = _begin(laid, depths.fine), 0
        left = least
        while left > enough and stale <= patience and not over():
            left, least, stale = _passes(
                laid,
                best,
                self._room,
                depths.fine,
                depths.coarse,
                self._scratch,
                self._partners,
                self._middle,
                enough,
                least,
                stale,
            )
        if left > enough:
            laid.x[:], laid.y[:], laid.pose[:] = best.x, best.y, best.pose
            left = least
        return float(left)


def _partners(count: int, alike: list[tuple[int, int]]) -> Ints:
    """For each of so many pieces those about as large, −1 behind the last."""
    of: list[list[int]] = [[] for _ in range(count)]
    for i, j in alike:
        of[i].append(j)
        of[j].append(i)
    partners = np.full((count, 1 + max(map(len, of))), -1, dtype=np.int64)
    for i, others in enumerate(of):
        partners[i, : len(others)] = others
    return partners


@compiled
def _seed(seed: int) -> None:
    np.random.seed(seed)


@compiled
def _begin(laid: Laid, fine: Tables) -> float:
    """All overlaps measured and weighed alike; their sum."""
    laid.weight[:, :] = np.float32(1.0)
    laid.deep[:, :] = np.float32(0.0)
    for i in range(len(laid.x)):
        measure(i, laid, fine)
    return float(laid.deep.sum() / 2)


@uncounted
def _weigh(laid: Laid) -> Number:
    """Overlaps that are there get weightier, the deepest most; what is left of them in all."""
    left, deepest = np.float32(0.0), np.float32(0.0)
    deep, weight, count = laid.deep, laid.weight, len(laid.x)
    for i in range(count):
        for j in range(i):
            left += deep[i, j]
            deepest = max(deepest, deep[i, j])
    for i in range(count):
        for j in range(count):
            if deep[i, j] > 0.0:
                grown = _LEAST_GROWTH + (_MOST_GROWTH - _LEAST_GROWTH) * deep[i, j] / deepest
                weight[i, j] = min(_HEAVIEST, weight[i, j] * np.float32(grown))
            else:
                weight[i, j] = max(np.float32(1.0), weight[i, j] * np.float32(_DECAY))
    return left


@compiled
def _passes(
    laid: Laid,
    best: Laid,
    room: Room,
    fine: Tables,
    coarse: CoarseTables,
    scratch: Scratch,
    partners: Ints,
    middle: Floats,
    enough: float,
    least: float,
    stale: int,
) -> tuple[float, float, int]:
    """A few passes over the pieces; what is left, the least yet (where that was is kept in `best`), passes since."""
    left = least
    for _ in range(_PASSES):
        for i in np.random.permutation(len(laid.x)):
            if laid.deep[i].sum() > 0.0:
                if np.random.random() < _TRADES and trade(
                    i, partners[i], middle, laid, room, fine, scratch, np.float32(coarse.step)
                ):
                    continue
                place(i, np.random.random() < _NEAR_BY, laid, room, fine, coarse, scratch)
        left = float(_weigh(laid))
        stale += 1
        if left < least:
            if left < _LESS * least:
                stale = 0
            least = left
            # One by one: for whole arrays the compiler brings along how a fault in their sizes is worded, for seconds.
            for k in range(len(laid.x)):
                best.x[k], best.y[k], best.pose[k] = laid.x[k], laid.y[k], laid.pose[k]
        if left <= enough:
            break
    return left, least, stale
