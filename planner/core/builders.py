"""Pieces built from measures: trapezoid and strip, and a paper piece measured from its fold.

The rectangle is :func:`planner.core.outline.rectangle`. All have named edges; x runs along the grain (drawn
upright: up), y across it (to the left).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from planner.core.curves import smooth_line
from planner.core.outline import Edge, Outline, OutlineError, make_outline, rectangle, unfold

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


@dataclass(frozen=True, slots=True)
class Station:
    """A measure of a paper piece: so far down the fold, so far out from it, square to the fold.

    `edge` names the edge that begins here; a `curved` stretch goes to the next station as part of a curve.
    """

    down_mm: float
    out_mm: float
    edge: str = ""
    curved: bool = False


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


def from_fold(stations: Sequence[Station]) -> Outline:
    """A whole piece from measures of its half: unfolded on the fold, the top or neck point at x = 0.

    The first and the last station lie on the fold (out = 0), and the first names its edge where any does.
    Down is −x, out is y, so sizes measured from the same point lie over each other there. Curved stretches
    are centripetal Catmull-Rom splines (see :mod:`planner.core.curves`).
    Raises OutlineError for fewer than three stations or a half that cannot be unfolded.
    """
    if any(station.out_mm < 0 for station in stations):
        raise OutlineError("a measure from the fold cannot be less than zero")
    points = [(0.0 - station.down_mm, station.out_mm) for station in stations]
    edges = [Edge(station.edge, i) for i, station in enumerate(stations) if station.edge]
    curved = {i for i, station in enumerate(stations) if station.curved}
    line = smooth_line(points, edges, curved, half=True)
    return unfold(line.points, line.edges or (Edge("outline", 0),))
