"""Closed lines of a drawing and their edges, on the way to an outline. Everything is in mm.

A reader hands :class:`Stroke` lines to :func:`planner.core.pattern_files.chaining.chain`, which joins them into
:class:`Ring` objects, whichever way and in whatever order they were drawn. A ring then gets its edges
(:mod:`ring_edges`), is turned to its grain (:func:`turned`), and becomes an outline (:func:`ring_outline`;
:func:`planner.core.pattern_files.folding.unfolded` for half a piece). Curves become paths in
:mod:`planner.core.pattern_files.curves`; lines that cross themselves are looked at in :mod:`ring_mending`.
"""

from __future__ import annotations

import itertools
import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import LinearRing

from planner.core.outline import (
    SAME_POINT_MM,
    Edge,
    Outline,
    Point,
    make_outline,
    signed_area_mm2,
)
from planner.core.pattern_files.model import Mend, Path

#: Points of one line nearer than this are the same point (mm): files write three to six digits.
REPEAT_MM = SAME_POINT_MM


@dataclass(frozen=True, slots=True)
class Stroke:
    """One line of a drawing as a path in mm.

    `closed`: the path is a ring (the first point need not be repeated). `is_edge`: the line is an edge of its own;
    False for bits of a longer line (single LINEs and ARCs), whose joins are edges only where there is a corner.
    """

    points: Path
    closed: bool = False
    is_edge: bool = True
    name: str = ""


@dataclass(frozen=True, slots=True)
class Ring:
    """A closed line: an open ring of points, counter-clockwise, and the indices where its edges start.

    `starts` is ascending and may be empty (edges not known yet). `names` is empty or names the edges in the order
    of `starts`. `gaps` are the places that were closed by a straight line though the drawing was open there.
    """

    points: Path
    starts: tuple[int, ...] = ()
    gaps: tuple[Mend, ...] = ()
    names: tuple[str, ...] = ()

    @property
    def area_mm2(self) -> float:
        """Enclosed area in mm²."""
        return abs(signed_area_mm2(self.points))


class RingError(ValueError):
    """Lines from which no outline can be made; the message says why in plain words, `kind` for code."""

    def __init__(self, kind: str, text: str) -> None:
        super().__init__(text)
        self.kind = kind


def without_repeats(points: Sequence[Point], *, closed: bool = False) -> Path:
    """The path without points that repeat their neighbour; of a ring also without a last that repeats the first."""
    kept: list[Point] = []
    for point in points:
        if not kept or math.dist(point, kept[-1]) > REPEAT_MM:
            kept.append(point)
    while closed and len(kept) > 1 and math.dist(kept[0], kept[-1]) <= REPEAT_MM:
        kept.pop()
    return tuple(kept)


@dataclass(frozen=True, slots=True)
class Place:
    """The place of a ring nearest to some point: on which segment, at which share of it, how far from the point."""

    segment: int
    share: float
    distance_mm: float


def places_on(ring: Sequence[Point], points: Sequence[Point]) -> list[Place]:
    """For each of the points the nearest place on a closed ring."""
    if not points:
        return []
    line = LinearRing(ring)
    along = ring_lengths_mm(ring)
    dots = shapely.points(list(points))
    at = shapely.line_locate_point(line, dots)
    away = shapely.distance(line, dots)
    places = []
    for position, distance in zip(at.tolist(), away.tolist(), strict=True):
        segment = min(max(bisect_right(along, position) - 1, 0), len(ring) - 1)
        step = along[segment + 1] - along[segment]
        share = min(1.0, (position - along[segment]) / step) if step > 0 else 0.0
        places.append(Place(segment, share, distance))
    return places


def ring_lengths_mm(ring: Sequence[Point]) -> list[float]:
    """How far along a closed ring each of its points lies, and at the end its whole length."""
    steps = (math.dist(a, b) for a, b in itertools.pairwise([*ring, ring[0]]))
    return [0.0, *itertools.accumulate(steps)]


def turned(points: Sequence[Point], degrees: float) -> Path:
    """Points turned about (0, 0), counter-clockwise."""
    if degrees == 0:
        return tuple(points)
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    if degrees % 90 == 0:
        c, s = round(c), round(s)
    return tuple((c * x - s * y, s * x + c * y) for x, y in points)


def line_angle_deg(start: Point, end: Point) -> float:
    """Direction of a line without a head, 0 ≤ angle < 180 degrees."""
    angle = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0])) % 180.0
    angle = round(angle, 6)
    return 0.0 if angle >= 180.0 else angle


def turn_to_grain_deg(grain_deg: float) -> float:
    """The turn, in degrees, that makes a drawing with this grain direction run along x.

    A grain line has no head, so a piece could come out either way up. The seam of the two cases is put at 150°,
    far from the upright, level and bias grain that people draw: a grain line that is a hair off level in one size
    and a hair off the other way in the next must not turn one of the sizes upside down.
    """
    return -(grain_deg if grain_deg < 150.0 else grain_deg - 180.0)


def middle_of(points: Path) -> Point:
    """The middle of the box that a line fills."""
    xs, ys = zip(*points, strict=True)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def moved(points: Sequence[Point], dx: float, dy: float) -> Path:
    """Points shifted by (dx, dy) mm."""
    return tuple((x + dx, y + dy) for x, y in points)


def ring_outline(ring: Ring) -> Outline:
    """The outline of a ring that is a whole piece; edges without a name are called "edge 1", "edge 2"…

    Raises OutlineError where it cannot be cut.
    """
    starts = ring.starts or (0,)
    names = ring.names or tuple(f"edge {n}" for n in range(1, len(starts) + 1))
    return make_outline(ring.points, [Edge(name, i) for name, i in zip(names, starts, strict=True)])


def wound(ring: Ring) -> Ring:
    """The ring counter-clockwise, its edges with it."""
    if signed_area_mm2(ring.points) >= 0:
        return ring
    count = len(ring.points)
    ends = [ring.starts[(i + 1) % len(ring.starts)] for i in range(len(ring.starts))]
    # Point i stands at count-1-i afterwards, and an edge now starts where it used to end.
    pairs = sorted((count - 1 - end, i) for i, end in enumerate(ends))
    names = tuple(ring.names[i] for _, i in pairs) if ring.names else ()
    return replace(ring, points=ring.points[::-1], starts=tuple(at for at, _ in pairs), names=names)
