"""The pieces of a marker at true scale, and what is written on each. Lay measures are mm, paper measures are points."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from reportlab.lib.units import mm as POINTS_PER_MM  # noqa: N812
from reportlab.pdfgen.canvas import Canvas
from shapely.geometry import LineString, Polygon, box

from planner.core.lays.callouts import Box, Callout, callouts
from planner.core.lays.signs import signs_in_words
from planner.papers.data import DrawnPiece, LayPaper, Point
from planner.papers.marks import INK, MIRRORED
from planner.papers.piece_labels import chord_along, draw_beside, size_beside, widest_place
from planner.papers.tiling import Tiling, Window
from planner.papers.typefaces import LEADING, draw_text, width_of

#: The largest letters a piece is named in, the smallest that are still written, and the smallest for all that is known
#: of it (points).
LARGEST, SMALLEST, SMALLEST_OF_ALL = 26.0, 6.0, 3.6
#: A piece this much longer than the largest circle inside it is a strip (in radii).
LONG_STRIP = 5.0


def at_mm(point: Point) -> Point:
    """A point of the lay on paper (points)."""
    return point[0] * POINTS_PER_MM, point[1] * POINTS_PER_MM


@dataclass(frozen=True)
class MarkerPiece:
    """A piece with its place for words, measured once however many sheets it lies on.

    `beside` is where its number stands (mm) if it has no room for that itself.
    """

    piece: DrawnPiece
    beside: Callout | None = None

    @cached_property
    def polygon(self) -> Polygon:
        """The outline (mm)."""
        return Polygon(self.piece.outline)

    @cached_property
    def widest(self) -> tuple[Point, float]:
        """Centre and radius of the largest circle inside (mm)."""
        return widest_place(self.piece.outline)

    @cached_property
    def words(self) -> PieceWords:
        """What is written on it."""
        return PieceWords(self)

    def reaches(self, window: Window) -> bool:
        """Whether any of it may lie in the window."""
        x0, y0, x1, y1 = self.polygon.bounds
        if self.beside is not None:
            left, low, right, high = self.beside.box
            x0, y0, x1, y1 = min(x0, left), min(y0, low), max(x1, right), max(y1, high)
        return bool(x0 <= window[2] and x1 >= window[0] and y0 <= window[3] and y1 >= window[1])

    def draw_beside(self, canvas: Canvas) -> None:
        """The number beside a piece that has no room for it."""
        if self.beside is None:
            return
        room = tuple(edge * POINTS_PER_MM for edge in self.beside.box)
        start, tip = at_mm(self.beside.start), at_mm(self.beside.tip)
        draw_beside(canvas, self.words.lines[0], Callout(self.beside.index, room, start, tip))  # type: ignore[arg-type]


def placed_on(lay: LayPaper, found: Tiling) -> tuple[Tiling, tuple[MarkerPiece, ...]]:
    """The pieces of a lay with their words, and the sheets they are printed on.

    Numbers beside pieces stand on sheets that are printed anyhow; where one finds room only on another, that is printed
    too, and so is each that its line runs over.
    """
    pieces = marker_pieces(lay, found.blank)
    beside = [one.beside for one in pieces if one.beside is not None]
    if not beside or not found.blank:
        return found, pieces
    drawn = [shape for one in beside for shape in (box(*one.box), LineString([one.start, one.tip]))]
    return found.holding(drawn), pieces


def numbers_beside(pieces: Sequence[DrawnPiece]) -> bool:
    """Whether one of these has no room for its number, so that this stands beside it."""
    return any(not MarkerPiece(piece).words.has_room for piece in pieces if len(piece.outline) > 2)


def marker_pieces(lay: LayPaper, blank: Sequence[Box] = ()) -> tuple[MarkerPiece, ...]:
    """The pieces of a lay, ready to be drawn; of those too small for their number it is known where it stands: not on
    what is to stay `blank`, where there is room elsewhere."""
    pieces = tuple(MarkerPiece(piece) for piece in lay.pieces if len(piece.outline) > 2)
    small = {n: one.words.size_beside_mm for n, one in enumerate(pieces) if not one.words.has_room}
    if not small:
        return pieces
    taken = [one.words.box_mm for n, one in enumerate(pieces) if n not in small]
    cloth = (0.0, 0.0, lay.marker_length_mm, lay.lay_width_mm)
    outlines = [one.piece.outline for one in pieces]
    found = {one.index: one for one in callouts(outlines, small, cloth, [*taken, *blank])}
    if blank and (left := {n: size for n, size in small.items() if n not in found}):
        held = [*taken, *(one.box for one in found.values())]
        found |= {one.index: one for one in callouts(outlines, left, cloth, held)}
    return tuple(replace(one, beside=found.get(n)) if n in small else one for n, one in enumerate(pieces))


def piece_words(piece: DrawnPiece) -> tuple[str, ...]:
    """Number, name and size; then style, garment and bundles; then whether it is mirrored."""
    of = f"style {piece.style}" + (f" · {signs_in_words(piece.garment)}" if piece.garment else "")
    bundles = bundles_in_words(piece.bundles)
    lines = [f"{piece.number} · {piece.name} {piece.size}", of, *([bundles] if bundles else [])]
    return (*lines, MIRRORED) if piece.mirrored else tuple(lines)


def bundles_in_words(bundles: Sequence[str]) -> str:
    """ "bundle B-0007-03", "bundles B-0007-03, 04": what they have in common stands there once. "" for none."""
    if not bundles:
        return ""
    start = bundles[0].rpartition("-")[0] + "-"
    shared = len(start) > 1 and all(bundle.startswith(start) for bundle in bundles)
    rest = [bundle.removeprefix(start) if shared else bundle for bundle in bundles[1:]]
    return f"{'bundle' if len(bundles) == 1 else 'bundles'} {', '.join([bundles[0], *rest])}"


class PieceWords:
    """What is written inside a piece: along the grain, or across it in a strip that is cut across the cloth."""

    def __init__(self, one: MarkerPiece) -> None:
        self.centre, radius = one.widest
        self.lines = piece_words(one.piece)
        x0, y0, x1, y1 = one.polygon.bounds
        self.is_across = y1 - y0 > 2.2 * (x1 - x0)
        cx, cy = self.centre
        ring = [(-y, x) for x, y in one.piece.outline] if self.is_across else one.piece.outline
        low, high = chord_along(ring, (-cy, cx) if self.is_across else self.centre)
        if high - low > LONG_STRIP * radius:
            # Every place of a strip is as wide as any other, so its words stand in the middle of it.
            middle = (low + high) / 2
            self.centre = (cx, -middle) if self.is_across else (middle, cy)
        self.size = self._size(self.lines, radius, high - low)
        if self.size < 9:
            one_line = (" · ".join(self.lines),)
            flat = self._size(one_line, radius, high - low)
            if flat > self.size:
                self.lines, self.size = one_line, flat
        #: Whether it can be read where it stands.
        self.has_room = self.size >= SMALLEST_OF_ALL or self._shortened(one.piece, radius, high - low)
        self.width, self.height = self._box(self.lines, self.size)

    def _shortened(self, piece: DrawnPiece, radius_mm: float, chord_mm: float) -> bool:
        """Number, name and size alone, without the name, or the number alone; whether there is room for that."""
        of_size = f"{piece.number} · {piece.size}"
        for lines in ((of_size, piece.name), (of_size,), (str(piece.number),)):
            self.lines = lines
            # The arrow of the grain has to find room too.
            self.size = max(SMALLEST, 0.8 * (fits := self._size(self.lines, radius_mm, chord_mm)))
            if fits >= SMALLEST:
                return True
        return False

    @property
    def box_mm(self) -> Box:
        """Where it stands in the lay (mm)."""
        (cx, cy), sides = self.centre, (self.width, self.height)
        half_x, half_y = (side / 2 / POINTS_PER_MM for side in (reversed(sides) if self.is_across else sides))
        return cx - half_x, cy - half_y, cx + half_x, cy + half_y

    @property
    def size_beside_mm(self) -> tuple[float, float]:
        """Width and height of its box where it stands beside the piece (mm)."""
        width, height = size_beside(self.lines[0])
        return width / POINTS_PER_MM, height / POINTS_PER_MM

    @staticmethod
    def _box(lines: Sequence[str], size: float) -> Point:
        """Width and height in points; the first line is bold and larger."""
        widths = [width_of(lines[0], size * 1.35, bold=True), *(width_of(line, size) for line in lines[1:])]
        return max(widths), size * LEADING * (len(lines) + 0.35)

    def _size(self, lines: Sequence[str], radius_mm: float, chord_mm: float) -> float:
        """The largest letters with which the words fit into the circle, or along the chord and within its height."""
        width, height = self._box(lines, 1.0)
        radius, chord = radius_mm * POINTS_PER_MM, chord_mm * POINTS_PER_MM
        in_circle = 0.92 * radius / (math.hypot(width, height) / 2)
        along = min(0.62 * chord / width, 1.3 * radius / height)
        # A long narrow strip is nearly straight, so its words may be longer than the circle is wide.
        return min(LARGEST, max(in_circle, along if chord > LONG_STRIP * radius else 0.0))

    def draw(self, canvas: Canvas) -> None:
        """The words round the centre of the widest place."""
        canvas.saveState()
        canvas.translate(*at_mm(self.centre))
        if self.is_across:
            canvas.rotate(-90)
        canvas.setFillColor(INK)
        size = self.size
        y = self.height / 2 - size * 1.35 * 0.8
        draw_text(canvas, 0, y, self.lines[0], size * 1.35, bold=True, align="centre")
        for line in self.lines[1:]:
            y -= size * LEADING
            draw_text(canvas, 0, y, line, size, align="centre")
        canvas.restoreState()

    @property
    def reach(self) -> float:
        """How far the words reach across the cloth from their centre (points)."""
        return (self.width if self.is_across else self.height) / 2
