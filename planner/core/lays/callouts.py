"""Where the number of a narrow piece stands beside it, with a line that leads to the piece.

Measures are those of the drawing, whatever its unit; only their proportion to one another counts. The drawing is taken
as a grid in which every cell has its price, so that the price of all places of a label is had at once.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

Point = tuple[float, float]
#: Left, low, right and high edge.
Box = tuple[float, float, float, float]

#: Cells in the height of a label, and the most cells of the grid.
CELLS, MOST_CELLS = 3, 250_000
#: What it costs, in heights of a label: to lie wholly on another piece, on a narrow one.
ON_A_PIECE, ON_A_NARROW_ONE = 2.0, 12.0
#: The same for a line that crosses another line or a label, or another narrow piece, which it could be taken to mean,
#: and for a label that touches a narrow piece: more than any way round.
ACROSS = 1000.0
#: Clear space between two labels, in heights of a label.
APART = 0.3
#: A line is at least this long, in heights of a label.
LEAST_LINE = 0.4
#: Places that are looked at closely, the cheapest; so many where the lines of all of those cross something.
CLOSELY, CLOSELY_AGAIN = 40, 400
#: After so many labels for which the closer look was in vain, the drawing gets no more closer looks.
PATIENCE = 5
#: Where along a narrow piece the line may end, the middle first.
ALONG = (0.5, 0.3, 0.7, 0.1, 0.9)


@dataclass(frozen=True, slots=True)
class Callout:
    """The label of a piece (its place in the list) stands in `box`; a line goes from `start` to `tip`, in it."""

    index: int
    box: Box
    start: Point
    tip: Point


def callouts(
    outlines: Sequence[Sequence[Point]],
    labels: Mapping[int, tuple[float, float]],
    inside: Box,
    taken: Sequence[Box] = (),
) -> tuple[Callout, ...]:
    """A place for each of the `labels` (width and height by the place of its piece in `outlines`).

    All stand inside the box `inside`, and on none of the boxes `taken` or one another. One that finds no place is left
    out.
    """
    shapes = [_shape(outline) for outline in outlines]
    wanted = [index for index in labels if not shapes[index].is_empty]
    if not wanted or inside[2] <= inside[0] or inside[3] <= inside[1]:
        return ()
    grid = _Grid(shapes, frozenset(labels), inside, min(high for _, high in labels.values()))
    for held in taken:
        grid.take(held)
    wanted.sort(key=lambda index: shapes[index].centroid.coords[0])
    found = [grid.place(index, *labels[index]) for index in wanted]
    return tuple(one for one in found if one is not None)


def _shape(outline: Sequence[Point]) -> BaseGeometry:
    if len(outline) < 3:
        return Polygon()
    shape = Polygon(outline)
    return shape if shape.is_valid else shape.buffer(0)


class _Grid:
    """The drawing in cells: what it costs to cover them, and which are taken."""

    def __init__(
        self, shapes: Sequence[BaseGeometry], narrow: frozenset[int], inside: Box, high: float
    ) -> None:
        self.shapes = shapes
        self.narrow = sorted(narrow)
        self.left, self.low, right, up = inside
        long, wide = right - self.left, up - self.low
        self.cell = max(high / CELLS, math.sqrt(long * wide / MOST_CELLS))
        self.columns, self.rows = max(1, int(long / self.cell)), max(1, int(wide / self.cell))
        x = self.left + (np.arange(self.columns) + 0.5) * self.cell
        y = self.low + (np.arange(self.rows) + 0.5) * self.cell
        price = np.zeros((self.rows, self.columns))
        for index, shape in enumerate(shapes):
            if not shape.is_empty:
                x1, y1, x2, y2 = shape.bounds
                across = slice(*np.searchsorted(x, (x1 - self.cell / 2, x2 + self.cell / 2)))
                up_down = slice(*np.searchsorted(y, (y1 - self.cell / 2, y2 + self.cell / 2)))
                mesh = np.meshgrid(x[across], y[up_down])
                # A narrow piece may lie between the middles of two cells.
                is_narrow = index in narrow
                held = shapely.contains_xy(shape.buffer(self.cell / 2) if is_narrow else shape, *mesh)
                part = price[up_down, across]
                part[held] = np.maximum(part[held], ON_A_NARROW_ONE if is_narrow else ON_A_PIECE)
        self.price = _summed(price)
        self.is_taken = np.zeros((self.rows, self.columns))
        self.bands = _Things([shapes[index] for index in self.narrow])
        self.rooms, self.lines = _Things(), _Things()
        self.patience = PATIENCE

    def take(self, held: Box, seen: Box | None = None) -> None:
        """Nothing may stand there any more; what is `seen` of it is no larger than that."""
        columns = [(edge - self.left) / self.cell for edge in (held[0], held[2])]
        rows = [(edge - self.low) / self.cell for edge in (held[1], held[3])]
        across = slice(max(0, math.floor(columns[0])), max(0, math.ceil(columns[1])))
        up_down = slice(max(0, math.floor(rows[0])), max(0, math.ceil(rows[1])))
        self.is_taken[up_down, across] = 1
        self.rooms.add(box(*(seen or held)))

    def place(self, index: int, wide: float, high: float) -> Callout | None:
        """The best place for a label of this size, which is taken then; None where there is none."""
        across, up_down = math.ceil(wide / self.cell), math.ceil(high / self.cell)
        if across > self.columns or up_down > self.rows:
            return None
        free = _over_boxes(_summed(self.is_taken), across, up_down) == 0
        cost = _over_boxes(self.price, across, up_down) / (across * up_down)
        x = self.left + np.arange(cost.shape[1]) * self.cell
        y = self.low + np.arange(cost.shape[0]) * self.cell
        tips = _tips(self.shapes[index])
        wholes = []
        for tip in tips:
            out_x = np.maximum(np.maximum(x - tip[0], tip[0] - (x + wide)), 0)
            out_y = np.maximum(np.maximum(y - tip[1], tip[1] - (y + high)), 0)
            out = np.hypot(out_x[None, :], out_y[:, None]) / high
            wholes.append(np.where(free & (out >= LEAST_LINE), cost + out, np.inf))
        best = None
        for many in (CLOSELY, CLOSELY_AGAIN):
            best = self._cheapest(
                [_cheapest_cells(whole, many) for whole in wholes], tips, index, (wide, high)
            )
            if best is None or best[0] < ACROSS or not self.patience:
                break
        if best is None:
            return None
        cost_there, room, tip = best
        if cost_there >= ACROSS and self.patience:
            self.patience -= 1
        start = _nearest(room, tip)
        apart = APART * high
        self.take((room[0] - apart, room[1] - apart, room[2] + apart, room[3] + apart), room)
        self.lines.add(LineString([start, tip]))
        return Callout(index, room, start, tip)

    def _cheapest(
        self, cells: Sequence[_Cells], tips: Sequence[Point], index: int, size: tuple[float, float]
    ) -> tuple[float, Box, Point] | None:
        """The cheapest of the places, of those for each tip, once it is known which lines cross what, with its cost; a
        label never hides a line.
        """
        ends = np.array(tips)[np.repeat(np.arange(len(tips)), [len(own.costs) for own in cells])]
        low = np.array([self.left, self.low]) + np.concatenate([own.corners for own in cells]) * self.cell
        high = low + size
        if not len(ends):
            return None
        rooms = shapely.box(*low.T, *high.T)
        lines = shapely.linestrings(np.stack([np.clip(ends, low, high), ends], axis=1))
        own = self.narrow.index(index)
        crossed = self.rooms.hit(lines) + self.lines.hit(lines) + self.bands.hit(lines, but=own)
        costs = np.concatenate([own.costs for own in cells]) + ACROSS * (crossed + self.bands.hit(rooms))
        costs[self.lines.hit(rooms) > 0] = np.inf
        at = int(np.argmin(costs))
        if not math.isfinite(costs[at]):
            return None
        room = (float(low[at, 0]), float(low[at, 1]), float(high[at, 0]), float(high[at, 1]))
        return float(costs[at]), room, (float(ends[at, 0]), float(ends[at, 1]))


class _Things:
    """Shapes that hundreds of lines are held against: those whose boxes do not meet are not looked at."""

    def __init__(self, shapes: Sequence[BaseGeometry] = ()) -> None:
        self._shapes: list[BaseGeometry] = []
        self._boxes: list[Box] = []
        for shape in shapes:
            self.add(shape)

    def add(self, shape: BaseGeometry) -> None:
        """One more; what is prepared once is looked up."""
        shapely.prepare(shape)
        self._shapes.append(shape)
        self._boxes.append(shape.bounds)

    def hit(self, others: np.ndarray, *, but: int | None = None) -> np.ndarray:
        """How many of the shapes each of the others touches; one is left out by its place."""
        many = len(others)
        if not self._shapes:
            return np.zeros(many, dtype=int)
        mine, theirs = np.array(self._boxes)[:, None, :], shapely.bounds(others)[None, :, :]
        meet = (mine[..., :2] <= theirs[..., 2:]).all(axis=-1) & (theirs[..., :2] <= mine[..., 2:]).all(
            axis=-1
        )
        if but is not None:
            meet[but] = False
        shape, other = np.nonzero(meet)
        touched = shapely.intersects(np.array(self._shapes)[shape], others[other])
        return np.bincount(other[touched], minlength=many)


class _Cells(NamedTuple):
    """Lower left corners of places for a label, in columns and rows of the grid, with what each costs."""

    corners: np.ndarray
    costs: np.ndarray


def _cheapest_cells(whole: np.ndarray, many: int) -> _Cells:
    """The cheapest cells, at most so `many`, in no order; none whose place cannot be had."""
    flat = whole.ravel()
    some = min(many, flat.size)
    cells = np.argpartition(flat, some - 1)[:some]
    cells = cells[np.isfinite(flat[cells])]
    rows, columns = np.divmod(cells, whole.shape[1])
    return _Cells(np.stack([columns, rows], axis=1), flat[cells])


def _summed(cells: np.ndarray) -> np.ndarray:
    """Sums of all cells left of and below each corner of the grid."""
    return np.pad(cells, ((1, 0), (1, 0))).cumsum(axis=0).cumsum(axis=1)


def _over_boxes(sums: np.ndarray, across: int, up_down: int) -> np.ndarray:
    """The sum of the cells of every box so many cells wide and high, by its lower left cell."""
    found: np.ndarray = (
        sums[up_down:, across:]
        - sums[:-up_down, across:]
        - sums[up_down:, :-across]
        + sums[:-up_down, :-across]
    )
    return found


def _tips(shape: BaseGeometry) -> list[Point]:
    """Points on the middle line of a narrow piece."""
    frame = shape.minimum_rotated_rectangle
    if frame.geom_type != "Polygon":
        return [shape.representative_point().coords[0]]
    a, b, c, d = list(frame.exterior.coords)[:4]
    if math.dist(a, b) < math.dist(b, c):
        a, b, c, d = b, c, d, a
    (x1, y1), (x2, y2) = ((a[0] + d[0]) / 2, (a[1] + d[1]) / 2), ((b[0] + c[0]) / 2, (b[1] + c[1]) / 2)
    points = [(x1 + t * (x2 - x1), y1 + t * (y2 - y1)) for t in ALONG]
    within = [point for point in points if shape.contains(shapely.Point(point))]
    return within or [shape.representative_point().coords[0]]


def _nearest(room: Box, tip: Point) -> Point:
    """Where the line leaves the label."""
    left, low, right, up = room
    return min(max(tip[0], left), right), min(max(tip[1], low), up)
