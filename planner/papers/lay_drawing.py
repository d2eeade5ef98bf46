"""A lay drawn to scale like a drafting sheet: selvedges, numbered pieces with their grain, dimensions, scale bar.

The cloth runs from left to right. A piece is outlined by its cut line, so it is dashed. Lay measures are mm,
paper measures are points.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm as POINTS_PER_MM  # noqa: N812
from reportlab.pdfgen.canvas import Canvas
from shapely import maximum_inscribed_circle
from shapely.errors import GEOSException
from shapely.geometry import LineString, Polygon

from planner.papers import amounts
from planner.papers.data import DrawnPiece, LayPaper, Point
from planner.papers.marks import CLOTH, INK, SOFT, WHITE, arrow_head
from planner.papers.typefaces import CAP_HEIGHT, draw_text, fitting_size, width_of

#: Room round the cloth for its dimensions.
ROOM_LEFT, ROOM_RIGHT, ROOM_TOP, ROOM_BOTTOM = 24.0, 6.0, 13.0, 58.0
#: No drawing is larger than this: a small lay need not fill the paper.
LEAST_SCALE = 3
#: The figures beneath a very short lay need this much.
LEAST_DRAWN_WIDTH = 210.0
PIECE_DASH = (2.4, 1.1)


def spread_length_mm(lay: LayPaper) -> float:
    """Length of one ply: the marker and both end allowances."""
    return lay.marker_length_mm + 2 * lay.end_allowance_mm


@dataclass(frozen=True)
class LayFit:
    """How a lay stands in the room it got: 1 : `scale`, and the size of the whole drawing in points."""

    scale: int
    width: float
    height: float

    def points(self, length_mm: float) -> float:
        """A length of the lay in points on the paper."""
        return length_mm / self.scale * POINTS_PER_MM

    def drawn_width(self, lay: LayPaper) -> float:
        """Width that is really used: the cloth with its dimension, or the scale bar where that is longer."""
        return max(ROOM_LEFT + self.points(spread_length_mm(lay)) + ROOM_RIGHT, LEAST_DRAWN_WIDTH)


def fit_lay(lay: LayPaper, width: float, height: float) -> LayFit:
    """The largest whole scale (1 : n) at which the lay and its dimensions fit into width × height points."""
    room_x = max(width - ROOM_LEFT - ROOM_RIGHT, 20) / POINTS_PER_MM
    room_y = max(height - ROOM_TOP - ROOM_BOTTOM, 20) / POINTS_PER_MM
    need = max(spread_length_mm(lay) / room_x, lay.lay_width_mm / room_y)
    scale = max(LEAST_SCALE, math.ceil(need - 1e-9))
    drawn = lay.lay_width_mm / scale * POINTS_PER_MM
    return LayFit(scale, width, drawn + ROOM_TOP + ROOM_BOTTOM)


def draw_lay(
    canvas: Canvas, lay: LayPaper, fit: LayFit, x: float, top: float, *, imperial: bool = False
) -> None:
    """Draw the lay with its upper left corner (dimensions included) at x, top."""
    drawing = _Drawing(canvas, lay, fit, x + ROOM_LEFT, top - fit.height + ROOM_BOTTOM, imperial)
    canvas.saveState()
    drawing.cloth()
    for piece in lay.pieces:
        drawing.piece(piece)
    for piece in lay.pieces:
        drawing.label(piece)
    drawing.dimensions()
    drawing.scale_bar()
    canvas.restoreState()
    canvas.setFillColor(INK)


@dataclass(frozen=True)
class _Drawing:
    """One lay on one canvas: `x`, `y` is the paper point of the cloth's lower left corner."""

    canvas: Canvas
    lay: LayPaper
    fit: LayFit
    x: float
    y: float
    imperial: bool

    @property
    def long(self) -> float:
        return self.fit.points(spread_length_mm(self.lay))

    @property
    def wide(self) -> float:
        return self.fit.points(self.lay.lay_width_mm)

    @property
    def end(self) -> float:
        return self.fit.points(self.lay.end_allowance_mm)

    def on_paper(self, outline: Sequence[Point]) -> list[Point]:
        points = self.fit.points
        return [(self.x + self.end + points(px), self.y + points(py)) for px, py in outline]

    def cloth(self) -> None:
        """Selvedges (or fold), the ends of the ply, and which way the nap runs."""
        c = self.canvas
        c.setFillColor(INK)
        c.setStrokeColor(INK)
        c.setLineWidth(1.1)
        for edge in (self.y, self.y + self.wide):
            c.line(self.x, edge, self.x + self.long, edge)
        c.setLineWidth(0.4)
        inner = [self.y + self.wide + 1.8]
        if self.lay.mode != "folded":
            inner.append(self.y - 1.8)
        for edge in inner:
            c.line(self.x, edge, self.x + self.long, edge)
        c.setLineWidth(0.7)
        c.line(self.x, self.y, self.x, self.y + self.wide)
        c.line(self.x + self.long, self.y, self.x + self.long, self.y + self.wide)
        self._end_marks()
        upper = "selvedges" if self.lay.mode == "folded" else "selvedge"
        draw_text(c, self.x, self.y + self.wide + 4.5, upper, 7)
        self._nap()

    def _end_marks(self) -> None:
        """Where the marker begins and ends inside the ply."""
        if self.end <= 0:
            return
        c = self.canvas
        c.saveState()
        c.setLineWidth(0.4)
        c.setDash(1, 1.6)
        for at in (self.x + self.end, self.x + self.long - self.end):
            c.line(at, self.y, at, self.y + self.wide)
        c.restoreState()

    def _nap(self) -> None:
        c = self.canvas
        words = "one way: all pieces point the same way" if self.lay.one_way else "two way: pieces may be turned"
        right = self.x + self.long
        room = self.long - 60
        if room < 60:
            return
        size = fitting_size(words, 7, 4.5, room - 26)
        base = self.y + self.wide + 4.5
        width = draw_text(c, right - 24, base, words, size, align="right")
        if width > room:
            return
        c.setLineWidth(0.7)
        c.line(right - 20, base + 2.4, right - 2, base + 2.4)
        arrow_head(c, right, base + 2.4, 0)
        if not self.lay.one_way:
            arrow_head(c, right - 21, base + 2.4, math.pi)

    def piece(self, piece: DrawnPiece) -> None:
        """The cut line of one piece."""
        points = self.on_paper(piece.outline)
        if len(points) < 3:
            return
        c = self.canvas
        path = c.beginPath()
        path.moveTo(*points[0])
        for point in points[1:]:
            path.lineTo(*point)
        path.close()
        c.saveState()
        c.setFillColor(CLOTH)
        c.setStrokeColor(INK)
        c.setLineWidth(0.6)
        c.setDash(*PIECE_DASH)
        c.drawPath(path, stroke=1, fill=1)
        c.restoreState()

    def label(self, piece: DrawnPiece) -> None:
        """Number, size and name where the piece is widest, on its grain line."""
        points = self.on_paper(piece.outline)
        if len(points) < 3:
            return
        centre, radius = _widest_place(points)
        label = _PieceLabel(self.canvas, piece, centre, radius, one_way=self.lay.one_way)
        label.draw(_chord(points, centre))

    def dimensions(self) -> None:
        """Lay width at the left; marker and length to spread beneath."""
        low = self.y - 11
        lay, end = self.lay, self.end
        text = f"marker {amounts.length(lay.marker_length_mm, imperial=self.imperial)}"
        self._across(self.x + end, self.x + self.long - end, low, text)
        spread = amounts.length(spread_length_mm(lay), imperial=self.imperial)
        self._across(self.x, self.x + self.long, low - 15, f"length to spread {spread}")
        c = self.canvas
        c.saveState()
        c.translate(self.x - 12, self.y)
        c.rotate(90)
        word = "folded width" if lay.mode == "folded" else "usable width"
        width_text = f"{word} {amounts.length(lay.lay_width_mm, imperial=self.imperial)}"
        if width_of(width_text, 8) > self.wide - 16:
            width_text = amounts.length(lay.lay_width_mm, imperial=self.imperial)
        self._dimension_line(0, self.wide, 0, width_text)
        c.restoreState()

    def _across(self, x1: float, x2: float, y: float, text: str) -> None:
        c = self.canvas
        c.setStrokeColor(SOFT)
        c.setLineWidth(0.3)
        for at in (x1, x2):
            c.line(at, self.y - 4, at, y - 3)
        self._dimension_line(x1, x2, y, text, self.x + self.long)

    def _dimension_line(self, x1: float, x2: float, y: float, text: str, beside: float = 0.0) -> None:
        """A line with slanted ticks at its ends and the figure in its middle, or beside it when it is short."""
        c = self.canvas
        c.setStrokeColor(INK)
        c.setFillColor(INK)
        c.setLineWidth(0.5)
        c.line(x1, y, x2, y)
        c.setLineWidth(1)
        for at in (x1, x2):
            c.line(at - 2.2, y - 2.2, at + 2.2, y + 2.2)
        width = width_of(text, 8, bold=True)
        if width + 14 <= x2 - x1:
            middle = (x1 + x2) / 2
            c.setFillColor(WHITE)
            c.rect(middle - width / 2 - 3, y - 4, width + 6, 8, stroke=0, fill=1)
            c.setFillColor(INK)
            draw_text(c, middle, y - 2.9, text, 8, bold=True, align="centre")
        else:
            draw_text(c, max(x2, beside) + 7, y - 2.9, text, 8, bold=True)

    def scale_bar(self) -> None:
        """A bar in black and white steps, and the scale in figures."""
        c = self.canvas
        y = self.y - 49
        unit, word = (254.0, "10 in") if self.imperial else (250.0, "250 mm")
        step = self.fit.points(unit)
        count = 1 if step * 4 > max(self.long, 110) else 4
        c.setStrokeColor(INK)
        c.setLineWidth(0.6)
        for index in range(count):
            c.setFillColor(INK if index % 2 == 0 else WHITE)
            c.rect(self.x + index * step, y, step, 4, stroke=1, fill=1)
        c.setFillColor(INK)
        draw_text(c, self.x, y + 6.5, "0", 7)
        end_word = word if count == 1 else ("40 in" if self.imperial else "1 m")
        draw_text(c, self.x + count * step, y + 6.5, end_word.replace(" ", amounts.THIN), 7, align="centre")
        scale = f"scale 1 : {self.fit.scale}"
        draw_text(c, self.x + count * step + 16, y - 1, scale, 9, bold=True)


def _widest_place(points: Sequence[Point]) -> tuple[Point, float]:
    """Centre and radius of the largest circle inside the outline; the middle of its box when it has none."""
    try:
        circle = maximum_inscribed_circle(Polygon(points), tolerance=0.5)
        (cx, cy), _ = circle.coords
        return (cx, cy), circle.length
    except (GEOSException, ValueError):
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2), min(max(xs) - min(xs), max(ys) - min(ys)) / 2


def _chord(points: Sequence[Point], centre: Point) -> tuple[float, float]:
    """The stretch inside the outline, along the grain, through the centre: its left and right end."""
    cx, cy = centre
    left, right = min(p[0] for p in points), max(p[0] for p in points)
    try:
        cut = Polygon(points).intersection(LineString([(left - 1, cy), (right + 1, cy)]))
    except GEOSException:
        return left, right
    for part in getattr(cut, "geoms", [cut]):
        if part.geom_type == "LineString" and part.bounds[0] <= cx <= part.bounds[2]:
            return part.bounds[0], part.bounds[2]
    return cx, cx


@dataclass(frozen=True)
class _PieceLabel:
    canvas: Canvas
    piece: DrawnPiece
    centre: Point
    radius: float
    one_way: bool

    def draw(self, chord: tuple[float, float]) -> None:
        """The grain line along the chord, broken by the number; size and name beneath where they fit."""
        cx, cy = self.centre
        number = str(self.piece.number)
        size = max(4.6, min(15.0, self.radius * 0.95))
        self.canvas.setFillColor(INK)
        if width_of(number, size, bold=True) > chord[1] - chord[0] - 2:
            self._draw_upright(number, chord)
            return
        base = cy - size * CAP_HEIGHT / 2
        draw_text(self.canvas, cx, base, number, size, bold=True, align="centre")
        self._grain(chord, width_of(number, size, bold=True))
        if self.radius > 12:
            self._words(chord, base)

    def _draw_upright(self, number: str, chord: tuple[float, float]) -> None:
        """The number of a strip cut across the cloth stands along the strip; its grain arrow above it."""
        cx, cy = self.centre
        size = max(4.6, min(10.0, (chord[1] - chord[0]) * 0.8 / CAP_HEIGHT))
        c = self.canvas
        c.saveState()
        c.translate(cx, cy)
        c.rotate(90)
        draw_text(c, 0, -size * CAP_HEIGHT / 2, number, size, bold=True, align="centre")
        c.restoreState()
        half = (chord[1] - chord[0]) * 0.36
        y = cy + width_of(number, size, bold=True) / 2 + 4
        c.setStrokeColor(INK)
        c.setLineWidth(0.5)
        c.line(cx - half, y, cx + half, y)
        turned = self.piece.rotation_deg % 360 == 180
        head = min(3.0, half)
        if not turned or not self.one_way:
            arrow_head(c, cx + half, y, 0, length=head)
        if turned or not self.one_way:
            arrow_head(c, cx - half, y, math.pi, length=head)

    def _words(self, chord: tuple[float, float], base: float) -> None:
        """Size, and the name when it fits inside the widest circle."""
        room = 1.55 * self.radius
        words = f"{self.piece.name} {self.piece.size}"
        size = fitting_size(words, 7.5, 4.8, room)
        if width_of(words, size) > room:
            words = self.piece.size
            size = fitting_size(words, 7.5, 4, room)
            if width_of(words, size) > room:
                return
        draw_text(self.canvas, self.centre[0], base - size * 1.15, words, size, align="centre")

    def _grain(self, chord: tuple[float, float], number_width: float) -> None:
        cx, cy = self.centre
        left = chord[0] + (cx - chord[0]) * 0.18
        right = chord[1] - (chord[1] - cx) * 0.18
        gap = number_width / 2 + 2
        c = self.canvas
        c.setStrokeColor(INK)
        c.setLineWidth(0.55)
        turned = self.piece.rotation_deg % 360 == 180
        head = min(4.5, self.radius * 0.9)
        has_left, has_right = cx - gap - left > 4, right - (cx + gap) > 4
        if has_left:
            c.line(left, cy, cx - gap, cy)
        if has_right:
            c.line(cx + gap, cy, right, cy)
        if has_right and (not turned or not self.one_way):
            arrow_head(c, right, cy, 0, length=head)
        if has_left and (turned or not self.one_way):
            arrow_head(c, left, cy, math.pi, length=head)
