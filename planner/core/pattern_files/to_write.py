"""What the writers of pattern files take: pieces, styles and lays as plain data, and where things stand on the sheet.

Coordinates are those of :class:`Outline`: float mm, x along the grain, y across it, y to the left of x.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import shapely
from shapely.geometry import LineString

from planner.core.lays.model import Placement
from planner.core.lays.signs import signs_in_words, signs_of
from planner.core.outline import Edge, Outline, Point, make_outline
from planner.core.pattern_files.model import Marks, Notch

#: x_min, y_min, x_max, y_max in mm.
Bounds = tuple[float, float, float, float]

#: Clear space between two pieces on a written sheet (mm).
BETWEEN_MM = 40.0
#: A notch whose depth nobody named is drawn this deep (mm).
NOTCH_MM = 4.0
NO_MARKS = Marks()


@dataclass(frozen=True)
class PieceToWrite:
    """A piece in one size. `count` pieces are cut a garment, half of them mirrored if it is a `pair`."""

    name: str
    size: str
    outline: Outline
    marks: Marks = NO_MARKS
    count: int | None = None
    pair: bool = False
    role: str = ""
    note: str = ""

    @property
    def label(self) -> str:
        """Name and size as one would say them."""
        return f"{self.name} {self.size}".strip()


@dataclass(frozen=True)
class StyleToWrite:
    """All pieces of a style in all sizes, in the order they are to stand in the file."""

    name: str
    pieces: tuple[PieceToWrite, ...]
    sample_size: str = ""


@dataclass(frozen=True)
class LayToWrite:
    """A marker on its cloth: x along the cloth from 0 to `length_mm`, y across from 0 to `width_mm`.

    `edges` are those of each placement in turn, by the indices of its points; where they are not known a placement is
    one edge all round. `marks` are those of each placement in lay coordinates, `bundles` what it goes into in words.
    """

    name: str
    length_mm: float
    width_mm: float
    placements: tuple[Placement, ...]
    edges: tuple[tuple[Edge, ...], ...] = ()
    marks: tuple[Marks, ...] = ()
    bundles: tuple[str, ...] = ()


def placed_pieces(lay: LayToWrite) -> tuple[PieceToWrite, ...]:
    """The placements of a lay as pieces in lay coordinates, numbered in their order as on its drawing.

    The number leads the name ("3 sleeve"), so that two of the same piece can be told apart.
    """
    pieces = []
    count = len(lay.placements)
    known = zip(
        lay.placements,
        lay.edges or ((),) * count,
        lay.marks or (NO_MARKS,) * count,
        lay.bundles or ("",) * count,
        strict=True,
    )
    for number, (placed, named, marks, bundles) in enumerate(known, 1):
        note = f"style {placed.style}, {signs_in_words(signs_of(placed))}"
        note += f", {bundles}" if bundles else ""
        note += ", mirrored" if placed.mirrored else ""
        note += f", turned {placed.rotation_deg} degrees" if placed.rotation_deg else ""
        outline = make_outline(placed.outline, named)
        pieces.append(PieceToWrite(f"{number} {placed.piece}", placed.size, outline, marks, note=note))
    return tuple(pieces)


def spread(boxes: Sequence[tuple[str, Bounds]]) -> list[Point]:
    """How far each piece must be moved (mm) so that none lies on another: a row a piece, sizes side by side.

    `boxes` are names of pieces and the bounds of one size each; pieces of one name share a row. Rows run along x and
    are stacked along y, in the order given.
    """
    rows: dict[str, list[int]] = {}
    for index, (name, _) in enumerate(boxes):
        rows.setdefault(name, []).append(index)
    moves: list[Point] = [(0.0, 0.0)] * len(boxes)
    top = 0.0
    for row in rows.values():
        left = tallest = 0.0
        for index in row:
            x0, y0, x1, y1 = boxes[index][1]
            moves[index] = (left - x0, top - y0)
            left += x1 - x0 + BETWEEN_MM
            tallest = max(tallest, y1 - y0)
        top += tallest + BETWEEN_MM
    return moves


def grain_line(outline: Outline) -> tuple[Point, Point]:
    """A line along the grain inside the piece, over the middle three fifths of its longest chord there."""
    inside = outline.polygon.representative_point()
    x0, _, x1, _ = outline.bounds_mm
    crossing = outline.polygon.intersection(LineString([(x0 - 1, inside.y), (x1 + 1, inside.y)]))
    parts = [part for part in getattr(crossing, "geoms", [crossing]) if part.geom_type == "LineString"]
    a, _, b, _ = max((part.bounds for part in parts), key=lambda bounds: bounds[2] - bounds[0])
    return (a + 0.2 * (b - a), inside.y), (b - 0.2 * (b - a), inside.y)


def notch_bar(outline: Outline, notch: Notch) -> tuple[Point, Point]:
    """The short bar of a notch: from its place on the cut line into the piece.

    Without an angle of its own it stands at right angles to the nearest stretch of the cut line.
    """
    depth = notch.depth_mm if notch.depth_mm > 0 else NOTCH_MM
    angle = math.radians(notch.angle_deg) if notch.angle_deg is not None else _inwards(outline, notch)
    return (notch.x, notch.y), (notch.x + depth * math.cos(angle), notch.y + depth * math.sin(angle))


def _inwards(outline: Outline, notch: Notch) -> float:
    """Direction into the piece at the stretch nearest to the notch: to the left, as the ring is counter-clockwise."""
    ring = [*outline.points, outline.points[0]]
    # Stored outlines are rounded, so two points may be at one place: no line runs between them.
    stretches = [(a, b) for a, b in pairwise(ring) if a != b]
    # All at once: a file of some hundred pieces has thousands of notches.
    away = shapely.distance(shapely.linestrings(stretches), shapely.points(notch.x, notch.y))
    a, b = stretches[int(away.argmin())]
    return math.atan2(b[1] - a[1], b[0] - a[0]) + math.pi / 2
