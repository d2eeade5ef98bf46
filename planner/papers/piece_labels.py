"""What is written inside a drawn piece: its number on the grain line, and size and name where they fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas
from shapely import maximum_inscribed_circle
from shapely.errors import GEOSException
from shapely.geometry import LineString, Polygon

from planner.papers.data import DrawnPiece, Point
from planner.papers.marks import INK, MIRRORED, arrow_head
from planner.papers.typefaces import CAP_HEIGHT, draw_text, fitting_size, width_of


def widest_place(points: Sequence[Point]) -> tuple[Point, float]:
    """Centre and radius of the largest circle inside the outline; the middle of its box when it has none."""
    try:
        circle = maximum_inscribed_circle(Polygon(points), tolerance=0.5)
        (cx, cy), _ = circle.coords
        return (cx, cy), circle.length
    except (GEOSException, ValueError):
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2), min(
            max(xs) - min(xs), max(ys) - min(ys)
        ) / 2


def chord_along(points: Sequence[Point], centre: Point) -> tuple[float, float]:
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
class PieceLabel:
    """Where and how large a piece is marked: the centre and radius of its widest place, in points."""

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
        """Size, and the name when it fits inside the widest circle; "mirrored" beneath where it does."""
        room = 1.55 * self.radius
        words = f"{self.piece.name} {self.piece.size} {self.piece.garment}".rstrip()
        size = fitting_size(words, 7.5, 4.8, room)
        if width_of(words, size) > room:
            words = f"{self.piece.size} {self.piece.garment}".rstrip()
            size = fitting_size(words, 7.5, 4, room)
            if width_of(words, size) > room:
                return
        x, y = self.centre[0], base - size * 1.15
        draw_text(self.canvas, x, y, words, size, align="centre")
        if self.piece.mirrored and width_of(MIRRORED, 4.8) <= 1.1 * self.radius:
            small = fitting_size(MIRRORED, min(size, 6.5), 4.8, 1.1 * self.radius)
            draw_text(self.canvas, x, y - small * 1.2, MIRRORED, small, align="centre")

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
