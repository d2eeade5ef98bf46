"""A pen that draws trails of lines, curves and arcs, and the reader of path data that moves it."""

from __future__ import annotations

import math
import re

from planner.core.outline import Point
from planner.core.pattern_files.model import MOST_POINTS_A_PIECE
from planner.core.pattern_files.svg_units import (
    NUMBER,
    REST,
    Matrix,
    Segment,
    ShapeError,
    Trail,
    moved,
    number,
)

#: A radius below this is none.
NO_RADIUS = 1e-9
#: Arcs are cut into pieces of at most this angle before they become cubic curves.
ARC_STEP = math.pi / 6
FLAG = re.compile(r"[\s,]*([01])")
COMMAND = re.compile(r"[\s,]*([MmZzLlHhVvCcSsQqTtAa])")


class Pen:
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


class PathReader:
    """Path data (SVG 2, chapter 9.3), command by command. A damaged path is refused, not drawn up to the damage."""

    def __init__(self, data: str) -> None:
        self.data = data
        self.position = 0
        self.pen = Pen()
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
                if self.count == 0 and command not in "Mm":
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
