"""Entities of a DXF file as paths, points and texts in mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ezdxf.math import OCS, Vec3
from ezdxf.tools.text import fast_plain_mtext

from planner.core.outline import Point
from planner.core.pattern_files.curves import (
    CurveError,
    arc_path,
    ellipse_path,
    fitted_path,
    polyline_path,
    spline_path,
)
from planner.core.pattern_files.dxf_tags import Entity, Tag
from planner.core.pattern_files.model import JOIN_MM, MOST_POINTS, MOST_POINTS_A_PIECE, PatternFileError
from planner.core.pattern_files.rings import Stroke

#: A drawing may lie this far from its origin (mm), but no further.
FURTHEST_MM = 1e7
#: Longer texts are cut.
LONGEST_TEXT = 250


class Budget:
    """How many points a file may still have after its curves were flattened."""

    def __init__(self, file_name: str) -> None:
        self.file_name = file_name
        self.left = MOST_POINTS

    def spend(self, points: int) -> None:
        """Raises PatternFileError where there are too many."""
        self.left -= points
        if self.left < 0:
            raise PatternFileError(
                f"{self.file_name}: more than {MOST_POINTS:,} points, which is more than is read"
            )


@dataclass(frozen=True, slots=True)
class Mark:
    """A POINT: where it stands, with its depth (z), width (thickness) and angle where it has them."""

    at: Point
    depth_mm: float
    width_mm: float
    angle_deg: float | None


def number(text: str) -> float:
    """A number of the file. Raises CurveError where it is none."""
    try:
        value = float(text)
    except ValueError:
        raise CurveError(f"“{text.strip()[:30]}” stands where a number should be") from None
    if not math.isfinite(value):
        raise CurveError(f"“{text.strip()[:30]}” stands where a number should be")
    return value


def stroke_of(entity: Entity, scale: float, budget: Budget) -> Stroke | None:
    """A line of any kind as a stroke; None where it draws nothing. Raises CurveError where it cannot be drawn."""
    drawn = _DRAWERS[entity.kind](entity, scale)
    if drawn is None or len(drawn.points) < 2:
        return None
    if len(drawn.points) > MOST_POINTS_A_PIECE:
        raise CurveError(f"a line has more than {MOST_POINTS_A_PIECE:,} points, which is more than is read")
    budget.spend(len(drawn.points))
    return drawn


def mark_of(entity: Entity, scale: float) -> Mark:
    """A POINT. Raises CurveError for a number that is none."""
    values = _numbers(entity.tags, (10, 20, 30, 39, 50))
    at = _checked((values.get(10, 0.0) * scale, values.get(20, 0.0) * scale))
    return Mark(at, abs(values.get(30, 0.0) * scale), abs(values.get(39, 0.0) * scale), values.get(50))


def text_of(entity: Entity) -> str:
    """The words of a TEXT or MTEXT."""
    if entity.kind == "MTEXT":
        raw = "".join(value for code, value in entity.tags if code in (1, 3))[: 10 * LONGEST_TEXT]
        return str(fast_plain_mtext(raw)).strip()[:LONGEST_TEXT]
    return entity.text(1).strip()[:LONGEST_TEXT]


def place_of(entity: Entity, scale: float) -> Point:
    """Where a TEXT or INSERT stands."""
    values = _numbers(entity.tags, (10, 20))
    return _checked((values.get(10, 0.0) * scale, values.get(20, 0.0) * scale))


def _numbers(tags: Sequence[Tag], codes: Sequence[int]) -> dict[int, float]:
    """The first value of each of these group codes."""
    values: dict[int, float] = {}
    for code, text in tags:
        if code in codes and code not in values:
            values[code] = number(text)
    return values


def _checked(point: Point) -> Point:
    if not (abs(point[0]) <= FURTHEST_MM and abs(point[1]) <= FURTHEST_MM):
        raise CurveError("a point lies impossibly far away")
    return point


def _point(values: dict[int, float], x_code: int, scale: float) -> Point:
    """The point with this group code for its x. Raises CurveError where half of it is missing, as in damaged files."""
    if x_code not in values or x_code + 10 not in values:
        raise CurveError("a point of a line lacks one of its coordinates")
    return _checked((values[x_code] * scale, values[x_code + 10] * scale))


def _flat(entity: Entity, points: Sequence[Point]) -> tuple[Point, ...]:
    """Points of an entity that is drawn in a plane of its own (seen from behind, most often) in the drawing's."""
    axis = _numbers(entity.tags, (210, 220, 230))
    if not axis:
        return tuple(points)
    direction = Vec3(axis.get(210, 0.0), axis.get(220, 0.0), axis.get(230, 0.0))
    if direction.magnitude < 1e-9 or direction.isclose(Vec3(0, 0, 1)):
        return tuple(points)
    ocs = OCS(direction)
    return tuple(_checked((v.x, v.y)) for v in (ocs.to_wcs(Vec3(x, y, 0)) for x, y in points))


def _line(entity: Entity, scale: float) -> Stroke:
    values = _numbers(entity.tags, (10, 20, 11, 21))
    return Stroke(tuple(_point(values, x, scale) for x in (10, 11)), is_edge=False)


def _circle(entity: Entity, scale: float) -> Stroke:
    values = _numbers(entity.tags, (10, 20, 40))
    centre = _checked((values.get(10, 0.0) * scale, values.get(20, 0.0) * scale))
    path = arc_path(centre, values.get(40, 0.0) * scale, 0.0, math.tau)
    return Stroke(_flat(entity, path[:-1]), closed=True)


def _arc(entity: Entity, scale: float) -> Stroke:
    values = _numbers(entity.tags, (10, 20, 40, 50, 51))
    centre = _checked((values.get(10, 0.0) * scale, values.get(20, 0.0) * scale))
    start, end = math.radians(values.get(50, 0.0)), math.radians(values.get(51, 360.0))
    sweep = (end - start) % math.tau or math.tau
    path = arc_path(centre, values.get(40, 0.0) * scale, start, sweep)
    return Stroke(_flat(entity, path), is_edge=False)


def _ellipse(entity: Entity, scale: float) -> Stroke:
    values = _numbers(entity.tags, (10, 20, 11, 21, 31, 40, 41, 42, 210, 220, 230))
    centre = _checked((values.get(10, 0.0) * scale, values.get(20, 0.0) * scale))
    major = Vec3(values.get(11, 0.0), values.get(21, 0.0), values.get(31, 0.0)) * scale
    axis = Vec3(values.get(210, 0.0), values.get(220, 0.0), values.get(230, 1.0))
    if axis.magnitude < 1e-9:
        axis = Vec3(0, 0, 1)
    minor = axis.normalize().cross(major) * values.get(40, 1.0)
    start, end = values.get(41, 0.0), values.get(42, math.tau)
    sweep = (end - start) % math.tau
    whole = sweep < 1e-9 or math.tau - sweep < 1e-9
    path = ellipse_path(centre, (major.x, major.y), (minor.x, minor.y), start, math.tau if whole else sweep)
    return Stroke(path[:-1] if whole else path, closed=whole, is_edge=False)


def _spline(entity: Entity, scale: float) -> Stroke:
    knots = [number(value) for code, value in entity.tags if code == 40]
    weights = [number(value) for code, value in entity.tags if code == 41]
    control, fit = _series(entity.tags, 10, scale), _series(entity.tags, 11, scale)
    degree = _numbers(entity.tags, (71,)).get(71, 3.0)
    path = spline_path(control, int(degree), knots, weights) if control else fitted_path(fit)
    return Stroke(path)


def _series(tags: Sequence[Tag], x_code: int, scale: float) -> list[Point]:
    """All points whose x has this group code."""
    points: list[dict[int, float]] = []
    for code, text in tags:
        if code == x_code:
            points.append({code: number(text)})
        elif code == x_code + 10 and points:
            points[-1][code] = number(text)
    return [_point(values, x_code, scale) for values in points]


def _lwpolyline(entity: Entity, scale: float) -> Stroke | None:
    bulges: list[float] = []
    for code, text in entity.tags:
        if code == 10:
            bulges.append(0.0)
        elif code == 42 and bulges:
            bulges[-1] = number(text)
    return _polyline_stroke(entity, _series(entity.tags, 10, scale), bulges)


def _polyline(entity: Entity, scale: float) -> Stroke | None:
    flags = _flags(entity)
    if flags & (16 | 64):
        return None  # a mesh in space
    points: list[Point] = []
    bulges: list[float] = []
    for tags in entity.vertices:
        values = _numbers(tags, (10, 20, 42, 70))
        if flags & 4 and int(values.get(70, 0)) & 16:
            continue  # a control point of the curve, not on it
        points.append(_point(values, 10, scale))
        bulges.append(values.get(42, 0.0))
    return _polyline_stroke(entity, points, bulges)


def _polyline_stroke(entity: Entity, points: list[Point], bulges: list[float]) -> Stroke | None:
    if len(points) > MOST_POINTS_A_PIECE:
        raise CurveError(f"a line has more than {MOST_POINTS_A_PIECE:,} points, which is more than is read")
    if len(points) < 2:
        return None
    closed = bool(_flags(entity) & 1)
    if closed and len(points) > 2 and math.dist(points[0], points[-1]) <= JOIN_MM:
        points, bulges = points[:-1], bulges[:-1]  # flagged as closed, and the first point repeated as well
    path = polyline_path(points, bulges, closed=closed)
    return Stroke(_flat(entity, [_checked(point) for point in path]), closed=closed)


def _flags(entity: Entity) -> int:
    flags = _numbers(entity.tags, (70,)).get(70, 0.0)
    return int(flags) if 0 <= flags < 2**31 else 0


_DRAWERS = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
}
