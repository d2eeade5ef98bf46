"""Cut tickets: one page for each lay, to hang over the table while it is spread and cut."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.pdfgen.canvas import Canvas

from planner.papers import amounts
from planner.papers.blocks import (
    Block,
    draw_stack,
    run_in_block,
    size_boxes,
    stack_height,
    stacked,
    text_block,
    ticked_block,
)
from planner.papers.cautions import BLADES
from planner.papers.cut_sheets import MODES, caution_panel
from planner.papers.data import Heading, LayPaper, PaperSize
from planner.papers.lay_drawing import LayFit, draw_lay, fit_lay, spread_length_mm
from planner.papers.lay_key import key_rows, row_height
from planner.papers.marks import INK, cut_line, pencil_line
from planner.papers.sheet import MARGIN, Sheet, page_size
from planner.papers.typefaces import LEADING, draw_lines, draw_text, fitted, width_of, wrap

#: Less than this is no drawing to cut by; the key moves to a page of its own before it comes to that.
LEAST_DRAWING = 190.0
CAUTION_HEIGHT = 62.0
RECORD_HEIGHT = 78.0


def cut_tickets(
    heading: Heading, lays: Sequence[LayPaper], size: PaperSize = "A4", *, imperial: bool = False
) -> bytes:
    """One page for each lay as PDF (a second one where its pieces need it); portrait or landscape as draws larger.

    `size` is A4 or Letter. No lays give one page that says so.
    """
    sheet = Sheet(heading, "Cut ticket", size)
    for index, lay in enumerate(lays):
        if index:
            sheet.end_page()
        _Ticket(sheet, lay, size, imperial).draw()
    if not lays:
        sheet.title([("due", heading.due_on)])
        sheet.place(text_block("No lay has been planned yet.", sheet.inner_width))
    return sheet.finish()


class _Ticket:
    """One lay on its page."""

    def __init__(self, sheet: Sheet, lay: LayPaper, size: PaperSize, imperial: bool) -> None:  # noqa: FBT001
        self.sheet, self.lay, self.size, self.imperial = sheet, lay, size, imperial

    def draw(self) -> None:
        """Head, facts, drawing, pieces, bundles, pencil lines, caution."""
        sheet = self.sheet
        wide = self._is_better_wide()
        sheet.turn(self.size, wide=wide)
        sheet.open_page()
        self._head()
        for block in self._facts():
            sheet.place(block)
        below = self._below()
        room = sheet.y - sheet.bottom - RECORD_HEIGHT - CAUTION_HEIGHT - 10
        rows, column = key_rows(self.lay, sheet.inner_width, tick_each=True)
        key_height = sum(row_height(row) for row in rows) + stack_height(below) + 18
        fits_here = room - key_height >= LEAST_DRAWING
        fit = fit_lay(self.lay, sheet.inner_width, room - (key_height if fits_here else 14))
        sheet.place(Block(fit.height, lambda canvas, x, top: self._lay(canvas, fit, x, top)))
        if fits_here:
            self._pieces(rows, column, below)
        else:
            sheet.place(text_block("Pieces and bundles: next page.", sheet.inner_width, 9))
        self._record()
        caution_panel(sheet, (BLADES,), gap=6)
        if not fits_here:
            sheet.new_page(f"Lay {self.lay.number}")
            self._pieces(rows, column, below)

    def _lay(self, canvas: Canvas, fit: LayFit, x: float, top: float) -> None:
        draw_lay(canvas, self.lay, fit, x, top, imperial=self.imperial)

    def _is_better_wide(self) -> bool:
        """Does the lay draw larger on landscape paper? Rooms are what is left by the other parts, nearly."""
        scales = []
        for wide in (False, True):
            width, height = page_size(self.size, wide=wide)
            inner = width - 2 * MARGIN
            rows, _ = key_rows(self.lay, inner, tick_each=True)
            room = height - 2 * MARGIN - 190 - RECORD_HEIGHT - CAUTION_HEIGHT
            keyed = room - sum(row_height(row) for row in rows) - 40
            scales.append(fit_lay(self.lay, inner, keyed if keyed >= LEAST_DRAWING else room).scale)
        return scales[1] < scales[0]

    def _head(self) -> None:
        """Lay number as large as a hand, batch and fabric beside it, the length to spread at the right."""
        sheet, lay, canvas = self.sheet, self.lay, self.sheet.canvas
        top = sheet.y
        canvas.setFillColor(INK)
        draw_text(canvas, sheet.left, top - 9, "lay", 10)
        number_width = draw_text(canvas, sheet.left, top - 58, str(lay.number), 62, bold=True)
        x = sheet.left + max(number_width, 22) + 16
        spread = amounts.length(spread_length_mm(lay), imperial=self.imperial)
        right_width = max(width_of(spread, 22, bold=True), width_of("length to spread", 9)) + 6
        draw_text(canvas, sheet.right, top - 9, "length to spread", 9, align="right")
        draw_text(canvas, sheet.right, top - 32, spread, 22, bold=True, align="right")
        due = f"due {sheet.heading.due_on}" if sheet.heading.due_on else ""
        draw_text(canvas, sheet.right, top - 52, due, 10, bold=True, align="right")
        room = sheet.right - right_width - x - 10
        small = f"Cut ticket · {sheet.heading.workroom}" if sheet.heading.workroom else "Cut ticket"
        y = draw_lines(canvas, x, top - 9, wrap(small, 9, room), 9)
        for text, largest in ((sheet.heading.batch, 24), (lay.fabric, 15)):
            size, lines = fitted(text, largest, 8, room, bold=True)
            y = draw_lines(canvas, x, y + 9 * LEADING - 4 - size, lines, size, bold=True) - 9 * LEADING + size * 0.95
        end = min(top - 66, y - 4)
        cut_line(canvas, sheet.left, end, sheet.right, end, weight=0.9)
        sheet.y = end - 6

    def _facts(self) -> list[Block]:
        lay, width = self.lay, self.sheet.inner_width
        marker = amounts.length(lay.marker_length_mm, imperial=self.imperial)
        end = amounts.length(lay.end_allowance_mm, imperial=self.imperial)
        spread = amounts.length(spread_length_mm(lay), imperial=self.imperial)
        share = amounts.share(lay.efficiency)
        kind = share if lay.nested else f"{share}, an estimate: not nested yet"
        cloth = amounts.cloth(lay.cloth_m, imperial=self.imperial)
        plies = size_boxes([(colour, f"{count} ×") for colour, count in lay.plies], width * 0.42, box=86)
        sizes = size_boxes(lay.size_counts, width * 0.52, box=40)
        labels = text_block("plies of each colour", width * 0.42, 8, soft=True, after=1)
        counts = text_block("garments cut, by size", width * 0.52, 8, soft=True, after=1)
        pair = _side_by_side(stacked([labels, plies]), stacked([counts, sizes]), width * 0.46)
        return [
            pair,
            run_in_block("Spread", f"{MODES.get(lay.mode, lay.mode)}; {_way(one_way=lay.one_way)}.", width),
            run_in_block(
                "Length", f"marker {marker} + 2 × {end} ends = {spread} · cloth in all {cloth} · efficiency {kind}", width
            ),
            run_in_block("Each marker", "; ".join(lay.garments) or "–", width, after=5),
        ]

    def _below(self) -> list[Block]:
        bundles = ", ".join(self.lay.bundles) if self.lay.bundles else "none yet"
        return [run_in_block("Bundles from this lay", bundles, self.sheet.inner_width, after=4)]

    def _pieces(self, rows: Sequence[Sequence[Block]], column: float, below: Sequence[Block]) -> None:
        for row in rows:
            self.sheet.place_row(row, [column] * len(row))
        self.sheet.gap(2)
        for block in below:
            self.sheet.place(block)

    def _record(self) -> None:
        """Lines for the pencil, at the foot of the page: what was really spread."""
        sheet, canvas = self.sheet, self.sheet.canvas
        sheet.y = sheet.bottom + RECORD_HEIGHT + CAUTION_HEIGHT
        half = sheet.inner_width / 2
        sheet.place_row(
            [ticked_block(word, half - 12, 10) for word in ("width of the cloth measured", "cloth relaxed flat, not stretched")],
            [half, half],
        )
        fields = ("plies really spread", "metres really used", "cut by", "date")
        if self.imperial:
            fields = ("plies really spread", "yards really used", "cut by", "date")
        for index, word in enumerate(fields):
            x = sheet.left + (index % 2) * half
            y = sheet.y - 18 - (index // 2) * 24
            canvas.setFillColor(INK)
            width = draw_text(canvas, x, y, word, 10, bold=True)
            pencil_line(canvas, x + width + 6, y - 2, x + half - 14)
        sheet.y -= 50


def _way(*, one_way: bool) -> str:
    return "one way, all pieces point the same way" if one_way else "two way, pieces may be turned"


def _side_by_side(left: Block, right: Block, at: float) -> Block:
    def draw(canvas: Canvas, x: float, top: float) -> None:
        draw_stack(canvas, [left], x, top)
        draw_stack(canvas, [right], x + at, top)

    return Block(max(left.height, right.height), draw)


