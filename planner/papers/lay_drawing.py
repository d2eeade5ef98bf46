"""A lay drawn to scale like a drafting sheet: selvedges, numbered pieces with grain, dimensions, scale bar.

The cloth runs from left to right, of a lay turned on its paper upwards. A piece is outlined by its cut line, so it is
dashed. Lay measures are mm, paper measures are points.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from reportlab.pdfgen.canvas import Canvas

from planner.core.lays.callouts import callouts
from planner.core.lays.marks import notch_ends
from planner.papers import amounts
from planner.papers.data import DrawnPiece, LayPaper, Point
from planner.papers.lay_figures import (
    STRIP_END_SIZE,
    STRIPS_SIZE,
    marker_words,
    scale_bar,
    spread_words,
    strips_words,
    turned_words,
)
from planner.papers.lay_fit import (
    ROOM_LEFT,
    ROOM_TOP,
    STRIP_GAP,
    TURNED_LEFT,
    TURNED_TOP,
    LayFit,
    spread_length_mm,
)
from planner.papers.lay_measures import dimension_line, draw_scale_bar, width_line
from planner.papers.layers import edges_in_words, is_selvedge
from planner.papers.marks import CLOTH, INK, SOFT, arrow_head
from planner.papers.piece_labels import LEAST, PieceLabel, chord_across, chord_along, widest_place
from planner.papers.typefaces import draw_text, fitting_size, width_of

PIECE_DASH = (2.4, 1.1)
#: A notch is drawn this long, whatever the scale.
NOTCH_POINTS = 3.2
#: Letters of the names of the cloth's edges.
EDGE_SIZE = 7.0


def draw_lay(
    canvas: Canvas, lay: LayPaper, fit: LayFit, x: float, top: float, *, imperial: bool = False
) -> None:
    """Draw the lay with its upper left corner (dimensions included) at x, top."""
    wide = fit.points(lay.lay_width_mm)
    canvas.saveState()
    if fit.turned:
        canvas.translate(x + TURNED_LEFT + wide, top - TURNED_TOP - fit.points(spread_length_mm(lay)))
        canvas.rotate(90)
        x, top = -ROOM_LEFT, ROOM_TOP + wide
    for strip in range(fit.strips):
        y = top - ROOM_TOP - wide - strip * (wide + STRIP_GAP)
        drawing = _Drawing(canvas, lay, fit, x + ROOM_LEFT, y, imperial, strip)
        drawing.cloth()
        drawing.pieces()
        drawing.dimensions()
        if drawing.is_last:
            drawing.scale_bar()
    canvas.restoreState()
    canvas.setFillColor(INK)


@dataclass(frozen=True)
class _Drawing:
    """One strip of a lay: `x`, `y` is the paper point of its lower left corner."""

    canvas: Canvas
    lay: LayPaper
    fit: LayFit
    x: float
    y: float
    imperial: bool
    strip: int

    @property
    def is_first(self) -> bool:
        return self.strip == 0

    @property
    def is_last(self) -> bool:
        return self.strip == self.fit.strips - 1

    @property
    def long(self) -> float:
        return self.fit.points(self.fit.strip_mm(self.lay))

    @property
    def wide(self) -> float:
        return self.fit.points(self.lay.lay_width_mm)

    @property
    def end(self) -> float:
        return self.fit.points(self.lay.end_allowance_mm)

    @property
    def start_x(self) -> float:
        """Where the ply begins on the paper: left of this strip when it is not the first one."""
        return self.x - self.strip * self.long

    def length(self, mm: float) -> str:
        return amounts.lay_length(mm, imperial=self.imperial)

    def on_paper(self, outline: Sequence[Point]) -> list[Point]:
        points = self.fit.points
        return [(self.start_x + self.end + points(px), self.y + points(py)) for px, py in outline]

    def pieces(self) -> None:
        """The pieces of this strip, cut off where the strip ends, and their labels where their middle is."""
        c = self.canvas
        here = [
            (piece, points)
            for piece in self.lay.pieces
            if self._touches(points := self.on_paper(piece.outline))
        ]
        c.saveState()
        if self.fit.strips > 1:
            path = c.beginPath()
            path.rect(self.x, self.y - 1, self.long, self.wide + 2)
            c.clipPath(path, stroke=0, fill=0)
        for piece, points in here:
            self._outline(points)
            self._marks(piece)
        c.restoreState()
        self._labels(here)

    def _touches(self, points: Sequence[Point]) -> bool:
        if len(points) < 3:
            return False
        return max(p[0] for p in points) >= self.x and min(p[0] for p in points) <= self.x + self.long

    def cloth(self) -> None:
        """Selvedges as double lines (a fold or a slit edge as a single one), named; the ends of the ply; the nap."""
        c = self.canvas
        upper, lower = edges_in_words(self.lay.mode, is_tube=self.lay.is_tube)
        c.setFillColor(INK)
        c.setStrokeColor(INK)
        c.setLineWidth(1.1)
        for edge in (self.y, self.y + self.wide):
            c.line(self.x, edge, self.x + self.long, edge)
        c.setLineWidth(0.4)
        if is_selvedge(upper):
            c.line(self.x, self.y + self.wide + 1.8, self.x + self.long, self.y + self.wide + 1.8)
        if is_selvedge(lower):
            c.line(self.x, self.y - 1.8, self.x + self.long, self.y - 1.8)
        c.setLineWidth(0.7)
        if self.is_first:
            c.line(self.x, self.y, self.x, self.y + self.wide)
        if self.is_last:
            c.line(self.x + self.long, self.y, self.x + self.long, self.y + self.wide)
        self._end_marks()
        if self.is_first:
            draw_text(c, self.x, self.y + self.wide + 4.5, upper, EDGE_SIZE)
            draw_text(c, self._lower_name_x(), self.y - 9, lower, EDGE_SIZE)
            self._nap()

    def _lower_name_x(self) -> float:
        """Where the lower edge is named: right of what stands beneath it at its beginning."""
        if self.fit.strips > 1:
            return self.x + width_of(self.length(0.0), STRIP_END_SIZE) + 8
        return self.x + self.end + 4

    def _end_marks(self) -> None:
        """Where the marker begins and ends inside the ply."""
        if self.end <= 0:
            return
        c = self.canvas
        c.saveState()
        c.setLineWidth(0.4)
        c.setDash(1, 1.6)
        whole = self.long * self.fit.strips
        for at in (self.start_x + self.end, self.start_x + whole - self.end):
            if self.x <= at <= self.x + self.long:
                c.line(at, self.y, at, self.y + self.wide)
        c.restoreState()

    def _nap(self) -> None:
        c = self.canvas
        words = (
            "one way: all pieces point the same way" if self.lay.one_way else "two way: pieces may be turned"
        )
        right = self.x + self.long
        room = self.long - 60
        if room < 60:
            return
        size = fitting_size(words, 7, LEAST, room - 26)
        base = self.y + self.wide + 4.5
        if width_of(words, size) <= room - 26:
            draw_text(c, right - 24, base, words, size, align="right")
        c.setLineWidth(0.7)
        c.line(right - 20, base + 2.4, right - 2, base + 2.4)
        arrow_head(c, right, base + 2.4, 0)
        if not self.lay.one_way:
            arrow_head(c, right - 21, base + 2.4, math.pi)

    def _outline(self, points: Sequence[Point]) -> None:
        """The cut line of one piece."""
        c = self.canvas
        path = c.beginPath()
        path.moveTo(*points[0])
        for point in points[1:]:
            path.lineTo(*point)
        path.close()
        c.setFillColor(CLOTH)
        c.setStrokeColor(INK)
        c.setLineWidth(0.6)
        c.setDash(*PIECE_DASH)
        c.drawPath(path, stroke=1, fill=1)

    def _marks(self, piece: DrawnPiece) -> None:
        """Notches as short bars, holes as dots, cut-outs as cut lines."""
        c, marks = self.canvas, piece.marks
        c.setDash(*PIECE_DASH)
        for ring in marks.cutouts:
            points = self.on_paper([*ring, ring[0]])
            for a, b in pairwise(points):
                c.line(*a, *b)
        c.setDash()
        c.setLineWidth(0.8)
        for notch in marks.notches:
            a, b = self.on_paper(notch_ends(notch, 1.0))
            deep = NOTCH_POINTS / max(math.dist(a, b), 1e-6)
            c.line(*a, a[0] + deep * (b[0] - a[0]), a[1] + deep * (b[1] - a[1]))
        c.setFillColor(INK)
        for x, y in self.on_paper(marks.holes):
            c.circle(x, y, 0.8, stroke=0, fill=1)

    def _labels(self, here: Sequence[tuple[DrawnPiece, Sequence[Point]]]) -> None:
        """Number, size and name of each piece where it is widest; beside it where it is too narrow."""
        labels = {n: self._label(piece, points) for n, (piece, points) in enumerate(here)}
        own = {n: label for n, label in labels.items() if self.x <= label.centre[0] <= self.x + self.long}
        beside = {n: label.size_beside for n, label in own.items() if label.way == "beside"}
        for n, label in own.items():
            if n not in beside:
                label.draw()
        taken = [room for label in own.values() for room in label.boxes]
        cloth = (self.x + 1, self.y + 1, self.x + self.long - 1, self.y + self.wide - 1)
        found = callouts([points for _, points in here], beside, cloth, taken)
        for one in found:
            own[one.index].draw_beside(one)
        # Where not even that finds room, the number is better too large for its piece than not there.
        for n in beside.keys() - {one.index for one in found}:
            own[n].draw()

    def _label(self, piece: DrawnPiece, points: Sequence[Point]) -> PieceLabel:
        centre, radius = widest_place(points)
        left, right = chord_along(points, centre)
        chord = (max(left, self.x), min(right, self.x + self.long))
        rise = chord_across(points, centre)
        ways = {"one_way": self.lay.one_way, "turned": self.fit.turned}
        return PieceLabel(self.canvas, piece, points, centre, radius, chord, rise, **ways)

    def dimensions(self) -> None:
        """Lay width at the left; marker and length to spread beneath, or where each strip begins and ends."""
        lay, end, right = self.lay, self.end, self.x + self.long
        self._width()
        if self.fit.turned:
            return
        if self.fit.strips > 1:
            self._strip_ends()
            return
        low = self.y - 17
        self._across(self.x + end, right - end, low, marker_words(lay, imperial=self.imperial))
        self._across(self.x, right, low - 15, spread_words(lay, imperial=self.imperial))

    def _width(self) -> None:
        c = self.canvas
        c.saveState()
        if self.fit.turned:
            c.translate(self.x - 12, self.y + self.wide)
            c.rotate(-90)
        else:
            c.translate(self.x - 12, self.y)
            c.rotate(90)
        word = "folded width" if self.lay.mode == "folded" else "usable width"
        width_line(c, self.wide, word, amounts.length(self.lay.lay_width_mm, imperial=self.imperial))
        c.restoreState()

    def _strip_ends(self) -> None:
        """How far along the ply a strip starts and stops; the whole lengths under the last."""
        c = self.canvas
        each = self.fit.strip_mm(self.lay)
        low = self.y - 10
        c.setFillColor(INK)
        draw_text(c, self.x, low, self.length(self.strip * each), STRIP_END_SIZE)
        stop = self.length((self.strip + 1) * each)
        stop = stop if self.is_last else f"{stop}, on below"
        draw_text(c, self.x + self.long, low, stop, STRIP_END_SIZE, align="right")
        if self.is_last:
            text = strips_words(self.lay, self.fit.strips, imperial=self.imperial)
            draw_text(c, self.x, low - 14, text, STRIPS_SIZE, bold=True)

    def _across(self, x1: float, x2: float, y: float, text: str) -> None:
        c = self.canvas
        c.setStrokeColor(SOFT)
        c.setLineWidth(0.3)
        for at in (x1, x2):
            c.line(at, self.y - 4, at, y - 3)
        dimension_line(c, x1, x2, y, text, beside=self.x + self.long)

    def scale_bar(self) -> None:
        """Beneath all else; of a turned lay with its lengths above it, read like all other words of the page."""
        c = self.canvas
        if not self.fit.turned:
            bar = scale_bar(self.fit.scale, self.long, imperial=self.imperial)
            draw_scale_bar(c, self.x, self.y - 55, bar)
            return
        c.saveState()
        c.translate(self.x, self.y + self.wide)
        c.rotate(-90)
        c.setFillColor(INK)
        draw_text(c, 0, -31, turned_words(self.lay, imperial=self.imperial), STRIPS_SIZE, bold=True)
        draw_scale_bar(c, 0, -55, scale_bar(self.fit.scale, self.wide, imperial=self.imperial))
        c.restoreState()
