"""Curves of drawing files as paths of points: arcs, bulges, ellipses, splines.

Everything is in mm. A chord leaves its curve by at most FLATTEN_MM / 2, and one step of an arc spans at most
STEP_DEG, so that the area of a small circle is right within 0.05 % too.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from ezdxf.math import BSpline, Vec3, fit_points_to_cad_cv

from planner.core.outline import LARGEST_MM, Point
from planner.core.pattern_files.model import FLATTEN_MM, MOST_POINTS_A_PIECE, Path

#: One step of a flattened arc spans no more than this (degrees).
STEP_DEG = 3.0
#: A chord leaves its curve by at most this (mm).
SAGITTA_MM = FLATTEN_MM / 2
#: Splines of a higher degree are refused; drawing programs write 2 to 5.
MOST_DEGREE = 11
#: No arc or ellipse of a garment has a larger radius (mm); beyond it a bulge is a straight line.
LARGEST_RADIUS_MM = 100 * LARGEST_MM


class CurveError(ValueError):
    """A curve that cannot be drawn; the message says why in plain words."""


def steps_for(radius_mm: float, sweep_rad: float) -> int:
    """How many chords an arc of this radius and sweep needs to keep SAGITTA_MM and STEP_DEG."""
    if radius_mm <= SAGITTA_MM:
        step = math.radians(STEP_DEG)
    else:
        step = min(math.radians(STEP_DEG), 2.0 * math.acos(1.0 - SAGITTA_MM / radius_mm))
    return max(1, math.ceil(abs(sweep_rad) / step - 1e-9))


def arc_path(centre: Point, radius_mm: float, start_rad: float, sweep_rad: float) -> Path:
    """An arc from its start angle through `sweep_rad` (positive is counter-clockwise), both ends included."""
    if not (math.isfinite(radius_mm) and 0 < radius_mm <= LARGEST_RADIUS_MM):
        raise CurveError("an arc has an impossible radius")
    if not (math.isfinite(start_rad) and math.isfinite(sweep_rad)):
        raise CurveError("an arc has an angle that is not a number")
    sweep_rad = max(-math.tau, min(math.tau, sweep_rad))
    count = steps_for(radius_mm, sweep_rad)
    cx, cy = centre
    angles = [start_rad + sweep_rad * i / count for i in range(count + 1)]
    return tuple((cx + radius_mm * math.cos(a), cy + radius_mm * math.sin(a)) for a in angles)


def bulge_path(start: Point, end: Point, bulge: float) -> Path:
    """The arc between two polyline points; `bulge` is the tangent of a quarter of its sweep (DXF reference).

    Positive runs counter-clockwise from start to end. Both ends are included exactly.
    """
    chord = math.dist(start, end)
    if not math.isfinite(bulge):
        raise CurveError("a bulge is not a number")
    if abs(bulge) < 1e-9 or chord < 1e-9:
        return start, end
    # The sagitta is bulge * chord / 2: less than a micron is a straight line, more than a garment is a slip.
    height = abs(bulge) * chord / 2
    if height < 1e-3:
        return start, end
    if height > LARGEST_MM:
        raise CurveError("a bulge is so large that the arc leaves the 20 m that a piece may have")
    sweep = 4.0 * math.atan(bulge)
    radius = chord * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    if radius > LARGEST_RADIUS_MM:
        return start, end
    # From the middle of the chord to the centre, along its left normal.
    offset = chord * (1.0 - bulge * bulge) / (4.0 * bulge)
    nx, ny = -(end[1] - start[1]) / chord, (end[0] - start[0]) / chord
    centre = (start[0] + end[0]) / 2 + nx * offset, (start[1] + end[1]) / 2 + ny * offset
    path = arc_path(centre, radius, math.atan2(start[1] - centre[1], start[0] - centre[0]), sweep)
    return start, *path[1:-1], end


def polyline_path(points: Sequence[Point], bulges: Sequence[float], *, closed: bool) -> Path:
    """A polyline with bulges as a path. A closed one is given without its first point repeated at the end."""
    path: list[Point] = list(points[:1])
    for i in range(len(points) - 1):
        path.extend(bulge_path(points[i], points[i + 1], bulges[i])[1:])
    if closed and len(points) > 1:
        path.extend(bulge_path(points[-1], points[0], bulges[-1])[1:-1])
    return tuple(path)


def ellipse_path(centre: Point, major: Point, minor: Point, start_rad: float, sweep_rad: float) -> Path:
    """An elliptic arc: centre + cos t · major + sin t · minor for t from the start through the sweep."""
    if not all(map(math.isfinite, (*centre, *major, *minor, start_rad, sweep_rad))):
        raise CurveError("an ellipse has a number that is not one")
    longest = max(math.hypot(*major), math.hypot(*minor))
    if not 0 < longest <= LARGEST_RADIUS_MM:
        raise CurveError("an ellipse has an impossible radius")
    sweep_rad = max(-math.tau, min(math.tau, sweep_rad))
    count = steps_for(longest, sweep_rad)
    angles = [start_rad + sweep_rad * i / count for i in range(count + 1)]
    return tuple(
        (
            centre[0] + math.cos(t) * major[0] + math.sin(t) * minor[0],
            centre[1] + math.cos(t) * major[1] + math.sin(t) * minor[1],
        )
        for t in angles
    )


def spline_path(
    control: Sequence[Point], degree: int, knots: Sequence[float], weights: Sequence[float]
) -> Path:
    """A B-spline (rational where weights are given) over its whole valid range of knots.

    Raises CurveError for a degree beyond MOST_DEGREE, too few control points, a knot vector or weights that do
    not fit.
    """
    if not 1 <= degree <= MOST_DEGREE:
        raise CurveError(f"a spline of degree {degree}: at most {MOST_DEGREE} is read")
    if len(control) <= degree:
        raise CurveError("a spline has too few control points")
    if len(control) > MOST_POINTS_A_PIECE:
        raise CurveError(f"a spline has more than {MOST_POINTS_A_PIECE:,} control points")
    if weights and (len(weights) != len(control) or not all(1e-9 < w < 1e9 for w in weights)):
        raise CurveError("the weights of a spline do not fit its control points")
    if knots:
        knots = _checked_knots(knots, len(control) + degree + 1)
    try:
        spline = BSpline(
            [Vec3(x, y) for x, y in control],
            order=degree + 1,
            knots=list(knots) or None,
            weights=list(weights) or None,
        )
        return _sampled(spline)
    except (ValueError, ArithmeticError, IndexError) as fault:
        raise CurveError("a spline cannot be drawn") from fault


def fitted_path(points: Sequence[Point]) -> Path:
    """The cubic spline through these points, as drawing programs draw a SPLINE that has fit points only."""
    distinct = [p for i, p in enumerate(points) if i == 0 or math.dist(p, points[i - 1]) > 1e-6]
    if len(distinct) < 3:
        return tuple(distinct)
    if len(distinct) > MOST_POINTS_A_PIECE:
        raise CurveError(f"a spline has more than {MOST_POINTS_A_PIECE:,} points")
    try:
        return _sampled(fit_points_to_cad_cv([Vec3(x, y) for x, y in distinct]))
    except (ValueError, ArithmeticError, IndexError) as fault:
        raise CurveError("a spline cannot be drawn") from fault


def _checked_knots(knots: Sequence[float], wanted: int) -> list[float]:
    """The knots brought to 0 … 1, so that no step can be too small to be seen."""
    span = knots[-1] - knots[0]
    if len(knots) != wanted or not all(map(math.isfinite, knots)) or not 1e-12 < span < 1e12:
        raise CurveError("the knots of a spline do not fit its control points")
    if any(b < a for a, b in itertools.pairwise(knots)):
        raise CurveError("the knots of a spline run backwards")
    return [round((k - knots[0]) / span, 10) for k in knots]


def _sampled(spline: BSpline) -> Path:
    """Points of a spline: every span between two knots halved until its chords keep to SAGITTA_MM."""
    knots = list(spline.knots())
    degree = spline.order - 1
    first, last = knots[degree], knots[len(knots) - 1 - degree]
    inner = sorted({k for k in knots if first < k < last})
    marks = [first, *inner, last]
    path: list[Point] = []
    for a, b in itertools.pairwise(marks):
        span = _sampled_span(spline, a, b)
        path.extend(span if not path else span[1:])
        if len(path) > MOST_POINTS_A_PIECE:
            raise CurveError(f"a spline needs more than {MOST_POINTS_A_PIECE:,} points")
    return tuple(path)


def _sampled_span(spline: BSpline, first: float, last: float) -> list[Point]:
    pieces = 4
    points = _points_at(spline, first, last, pieces)
    # Between two knots a spline is smooth, so halving quarters the deviation: 2**12 is never reached by a garment.
    while pieces < 4096:
        finer = _points_at(spline, first, last, pieces * 2)
        # Where it bends like an S the middle of a chord may lie on it by chance: twice in turn it does not.
        if max(_farthest(points), _farthest(finer)) <= SAGITTA_MM / 2:
            return points
        points, pieces = finer, pieces * 2
    return points


def _farthest(points: Sequence[Point]) -> float:
    """How far every second point lies from the chord of those beside it, at most (mm)."""
    return max(_stray(*points[i : i + 3]) for i in range(0, len(points) - 2, 2))


def _points_at(spline: BSpline, first: float, last: float, pieces: int) -> list[Point]:
    at = [first + (last - first) * i / pieces for i in range(pieces)] + [last]
    points = [(float(v.x), float(v.y)) for v in spline.points(at)]
    if not all(math.isfinite(x) and math.isfinite(y) for x, y in points):
        raise ArithmeticError("a point of the spline is not a number")
    return points


def _stray(a: Point, middle: Point, b: Point) -> float:
    """How far the middle lies from the chord, beyond whose ends it may lie where a curve turns back."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    squared = dx * dx + dy * dy
    if squared < 1e-18:
        return math.dist(a, middle)
    share = min(1.0, max(0.0, ((middle[0] - a[0]) * dx + (middle[1] - a[1]) * dy) / squared))
    return math.dist(middle, (a[0] + share * dx, a[1] + share * dy))
