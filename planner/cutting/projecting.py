"""A nested lay as a projector throws it onto the cloth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely import box

from planner.common.drawing import LayDrawing, PlacedDrawing, draw_lay
from planner.core.outline import Outline, Point
from planner.cutting.models import Lay
from planner.cutting.stored import read_marker

#: Half the length of a cross's arms.
CROSS_MM = 20.0

#: A label smaller than this cannot be read on the cloth (mm).
LEAST_LABEL_MM = 8.0
#: Width of a letter and height of a line, in sizes of the letters; on the safe side for sans serif.
LETTER, LINE = 0.62, 1.1

#: A length in mm, as JavaScript reads it, and in words.
Choice = tuple[str, str]


@dataclass(frozen=True)
class Measures:
    """Round lengths in the workroom's units: to calibrate by, to move by, and between crosses on the cloth.

    A step of "0" is one picture on.
    """

    unit: str
    unit_name: str
    known: tuple[Choice, ...]
    first_known: str
    steps: tuple[Choice, ...]
    first_step: str
    cross_every_mm: float


METRIC = Measures(
    "mm", "millimetres",
    (("200", "200 mm"), ("300", "300 mm"), ("500", "500 mm"), ("1000", "1000 mm")), "500",
    (("50", "5 cm"), ("250", "25 cm"), ("500", "50 cm"), ("0", "one picture")), "500",
    500.0,
)  # fmt: skip
IMPERIAL = Measures(
    "in", "inches",
    (("254", "10 in"), ("304.8", "12 in"), ("508", "20 in"), ("914.4", "36 in")), "508",
    (("50.8", "2 in"), ("254", "10 in"), ("508", "20 in"), ("0", "one picture")), "508",
    508.0,
)  # fmt: skip


def measures_for(display: str) -> Measures:
    """Those of a metric or an imperial workroom."""
    return IMPERIAL if display == "imperial" else METRIC


@dataclass(frozen=True)
class Cross:
    """A cross at an edge of the cloth: its path, and how far along the cloth it stands, in words."""

    path: str
    x_mm: float
    y_mm: float
    text: str


@dataclass(frozen=True)
class Label:
    """What stands on a piece, centred; `size_mm` is the size of its letters."""

    text: str
    x_mm: float
    y_mm: float
    size_mm: float


@dataclass(frozen=True)
class Projected:
    """The lay in mm: one unit of the drawing is one millimetre on the cloth."""

    row: Lay
    drawing: LayDrawing
    labels: tuple[Label, ...]
    crosses: tuple[Cross, ...]
    measures: Measures


def projected(lay: Lay, measures: Measures) -> Projected:
    """The lay of a marker nested to an end, labelled with piece and size. ValueError where there is none.

    Crosses stand at both edges of the cloth, so that the next stretch can be laid against the last.
    """
    marker = read_marker(lay.marker)
    if marker is None:
        raise ValueError("the lay is not nested yet")
    pieces = [
        (f"{one.piece} {one.size}" + (" (mirrored)" if one.mirrored else ""), one.outline)
        for one in marker.placements
    ]
    drawing = draw_lay(lay.lay_width_mm, marker.length_mm, pieces)
    crosses = []
    for number in range(int(marker.length_mm // measures.cross_every_mm) + 1):
        x = number * measures.cross_every_mm
        text = f"{x / 25.4:.0f} in" if measures.unit == "in" else f"{x / 1000:.1f} m"
        for y in (0.0, lay.lay_width_mm):
            arms = f"M{x - CROSS_MM:.1f} {y:.1f}h{2 * CROSS_MM:.1f}M{x:.1f} {y - CROSS_MM:.1f}v{2 * CROSS_MM:.1f}"
            crosses.append(Cross(arms, x, y, text if y == 0 else ""))
    labels = [
        label_in(outline, lay.lay_width_mm, piece)
        for (_, outline), piece in zip(pieces, drawing.pieces, strict=True)
    ]
    return Projected(lay, drawing, tuple(label for label in labels if label), tuple(crosses), measures)


def label_in(outline: Sequence[Point], lay_width_mm: float, piece: PlacedDrawing) -> Label | None:
    """Number, piece and size as large as they fit into the piece; else its number alone; None where not even that fits.

    `outline` is in lay coordinates. Pieces do not overlap, so labels that stay inside theirs do not either.
    """
    whole = Outline(tuple((x, lay_width_mm - y) for x, y in outline), ()).polygon
    x, y = piece.label_x, piece.label_y
    for text in (f"{piece.number} {piece.title}", str(piece.number)):
        size = piece.label_size
        while size >= LEAST_LABEL_MM:
            half, high = LETTER * size * len(text) / 2, LINE * size / 2
            if whole.contains(box(x - half, y - high, x + half, y + high)):
                return Label(text, x, y, size)
            size *= 0.9
    return None
