"""Guided local search: pieces that overlap on a strip of fixed length are moved until none does.

Each piece in turn goes where the weighted sum of its overlaps with all others is least, over all places of the raster
and all allowed turns; overlaps that stay get weightier, so the search leaves its local optima. After J. Egeblad et
al., "Fast neighborhood search for two- and three-dimensional nesting problems" (European Journal of Operational
Research 183, 2007) and S. Umetani et al., "Solving the irregular strip packing problem via guided local search for
overlap minimization" (International Transactions in Operational Research 16, 2009).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from planner.core.lays.depths import Depths, Table
from planner.core.lays.poses import Array, Poses

#: By how much an overlap's weight grows in a pass, the smallest and the deepest, and how others shrink again.
_LEAST_GROWTH, _MOST_GROWTH, _DECAY = 1.2, 2.0, 0.95
#: A weight below this counts as 1, which spares most multiplications.
_LIGHT = 1.05
#: A piece is searched a place near by this often, over the whole strip otherwise.
_NEAR_BY = 0.7

#: Places on the raster and quarter turns of all pieces.
State = tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]


class Overlaps:
    """Pieces on the raster of a strip whose length can be set, and how deep they lie in each other."""

    def __init__(self, poses: Poses, depths: Depths, random: np.random.Generator) -> None:
        self._poses, self._depths, self._random = poses, depths, random
        self.shapes = poses.shape_of
        self.count = len(self.shapes)
        self.turns = [poses.turns[s] for s in self.shapes]
        self.x, self.y, self.quarter = ([0] * self.count for _ in range(3))
        self.length = 0.0
        self._room: list[list[tuple[int, int, int, int]]] = []
        #: How far each pose reaches before and behind its reference point, in whole cells.
        self._before = [math.floor(b[0] / depths.cell) for q in poses.bounds for b in q]
        self._behind = [math.ceil(b[2] / depths.cell) for q in poses.bounds for b in q]
        self._deep = np.zeros((self.count, self.count))
        self._weight = np.ones((self.count, self.count))

    def set_length(self, length: float) -> None:
        """The strip is so long now; what lies beyond it is moved in."""
        self.length = length
        self._room = [[self._room_of(b) for b in quarters] for quarters in self._poses.bounds]
        self._move_in()

    def _room_of(self, bounds: tuple[float, float, float, float]) -> tuple[int, int, int, int]:
        """The raster's first and last column and row for a reference point."""
        x0, y0, x1, y1 = (b / self._depths.cell for b in bounds)
        length, height = self.length / self._depths.cell, self._poses.height / self._depths.cell
        first_x, first_y = math.ceil(-x0 - 1e-6), math.ceil(-y0 - 1e-6)
        # A piece that fits across to a hair has one row at least.
        last_y = max(first_y, math.floor(height - y1 + 1e-6))
        return first_x, math.floor(length - x1 + 1e-6), first_y, last_y

    def _move_in(self) -> None:
        for i in range(self.count):
            x0, x1, y0, y1 = self._room[self.shapes[i]][self.quarter[i]]
            self.x[i] = max(x0, min(self.x[i], x1))
            self.y[i] = max(y0, min(self.y[i], y1))

    def scatter(self) -> None:
        """Everything anywhere."""
        for i in range(self.count):
            self.quarter[i] = int(self._random.choice(self.turns[i]))
            x0, x1, y0, y1 = self._room[self.shapes[i]][self.quarter[i]]
            self.x[i] = int(self._random.integers(x0, max(x0, x1) + 1))
            self.y[i] = int(self._random.integers(y0, y1 + 1))

    def lay(self, points: Array, quarters: list[int]) -> None:
        """Everything to the nearest places of the raster."""
        raster = np.rint(points / self._depths.cell).astype(int)
        self.x, self.y, self.quarter = raster[:, 0].tolist(), raster[:, 1].tolist(), list(quarters)
        self._move_in()

    def points(self) -> Array:
        """The reference points of all pieces, in the strip's unit."""
        return np.array([self.x, self.y], dtype=np.float64).T * self._depths.cell

    @property
    def state(self) -> State:
        """All places and turns, to come back to."""
        return tuple(self.x), tuple(self.y), tuple(self.quarter)

    @state.setter
    def state(self, state: State) -> None:
        self.x, self.y, self.quarter = (list(s) for s in state)
        self._move_in()

    def swap_two(self) -> None:
        """Two of the larger pieces change places, which shakes an arrangement without breaking it up."""
        by_area = sorted(range(self.count), key=lambda i: -self._poses.areas[self.shapes[i]])
        large = by_area[: max(4, self.count * 2 // 3)]
        if len(large) < 2:
            return
        i, j = self._random.choice(large, 2, replace=False).tolist()
        self.x[i], self.x[j], self.y[i], self.y[j] = self.x[j], self.x[i], self.y[j], self.y[i]
        self._move_in()

    def passes(self) -> Iterator[float]:
        """The overlap left before each pass over the pieces, in cells times weight of the pieces; ends at 0."""
        self._weight = np.ones((self.count, self.count))
        for i in range(self.count):
            self._measure(i)
        while True:
            left = float(self._deep.sum()) / 2
            yield left
            if left <= 0:
                return
            overlapping = np.flatnonzero(self._deep.any(axis=1))
            self._random.shuffle(overlapping)
            for i in overlapping.tolist():
                if self._deep[i].any():
                    self._place(i)
            deepest = float(self._deep.max())
            if deepest > 0:
                growth = _LEAST_GROWTH + (_MOST_GROWTH - _LEAST_GROWTH) * self._deep / deepest
                shrunk = np.maximum(1.0, self._weight * _DECAY)
                self._weight = np.where(self._deep > 0, self._weight * growth, shrunk)

    def _measure(self, i: int) -> None:
        row = np.array([self._depth(i, j) for j in range(self.count)])
        self._deep[i] = row
        self._deep[:, i] = row

    def _depth(self, i: int, j: int) -> float:
        if i == j:
            return 0.0
        table = self._table(4 * self.shapes[i] + self.quarter[i], 4 * self.shapes[j] + self.quarter[j])
        x = self.x[j] - self.x[i] - table.first_x
        y = self.y[j] - self.y[i] - table.first_y
        width, height = table.depth.shape
        return float(table.depth.item(x, y)) if 0 <= x < width and 0 <= y < height else 0.0

    def _table(self, lies: int, moves: int) -> Table:
        return self._depths.tables[lies][moves] or self._depths.work_out(lies, moves)

    def _place(self, i: int) -> None:
        """Piece i goes to the best place there is for it, where that is better than its own."""
        near_by = self._random.random() < _NEAR_BY
        found = [m for q in self.turns[i] if (m := self._best_spot(i, q, near_by=near_by)) is not None]
        if not found:
            return
        left, quarter, x, y = min(found)
        if left < float((self._deep[i] * self._weight[i]).sum()) - 1e-6:
            self.x[i], self.y[i], self.quarter[i] = x, y, quarter
            self._measure(i)

    def _best_spot(self, i: int, quarter: int, *, near_by: bool) -> tuple[float, int, int, int] | None:
        x0, x1, y0, y1 = self._room[self.shapes[i]][quarter]
        if near_by:
            bounds = self._poses.bounds[self.shapes[i]][quarter]
            reach = int((bounds[2] - bounds[0]) / self._depths.cell) // 2 + 2
            x0, x1 = max(x0, min(self.x[i] - reach, x1)), min(x1, max(self.x[i] + reach, x0))
        if x1 < x0:
            return None
        chart = self._chart(i, quarter, x0, y0, x1 - x0 + 1, y1 - y0 + 1)
        best = int(chart.argmin())
        left = float(chart.item(best))
        if left <= 1e-6:
            free = np.flatnonzero(chart <= 1e-6)
            best = int(free[self._random.integers(len(free))])
        return left, quarter, x0 + best // chart.shape[1], y0 + best % chart.shape[1]

    def _chart(self, i: int, quarter: int, x0: int, y0: int, width: int, height: int) -> NDArray[np.float32]:
        """The weighted overlap of piece i at all places of a window of the raster."""
        chart = np.zeros((width, height), dtype=np.float32)
        weights = self._weight[i].tolist()
        moves = 4 * self.shapes[i] + quarter
        # The search spends its time in here: plain names, no calls.
        tables, shapes, quarters, xs, ys = self._depths.tables, self.shapes, self.quarter, self.x, self.y
        before, behind = self._before, self._behind
        first, last = x0 + before[moves], x0 + width - 1 + behind[moves]
        for j in range(self.count):
            lies = 4 * shapes[j] + quarters[j]
            if j == i or xs[j] + behind[lies] < first or xs[j] + before[lies] > last:
                continue
            table = tables[lies][moves] or self._depths.work_out(lies, moves)
            depth = table.depth
            wide, high = depth.shape
            x = xs[j] + table.first_x - x0
            y = ys[j] + table.first_y - y0
            if x >= width or y >= height or x + wide <= 0 or y + high <= 0:
                continue
            left, low = max(x, 0), max(y, 0)
            right, top = min(x + wide, width), min(y + high, height)
            part = depth[left - x : right - x, low - y : top - y]
            weight = weights[j]
            chart[left:right, low:top] += part if weight < _LIGHT else part * weight
        return chart
