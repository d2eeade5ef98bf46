"""Shapes of a strip in their quarter turns: convex parts and bounds.

A shape's reference point is its centroid; where it lies is said by that point. A pose is a shape in one of its
allowed quarter turns.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from planner.core.lays.solver import Arrangement, Spot, Strip

Array = NDArray[np.float64]


class NoPose(Exception):  # noqa: N818 - it says what happened
    """This is no question for our search: no quarter turns, too high a shape, too many different ones."""


class Poses:
    """The shapes of a strip, centred, in their quarter turns (0 to 3, counter-clockwise)."""

    def __init__(self, strip: Strip) -> None:
        self.height = strip.height
        self.shape_of = [n for n, s in enumerate(strip.shapes) for _ in range(s.demand)]
        self.turns = [_quarters(s.turns) for s in strip.shapes]
        outlines = [np.asarray(s.points, dtype=np.float64) for s in strip.shapes]
        self.centres = [np.asarray(Polygon(o).centroid.coords[0]) for o in outlines]
        self.outlines = [o - c for o, c in zip(outlines, self.centres, strict=True)]
        self.areas = [float(Polygon(o).area) for o in outlines]
        self.parts = [convex_parts(o) for o in self.outlines]
        self.bounds = [[_bounds(turned(o, q)) for q in range(4)] for o in self.outlines]
        self.turns = [
            _fitting(turns, bounds, self.height)
            for turns, bounds in zip(self.turns, self.bounds, strict=True)
        ]

    def places(self, arrangement: Arrangement) -> tuple[Array, list[int]]:
        """Reference points (n × 2) and quarter turns of an arrangement, in the order of `shape_of`.

        Raises ValueError where it does not hold every shape as often as wanted.
        """
        spots = sorted(arrangement, key=lambda s: s.shape)
        if [s.shape for s in spots] != self.shape_of:
            raise ValueError("the arrangement does not hold what is wanted")
        quarters = [round(s.rotation_deg / 90) % 4 for s in spots]
        points = [
            turned(self.centres[s.shape], q) + np.array([s.dx, s.dy])
            for s, q in zip(spots, quarters, strict=True)
        ]
        return np.asarray(points), quarters

    def arrangement(self, points: Array, quarters: Sequence[int]) -> Arrangement:
        """The other way round; the strip begins at x = 0."""
        first = min(
            p[0] + self.bounds[s][q][0] for s, q, p in zip(self.shape_of, quarters, points, strict=True)
        )
        spots = []
        for shape, quarter, point in zip(self.shape_of, quarters, points, strict=True):
            x, y = point - turned(self.centres[shape], quarter)
            spots.append(Spot(shape, 90.0 * quarter, float(x - first), float(y)))
        return tuple(spots)


def turned(points: Array, quarter: int) -> Array:
    """Points (… × 2) turned about the origin by so many quarters, without rounding."""
    x, y = points[..., 0], points[..., 1]
    xs, ys = ((x, y), (-y, x), (-x, -y), (y, -x))[quarter % 4]
    return np.stack([xs, ys], axis=-1)


def convex_parts(outline: Array) -> list[Array]:
    """A simple polygon cut into convex parts: a triangulation, whose diagonals go while both their ends stay convex.

    After S. Hertel and K. Mehlhorn, "Fast triangulation of simple polygons" (1983); at most four times as many parts
    as needed. Together the parts cover the polygon; beyond it they reach by rounding only.
    """
    whole = Polygon(outline)
    if whole.convex_hull.area - whole.area <= whole.area * 1e-9:
        return [_ring(whole.convex_hull)]
    corners: dict[tuple[float, float], int] = {}
    rings = [
        [corners.setdefault((float(x), float(y)), len(corners)) for x, y in _ring(triangle)]
        for triangle in shapely.constrained_delaunay_triangles(whole).geoms
        if triangle.area > 0
    ]
    points = list(corners)
    owner = {edge: n for n, ring in enumerate(rings) for edge in _edges(ring)}
    diagonals = [(a, b) for a, b in owner if a < b and (b, a) in owner]
    # Long diagonals first, for these make the slimmest triangles.
    for a, b in sorted(diagonals, key=lambda d: -math.dist(points[d[0]], points[d[1]])):
        first, second = owner[a, b], owner[b, a]
        joined = _joined(rings[first], rings[second], a, b)
        if all(_is_convex_at(points, joined, corner) for corner in (a, b)):
            rings[first], rings[second] = joined, []
            owner.update(dict.fromkeys(_edges(joined), first))
    return [np.array([points[n] for n in ring]) for ring in rings if ring]


def _edges(ring: Sequence[int]) -> list[tuple[int, int]]:
    return list(zip(ring, [*ring[1:], *ring[:1]], strict=True))


def _joined(first: Sequence[int], second: Sequence[int], a: int, b: int) -> list[int]:
    """Two counter-clockwise rings without the edge they share, from a to b in the first."""
    start, other = first.index(b), second.index(a)
    round_first = [*first[start:], *first[:start]]
    round_second = [*second[other:], *second[:other]]
    return round_first + round_second[1:-1]


def _is_convex_at(points: Sequence[tuple[float, float]], ring: Sequence[int], corner: int) -> bool:
    here = ring.index(corner)
    (ax, ay), (bx, by), (cx, cy) = (points[ring[(here + k) % len(ring)]] for k in (-1, 0, 1))
    return (bx - ax) * (cy - by) - (by - ay) * (cx - bx) >= 0.0


def _ring(shape: Polygon) -> Array:
    ring: Array = shapely.get_coordinates(shapely.orient_polygons(shape))[:-1]
    return ring


def _bounds(points: Array) -> tuple[float, float, float, float]:
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return x0, y0, x1, y1


def _fitting(
    turns: tuple[int, ...], bounds: Sequence[tuple[float, float, float, float]], height: float
) -> tuple[int, ...]:
    """The turns in which a shape fits across the strip, but for a hair."""
    found = tuple(q for q in turns if bounds[q][3] - bounds[q][1] <= height * (1 + 1e-5))
    if not found:
        raise NoPose("a shape is higher than the strip in every turn")
    return found


def _quarters(turns: Sequence[float]) -> tuple[int, ...]:
    quarters = [t / 90 for t in turns]
    if not quarters or any(abs(q - round(q)) > 1e-6 for q in quarters):
        raise NoPose("only quarter turns are searched")
    return tuple(sorted({round(q) % 4 for q in quarters}))
