"""How deep two pieces lie in each other, on a raster: one table for each pair of poses.

The strip is covered with a grid; reference points lie on it while pieces are searched a place. The table of a pair
says for each vector between the two reference points how far one piece must at least be moved to be free of the other
(the penetration depth, that is the distance to the edge of their no-fit polygon), in cells. Sums of such tables, each
moved to where a piece lies, are the map of all places for one more piece: after A. Sato, T. Martins, M. Tsuzuki,
"Raster penetration map applied to the irregular packing problem" (European Journal of Operational Research 279, 2019).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from planner.core.lays.poses import Array, NoPose, Poses, convex_parts, minkowski_parts, turned

Floats = NDArray[np.float32]

#: At most and at least so many cells cover the strip's height, and about so much memory is used for tables (bytes).
MOST_CELLS, LEAST_CELLS = 128, 24
_MEMORY = 300e6

#: So little overlap is left to the exact compaction, which pushes it apart (cells).
LEFT_OVER = 0.5
#: How much more an overlap matters between larger pieces: as this power of the area of each.
_SIZE_POWER = 0.5
#: Curves are followed this closely on the raster (cells).
_CLOSELY = 0.3


@dataclass(frozen=True, slots=True)
class Table:
    """`depth[i, j]` is for the vector (first_x + i, first_y + j), in cells; beyond it there is no overlap."""

    depth: Floats
    first_x: int
    first_y: int


def cells_across(poses: Poses) -> int:
    """How many cells shall cover the strip's height: fewer, the more different poses there are.

    Raises NoPose where even the coarsest raster would take too much memory.
    """
    sizes = np.array(
        [
            [b[2] - b[0], b[3] - b[1]]
            for turns, bounds in zip(poses.turns, poses.bounds, strict=True)
            for q, b in enumerate(bounds)
            if q in turns
        ]
    )
    # A table is as large as both its poses together, along and across; float32.
    areas = np.prod(sizes[:, None, :] + sizes[None, :, :], axis=2) if len(sizes) <= 1000 else np.inf
    whole = float(np.sum(areas)) * 4 / poses.height**2
    cells = int(min(MOST_CELLS, (_MEMORY / whole) ** 0.5))
    if cells < LEAST_CELLS:
        raise NoPose("there are too many different shapes for tables of every two")
    return cells


class Depths:
    """The tables of all pairs of poses of a strip, worked out when first asked for."""

    def __init__(self, poses: Poses, cells_across: int) -> None:
        """`cells_across` cells cover the strip's height."""
        self.cell = poses.height / cells_across
        self._turns = poses.turns
        self._parts = [
            convex_parts(shapely.get_coordinates(shapely.Polygon(o).simplify(_CLOSELY * self.cell))[:-1])
            for o in poses.outlines
        ]
        # The same overlap matters the more, the larger the pieces are that have to give way.
        mean = sum(poses.areas[s] for s in poses.shape_of) / len(poses.shape_of)
        self._weights = [(area / mean) ** _SIZE_POWER for area in poses.areas]
        #: tables[pose that lies][pose that moves], a pose being 4 × shape + quarter turn.
        self.tables: list[list[Table | None]] = [
            [None] * (4 * len(poses.outlines)) for _ in range(4 * len(poses.outlines))
        ]

    def work_out(self, first: int, second: int) -> Table:
        """The table of two poses; it and all that follow from it by turning are kept in `tables`."""
        (a, q), (b, r) = divmod(first, 4), divmod(second, 4)
        weight = self._weights[a] * self._weights[b]
        table = self._table(a, b, (r - q) % 4, weight)
        for turn in self._turns[a]:
            if (turn + r - q) % 4 not in self._turns[b]:
                continue
            # Both turned alike; and seen from the other piece, which is turned by half.
            lies, moves = 4 * a + turn, 4 * b + (turn + r - q) % 4
            straight = _turned_table(table, turn)
            back = _turned_table(table, (turn + 2) % 4)
            self.tables[lies][moves] = straight
            self.tables[moves][lies] = back
        result = self.tables[first][second]
        assert result is not None
        return result

    def _table(self, lies: int, moves: int, turn: int, weight: float) -> Table:
        parts = [turned(p, turn) for p in self._parts[moves]]
        region = shapely.union_all(minkowski_parts(self._parts[lies], parts))
        x0, y0, x1, y1 = (v / self.cell for v in region.bounds)
        first_x, first_y = math.floor(x0), math.floor(y0)
        shape = (math.ceil(x1) - first_x + 1, math.ceil(y1) - first_y + 1)
        xs, ys = np.indices(shape, dtype=np.float64)
        xs, ys = (xs + first_x) * self.cell, (ys + first_y) * self.cell
        shapely.prepare(region)
        inside = shapely.contains_xy(region, xs, ys)
        depth = np.zeros(shape, dtype=np.float32)
        depth[inside] = _distances(np.stack([xs[inside], ys[inside]]), region) / self.cell
        return Table(np.maximum(depth - LEFT_OVER, 0.0) * np.float32(weight), first_x, first_y)


def _distances(points: Array, region: shapely.Geometry) -> Floats:
    """Distances of points (2 × n) to the edge of a region."""
    xs, ys = points[0].astype(np.float32), points[1].astype(np.float32)
    nearest = np.full(xs.shape, np.inf, dtype=np.float32)
    for ring in shapely.get_rings(shapely.get_parts(region)):
        corners = shapely.get_coordinates(ring).astype(np.float32)
        for (ax, ay), (dx, dy) in zip(corners[:-1], np.diff(corners, axis=0), strict=True):
            px, py = xs - ax, ys - ay
            share = np.clip((px * dx + py * dy) / max(dx * dx + dy * dy, np.float32(1e-30)), 0.0, 1.0)
            px -= share * dx
            py -= share * dy
            np.minimum(nearest, px * px + py * py, out=nearest)
    return np.sqrt(nearest)


def _turned_table(table: Table, quarter: int) -> Table:
    width, height = table.depth.shape
    last_x, last_y = table.first_x + width - 1, table.first_y + height - 1
    if quarter == 0:
        return table
    if quarter == 2:
        return Table(np.ascontiguousarray(table.depth[::-1, ::-1]), -last_x, -last_y)
    if quarter == 1:  # (x, y) goes to (-y, x)
        return Table(np.ascontiguousarray(table.depth.T[::-1, :]), -last_y, table.first_x)
    return Table(np.ascontiguousarray(table.depth.T[:, ::-1]), table.first_y, -last_x)
