"""Closed lines of a drawing and their edges, on the way to an outline. Everything is in mm.

A reader hands :class:`Stroke` lines to :func:`planner.core.pattern_files.chaining.chain`, which joins them into
:class:`Ring` objects, whichever way and in whatever order they were drawn. A ring then gets its edges
(:func:`cut_at_points`, :func:`cut_at_corners`), is turned to its grain (:func:`turned`), and becomes an outline
(:func:`ring_outline`; :func:`planner.core.pattern_files.folding.unfolded` for half a piece). Curves become paths in
:mod:`planner.core.pattern_files.curves`.
"""

from __future__ import annotations

import itertools
import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import make_valid
from shapely.geometry import LinearRing, Polygon
from shapely.geometry.base import BaseGeometry

from planner.core.outline import (
    Edge,
    Outline,
    Point,
    make_outline,
    signed_area_mm2,
)
from planner.core.pattern_files.model import JOIN_MM, Mend, Path

#: Points of one line nearer than this are the same point (mm): files write three to six digits.
REPEAT_MM = 1e-3
#: A line that turns by more than this at a point has a corner there (degrees).
CORNER_DEG = 30.0
#: The direction of a line is taken over at least this length, so that a tiny kink is no corner (mm).
CORNER_REACH_MM = 0.5
#: …but never over more points than this.
MOST_STEPS = 50
#: What encloses less is no piece (mm²).
SMALLEST_AREA_MM2 = 1.0
#: No mend is proposed for a line of more points, or with more crossings, than this: that is a scribble.
MOST_POINTS_MENDED = 2_000
MOST_CROSSINGS = 50
#: Edges of a ring with more of them than this are not matched between sizes; garments have four to twelve.
MOST_EDGES_MATCHED = 100


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


def cut_at_points(ring: Ring, cuts: Sequence[Point]) -> Ring:
    """The ring with an edge from each of the `cuts` to the next; cuts further than JOIN_MM from it are left out.

    A cut between two points of the ring becomes a point of it. With fewer than two cuts on the ring it is returned
    without edges.
    """
    starts: set[int] = set()
    inserted: dict[int, list[tuple[float, Point]]] = {}
    for cut, place in zip(cuts, places_on(ring.points, cuts), strict=True):
        if place.distance_mm > JOIN_MM:
            continue
        ends = (place.segment, (place.segment + 1) % len(ring.points))
        near = min(ends, key=lambda i: math.dist(ring.points[i], cut))
        if math.dist(ring.points[near], cut) <= JOIN_MM:
            starts.add(near)
        else:
            inserted.setdefault(place.segment, []).append((place.share, cut))
    new_points: list[Point] = []
    new_starts: list[int] = []
    for i, point in enumerate(ring.points):
        if i in starts:
            new_starts.append(len(new_points))
        new_points.append(point)
        for _, cut in sorted(inserted.get(i, [])):
            if math.dist(cut, new_points[-1]) > REPEAT_MM:
                new_starts.append(len(new_points))
                new_points.append(cut)
    if len(new_starts) < 2:
        return replace(ring, starts=(), names=())
    return replace(ring, points=tuple(new_points), starts=tuple(new_starts), names=())


def cut_at_corners(ring: Ring, *, sharper_than_deg: float = CORNER_DEG) -> Ring:
    """The ring with edges between its corners; with fewer than two corners it is one single edge."""
    turns = turns_deg(ring.points)
    found = [i for i, turn in enumerate(turns) if turn > sharper_than_deg]
    corners = _sharpest(ring.points, found, turns)
    return replace(ring, starts=tuple(corners) or (0,), names=())


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
    """By how many degrees a drawing is turned so that this grain direction runs along x.

    A grain line has no head, so a piece could come out either way up. The seam of the two cases is put at 150°,
    far from the upright, level and bias grain that people draw: a grain line that is a hair off level in one size
    and a hair off the other way in the next must not turn one of the sizes upside down.
    """
    return -(grain_deg if grain_deg < 150.0 else grain_deg - 180.0)


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


def mended_crossing(ring: Ring) -> Ring | None:
    """A proposal for a ring that crosses itself: its largest part, with a Mend that says what is lost.

    None where the ring does not cross itself, or nothing usable is left of it.
    """
    polygon = Polygon(ring.points)
    if polygon.is_valid or _is_scribble(ring.points):
        return None
    parts = sorted(_polygons(make_valid(polygon)), key=lambda part: -part.area)
    largest = next(iter(parts), None)
    if largest is None or largest.area < 1.0:
        return None
    points = without_repeats(list(largest.exterior.coords), closed=True)
    if signed_area_mm2(points) < 0:
        points = points[::-1]
    at = _crossing_at(ring.points, points)
    old = [ring.points[i] for i in ring.starts]
    lost_mm2 = sum(part.area for part in parts[1:])
    mend = Mend(
        "crossing",
        at,
        f"the outline crosses itself near ({at[0]:.1f}, {at[1]:.1f}) mm; its largest part, "
        f"{largest.area / 100:.1f} cm², would be kept, and {_area_in_words(lost_mm2)} would fall away",
        drawn=ring.points,
        crossings=_crossings(ring.points) or (at,),
    )
    plain = Ring(points, gaps=(*ring.gaps, mend))
    cut = cut_at_points(plain, old) if len(old) > 1 else plain
    return cut if cut.starts else cut_at_corners(cut)


def encloses_ground(ring: Ring) -> bool:
    """True for a ring with more than a square millimetre in it.

    The two halves of a ring that crosses itself in its middle cancel out in its signed area; they are ground all the
    same, and the ring is one to be asked about.
    """
    if ring.area_mm2 > SMALLEST_AREA_MM2:
        return True
    polygon = Polygon(ring.points)
    if polygon.convex_hull.area <= SMALLEST_AREA_MM2 or _is_scribble(ring.points):
        return False
    return any(part.area > SMALLEST_AREA_MM2 for part in _polygons(make_valid(polygon)))


def lined_up(rings: Sequence[Ring]) -> list[Ring]:
    """The same piece in several sizes with edge 1 at the same corner in each.

    Sizes with as many edges as the first are rotated so that their edges start where those of the first do, in
    shares of the piece's length and width; others are left alone.
    """
    if not rings:
        return []
    wanted = _corner_shares(rings[0])
    result = []
    for ring in rings:
        if len(ring.starts) != len(wanted) or not 0 < len(wanted) <= MOST_EDGES_MATCHED:
            result.append(ring)
            continue
        have = _corner_shares(ring)

        def apart(shift: int, have: list[Point] = have) -> float:
            turned_round = have[shift:] + have[:shift]
            return sum(math.dist(a, b) ** 2 for a, b in zip(wanted, turned_round, strict=True))

        shift = min(range(len(have)), key=apart)
        result.append(_from_start(ring, shift))
    return result


def _corner_shares(ring: Ring) -> list[Point]:
    xs, ys = zip(*ring.points, strict=True)
    x0, y0, width, height = min(xs), min(ys), max(xs) - min(xs) or 1.0, max(ys) - min(ys) or 1.0
    return [((ring.points[i][0] - x0) / width, (ring.points[i][1] - y0) / height) for i in ring.starts]


def _from_start(ring: Ring, shift: int) -> Ring:
    """The ring written from its edge with index `shift` on."""
    offset = ring.starts[shift]
    count = len(ring.points)
    starts = sorted((i - offset) % count for i in ring.starts)
    names = ring.names[shift:] + ring.names[:shift]
    return replace(
        ring, points=ring.points[offset:] + ring.points[:offset], starts=tuple(starts), names=names
    )


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


def turns_deg(points: Sequence[Point]) -> list[float]:
    """By how many degrees a ring turns at each of its points, either way."""
    count = len(points)

    def direction(i: int, step: int) -> float:
        j = i
        for _ in range(min(count, MOST_STEPS)):
            j = (j + step) % count
            if math.dist(points[i], points[j]) >= CORNER_REACH_MM:
                break
        return math.atan2(step * (points[j][1] - points[i][1]), step * (points[j][0] - points[i][0]))

    turns = []
    for i in range(count):
        turn = math.degrees(direction(i, 1) - direction(i, -1)) % 360.0
        turns.append(min(turn, 360.0 - turn))
    return turns


def _sharpest(points: Sequence[Point], corners: Sequence[int], turns: Sequence[float]) -> list[int]:
    """Corners, in the order of the ring, without those that lie within reach of a sharper neighbour."""
    kept: list[int] = []
    for i in corners:
        if kept and math.dist(points[i], points[kept[-1]]) <= CORNER_REACH_MM:
            if turns[i] > turns[kept[-1]]:
                kept[-1] = i
        else:
            kept.append(i)
    if len(kept) > 1 and math.dist(points[kept[0]], points[kept[-1]]) <= CORNER_REACH_MM:
        kept.pop(0 if turns[kept[0]] < turns[kept[-1]] else -1)
    return kept


def _is_scribble(points: Sequence[Point]) -> bool:
    """True where mending would take longer than looking for the crossings, or nobody could judge the mend."""
    if len(points) > MOST_POINTS_MENDED:
        return True
    lines = shapely.linestrings([(a, b) for a, b in itertools.pairwise([*points, points[0]])])
    tree = shapely.STRtree(lines)
    # A few lines first, for all lines of a true scribble take their time. Every line meets itself and its neighbours.
    for some in (lines[:: max(1, len(lines) // 30)], lines):
        if tree.query(some, predicate="intersects").shape[1] > 3 * len(some) + 2 * MOST_CROSSINGS:
            return True
    return False


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    if isinstance(shape, Polygon):
        return [shape]
    parts: list[Polygon] = []
    for part in getattr(shape, "geoms", ()):
        parts.extend(_polygons(part))
    return parts


def _area_in_words(area_mm2: float) -> str:
    """Small areas need their digits: a loop at a corner is a few square millimetres."""
    if area_mm2 < 0.5:
        return "less than 1 mm²"
    return f"{area_mm2:.0f} mm²" if area_mm2 < 100 else f"{area_mm2 / 100:.1f} cm²"


def _crossings(points: Sequence[Point]) -> Path:
    """Where a closed line meets itself, but for the points at which one piece of it leads on to the next."""
    ends = list(itertools.pairwise([*points, points[0]]))
    lines = shapely.linestrings(ends)
    tree = shapely.STRtree(lines)
    found: list[Point] = []
    for one, other in tree.query(lines, predicate="intersects").T.tolist():
        beside = (other - one) % len(ends) in (1, len(ends) - 1)
        if one >= other or beside:
            continue
        meets = shapely.intersection(lines[one], lines[other]).centroid
        at = (float(meets.x), float(meets.y))
        if all(math.dist(at, had) > JOIN_MM for had in found):
            found.append(at)
    return tuple(found[:MOST_CROSSINGS])


def _crossing_at(before: Sequence[Point], after: Sequence[Point]) -> Point:
    """A point of the mended ring that the drawn one did not have: the crossing."""
    had = {(round(x, 6), round(y, 6)) for x, y in before}
    for x, y in after:
        if (round(x, 6), round(y, 6)) not in had:
            return x, y
    return after[0]
