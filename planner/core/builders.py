"""Pieces built from measures: trapezoid and strip.

The rectangle is :func:`planner.core.outline.rectangle`. All have named edges; x runs along the grain (drawn
upright: up), y across it (to the left).
"""

from __future__ import annotations

import math
from enum import StrEnum

from planner.core.outline import Edge, Outline, OutlineError, make_outline, rectangle

FourNames = tuple[str, str, str, str]


class StraightSide(StrEnum):
    """Which side of a trapezoid stands square to its ends."""

    NONE = "none"
    LEFT = "left"
    RIGHT = "right"


class Lies(StrEnum):
    """How the length of a strip lies on the cloth."""

    ALONG = "along"
    ACROSS = "across"
    BIAS = "bias"


def trapezoid(
    length_mm: float,
    bottom_mm: float,
    top_mm: float,
    *,
    straight: StraightSide = StraightSide.NONE,
    names: FourNames = ("right", "top", "left", "bottom"),
) -> Outline:
    """A trapezoid `length_mm` along the grain between two parallel ends: `bottom_mm` and `top_mm` across.

    Without a straight side both slope alike; otherwise the one named stands square to the ends. The names go
    to the right side, the top, the left side and the bottom, the grain upright. The wider end begins at y = 0.
    Area = length × (bottom + top) / 2. Raises OutlineError unless all three measures are above zero.
    """
    if not (length_mm > 0 and bottom_mm > 0 and top_mm > 0):
        raise OutlineError("length and both widths must be greater than zero")
    widest = max(bottom_mm, top_mm)
    share = {StraightSide.RIGHT: 0.0, StraightSide.NONE: 0.5, StraightSide.LEFT: 1.0}[straight]
    bottom_from, top_from = (widest - bottom_mm) * share, (widest - top_mm) * share
    corners = [
        (0.0, bottom_from),
        (length_mm, top_from),
        (length_mm, top_from + top_mm),
        (0.0, bottom_from + bottom_mm),
    ]
    return make_outline(corners, [Edge(name, i) for i, name in enumerate(names)])


def strip_cut_size_mm(
    length_mm: float,
    width_mm: float,
    *,
    layers: int = 1,
    edge_allowance_mm: float = 0.0,
    end_allowance_mm: float = 0.0,
) -> tuple[float, float]:
    """(cut length, cut width) in mm of a strip that is `length_mm` by `width_mm` when it is finished.

    Cut length = length + 2 × end allowance. Cut width = layers × width + 2 × edge allowance: one layer, two
    for a band folded in half or a tie turned like a tube, three for a binding with one edge left flat inside,
    four with both edges turned in (common practice; the thickness of the cloth is left out).
    Raises OutlineError for measures that are not above zero, allowances below it, or other than 1–4 layers.
    """
    if not (length_mm > 0 and width_mm > 0):
        raise OutlineError("length and width must be greater than zero")
    if edge_allowance_mm < 0 or end_allowance_mm < 0:
        raise OutlineError("a seam allowance cannot be less than zero")
    if layers not in (1, 2, 3, 4):
        raise OutlineError("a strip has one to four layers")
    return length_mm + 2 * end_allowance_mm, layers * width_mm + 2 * edge_allowance_mm


def strip(
    length_mm: float,
    width_mm: float,
    *,
    lies: Lies = Lies.ALONG,
    names: FourNames = ("long edge", "end", "other long edge", "other end"),
) -> Outline:
    """A strip in its cut size, lying along the grain, across it or on the bias (at 45° to it).

    The names go round from the first long edge. Its bounds begin at (0, 0).
    Raises OutlineError unless both measures are above zero.
    """
    flat = rectangle(length_mm, width_mm, names)
    turn = {Lies.ALONG: 0.0, Lies.ACROSS: math.pi / 2, Lies.BIAS: math.pi / 4}[lies]
    if not turn:
        return flat
    cos, sin = (0.0, 1.0) if lies is Lies.ACROSS else (math.cos(turn), math.sin(turn))
    points = [(x * cos - y * sin, x * sin + y * cos) for x, y in flat.points]
    return make_outline(points, flat.edges).at_origin()
