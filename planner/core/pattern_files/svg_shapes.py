"""The shapes of SVG as lines and curves, and their way to flat points: lengths, transforms, path data.

Everything becomes straight lines (two points) and cubic curves (four points), which a transform takes exactly: a
quadratic curve is a cubic one, and an arc of at most a twelfth of a turn differs from its cubic by less than a
millionth of its radius. Only after all transforms is it flattened, in mm.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from planner.core.outline import Point
from planner.core.pattern_files.curves import SAGITTA_MM
from planner.core.pattern_files.model import MOST_POINTS_A_PIECE

#: a, b, c, d, e, f of SVG's matrix(): x' = a·x + c·y + e, y' = b·x + d·y + f.
Matrix = tuple[float, float, float, float, float, float]
Segment = tuple[Point, ...]

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
#: CSS pixels in a unit (CSS Values and Units 3, absolute lengths: 1 in = 2.54 cm = 96 px = 72 pt = 6 pc).
PIXELS = {
    "": 1.0,
    "px": 1.0,
    "in": 96.0,
    "cm": 96.0 / 2.54,
    "mm": 96.0 / 25.4,
    "q": 96.0 / 101.6,
    "pt": 96.0 / 72.0,
    "pc": 16.0,
}
#: No number in a drawing of clothes is larger, and none so large overflows.
LARGEST_NUMBER = 1e9
#: Nothing is drawn further away than this after all transforms (mm).
FARTHEST_MM = 1e6
#: A radius below this is none.
NO_RADIUS = 1e-9
#: Chords of a curve turn by no more than this from one to the next, on average (degrees).
STEP_DEG = 2.0
#: A curve whose control points bend by less than this is a straight line (mm).
STRAIGHT_MM = 1e-3
#: Arcs are cut into pieces of at most this angle before they become cubic curves.
ARC_STEP = math.pi / 6

NUMBER = re.compile(r"[\s,]*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)")
FLAG = re.compile(r"[\s,]*([01])")
COMMAND = re.compile(r"[\s,]*([MmZzLlHhVvCcSsQqTtAa])")
REST = re.compile(r"[\s,]*$")
LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z]*)\s*$")
TRANSFORM = re.compile(r"[\s,]*([A-Za-z]+)\s*\(([^()]*)\)")


class ShapeError(ValueError):
    """A shape that cannot be read; the message ends the sentence "… cannot be read: "."""


@dataclass(slots=True)
class Trail:
    """One stretch drawn without lifting the pen: segments that meet end to end."""

    segments: list[Segment] = field(default_factory=list)
    closed: bool = False


def number(text: str) -> float:
    """A number of SVG, finite and no larger than a drawing can need."""
    value = float(text)
    if not abs(value) <= LARGEST_NUMBER:
        raise ShapeError("a number in it is too large")
    return value


def length_px(text: str, *, default: float = 0.0) -> float:
    """A length in CSS pixels, from any absolute unit. Shares of the page and of letters are refused."""
    if not text.strip():
        return default
    match = LENGTH.match(text)
    if not match or match[2].lower() not in PIXELS:
        raise ShapeError(f"“{text.strip()[:20]}” is not a length it can be drawn with")
    return number(match[1]) * PIXELS[match[2].lower()]


def after(outer: Matrix, inner: Matrix) -> Matrix:
    """First `inner`, then `outer`."""
    a, b, c, d, e, f = outer
    g, h, i, j, k, m = inner
    return (
        a * g + c * h,
        b * g + d * h,
        a * i + c * j,
        b * i + d * j,
        a * k + c * m + e,
        b * k + d * m + f,
    )


def moved(matrix: Matrix, point: Point) -> Point:
    """A point after a transform."""
    a, b, c, d, e, f = matrix
    x, y = point
    return a * x + c * y + e, b * x + d * y + f


def transform(text: str) -> Matrix:
    """The matrix of a transform attribute: its functions apply from the last to the first."""
    matrix, at = IDENTITY, 0
    while not REST.match(text, at):
        match = TRANSFORM.match(text, at)
        if not match:
            raise ShapeError("its transform is damaged")
        matrix = after(matrix, _one_transform(match[1], _numbers(match[2])))
        at = match.end()
    return matrix


def _one_transform(name: str, values: list[float]) -> Matrix:
    match name, values:
        case "matrix", [a, b, c, d, e, f]:
            return a, b, c, d, e, f
        case "translate", [x]:
            return 1.0, 0.0, 0.0, 1.0, x, 0.0
        case "translate", [x, y]:
            return 1.0, 0.0, 0.0, 1.0, x, y
        case "scale", [s]:
            return s, 0.0, 0.0, s, 0.0, 0.0
        case "scale", [x, y]:
            return x, 0.0, 0.0, y, 0.0, 0.0
        case "rotate", [angle]:
            turn = math.radians(angle)
            return math.cos(turn), math.sin(turn), -math.sin(turn), math.cos(turn), 0.0, 0.0
        case "rotate", [angle, x, y]:
            about = after((1.0, 0.0, 0.0, 1.0, x, y), _one_transform("rotate", [angle]))
            return after(about, (1.0, 0.0, 0.0, 1.0, -x, -y))
        case "skewX", [angle]:
            return 1.0, 0.0, math.tan(math.radians(angle)), 1.0, 0.0, 0.0
        case "skewY", [angle]:
            return 1.0, math.tan(math.radians(angle)), 0.0, 1.0, 0.0, 0.0
    raise ShapeError("its transform is damaged")


def _numbers(text: str) -> list[float]:
    """All numbers of a list, in which nothing else may stand."""
    values, at = [], 0
    while match := NUMBER.match(text, at):
        values.append(number(match[1]))
        at = match.end()
    if not REST.match(text, at):
        raise ShapeError("a number in it is damaged")
    return values


def view_box(text: str) -> tuple[float, float, float, float] | None:
    """x, y, width, height of a viewBox attribute; None where there is none or it shows nothing."""
    values = _numbers(text)
    if len(values) != 4 or not (values[2] > 0 and values[3] > 0):
        return None
    return values[0], values[1], values[2], values[3]


def shape_trails(tag: str, attributes: Mapping[str, str]) -> list[Trail]:
    """The trails of a basic shape or path in its own user units. Raises ShapeError."""
    reader = SHAPES[tag]
    return [trail for trail in reader(attributes) if trail.segments]


def _line(attributes: Mapping[str, str]) -> list[Trail]:
    x1, y1, x2, y2 = (length_px(attributes.get(key, "")) for key in ("x1", "y1", "x2", "y2"))
    return [Trail([((x1, y1), (x2, y2))])]


def _polyline(attributes: Mapping[str, str], *, closed: bool = False) -> list[Trail]:
    values = _numbers(attributes.get("points", ""))
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
    pen = _Pen()
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
    pen = _Pen()
    pen.move((cx + rx, cy))
    pen.arc(rx, ry, 0.0, (cx - rx, cy), large=False, sweep=True)
    pen.arc(rx, ry, 0.0, (cx + rx, cy), large=False, sweep=True)
    pen.close()
    return pen.trails


def _path(attributes: Mapping[str, str]) -> list[Trail]:
    return _PathReader(attributes.get("d", "")).read()


SHAPES: dict[str, Callable[[Mapping[str, str]], list[Trail]]] = {
    "line": _line,
    "polyline": _polyline,
    "polygon": _polygon,
    "rect": _rect,
    "circle": _circle,
    "ellipse": _ellipse,
    "path": _path,
}


class _Pen:
    """Draws trails from moves, lines, curves and arcs."""

    def __init__(self) -> None:
        self.trails: list[Trail] = []
        self.at: Point = (0.0, 0.0)
        self.start: Point = (0.0, 0.0)
        self.lifted = True

    def move(self, to: Point) -> None:
        self.at = self.start = to
        self.lifted = True

    def line(self, to: Point) -> None:
        self._add((self.at, to))

    def curve(self, first: Point, second: Point, to: Point) -> None:
        self._add((self.at, first, second, to))

    def close(self) -> None:
        if not self.lifted:
            if self.at != self.start:
                self.line(self.start)
            self.trails[-1].closed = True
        self.move(self.start)

    def _add(self, segment: Segment) -> None:
        if self.lifted:
            self.trails.append(Trail())
            self.lifted = False
        self.trails[-1].segments.append(segment)
        self.at = segment[-1]

    def arc(self, rx: float, ry: float, turn_deg: float, to: Point, *, large: bool, sweep: bool) -> None:
        """An elliptical arc from its end points, as SVG 2 puts it in "Elliptical arc implementation notes" (B.2)."""
        rx, ry, (x1, y1), (x2, y2) = abs(rx), abs(ry), self.at, to
        if self.at == to:
            return
        if rx < NO_RADIUS or ry < NO_RADIUS:
            self.line(to)
            return
        cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
        # Everything in units of the radii, with the ellipse turned upright: the arc is one of a unit circle.
        hx, hy = (x1 - x2) / 2, (y1 - y2) / 2
        ux, uy = (cos * hx + sin * hy) / rx, (cos * hy - sin * hx) / ry
        reach = math.hypot(ux, uy)
        if reach > 1.0:
            rx, ry, ux, uy, reach = rx * reach, ry * reach, ux / reach, uy / reach, 1.0
        if reach < 1e-12:
            self.line(to)
            return
        away = math.sqrt(max(1.0 - reach * reach, 0.0)) / reach * (1.0 if large != sweep else -1.0)
        cx, cy = away * uy, -away * ux
        begin, end = math.atan2(uy - cy, ux - cx), math.atan2(-uy - cy, -ux - cx)
        sweep_angle = (end - begin) % (2 * math.pi) if sweep else -((begin - end) % (2 * math.pi))
        # From the unit circle back to the drawing.
        middle = ((x1 + x2) / 2, (y1 + y2) / 2)
        frame: Matrix = (cos * rx, sin * rx, -sin * ry, cos * ry, *middle)
        steps = max(1, math.ceil(abs(sweep_angle) / ARC_STEP - 1e-9))
        step = sweep_angle / steps
        pull = 4.0 / 3.0 * math.tan(step / 4)
        for i in range(steps):
            t0, t1 = begin + i * step, begin + (i + 1) * step
            c0, s0, c1, s1 = math.cos(t0), math.sin(t0), math.cos(t1), math.sin(t1)
            last = to if i == steps - 1 else moved(frame, (cx + c1, cy + s1))
            self.curve(
                moved(frame, (cx + c0 - pull * s0, cy + s0 + pull * c0)),
                moved(frame, (cx + c1 + pull * s1, cy + s1 - pull * c1)),
                last,
            )


class _PathReader:
    """Path data (SVG 2, chapter 9.3), command by command. A damaged path is refused, not drawn up to the damage."""

    def __init__(self, data: str) -> None:
        self.data = data
        self.position = 0
        self.pen = _Pen()
        #: The last control point of a curve before, for the smooth commands, and the kind of curve it was.
        self.control: Point = (0.0, 0.0)
        self.control_of = ""
        self.count = 0

    def read(self) -> list[Trail]:
        command = ""
        while not REST.match(self.data, self.position):
            match = COMMAND.match(self.data, self.position)
            if match:
                self.position, command = match.end(), match[1]
                if (
                    self.position == match.end()
                    and not self.pen.trails
                    and self.count == 0
                    and command not in "Mm"
                ):
                    raise ShapeError("its path does not begin with a move")
            elif command in ("", "Z", "z"):
                raise ShapeError("its path is damaged")
            elif command in "Mm":
                # Further points of a move are lines.
                command = "L" if command == "M" else "l"
            self.count += 1
            if self.count > MOST_POINTS_A_PIECE:
                raise ShapeError(f"its path has more than {MOST_POINTS_A_PIECE:,} points")
            self._draw(command)
        return self.pen.trails

    def _draw(self, command: str) -> None:
        kind, origin = command.upper(), self.pen.at if command.islower() else (0.0, 0.0)
        curve = ""
        match kind:
            case "M":
                self.pen.move(self._point(origin))
            case "Z":
                self.pen.close()
            case "L":
                self.pen.line(self._point(origin))
            case "H":
                self.pen.line((self._value() + origin[0], self.pen.at[1]))
            case "V":
                self.pen.line((self.pen.at[0], self._value() + origin[1]))
            case "C" | "S":
                first = self._point(origin) if kind == "C" else self._mirrored("C")
                self.control = self._point(origin)
                self.pen.curve(first, self.control, self._point(origin))
                curve = "C"
            case "Q" | "T":
                self.control = self._point(origin) if kind == "Q" else self._mirrored("Q")
                self._quadratic(self.control, self._point(origin))
                curve = "Q"
            case "A":
                rx, ry, turn = self._value(), self._value(), self._value()
                large, sweep = self._flag(), self._flag()
                self.pen.arc(rx, ry, turn, self._point(origin), large=large, sweep=sweep)
        self.control_of = curve

    def _quadratic(self, control: Point, to: Point) -> None:
        (x0, y0), (x1, y1), (x2, y2) = self.pen.at, control, to
        first = (x0 + (x1 - x0) * 2 / 3, y0 + (y1 - y0) * 2 / 3)
        self.pen.curve(first, (x2 + (x1 - x2) * 2 / 3, y2 + (y1 - y2) * 2 / 3), to)

    def _mirrored(self, kind: str) -> Point:
        """The control point before, mirrored at the pen, where the curve before was of this kind; else the pen."""
        if self.control_of != kind:
            return self.pen.at
        return 2 * self.pen.at[0] - self.control[0], 2 * self.pen.at[1] - self.control[1]

    def _value(self) -> float:
        return number(self._next(NUMBER))

    def _flag(self) -> bool:
        return self._next(FLAG) == "1"

    def _point(self, origin: Point) -> Point:
        x = self._value() + origin[0]
        return x, self._value() + origin[1]

    def _next(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.data, self.position)
        if not match:
            raise ShapeError("its path is damaged")
        self.position = match.end()
        return match[1]


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
