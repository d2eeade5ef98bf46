"""Numbers, lengths and transforms of SVG."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from planner.core.outline import Point
from planner.core.units import MM_PER_INCH

#: a, b, c, d, e, f of SVG's matrix(): x' = a·x + c·y + e, y' = b·x + d·y + f.
Matrix = tuple[float, float, float, float, float, float]
Segment = tuple[Point, ...]

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
#: CSS pixels in a unit (CSS Values and Units 3, absolute lengths: 1 in = 2.54 cm = 96 px = 72 pt = 6 pc).
PIXELS = {
    "": 1.0,
    "px": 1.0,
    "in": 96.0,
    "cm": 960.0 / MM_PER_INCH,
    "mm": 96.0 / MM_PER_INCH,
    "q": 24.0 / MM_PER_INCH,
    "pt": 96.0 / 72.0,
    "pc": 16.0,
}
#: No number in a drawing of clothes is larger, and none so large overflows.
LARGEST_NUMBER = 1e9

NUMBER = re.compile(r"[\s,]*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)")
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
        matrix = after(matrix, _one_transform(match[1], numbers(match[2])))
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


def numbers(text: str) -> list[float]:
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
    values = numbers(text)
    if len(values) != 4 or not (values[2] > 0 and values[3] > 0):
        return None
    return values[0], values[1], values[2], values[3]
