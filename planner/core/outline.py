"""Outlines of pieces and their named edges.

An outline is the cut line of one piece in one size. Coordinates are float millimetres: x runs along the
grain (the length of the cloth), y across it. The ring is stored open (the first point is not repeated)
and counter-clockwise, so its signed area is positive. Edges are named stretches of the ring; together
they cover it exactly once.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from operator import mul
from typing import Any

from shapely.geometry import Polygon
from shapely.validation import explain_validity

Point = tuple[float, float]

#: Two points nearer than this are the same point (mm): stored outlines are rounded to 0.001 mm either way, which brings
#: points up to √2 times that apart to one place.
SAME_POINT_MM = 1.5e-3
#: Anything larger than this is a slip of the keyboard, not a garment (mm).
LARGEST_MM = 20_000.0


class OutlineError(ValueError):
    """An outline that cannot be cut; the message says why in plain words."""


@dataclass(frozen=True, slots=True)
class Edge:
    """A named stretch of an outline, from the point with index `start` to the start of the next edge."""

    name: str
    start: int


@dataclass(frozen=True)
class Outline:
    """The closed cut line of a piece in one size, with its edges.

    `points` is an open ring of at least three points in mm, counter-clockwise. `edges` are ordered by
    `start`; an edge runs to the start of the next one, the last one round to the start of the first.
    Build one with :func:`make_outline`, which repairs winding and repeats and refuses what cannot be cut.
    """

    points: tuple[Point, ...]
    edges: tuple[Edge, ...]

    @cached_property
    def polygon(self) -> Polygon:
        """The outline as a shapely polygon."""
        return Polygon(self.points)

    @cached_property
    def area_mm2(self) -> float:
        """Enclosed area in mm², positive."""
        return abs(signed_area_mm2(self.points))

    @cached_property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """(x_min, y_min, x_max, y_max) in mm."""
        xs, ys = zip(*self.points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def length_mm(self) -> float:
        """Extent along the grain in mm."""
        x0, _, x1, _ = self.bounds_mm
        return x1 - x0

    @property
    def width_mm(self) -> float:
        """Extent across the grain in mm."""
        _, y0, _, y1 = self.bounds_mm
        return y1 - y0

    @property
    def perimeter_mm(self) -> float:
        """Length of the whole cut line in mm."""
        return path_length_mm([*self.points, self.points[0]])

    def edge_path(self, index: int) -> tuple[Point, ...]:
        """Points of the edge with this index, both ends included, in the direction of the ring."""
        start = self.edges[index].start
        end = self.edges[(index + 1) % len(self.edges)].start
        if end > start:
            return self.points[start : end + 1]
        return self.points[start:] + self.points[: end + 1]

    def edge_paths(self, name: str) -> tuple[tuple[Point, ...], ...]:
        """Every edge with this name (a front has two shoulders) as a path of points."""
        return tuple(self.edge_path(i) for i, edge in enumerate(self.edges) if edge.name == name)

    def edge_length_mm(self, name: str) -> float:
        """Summed length in mm of all edges with this name. Raises KeyError where there is none."""
        return self._edge_lengths_mm[name]

    def edge_count(self, name: str) -> int:
        """How many edges have this name."""
        return self._edge_counts[name]

    @cached_property
    def _edge_counts(self) -> Counter[str]:
        return Counter(edge.name for edge in self.edges)

    def edge_lengths_mm(self) -> dict[str, float]:
        """Summed length in mm per edge name, in the order of the ring."""
        return dict(self._edge_lengths_mm)

    @cached_property
    def _edge_lengths_mm(self) -> dict[str, float]:
        lengths: dict[str, float] = {}
        for index, edge in enumerate(self.edges):
            lengths[edge.name] = lengths.get(edge.name, 0.0) + path_length_mm(self.edge_path(index))
        return lengths

    def moved(self, dx_mm: float, dy_mm: float) -> Outline:
        """The outline shifted by (dx, dy) mm."""
        return Outline(tuple((x + dx_mm, y + dy_mm) for x, y in self.points), self.edges)

    def at_origin(self) -> Outline:
        """The outline shifted so that its bounds begin at (0, 0)."""
        x0, y0, _, _ = self.bounds_mm
        return self.moved(-x0, -y0)

    def turned(self, degrees: int) -> Outline:
        """The outline turned about the origin by 0 or 180 degrees, the only turns that keep the grain."""
        if degrees % 360 == 0:
            return self
        if degrees % 360 != 180:
            raise ValueError(f"a piece may be turned by 0 or 180 degrees, not {degrees}")
        return Outline(tuple((-x, -y) for x, y in self.points), self.edges)

    def mirrored(self) -> Outline:
        """The mirror image across the grain (y becomes −y), wound counter-clockwise again."""
        n = len(self.points)
        points = tuple((x, -y) for x, y in reversed(self.points))
        # Point i stands at n-1-i afterwards, and an edge now starts where it used to end.
        ends = [self.edges[(i + 1) % len(self.edges)].start for i in range(len(self.edges))]
        edges = [Edge(edge.name, (n - 1 - end) % n) for edge, end in zip(self.edges, ends, strict=True)]
        return Outline(points, tuple(sorted(edges, key=lambda e: e.start)))

    def scaled(self, along: float, across: float) -> Outline:
        """The outline stretched by a factor along (x) and across (y) the grain; both must be > 0."""
        if not (along > 0 and across > 0):
            raise ValueError("scale factors must be greater than zero")
        return Outline(tuple((x * along, y * across) for x, y in self.points), self.edges)

    def as_json(self) -> dict[str, Any]:
        """Plain data for storing: points rounded to 0.001 mm, edges as [name, start]."""
        return {
            "points": [[round(x, 3), round(y, 3)] for x, y in self.points],
            "edges": [[edge.name, edge.start] for edge in self.edges],
        }


def outline_from_json(data: Mapping[str, Any]) -> Outline:
    """Reads what :meth:`Outline.as_json` wrote, trusting it to be checked already."""
    return Outline(
        tuple((float(x), float(y)) for x, y in data["points"]),
        tuple(Edge(str(name), int(start)) for name, start in data["edges"]),
    )


def make_outline(points: Iterable[Point], edges: Sequence[Edge] = ()) -> Outline:
    """A checked outline from points as they come.

    Drops a repeated last point and points that repeat their neighbour, winds the ring counter-clockwise and
    keeps the edges with it. Without `edges` the whole ring is one edge named "outline".

    Raises OutlineError for fewer than three points, numbers that are not finite, no area, a line that
    crosses itself, or a size beyond 20 m.
    """
    ring = [(float(x), float(y)) for x, y in points]
    if any(not (math.isfinite(x) and math.isfinite(y)) for x, y in ring):
        raise OutlineError("a point is not a number")
    if any(abs(x) > LARGEST_MM or abs(y) > LARGEST_MM for x, y in ring):
        raise OutlineError("a point lies more than 20 m away: check the unit")
    named = list(edges) or [Edge("outline", 0)]
    if any(not 0 <= edge.start < len(ring) for edge in named):
        raise OutlineError("an edge starts at a point that does not exist")
    ring, named = _without_repeats(ring, named)
    if len(ring) < 3:
        raise OutlineError("an outline needs at least three different points")
    named.sort(key=lambda e: e.start)
    if len({e.start for e in named}) != len(named):
        raise OutlineError("two edges start at the same point")
    outline = Outline(tuple(ring), tuple(named))
    if signed_area_mm2(ring) < 0:
        outline = _rewound(outline)
    if outline.area_mm2 < 1.0:
        # Two halves of a figure of eight cancel each other out, so this may be a crossing too.
        crosses = outline.polygon.convex_hull.area >= 1.0
        raise OutlineError("the outline crosses itself" if crosses else "the outline encloses no area")
    if not outline.polygon.is_valid:
        raise OutlineError(f"the outline crosses itself ({explain_validity(outline.polygon)})")
    return outline


def rectangle(
    length_mm: float, width_mm: float, names: tuple[str, str, str, str] = ("bottom", "right", "top", "left")
) -> Outline:
    """A rectangle `length_mm` along the grain by `width_mm` across, its lower left corner at (0, 0).

    The names go to the sides y = 0, x = length, y = width and x = 0 in that order.
    """
    if not (length_mm > 0 and width_mm > 0):
        raise OutlineError("length and width must be greater than zero")
    corners = [(0.0, 0.0), (length_mm, 0.0), (length_mm, width_mm), (0.0, width_mm)]
    return make_outline(corners, [Edge(name, i) for i, name in enumerate(names)])


def unfold(points: Sequence[Point], edges: Sequence[Edge]) -> Outline:
    """A whole piece from its half, drawn as an open path that begins and ends on the fold line y = 0.

    The half lies on one side of the fold. `edges` name the stretches of the open path. The fold itself
    vanishes; the mirrored stretches keep their names, and a stretch that meets its own mirror image on the
    fold is joined with it into one edge. The area doubles exactly.
    """
    if len(points) < 3:
        raise OutlineError("half an outline needs at least three points")
    if abs(points[0][1]) > 1e-3 or abs(points[-1][1]) > 1e-3:
        raise OutlineError("half an outline must begin and end on the fold (y = 0)")
    if not edges or edges[0].start != 0:
        raise OutlineError("the first edge must start at the first point")
    half = [(x, 0.0 if i in (0, len(points) - 1) else y) for i, (x, y) in enumerate(points)]
    last = len(half) - 1
    mirror = [(x, -y) for x, y in reversed(half[1:last])]
    starts = [edge.start for edge in edges]
    named = list(edges)
    # Mirrored edges in reverse order; the one meeting its image at the far end of the fold is merged into it.
    for i in range(len(edges) - 2, -1, -1):
        named.append(Edge(edges[i].name, 2 * last - starts[i + 1]))
    ring = half + mirror
    if len(edges) > 1:
        # The first edge continues its own mirror image across the fold: start it where the image starts.
        named = [named[-1], *named[1:-1]]
    return make_outline(ring, named)


def signed_area_mm2(points: Sequence[Point]) -> float:
    """Area of a ring by the shoelace formula, positive when counter-clockwise."""
    # Taken relative to the first point so that a far-off ring loses no digits; the sums run in C because
    # every estimate asks for the area of all pieces in all sizes.
    x0, y0 = points[0]
    xs = [x - x0 for x, _ in points]
    ys = [y - y0 for _, y in points]
    forward: float = sum(map(mul, xs, ys[1:] + ys[:1]))
    backward: float = sum(map(mul, ys, xs[1:] + xs[:1]))
    return (forward - backward) / 2.0


def path_length_mm(points: Sequence[Point]) -> float:
    """Length of an open path in mm."""
    return sum(map(math.dist, points, points[1:]))


def halfway_along(path: Sequence[Point]) -> Point:
    """The point half-way along an open path, by its length."""
    left = path_length_mm(path) / 2
    for start, end in pairwise(path):
        step = math.dist(start, end)
        if step >= left and step > 0:
            share = left / step
            return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])
        left -= step
    return path[-1]


def _without_repeats(ring: list[Point], edges: list[Edge]) -> tuple[list[Point], list[Edge]]:
    """Drops points that repeat their predecessor (and a last that repeats the first); edges follow."""
    kept: list[Point] = []
    new_index: list[int] = []
    for point in ring:
        if not kept or math.dist(point, kept[-1]) > SAME_POINT_MM:
            kept.append(point)
        new_index.append(len(kept) - 1)
    if len(kept) > 1 and math.dist(kept[0], kept[-1]) <= SAME_POINT_MM:
        kept.pop()
    return kept, [Edge(edge.name, new_index[edge.start] % max(len(kept), 1)) for edge in edges]


def _rewound(outline: Outline) -> Outline:
    """The same line walked the other way, edges kept."""
    flipped = outline.mirrored()
    return Outline(tuple((x, -y) for x, y in flipped.points), flipped.edges)
