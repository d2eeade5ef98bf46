"""How deep two pieces lie in each other, on a raster: one table for each pair of poses.

The table of a pair says for each vector between the two reference points how far one piece must at least be moved to
be free of the other (the penetration depth, that is the distance to the edge of their no-fit polygon), in cells. Sums
of such tables, each moved to where a piece lies, are the map of all places for one more piece: after A. Sato,
T. Martins, M. Tsuzuki, "Raster penetration map applied to the irregular packing problem" (European Journal of
Operational Research 279, 2019). Between the points of the raster depth is interpolated.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from planner.core.lays.nofit import Floats, depth_table
from planner.core.lays.poses import Array, NoPose, Poses, turned

Ints = NDArray[np.int64]
Shorts = NDArray[np.int16]

#: At most and at least so many cells cover the strip's height, and about so much memory is used for tables (bytes).
MOST_CELLS, LEAST_CELLS = 256, 24
_MEMORY = 80e6
#: With so many different shapes, several sizes of a garment, no more cells: single hunts of six tops came out no longer
#: with 84 of them than with 167 (40 and 30 of them), and have a fourth of the tables to make before they begin.
_MANY_SHAPES, _CELLS_OF_MANY = 20, 84
#: No more points of the coarse raster, over which charts of all places are drawn, cover the strip's height.
_COARSE_CELLS = 64
#: How much more an overlap matters between larger pieces: as this power of the area of each.
_SIZE_POWER = 0.25
#: Each column of a coarse table ends in so many points without depth, so that it may be read eight points at a time.
SPARE = 7
#: Curves are followed this closely (cells).
_CLOSELY = 0.1


class Tables(NamedTuple):
    """All pairs of poses, a pose being 4 × shape + quarter turn.

    The table of pose p moving by pose l that lies begins at `frame[l, p, 0]` of `depth`, has `frame[l, p, 1]` columns
    of `frame[l, p, 2]` points and is for the vectors from (`frame[l, p, 3]`, `frame[l, p, 4]`) on, in steps of `step`
    cells.
    """

    depth: Floats
    frame: Ints
    step: int


class CoarseTables(NamedTuple):
    """The same in whole multiples of `unit` cells: in half the memory a chart is drawn in less time."""

    depth: Shorts
    unit: np.float32
    frame: Ints
    step: int


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
    most = _CELLS_OF_MANY if len(poses.outlines) >= _MANY_SHAPES else MOST_CELLS
    cells = int(min(most, (_MEMORY / whole) ** 0.5))
    if cells < LEAST_CELLS:
        raise NoPose("there are too many different shapes for tables of every two")
    return cells


class Depths:
    """The tables of all pairs of poses of a strip: `fine`, and of every so many cells `coarse` (0 outside)."""

    def __init__(self, poses: Poses, cells_across: int) -> None:
        """`cells_across` cells cover the strip's height."""
        self.cell = poses.height / cells_across
        rings = [_ring(outline, self.cell) for outline in poses.outlines]
        # The same overlap matters the more, the larger the pieces are that have to give way.
        mean = sum(poses.areas[s] for s in poses.shape_of) / len(poses.shape_of)
        weights = [(area / mean) ** _SIZE_POWER for area in poses.areas]
        found: dict[tuple[int, int], _Table] = {}
        for a, first in enumerate(rings):
            for b, second in enumerate(rings[: a + 1]):
                for turn in {(r - q) % 4 for q in poses.turns[a] for r in poses.turns[b]}:
                    depth, x, y = depth_table(first, turned(second, turn), self.cell)
                    table = _Table(depth * np.float32(weights[a] * weights[b]), x, y)
                    _add_turned(found, table, a, b, turn, poses.turns)
        step = math.ceil(cells_across / _COARSE_CELLS)
        self.fine = _packed(found, len(rings), 1)
        rougher = {id(t): t.coarse(step) for t in found.values()}
        self.coarse = _in_shorts(
            _packed({pair: rougher[id(t)] for pair, t in found.items()}, len(rings), step)
        )


class _Table(NamedTuple):
    depth: Floats
    first_x: int
    first_y: int

    def turned(self, quarter: int) -> _Table:
        """Both poses turned; (x, y) goes to (-y, x) by one quarter."""
        depth, x, y = self
        for _ in range(quarter % 4):
            depth, x, y = depth.T[::-1, :], -(y + depth.shape[1] - 1), x
        return _Table(depth, x, y)

    def coarse(self, step: int) -> _Table:
        """Every so many points of it, those of the strip's raster whatever the table's first one is."""
        skip_x, skip_y = -self.first_x % step, -self.first_y % step
        depth = np.maximum(self.depth[skip_x::step, skip_y::step], 0.0)
        depth = np.pad(depth, ((0, 0), (0, SPARE)))
        return _Table(depth, (self.first_x + skip_x) // step, (self.first_y + skip_y) // step)


def _add_turned(
    found: dict[tuple[int, int], _Table],
    table: _Table,
    lies: int,
    moves: int,
    turn: int,
    turns: list[tuple[int, ...]],
) -> None:
    """The table and all that follow from it: both turned alike, and seen from the other piece."""
    turned_by = [table.turned(quarter) for quarter in range(4)]
    for quarter in turns[lies]:
        other = (turn + quarter) % 4
        if other in turns[moves]:
            found[4 * lies + quarter, 4 * moves + other] = turned_by[quarter]
            found[4 * moves + other, 4 * lies + quarter] = turned_by[(quarter + 2) % 4]


def _packed(tables: dict[tuple[int, int], _Table], shapes: int, step: int) -> Tables:
    frame = np.zeros((4 * shapes, 4 * shapes, 5), dtype=np.int64)
    # Turned half round and seen from the other piece a table is the same one: it is held once.
    different = {id(t): t for t in tables.values()}
    depth = np.zeros(sum(t.depth.size for t in different.values()), dtype=np.float32)
    starts: dict[int, int] = {}
    start = 0
    for key, table in different.items():
        size = table.depth.size
        depth[start : start + size] = table.depth.ravel()
        starts[key] = start
        start += size
    for (lies, moves), table in tables.items():
        frame[lies, moves] = (starts[id(table)], *table.depth.shape, table.first_x, table.first_y)
    return Tables(depth, frame, step)


def _in_shorts(tables: Tables) -> CoarseTables:
    unit = np.float32(max(float(tables.depth.max()), 1.0) / np.iinfo(np.int16).max)
    return CoarseTables(np.rint(tables.depth / unit).astype(np.int16), unit, tables.frame, tables.step)


def _ring(outline: Array, cell: float) -> Array:
    simple = shapely.Polygon(outline).simplify(_CLOSELY * cell)
    if not simple.is_valid or simple.is_empty:
        simple = shapely.Polygon(outline)
    ring: Array = shapely.get_coordinates(shapely.orient_polygons(simple))[:-1]
    return ring
