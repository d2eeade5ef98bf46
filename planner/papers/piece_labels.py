"""What is written in a drawn piece: its number on the grain line, and size and name where they fit.

No writing lies on the cut line: words that would are left out, for the key has them too. A piece with no room for a
number that can be read has it beside it, with a line to the piece.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from reportlab.pdfgen.canvas import Canvas
from shapely import maximum_inscribed_circle, prepare
from shapely.errors import GEOSException
from shapely.geometry import LineString, Polygon, box
from shapely.geometry import Point as Dot

from planner.core.lays.callouts import Box, Callout
from planner.papers.data import DrawnPiece, Point
from planner.papers.marks import INK, MIRRORED, WHITE, arrow_head
from planner.papers.typefaces import CAP_HEIGHT, draw_text, fitting_size, width_of

#: Nothing smaller than this is read from paper at a table, in points.
LEAST = 6.0
#: A number beside its piece, and the room round it.
BESIDE, ROOM = 7.0, 1.4
#: Writing keeps so far from the middle of the cut line: half the width that is drawn of it.
CLEAR = 0.3
#: How far letters go beneath their line, as a share of their size.
DESCENT = 0.22
#: In a smaller circle than this the words stand beside the number, in a larger one beneath it.
WIDE = 12.0
#: So many times as long as wide, a piece across the cloth is a strip.
STRIP = 2.5


def widest_place(points: Sequence[Point]) -> tuple[Point, float]:
    """Centre and radius of the largest circle inside the outline; the middle of its box when it has none.

    A strip is equally wide all along: its own middle is taken.
    """
    try:
        shape = Polygon(points)
        circle = maximum_inscribed_circle(shape, tolerance=0.5)
        (cx, cy), _ = circle.coords
        middle = shape.centroid
        if shape.contains(middle) and shape.exterior.distance(middle) >= 0.9 * circle.length:
            cx, cy = middle.x, middle.y
        return (cx, cy), circle.length
    except (GEOSException, ValueError):
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2), min(
            max(xs) - min(xs), max(ys) - min(ys)
        ) / 2


def chord_along(points: Sequence[Point], centre: Point) -> tuple[float, float]:
    """The stretch inside the outline, along the grain, through the centre: its left and right end."""
    left, right = min(p[0] for p in points), max(p[0] for p in points)
    found = _through(points, centre, LineString([(left - 1, centre[1]), (right + 1, centre[1])]))
    return (found[0], found[2]) if found else (left, right)


def chord_across(points: Sequence[Point], centre: Point) -> tuple[float, float]:
    """The same across the cloth: its low and its high end."""
    low, high = min(p[1] for p in points), max(p[1] for p in points)
    found = _through(points, centre, LineString([(centre[0], low - 1), (centre[0], high + 1)]))
    return (found[1], found[3]) if found else (low, high)


def _through(points: Sequence[Point], centre: Point, line: LineString) -> Box | None:
    """The box of the part of a line that is inside the outline and holds the centre; None where it cannot be told."""
    try:
        cut = Polygon(points).intersection(line)
    except (GEOSException, ValueError):
        return None
    for part in getattr(cut, "geoms", [cut]):
        if part.geom_type == "LineString" and part.distance(Dot(centre)) < 0.01:
            return part.bounds
    return (*centre, *centre)


def size_beside(words: str) -> tuple[float, float]:
    """Width and height (points) of the box for words that stand beside their piece."""
    return width_of(words, BESIDE, bold=True) + 2 * ROOM, BESIDE * CAP_HEIGHT + 2 * ROOM


def draw_beside(canvas: Canvas, words: str, found: Callout, *, turned: bool = False) -> None:
    """The words in a box of their own, with a line to their piece; the callout in points.

    They stand across the box where what is drawn is `turned` upwards on the paper.
    """
    left, low, right, high = found.box
    canvas.setStrokeColor(INK)
    canvas.setFillColor(INK)
    canvas.setLineWidth(0.45)
    canvas.line(*found.start, *found.tip)
    canvas.circle(*found.tip, 0.9, stroke=0, fill=1)
    canvas.setFillColor(WHITE)
    canvas.rect(left, low, right - left, high - low, stroke=1, fill=1)
    canvas.setFillColor(INK)
    if not turned:
        draw_text(canvas, (left + right) / 2, low + ROOM, words, BESIDE, bold=True, align="centre")
        return
    canvas.saveState()
    canvas.translate(left + ROOM, (low + high) / 2)
    canvas.rotate(-90)
    draw_text(canvas, 0, 0, words, BESIDE, bold=True, align="centre")
    canvas.restoreState()


@dataclass(frozen=True)
class PieceLabel:
    """How a piece is marked: the centre and radius of its widest place, in points, and how far it goes from there along
    the cloth (`chord`) and across it (`rise`). `outline` is its cut line on the paper, as far as it is drawn.

    Where the lay is `turned` upwards on the paper, what stands across the cloth is read like all other words: numbers
    stand so wherever there is room.
    """

    canvas: Canvas
    piece: DrawnPiece
    outline: Sequence[Point]
    centre: Point
    radius: float
    chord: tuple[float, float]
    rise: tuple[float, float]
    one_way: bool
    turned: bool = False

    @property
    def number(self) -> str:
        return str(self.piece.number)

    @cached_property
    def way(self) -> Literal["along", "upright", "beside"]:
        """On the grain line; along a strip that is cut across the cloth; beside a piece with no room for it."""
        long, high = self.chord[1] - self.chord[0], self.rise[1] - self.rise[0]
        can_stand = (
            long - 0.6 >= LEAST * CAP_HEIGHT
            and width_of(self.number, LEAST, bold=True) <= high - 8
            and self._is_inside(self._standing(""))
        )
        if self.turned and can_stand:
            return "upright"
        has_room = self._size_along * CAP_HEIGHT <= 2 * self.radius - 0.6
        if has_room and self._is_inside(self._lying("")):
            return "upright" if can_stand and high > STRIP * long else "along"
        return "upright" if can_stand else "beside"

    @cached_property
    def _shape(self) -> Polygon:
        shape = Polygon(self.outline) if len(self.outline) > 2 else Polygon()
        shape = shape if shape.is_valid else shape.buffer(0)
        prepare(shape)
        return shape

    def _is_inside(self, room: Box) -> bool:
        """Whether what is written there keeps clear of the cut line, and of the end of a strip of the lay."""
        left, low, right, high = room
        is_here = self.chord[0] <= left and right <= self.chord[1]
        return is_here and bool(
            self._shape.covers(box(left - CLEAR, low - CLEAR, right + CLEAR, high + CLEAR))
        )

    def _lying(self, words: str) -> Box:
        """Where number and words stand side by side on the grain line."""
        cx, cy = self.centre
        half, high = self._whole(self._size_along, words) / 2, self._size_along * CAP_HEIGHT / 2
        return cx - half, cy - high - (DESCENT * LEAST if words else 0), cx + half, cy + high

    def _standing(self, words: str) -> Box:
        """The same where they stand along a strip, with the grain arrow above them."""
        cx, cy = self.centre
        half, high = self._whole(self._size_upright, words) / 2, self._size_upright * CAP_HEIGHT / 2
        descent = LEAST * (CAP_HEIGHT / 2 + DESCENT) if words else 0
        left, right = (max(high, descent), high) if self.turned else (high, max(high, descent))
        return cx - left, cy - half, cx + right, cy + half + 5

    def _whole(self, size: float, words: str) -> float:
        """How long number and words are together."""
        return width_of(self.number, size, bold=True) + (3 + width_of(words, LEAST) if words else 0)

    @property
    def size_beside(self) -> tuple[float, float]:
        """Width and height of the number where it stands beside its piece."""
        wide, high = size_beside(self.number)
        return (high, wide) if self.turned else (wide, high)

    @property
    def boxes(self) -> tuple[Box, ...]:
        """Where this label is written inside its piece, its grain line too; nothing for one beside it."""
        cy = self.centre[1]
        if self.way == "beside":
            return ()
        if self.way == "upright":
            half = width_of(self.number, self._size_upright, bold=True) / 2
            return ((self.chord[0], cy - half, self.chord[1], cy + half + 6),)
        number = self._lying(self._words_beside)
        grain = (self.chord[0], cy - 1.5, self.chord[1], cy + 1.5)
        return number, grain, *(room for _, _, room in self._words_beneath)

    @property
    def _size_along(self) -> float:
        return max(LEAST, min(15.0, self.radius * 0.95))

    @property
    def _size_upright(self) -> float:
        return max(LEAST, min(10.0, (self.chord[1] - self.chord[0]) * 0.8 / CAP_HEIGHT))

    def draw(self) -> None:
        """Inside the piece: the grain line, broken by the number; size and name where they fit."""
        cx, cy = self.centre
        size = self._size_along
        self.canvas.setFillColor(INK)
        if self.way == "upright":
            self._draw_upright()
            return
        base = cy - size * CAP_HEIGHT / 2
        wide = width_of(self.number, size, bold=True)
        words = self._words_beside
        whole = self._whole(size, words)
        draw_text(self.canvas, cx - whole / 2, base, self.number, size, bold=True)
        if words:
            draw_text(self.canvas, cx - whole / 2 + wide + 3, base, words, LEAST)
        self._grain(whole)
        for words, size, room in self._words_beneath:
            draw_text(self.canvas, cx, room[1] + DESCENT * size, words, size, align="centre")

    def draw_beside(self, found: Callout) -> None:
        """The number in a box of its own, with a line to the piece."""
        draw_beside(self.canvas, self.number, found, turned=self.turned)

    def _draw_upright(self) -> None:
        """The number of a strip cut across the cloth stands along the strip, its name too; its grain arrow above it."""
        cx, cy = self.centre
        size = self._size_upright
        wide = width_of(self.number, size, bold=True)
        words = ""
        if self.chord[1] - self.chord[0] - 2 >= LEAST * CAP_HEIGHT:
            words = self._words_in(0.9 * (self.rise[1] - self.rise[0]) - wide - 14, self._standing)
        whole = self._whole(size, words)
        c = self.canvas
        c.saveState()
        c.translate(cx, cy)
        c.rotate(-90 if self.turned else 90)
        draw_text(c, -whole / 2, -size * CAP_HEIGHT / 2, self.number, size, bold=True)
        if words:
            draw_text(c, -whole / 2 + wide + 3, -LEAST * CAP_HEIGHT / 2, words, LEAST)
        c.restoreState()
        half = (self.chord[1] - self.chord[0]) * 0.36
        y = cy + whole / 2 + 4
        c.setStrokeColor(INK)
        c.setLineWidth(0.5)
        c.line(cx - half, y, cx + half, y)
        turned = self.piece.rotation_deg % 360 == 180
        head = min(3.0, half)
        if not turned or not self.one_way:
            arrow_head(c, cx + half, y, 0, length=head)
        if turned or not self.one_way:
            arrow_head(c, cx - half, y, math.pi, length=head)

    def _words_in(self, most: float, place: Callable[[str], Box]) -> str:
        """Name, size and garment in the smallest letters that can be read, else size and garment; "" for no room.

        They are no longer than `most`, and with the number at the `place` they would have clear of the cut line.
        """
        for words in (self._long, self._short):
            if words and width_of(words, LEAST) <= most and self._is_inside(place(words)):
                return words
        return ""

    @property
    def _long(self) -> str:
        return f"{self.piece.name} {self.piece.size} {self.piece.garment}".rstrip()

    @property
    def _short(self) -> str:
        return f"{self.piece.size} {self.piece.garment}".rstrip()

    @cached_property
    def _words_beside(self) -> str:
        """What stands right of the number, where nothing stands beneath it."""
        if self._words_beneath:
            return ""
        wide = width_of(self.number, self._size_along, bold=True)
        return self._words_in(0.8 * (self.chord[1] - self.chord[0]) - wide - 4, self._lying)

    @cached_property
    def _words_beneath(self) -> tuple[tuple[str, float, Box], ...]:
        """Name, size and garment, or the last two, with their size and room; "mirrored" beneath where it fits too."""
        if self.radius <= WIDE:
            return ()
        base, most = self.centre[1] - self._size_along * CAP_HEIGHT / 2, 1.55 * self.radius
        for words in (self._long, self._short):
            for size in dict.fromkeys((fitting_size(words, 7.5, LEAST, most), LEAST)):
                room = self._centred(words, size, base - size * 1.15)
                if width_of(words, size) <= most and self._is_inside(room):
                    return (words, size, room), *self._mirrored_beneath(base - size * 1.15)
        return ()

    def _mirrored_beneath(self, base: float) -> tuple[tuple[str, float, Box], ...]:
        room = self._centred(MIRRORED, LEAST, base - LEAST * 1.2)
        fits = width_of(MIRRORED, LEAST) <= 1.1 * self.radius and self._is_inside(room)
        return ((MIRRORED, LEAST, room),) if self.piece.mirrored and fits else ()

    def _centred(self, words: str, size: float, base: float) -> Box:
        half, cx = width_of(words, size) / 2, self.centre[0]
        return cx - half, base - DESCENT * size, cx + half, base + CAP_HEIGHT * size

    def _grain(self, number_width: float) -> None:
        cx, cy = self.centre
        left = self.chord[0] + (cx - self.chord[0]) * 0.18
        right = self.chord[1] - (self.chord[1] - cx) * 0.18
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
