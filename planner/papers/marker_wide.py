"""A marker at true scale for a printer with paper on a roll, as copy shops have: one page as long as the marker.

A PDF page may be 14,400 units of 1/72 in long, which is 5.08 m (ISO 32000-1, annex C). A larger unit could be asked for
(UserUnit), but programs that pass it over print at a wrong scale without a word. So a marker that is longer, or wider
than the paper, is shared out over several pages that are joined like the sheets of A4.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from planner.papers import amounts
from planner.papers.data import Heading, LayPaper
from planner.papers.marker_drawing import draw_window
from planner.papers.marker_words import MarkerPiece, placed_on
from planner.papers.marks import INK, cut_line
from planner.papers.paging import PagedCanvas
from planner.papers.spreading import plies_in_words
from planner.papers.tiling import LINE_ROOM_MM, Tile, Tiling, tiling
from planner.papers.typefaces import draw_text, fitting_size

#: Longest page side (mm): 14,400 units of 1/72 in, rounded down.
LONGEST_MM = 5080.0
#: Blank at both sides of the paper, and at its ends for what stands there (mm).
SIDE_MM, HEAD_MM, FOOT_MM = 15.0, 30.0, 30.0
OVERLAP_MM = 20.0
#: Narrower paper is not for this (mm).
NARROWEST_MM = 250.0
#: A line to be measured (mm).
RULE_MM = 100.0


@dataclass(frozen=True)
class WidePages:
    """How a marker stands on paper from a roll `paper_mm` wide, and its pieces with their words."""

    paper_mm: float
    page_length_mm: float
    found: Tiling
    pieces: tuple[MarkerPiece, ...]

    @property
    def count(self) -> int:
        """Pages that hold something."""
        return len(self.found.tiles)


def roll_width_for(lay: LayPaper) -> float:
    """The paper that takes the whole width of the lay with its margins (mm, rounded up), within what there is."""
    needed = math.ceil(lay.lay_width_mm + 2 * (SIDE_MM + LINE_ROOM_MM))
    return min(max(float(needed), NARROWEST_MM), LONGEST_MM)


def wide_pages(lay: LayPaper, paper_mm: float | None = None) -> WidePages:
    """The pages for paper of this width, by default the narrowest that takes the lay's width.

    Raises ValueError for paper below 250 mm or above 5.08 m.
    """
    paper = paper_mm or roll_width_for(lay)
    if not NARROWEST_MM <= paper <= LONGEST_MM:
        raise ValueError(f"paper is {NARROWEST_MM:.0f} to {LONGEST_MM:.0f} mm wide, not {paper:.0f}")
    ends = HEAD_MM + FOOT_MM
    one = min(lay.marker_length_mm + 2 * LINE_ROOM_MM, LONGEST_MM - ends)
    outlines = [piece.outline for piece in lay.pieces]
    sheet = (one, min(paper - 2 * SIDE_MM, lay.lay_width_mm + 2 * LINE_ROOM_MM))
    found = tiling(outlines, lay.marker_length_mm, lay.lay_width_mm, sheet, OVERLAP_MM)
    return WidePages(paper, one + ends, *placed_on(lay, found))


def marker_wide(
    heading: Heading,
    lay: LayPaper,
    paper_mm: float | None = None,
    *,
    imperial: bool = False,
    caution: str = "",
) -> bytes:
    """The marker of a lay as PDF for paper from a roll: the page as wide as the paper, as long as the marker.

    The cloth runs up the page; a `caution` stands at the foot of each. Raises ValueError as :func:`wide_pages` does.
    """
    pages = wide_pages(lay, paper_mm)
    size = (pages.paper_mm * mm, pages.page_length_mm * mm)
    target = io.BytesIO()
    title = f"Marker of lay {lay.number} {heading.batch}"
    canvas = PagedCanvas(target, size, lambda _canvas, _number, _of: None, title, heading.workroom)
    for number, tile in enumerate(pages.found.tiles, 1):
        _, y0, _, y1 = tile.window
        canvas.saveState()
        # A quarter turn: along the cloth is up the page, across it to the left.
        canvas.translate((SIDE_MM + y1 - y0) * mm, FOOT_MM * mm)
        canvas.rotate(90)
        draw_window(
            canvas,
            lay,
            pages.pieces,
            tile.window,
            overlap_mm=OVERLAP_MM if pages.count > 1 else 0.0,
            registration=pages.found.registration,
            seams=pages.found.seams,
        )
        canvas.restoreState()
        _ends(canvas, heading, lay, pages, tile, number, imperial=imperial)
        if caution:
            room = (pages.paper_mm - 2 * SIDE_MM) * mm
            size = fitting_size(caution, 12, 6, room, bold=True)
            draw_text(canvas, SIDE_MM * mm, 20 * mm, caution, size, bold=True)
        canvas.showPage()
    if not pages.found.tiles:
        draw_text(canvas, SIDE_MM * mm, size[1] / 2, "No pieces have been laid yet.", 12)
        canvas.showPage()
    canvas.save()
    return target.getvalue()


def _ends(
    canvas: Canvas,
    heading: Heading,
    lay: LayPaper,
    pages: WidePages,
    tile: Tile,
    number: int,
    *,
    imperial: bool,
) -> None:
    """What lay this is at the head, a line of 100 mm and how to print at the foot, neighbours at the sides."""
    left, right = SIDE_MM * mm, (pages.paper_mm - SIDE_MM) * mm
    high = pages.page_length_mm * mm
    canvas.setFillColor(INK)
    name = f"{tile.name} · " if pages.count > 1 else ""
    first = f"{name}{heading.batch} · lay {lay.number} · {lay.fabric}"
    marker = amounts.lay_length(lay.marker_length_mm, imperial=imperial)
    width = amounts.length(lay.lay_width_mm, imperial=imperial)
    page = f"page {number} of {pages.count} · printed {heading.printed_on}"
    second = f"{plies_in_words(lay)} · marker {marker} · width {width} · {page}"
    room = right - left
    draw_text(canvas, left, high - 14 * mm, first, fitting_size(first, 18, 7, room, bold=True), bold=True)
    draw_text(canvas, left, high - 21 * mm, second, fitting_size(second, 11, 6, room))
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.8)
    base = 14 * mm
    for at in (left, left + RULE_MM * mm):
        canvas.line(at, base - 6, at, base + 6)
    canvas.line(left, base, left + RULE_MM * mm, base)
    inch = f" ({amounts.length(RULE_MM, imperial=True)})" if imperial else ""
    words = f"{RULE_MM:.0f}{amounts.THIN}mm{inch}: measure it. Print at 100 %, not fitted to the paper."
    size = fitting_size(words, 11, 6, room)
    draw_text(canvas, left, base - 8 - size, words, size)
    _joins(canvas, pages, tile)


def _joins(canvas: Canvas, pages: WidePages, tile: Tile) -> None:
    """Which page goes where, and which edges are cut. The drawing stands upright: its right is up, its top left."""
    joins = pages.found.joins(tile)
    left, right = SIDE_MM * mm, (pages.paper_mm - SIDE_MM) * mm
    high = pages.page_length_mm * mm
    middle = (left + right) / 2
    words = {
        "right": (middle, high - 27 * mm, "cut at the line of dots and dashes and lay on {}"),
        "left": (middle, FOOT_MM * mm - 9, "goes under {}"),
    }
    for side, (x, y, text) in words.items():
        if side in joins:
            said = text.format(joins[side].name)
            draw_text(canvas, x, y, said, 9, bold=True, align="centre")
    for side, x, text in (("above", left - 6, "goes under {}"), ("below", right + 12, "cut and lay on {}")):
        if side in joins:
            canvas.saveState()
            canvas.translate(x, high / 2)
            canvas.rotate(90)
            draw_text(canvas, 0, 0, text.format(joins[side].name), 9, bold=True, align="centre")
            canvas.restoreState()
    if "right" not in joins:
        cut_line(canvas, left, high - 25 * mm, right, high - 25 * mm, weight=0.5)


def pages_in_words(pages: WidePages, *, imperial: bool = False) -> str:
    """ "One page, 149.3 cm wide and 1.90 m long", or into how many it is parted and why."""
    wide = amounts.length(pages.paper_mm, imperial=imperial)
    long = amounts.lay_length(pages.page_length_mm, imperial=imperial)
    if pages.count == 1:
        return f"One page, {wide} wide and {long} long."
    why = []
    if pages.found.columns > 1:
        why.append(f"no PDF page is longer than {amounts.lay_length(LONGEST_MM, imperial=imperial)}")
    if pages.found.rows > 1:
        why.append("the paper is narrower than the lay")
    return f"{pages.count} pages to join, each {wide} wide and {long} long, as {' and '.join(why)}."
