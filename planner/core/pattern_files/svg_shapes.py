"""The shapes of SVG as lines and curves, and their way to flat points: the basic shapes, and chords for curves.

Everything becomes straight lines (two points) and cubic curves (four points), which a transform takes exactly: a
quadratic curve is a cubic one, and an arc of at most a twelfth of a turn differs from its cubic by less than a
millionth of its radius. Only after all transforms is it flattened, in mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

from planner.core.outline import Point
from planner.core.pattern_files.curves import SAGITTA_MM
from planner.core.pattern_files.model import MOST_POINTS_A_PIECE
from planner.core.pattern_files.svg_paths import PathReader, Pen
from planner.core.pattern_files.svg_units import Matrix, ShapeError, Trail, length_px, moved, numbers

#: Nothing is drawn further away than this after all transforms (mm).
FARTHEST_MM = 1e6
#: Chords of a curve turn by no more than this from one to the next, on average (degrees).
STEP_DEG = 2.0
#: A curve whose control points bend by less than this is a straight line (mm).
STRAIGHT_MM = 1e-3


def shape_trails(tag: str, attributes: Mapping[str, str]) -> list[Trail]:
    """The trails of a basic shape or path in its own user units. Raises ShapeError."""
    reader = SHAPES[tag]
    return [trail for trail in reader(attributes) if trail.segments]


def _line(attributes: Mapping[str, str]) -> list[Trail]:
    x1, y1, x2, y2 = (length_px(attributes.get(key, "")) for key in ("x1", "y1", "x2", "y2"))
    return [Trail([((x1, y1), (x2, y2))])]


def _polyline(attributes: Mapping[str, str], *, closed: bool = False) -> list[Trail]:
    values = numbers(attributes.get("points", ""))
    if len(values) % 2:
        raise ShapeError("its last point is half a point")
    points = list(zip(values[::2], values[1::2], strict=True))
    pairs = list(zip(points, points[1:] + points[:1], strict=True))
    return [Trail(list(pairs if closed else pairs[:-1]), closed)]


def _polygon(attributes: Mapping[str, str]) -> list[Trail]:
    return _polyline(attributes, closed=True)


def _rect(attributes: Mapping[str, str]) -> list[Trail]:
    """A rectangle; of its corner radii each stands for the other where that is missing, none passes half a side."""
    x, y, width, height = (length_px(attributes.get(key, "")) for key in ("x", "y", "width", "height"))
    if not (width > 0 and height > 0):
        return []
    given = [
        None if attributes.get(key, "auto").strip() == "auto" else length_px(attributes[key])
        for key in ("rx", "ry")
    ]
    rx = min(max(given[0] if given[0] is not None else given[1] or 0.0, 0.0), width / 2)
    ry = min(max(given[1] if given[1] is not None else given[0] or 0.0, 0.0), height / 2)
    pen = Pen()
    pen.move((x + rx, y))
    corners = [(x + width, y), (x + width, y + height), (x, y + height), (x, y)]
    ahead = [(1, 0), (0, 1), (-1, 0), (0, -1)]
    for i, ((cx, cy), (dx, dy)) in enumerate(zip(corners, ahead, strict=True)):
        nx, ny = ahead[(i + 1) % 4]
        pen.line((cx - dx * rx, cy - dy * ry))
        pen.arc(rx, ry, 0.0, (cx + nx * rx, cy + ny * ry), large=False, sweep=True)
    pen.close()
    return pen.trails


def _circle(attributes: Mapping[str, str]) -> list[Trail]:
    radius = attributes.get("r", "")
    return _ellipse({**attributes, "rx": radius, "ry": radius})


def _ellipse(attributes: Mapping[str, str]) -> list[Trail]:
    cx, cy, rx, ry = (length_px(attributes.get(key, "")) for key in ("cx", "cy", "rx", "ry"))
    if not (rx > 0 and ry > 0):
        return []
    pen = Pen()
    pen.move((cx + rx, cy))
    pen.arc(rx, ry, 0.0, (cx - rx, cy), large=False, sweep=True)
    pen.arc(rx, ry, 0.0, (cx + rx, cy), large=False, sweep=True)
    pen.close()
    return pen.trails


def _path(attributes: Mapping[str, str]) -> list[Trail]:
    return PathReader(attributes.get("d", "")).read()


SHAPES: dict[str, Callable[[Mapping[str, str]], list[Trail]]] = {
    "line": _line,
    "polyline": _polyline,
    "polygon": _polygon,
    "rect": _rect,
    "circle": _circle,
    "ellipse": _ellipse,
    "path": _path,
}


def flat_points(trail: Trail, matrix: Matrix) -> list[Point]:
    """The points of a trail after a transform to mm, curves replaced by chords as :mod:`curves` wants them.

    A closed trail repeats its first point at the end. Raises ShapeError for too many points or ones too far away.
    """
    points: list[Point] = []
    for segment in trail.segments:
        corners = [moved(matrix, point) for point in segment]
        if not all(abs(x) <= FARTHEST_MM and abs(y) <= FARTHEST_MM for x, y in corners):
            raise ShapeError("it lies further away than any table is long: check the unit")
        if not points:
            points.append(corners[0])
        points += _chords(corners) if len(corners) == 4 else corners[1:]
        if len(points) > MOST_POINTS_A_PIECE:
            raise ShapeError(f"it has more than {MOST_POINTS_A_PIECE:,} points")
    return points


def _chords(corners: Sequence[Point]) -> list[Point]:
    """Points along a cubic curve, the first left out.

    A curve cut into n equal steps leaves its chords by at most (d(d−1)/8)·max|Δ²|/n² (from memory: Wang's formula).
    As small circles must keep their area too, the steps turn by no more than STEP_DEG on average.
    """
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = corners
    bend = max(math.hypot(x0 - 2 * x1 + x2, y0 - 2 * y1 + y2), math.hypot(x1 - 2 * x2 + x3, y1 - 2 * y2 + y3))
    if bend < STRAIGHT_MM:
        return [(x3, y3)]
    steps = max(math.ceil(math.sqrt(0.75 * bend / SAGITTA_MM)), math.ceil(_turn_deg(corners) / STEP_DEG))
    if steps > MOST_POINTS_A_PIECE:
        raise ShapeError(f"it has more than {MOST_POINTS_A_PIECE:,} points")
    points = []
    for i in range(1, steps):
        t = i / steps
        s = 1.0 - t
        a, b, c, d = s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t
        points.append((a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3))
    points.append((x3, y3))
    return points


def _turn_deg(corners: Sequence[Point]) -> float:
    """By how many degrees the way along the control points turns: at least as much as the curve itself."""
    legs = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(corners)]
    ways = [math.atan2(y, x) for x, y in legs if x or y]
    turns = (abs(math.remainder(b - a, math.tau)) for a, b in pairwise(ways))
    return math.degrees(sum(turns))
