"""A nested lay as a projector throws it onto the cloth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

from shapely import box

from planner.common.drawing import LayDrawing, PlacedDrawing, draw_lay, path_data
from planner.core.lays.marks import NO_MARKS, notch_ends
from planner.core.lays.model import Marker
from planner.core.outline import Outline, Point
from planner.core.pattern_files.model import Marks
from planner.core.units import MM_PER_INCH, mm_in, plain_number
from planner.cutting.lay_papers import marks_of
from planner.cutting.marker_store import read_marker
from planner.cutting.models import Lay
from planner.cutting.stored import kept_styles, plies_of

#: Half the length of a cross's arms.
CROSS_MM = 20.0

#: A label smaller than this cannot be read on the cloth (mm).
LEAST_LABEL_MM = 8.0
#: Width of a letter and height of a line, in sizes of the letters; on the safe side for sans serif.
LETTER, LINE = 0.62, 1.1

#: A notch is thrown at least this long, or the thick line of the cut would swallow it (mm).
NOTCH_SEEN_MM = 20.0
#: Radius of the ring round a point to mark, and half the length of the cross through it (mm).
RING_MM, RING_CROSS_MM = 8.0, 12.0

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

    @property
    def mm_per_inch(self) -> float:
        """What the screen reckons typed inches with."""
        return MM_PER_INCH

    def place(self, number: int) -> str:
        """How far along the cloth the cross of this number stands, in words."""
        x_mm = number * self.cross_every_mm
        if self.unit == "in":
            return f"{x_mm / float(mm_in(self.unit)):.0f} in"
        return f"{x_mm / 1000:.1f} m"


METRIC = Measures(
    "mm", "millimetres",
    (("200", "200 mm"), ("300", "300 mm"), ("500", "500 mm"), ("1000", "1000 mm")), "500",
    (("50", "5 cm"), ("250", "25 cm"), ("500", "50 cm"), ("0", "one picture")), "500",
    500.0,
)  # fmt: skip


@cache
def _imperial() -> Measures:
    """Made once it is asked for: the first conversion of a unit takes a while."""

    def inches(count: int) -> Choice:
        return plain_number(mm_in("in") * count), f"{count} in"

    known, steps = [inches(n) for n in (10, 12, 20, 36)], [inches(n) for n in (2, 10, 20)]
    usual, _ = inches(20)
    return Measures("in", "inches", tuple(known), usual, (*steps, ("0", "one picture")), usual, float(usual))


def measures_for(display: str) -> Measures:
    """Those of a metric or an imperial workroom."""
    return _imperial() if display == "imperial" else METRIC


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
class ProjectedMarks:
    """What is marked in the pieces, as SVG paths in mm: notches, points, openings that are cut out, lines inside.

    A notch is a bar from the cut line into its piece, at least NOTCH_SEEN_MM long whatever its depth; a point is a
    ring with a cross through it.
    """

    notches: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    cutouts: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.notches or self.points or self.cutouts or self.lines)


@dataclass(frozen=True)
class Projected:
    """The lay in mm: one unit of the drawing is one millimetre on the cloth."""

    row: Lay
    drawing: LayDrawing
    labels: tuple[Label, ...]
    crosses: tuple[Cross, ...]
    measures: Measures
    marks: ProjectedMarks


def projected(lay: Lay, measures: Measures) -> Projected:
    """The lay of a marker nested to an end, labelled with piece and size. ValueError where there is none.

    `lay` comes with the options of its garments (`Lay.objects.with_options`); one query more for its styles.
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
        text = measures.place(number)
        for y in (0.0, lay.lay_width_mm):
            arms = f"M{x - CROSS_MM:.1f} {y:.1f}h{2 * CROSS_MM:.1f}M{x:.1f} {y - CROSS_MM:.1f}v{2 * CROSS_MM:.1f}"
            crosses.append(Cross(arms, x, y, text if y == 0 else ""))
    labels = [
        label_in(outline, lay.lay_width_mm, piece)
        for (_, outline), piece in zip(pieces, drawing.pieces, strict=True)
    ]
    shown = tuple(label for label in labels if label)
    marks = marks_in(_marks_of_pieces(lay, marker), lay.lay_width_mm)
    return Projected(lay, drawing, shown, tuple(crosses), measures, marks)


def _marks_of_pieces(lay: Lay, marker: Marker) -> list[Marks]:
    """The marks of the pieces where they lie, as the styles had them when the batch was planned; none of a style that
    was not kept."""
    styles = {style.number: style for style in kept_styles(lay.batch.snapshots.all())}
    plies = plies_of(lay)[0]
    return [
        marks_of(placed, plies, styles) if placed.style in styles else NO_MARKS
        for placed in marker.placements
    ]


def marks_in(pieces: Sequence[Marks], lay_width_mm: float) -> ProjectedMarks:
    """Marks in lay coordinates as paths of the drawing, in which y points down."""

    def at(points: Sequence[Point]) -> list[Point]:
        return [(x, lay_width_mm - y) for x, y in points]

    def line(points: Sequence[Point]) -> str:
        return path_data(at(points)).removesuffix("Z")

    def point(x: float, y: float) -> str:
        arm, ring = RING_CROSS_MM, RING_MM
        return (
            f"M{x - arm:.1f} {y:.1f}h{2 * arm:.1f}M{x:.1f} {y - arm:.1f}v{2 * arm:.1f}"
            f"M{x - ring:.1f} {y:.1f}a{ring:.1f} {ring:.1f} 0 1 0 {2 * ring:.1f} 0"
            f"a{ring:.1f} {ring:.1f} 0 1 0 {-2 * ring:.1f} 0"
        )

    return ProjectedMarks(
        notches=tuple(
            line(notch_ends(replace(notch, depth_mm=max(notch.depth_mm, NOTCH_SEEN_MM)), NOTCH_SEEN_MM))
            for one in pieces
            for notch in one.notches
        ),
        points=tuple(point(*hole) for one in pieces for hole in at(one.holes)),
        cutouts=tuple(path_data(at(ring)) for one in pieces for ring in one.cutouts),
        lines=tuple(
            line(path) for one in pieces for path in (*one.lines, *one.stripe_lines) if len(path) > 1
        ),
    )


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
