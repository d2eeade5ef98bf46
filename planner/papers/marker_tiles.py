"""A marker at true scale on sheets of A4 or Letter, to be joined: a first page that tells how, then the sheets.

The first page has a square of 100 mm to be measured, and a map of the sheets. PDF counts in units of 1/72 in
(ISO 32000), so 100 mm are 283.46 of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from planner.papers import amounts
from planner.papers.blocks import Block, run_in_block, stacked, text_block
from planner.papers.cautions import BLADES
from planner.papers.data import DrawnPiece, Heading, LayPaper, Point
from planner.papers.marker_drawing import draw_window
from planner.papers.marker_words import MarkerPiece, numbers_beside, placed_on
from planner.papers.marks import HAIR, INK, SOFT
from planner.papers.paging import page_size
from planner.papers.panels import caution_block
from planner.papers.sheet import Sheet
from planner.papers.spreading import plies_in_words, way_in_words
from planner.papers.tiling import Tile, Tiling, tiling
from planner.papers.typefaces import draw_text, fitting_size, width_of

TilePaper = Literal["A4", "Letter"]

#: Most printers leave some 4 mm blank; what must be whole keeps clear of that, and the margins hold names (mm).
SIDE_MM, HEAD_MM, FOOT_MM = 10.0, 13.0, 15.0
OVERLAP_MM = 12.0
SQUARE_MM = 100.0
FULL_SIZE = "Print at 100 % (actual size), not fitted to the page."
#: The map takes no more of the first page than this (points).
MOST_MAP = 330.0


def tiles_of(lay: LayPaper, paper: TilePaper) -> tuple[Tiling, bool]:
    """The sheets for a lay, upright or wide, whichever takes fewer; True where they are wide."""
    found, is_wide, _ = _with_pieces(lay, paper)
    return found, is_wide


def tiles_of_pieces(
    pieces: Sequence[DrawnPiece], length_mm: float, width_mm: float, paper: TilePaper
) -> Tiling | None:
    """The same of a marker so long and so wide by its pieces alone, without their garments and bundles; None where
    :func:`tiles_of` has to be asked: a number beside a piece that finds no room on these sheets takes another, and
    where it finds room follows from all that is written."""
    found, _ = tiles_for([piece.outline for piece in pieces], length_mm, width_mm, paper)
    return None if found.blank and numbers_beside(pieces) else found


def _with_pieces(lay: LayPaper, paper: TilePaper) -> tuple[Tiling, bool, tuple[MarkerPiece, ...]]:
    """The same, and the pieces with their words."""
    outlines = [piece.outline for piece in lay.pieces]
    found, is_wide = tiles_for(outlines, lay.marker_length_mm, lay.lay_width_mm, paper)
    found, pieces = placed_on(lay, found)
    return found, is_wide, pieces


def tiles_for(
    outlines: Sequence[Sequence[Point]], length_mm: float, width_mm: float, paper: TilePaper
) -> tuple[Tiling, bool]:
    """The same for the outlines of the pieces of a marker, without the numbers beside them."""
    both = []
    for is_wide in (False, True):
        across, high = (points / mm for points in page_size(paper, wide=is_wide))
        sheet = (across - 2 * SIDE_MM, high - HEAD_MM - FOOT_MM)
        both.append((tiling(outlines, length_mm, width_mm, sheet, OVERLAP_MM), is_wide))
    return min(both, key=lambda found: len(found[0].tiles))


def marker_tiles(
    heading: Heading, lay: LayPaper, paper: TilePaper = "A4", *, imperial: bool = False, caution: str = ""
) -> bytes:
    """The marker of a lay as PDF: how to print and join it, then every sheet that holds a part of it.

    Sheets overlap by 12 mm; marks in the middle of what two share coincide when they are joined. A lay without pieces
    gives the first page alone. A `caution` stands on the first page, above all else.
    """
    sheet = Sheet(heading, f"Marker of lay {lay.number}", paper)
    found, is_wide, pieces = _with_pieces(lay, paper)
    _first_page(sheet, lay, found, imperial=imperial, warned=caution)
    for tile in found.tiles:
        sheet.end_page()
        sheet.turn(paper, wide=is_wide)
        sheet.open_page()
        _tile_page(sheet, lay, pieces, found, tile)
    return sheet.finish()


def _first_page(sheet: Sheet, lay: LayPaper, found: Tiling, *, imperial: bool, warned: str) -> None:
    count = len(found.tiles)
    facts = [("due", sheet.heading.due_on), ("lay", str(lay.number)), ("sheets to join", str(count))]
    sheet.title([(label, value) for label, value in facts if value])
    width = sheet.inner_width
    sheet.gap(4)
    if warned:
        sheet.place(text_block(warned, width, 11, bold=True, after=6))
    sheet.place(text_block(FULL_SIZE, width, 15, bold=True, after=4))
    sheet.place(text_block(_what(lay, imperial=imperial), width, 9.5, after=2))
    sheet.place(text_block(way_in_words(lay), width, 9.5, after=8))
    beside = width - SQUARE_MM * mm - 18
    steps = stacked([run_in_block(word, text, beside, 9.5, after=5) for word, text in _steps(count)])
    square = Block(
        SQUARE_MM * mm + 4, lambda canvas, x, top: _square(canvas, x, top - SQUARE_MM * mm, imperial=imperial)
    )
    sheet.place_row([square, steps], [SQUARE_MM * mm + 18, beside])
    sheet.section("Which sheet lies where", keep=200)
    sheet.place(text_block(count_in_words(found), width, 9.5, after=6))
    caution = caution_block((BLADES,), width)
    room = sheet.y - sheet.bottom - caution.height - 16
    sheet.place(_map(lay, found, width, min(room, MOST_MAP)))
    sheet.gap(10)
    sheet.place(caution)


def _what(lay: LayPaper, *, imperial: bool) -> str:
    marker = amounts.lay_length(lay.marker_length_mm, imperial=imperial)
    usable = amounts.length(lay.lay_width_mm, imperial=imperial)
    across = "folded width" if lay.mode == "folded" else "usable width"
    plies = plies_in_words(lay)
    return f"{lay.fabric}: {plies}. Marker {marker}, {across} {usable}, without the allowances at the ends."


def _steps(count: int) -> tuple[tuple[str, str], ...]:
    return (
        ("1", "Print this page first and measure the square. If a side is not 100 mm, set the printer to 100 %."),
        ("2", f"Print the other {count} sheets the same way." if count > 1 else "Print the other sheet."),
        ("3", "Begin with the first sheet on the map, from its upper left. Cut a sheet along the line of dots and "
              "dashes at its right and lower edge, where its margin names a neighbour."),
        ("4", "Lay it on that neighbour until the halves of the diamonds meet, and tape it down. Row by row first, "
              "then the rows to each other."),
        ("5", "Measure the joined marker against its length and width above before it goes on the cloth."),
    )  # fmt: skip


def pages_of_tiles(found: Tiling, paper: TilePaper) -> str:
    """How many pages there are to print, and what they are: "19 pages of A4: a first page with the map, then 18 sheets
    to join, 3 across the cloth and 6 along it".
    """
    if not found.tiles:
        return f"1 page of {paper}"
    count, left_out = len(found.tiles), len(found.everywhere) - len(found.tiles)
    sheets = "1 sheet" if count == 1 else f"{count} sheets to join"
    words = f"{count + 1} pages of {paper}: a first page with the map, then {sheets}"
    lie = f"{found.rows} across the cloth and {found.columns} along it"
    if not left_out:
        return f"{words}, {lie}"
    blank = "the blank one is" if left_out == 1 else f"the {left_out} blank ones are"
    return f"{words}; with room for {len(found.everywhere)}, {lie}, {blank} left out"


def sheets_in_words(found: Tiling, paper: TilePaper) -> str:
    """How many pages it takes, for whoever has not printed them yet."""
    return f"{pages_of_tiles(found, paper)}. The first page has a square to measure as well."


def count_in_words(found: Tiling) -> str:
    """How many sheets there are, and how many are left out."""
    count, left_out = len(found.tiles), len(found.everywhere) - len(found.tiles)
    many = "1 sheet follows" if count == 1 else f"{count} sheets follow"
    words = f"{many} this page, {count + 1} pages in all. Rows have letters, columns numbers."
    if left_out:
        hold = "1 more holds nothing and is" if left_out == 1 else f"{left_out} more hold nothing and are"
        words += f" {hold} left out: crossed out on the map."
    return words


def _square(canvas: Canvas, x: float, y: float, *, imperial: bool) -> None:
    """The square to be measured; its sides are the middles of its lines."""
    side = SQUARE_MM * mm
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.5)
    canvas.rect(x, y, side, side, stroke=1, fill=0)
    for step in range(1, 10):
        at, long = step * side / 10, 10 if step == 5 else 5
        canvas.line(x + at, y, x + at, y + long)
        canvas.line(x, y + at, x + long, y + at)
    canvas.setFillColor(INK)
    draw_text(canvas, x + side / 2, y + side / 2 + 2, f"100{amounts.THIN}mm", 20, bold=True, align="centre")
    words = f"each side, {amounts.length(SQUARE_MM, imperial=True)}" if imperial else "each side"
    draw_text(canvas, x + side / 2, y + side / 2 - 14, words, 10, align="centre")


def _map(lay: LayPaper, found: Tiling, width: float, height: float) -> Block:
    """All sheets small, the pieces under their names; a cross where nothing is to be printed."""
    x0, y0 = found.everywhere[-found.columns].window[:2]
    x1, y1 = found.everywhere[found.columns - 1].window[2:]
    scale = min(width / (x1 - x0), height / (y1 - y0))
    printed = {(tile.row, tile.column) for tile in found.tiles}
    xs, ys = found.seams
    columns, rows = [x0, *xs, x1], [y1, *ys, y0]

    def draw(canvas: Canvas, left: float, top: float) -> None:
        def at(x: float, y: float) -> tuple[float, float]:
            return left + (x - x0) * scale, top - (y1 - y) * scale

        canvas.setStrokeColor(HAIR)
        canvas.setLineWidth(0.4)
        for piece in lay.pieces:
            path = canvas.beginPath()
            path.moveTo(*at(*piece.outline[0]))
            for point in piece.outline[1:]:
                path.lineTo(*at(*point))
            path.close()
            canvas.drawPath(path, stroke=1, fill=0)
        canvas.setStrokeColor(INK)
        for tile in found.everywhere:
            cx0, cy1 = at(columns[tile.column], rows[tile.row])
            cx1, cy0 = at(columns[tile.column + 1], rows[tile.row + 1])
            is_printed = (tile.row, tile.column) in printed
            canvas.setLineWidth(0.8 if is_printed else 0.3)
            canvas.rect(cx0, cy0, cx1 - cx0, cy1 - cy0, stroke=1, fill=0)
            if is_printed:
                size = fitting_size(tile.name, 13, 4, (cx1 - cx0) * 0.8, bold=True)
                size = min(size, (cy1 - cy0) * 0.7)
                canvas.setFillColor(INK)
                middle = (cy0 + cy1) / 2 - size * 0.36
                draw_text(canvas, (cx0 + cx1) / 2, middle, tile.name, size, bold=True, align="centre")
            else:
                canvas.line(cx0, cy0, cx1, cy1)
                canvas.line(cx0, cy1, cx1, cy0)

    return Block((y1 - y0) * scale + 4, draw)


def _tile_page(sheet: Sheet, lay: LayPaper, pieces: Sequence[MarkerPiece], found: Tiling, tile: Tile) -> None:
    canvas = sheet.canvas
    canvas.saveState()
    canvas.translate(SIDE_MM * mm, FOOT_MM * mm)
    draw_window(
        canvas,
        lay,
        pieces,
        tile.window,
        overlap_mm=found.overlap_mm,
        registration=found.registration,
        seams=found.seams,
    )
    canvas.restoreState()
    _margins(sheet, lay, found, tile)


def _margins(sheet: Sheet, lay: LayPaper, found: Tiling, tile: Tile) -> None:
    """The sheet's name at its head, and at each side the neighbour that goes there."""
    canvas, top = sheet.canvas, sheet.height - 9.5 * mm
    canvas.setFillColor(INK)
    name_width = draw_text(canvas, SIDE_MM * mm, top, tile.name, 17, bold=True)
    joins = found.joins(tile)
    right = sheet.width - SIDE_MM * mm
    above = f"below {joins['above'].name}" if "above" in joins else ""
    words = f"lay {lay.number} · {lay.fabric}"
    room = right - SIDE_MM * mm - name_width - width_of(FULL_SIZE, 7) - width_of(above, 8) - 40
    x = SIDE_MM * mm + name_width + 8
    x += draw_text(canvas, x, top, words, fitting_size(words, 9, 4, room)) + 14
    draw_text(canvas, x, top, above, 8, bold=True)
    canvas.setFillColor(SOFT)
    draw_text(canvas, right, top, FULL_SIZE, 7, align="right")
    canvas.setFillColor(INK)
    middle = FOOT_MM * mm + (sheet.height - (HEAD_MM + FOOT_MM) * mm) / 2
    if "right" in joins:
        _upright(canvas, sheet.width - 5.5 * mm, middle, f"cut here and lay on {joins['right'].name}")
    if "left" in joins:
        _upright(canvas, 7.5 * mm, middle, f"under {joins['left'].name}")
    if "below" in joins:
        words = f"cut here and lay on {joins['below'].name}"
        draw_text(canvas, sheet.width / 2, FOOT_MM * mm - 4.6, words, 7, bold=True, align="centre")


def _upright(canvas: Canvas, x: float, y: float, text: str) -> None:
    canvas.saveState()
    canvas.translate(x, y)
    canvas.rotate(90)
    draw_text(canvas, 0, 0, text, 7, bold=True, align="centre")
    canvas.restoreState()
