"""Smooth lines through the points of a paper pattern.

A curve is drawn through its points as a centripetal Catmull-Rom spline (Barry and Goldman's pyramid with
knots √distance apart): it passes through every point, never loops between two of them, and a point moved
changes only the two spans on either side. At a free end the line bends as its first three points do: the
point that would come before is the third one mirrored in the perpendicular bisector of the first two, which is
exact on a circle. Where a curve meets the fold its mirror image goes on, so it crosses the fold squarely.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from planner.core.outline import SAME_POINT_MM, Edge, OutlineError, Point

#: The polyline stays about this near to the curve (mm); a span is judged by three of its points.
FLATTENED_WITHIN_MM = 0.05
#: A span between two points is halved at most so often: 128 stretches.
_MOST_HALVINGS = 7


@dataclass(frozen=True, slots=True)
class SmoothedLine:
    """Points in mm with the curves flattened, the edges moved along, and for each point the index of the
    given point whose stretch it lies on."""

    points: tuple[Point, ...]
    edges: tuple[Edge, ...]
    origins: tuple[int, ...]


def smooth_line(
    points: Sequence[Point], edges: Sequence[Edge], curved: Collection[int], *, half: bool = False
) -> SmoothedLine:
    """Draws the stretches that begin at the points with an index in `curved` as curves.

    Neighbouring curved stretches are one curve, broken where a named edge begins. The points are a ring, or
    with `half` an open path from the fold y = 0 back to it. A ring that is curved all round and has at most
    one edge closes smoothly. Raises OutlineError where two points of a curve are the same.
    """
    spans = len(points) - 1 if half else len(points)
    starts = {edge.start for edge in edges}
    bends = [i in curved for i in range(spans)]
    if not any(bends):
        return SmoothedLine(tuple(points), tuple(edges), tuple(range(len(points))))
    closes = not half and all(bends) and len(starts) < 2
    breaks = {
        i
        for i in range(spans)
        if not closes and ((half and i == 0) or i in starts or not (bends[i] and bends[i - 1]))
    }
    drawn: list[Point] = []
    origins: list[int] = []
    place: dict[int, int] = {}
    for i in range(spans):
        place[i] = len(drawn)
        stretch = _stretch(points, i, breaks, half=half) if bends[i] else [points[i]]
        drawn += stretch
        origins += [i] * len(stretch)
    if half:
        drawn.append(points[-1])
        origins.append(spans)
        place[spans] = len(drawn) - 1
    return SmoothedLine(
        tuple(drawn), tuple(Edge(edge.name, place[edge.start]) for edge in edges), tuple(origins)
    )


def _stretch(points: Sequence[Point], i: int, breaks: Collection[int], *, half: bool) -> list[Point]:
    """The curved stretch from point i to the next, its end left out."""
    n = len(points)
    p1, p2 = points[i], points[(i + 1) % n]
    if math.dist(p1, p2) <= SAME_POINT_MM:
        raise OutlineError("two points of a curve are the same")
    begins = i in breaks
    ends = (i + 1) % n in breaks or (half and i + 1 == n - 1)
    p0 = None if begins else points[i - 1]
    p3 = None if ends else points[(i + 2) % n]
    if half and i == 0 and abs(p1[1]) <= SAME_POINT_MM:
        p0 = (p2[0], -p2[1])
    if half and i + 1 == n - 1 and abs(p2[1]) <= SAME_POINT_MM:
        p3 = (p1[0], -p1[1])
    if p0 is None and p3 is None:
        return [p1]  # a curve through two points is a straight line
    before = p0 if p0 is not None else _mirrored_in_bisector(p3 or p2, p1, p2)
    after = p3 if p3 is not None else _mirrored_in_bisector(before, p1, p2)
    return _flattened(before, p1, p2, after)


def _mirrored_in_bisector(point: Point, a: Point, b: Point) -> Point:
    """`point` mirrored in the perpendicular bisector of a and b."""
    ux, uy = b[0] - a[0], b[1] - a[1]
    along = 2 * ((point[0] - (a[0] + b[0]) / 2) * ux + (point[1] - (a[1] + b[1]) / 2) * uy) / (ux**2 + uy**2)
    return point[0] - along * ux, point[1] - along * uy


def _flattened(p0: Point, p1: Point, p2: Point, p3: Point) -> list[Point]:
    """The span from p1 to p2 as points of a line about FLATTENED_WITHIN_MM from it at most, p2 left out."""
    knots = [0.0]
    for a, b in ((p0, p1), (p1, p2), (p2, p3)):
        knots.append(knots[-1] + max(math.sqrt(math.dist(a, b)), 1e-6))

    def halves(t_a: float, a: Point, t_b: float, b: Point, depth: int) -> list[Point]:
        if depth == _MOST_HALVINGS:
            return [a]
        quarters = [_on_spline((p0, p1, p2, p3), knots, t_a + (t_b - t_a) * part / 4) for part in (1, 2, 3)]
        # Halved once in any case, so that what the three points of the whole span do not show is seen.
        if depth > 0 and all(_off_chord(q, a, b) <= FLATTENED_WITHIN_MM for q in quarters):
            return [a]
        middle, t_middle = quarters[1], (t_a + t_b) / 2
        return halves(t_a, a, t_middle, middle, depth + 1) + halves(t_middle, middle, t_b, b, depth + 1)

    return halves(knots[1], p1, knots[2], p2, 0)


def _on_spline(p: tuple[Point, Point, Point, Point], t: Sequence[float], at: float) -> Point:
    """Barry and Goldman's pyramid of linear interpolations."""

    def mix(a: Point, b: Point, t_a: float, t_b: float) -> Point:
        share = (at - t_a) / (t_b - t_a)
        return a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share

    a1, a2, a3 = (mix(p[i], p[i + 1], t[i], t[i + 1]) for i in range(3))
    return mix(mix(a1, a2, t[0], t[2]), mix(a2, a3, t[1], t[3]), t[1], t[2])


def _off_chord(point: Point, a: Point, b: Point) -> float:
    """Distance of a point from the line through a and b."""
    length = math.dist(a, b)
    if length <= SAME_POINT_MM:
        return math.dist(point, a)
    return abs((b[0] - a[0]) * (a[1] - point[1]) - (a[0] - point[0]) * (b[1] - a[1])) / length
