"""Closed lines that cross themselves: whether they are a piece at all, and what could be kept of them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import shapely
from shapely import make_valid
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from planner.core.outline import Point, signed_area_mm2
from planner.core.pattern_files.model import JOIN_MM, Mend, Path
from planner.core.pattern_files.ring_edges import cut_at_corners, cut_at_points
from planner.core.pattern_files.rings import Ring, without_repeats

#: What encloses less is no piece (mm²).
SMALLEST_AREA_MM2 = 1.0
#: No mend is proposed for a line of more points, or with more crossings, than this: that is a scribble.
MOST_POINTS_MENDED = 2_000
MOST_CROSSINGS = 50


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
