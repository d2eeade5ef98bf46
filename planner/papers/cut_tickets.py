"""Cut tickets: one page for each lay, to hang over the table while it is spread and cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

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
from planner.papers.data import Heading, LayPaper, PaperSize
from planner.papers.lay_drawing import draw_lay
from planner.papers.lay_fit import LayFit, fit_lay, spread_length_mm
from planner.papers.lay_key import key_rows, row_height
from planner.papers.marks import INK, MIRRORED, MIRRORED_SIGN, cut_line, pencil_line
from planner.papers.panels import caution_block, cut_already_block
from planner.papers.sheet import MARGIN, Sheet, page_size
from planner.papers.sheet_lays import no_drawing_block
from planner.papers.spreading import no_rows_block, ply_blocks, ply_stack, turning_in_words, way_in_words
from planner.papers.typefaces import LEADING, draw_lines, draw_text, fitted, width_of, wrap

#: Less than this is no drawing to cut by; the key moves to a page of its own before it comes to that.
LEAST_DRAWING = 190.0
#: Usual height of the head, and of the two things at the foot.
HEAD_HEIGHT = 76.0
CAUTION_HEIGHT = 64.0
#: The plies take this share of the width, or in one line that; a stack higher than this stands overleaf.
STACK_SHARE, LINE_SHARE = 0.6, 0.46
HIGHEST_STACK = 170.0
RECORD_HEIGHT = 74.0


def cut_tickets(
    heading: Heading, lays: Sequence[LayPaper], size: PaperSize = "A4", *, imperial: bool = False
) -> bytes:
    """One page for each lay as PDF (a second where its pieces need it), upright or wide as it draws larger.

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


@dataclass(frozen=True)
class _Plan:
    """How the page of a lay is shared out: which way round, the drawing, and where its pieces are listed."""

    is_wide: bool
    fit: LayFit
    rows: list[list[Block]]
    column: float
    lists_here: bool


class _Ticket:
    """One lay on its page."""

    def __init__(self, sheet: Sheet, lay: LayPaper, size: PaperSize, imperial: bool) -> None:  # noqa: FBT001
        self.sheet, self.lay, self.size, self.imperial = sheet, lay, size, imperial

    def draw(self) -> None:
        """Head, facts, drawing, pieces, bundles, pencil lines, caution."""
        sheet = self.sheet
        ways = (False, True) if self.lay.pieces else (False,)
        plan = min((self._plan(wide=wide) for wide in ways), key=_worth)
        sheet.turn(self.size, wide=plan.is_wide)
        sheet.open_page()
        self._head()
        for block in self._facts(sheet.inner_width):
            sheet.place(block)
        if self.lay.pieces:
            fit = self._refit(plan, sheet.y)
            sheet.place(Block(fit.height, lambda canvas, x, top: self._lay(canvas, fit, x, top)))
        else:
            sheet.place(no_drawing_block(self.lay, sheet.inner_width, imperial=self.imperial))
        if plan.lists_here:
            self._pieces(plan)
        else:
            there = (
                "Pieces and bundles" if self._stack_here(sheet.inner_width) else "Plies, pieces and bundles"
            )
            sheet.place(text_block(f"{there}: next page.", sheet.inner_width, 9))
        self._foot(wide=plan.is_wide)
        if not plan.lists_here:
            sheet.new_page(f"Lay {self.lay.number}")
            if not self._stack_here(sheet.inner_width):
                for block in ply_blocks(self.lay, sheet.inner_width):
                    sheet.place(block)
                sheet.gap(8)
            self._pieces(plan)

    def _lay(self, canvas: Canvas, fit: LayFit, x: float, top: float) -> None:
        draw_lay(canvas, self.lay, fit, x, top, imperial=self.imperial)

    def _plan(self, *, wide: bool) -> _Plan:
        """The page shared out before anything is drawn; the head is taken at its usual height."""
        width, height = page_size(self.size, wide=wide)
        inner = width - 2 * MARGIN
        rows, column = key_rows(self.lay, inner, tick_each=not self.lay.is_cut)
        top = height - MARGIN - HEAD_HEIGHT - stack_height(self._facts(inner))
        lists = sum(row_height(row) for row in rows) + stack_height(self._below(inner)) + 8
        lists_here = top - self.sheet.bottom - _foot_height(wide=wide) - lists >= LEAST_DRAWING
        lists_here = lists_here and self._stack_here(inner)
        plan = _Plan(wide, fit_lay(self.lay, inner, LEAST_DRAWING), rows, column, lists_here)
        return replace(plan, fit=self._refit(plan, top))

    def _refit(self, plan: _Plan, top: float) -> LayFit:
        """The drawing in the room that is really left under `top`."""
        inner = page_size(self.size, wide=plan.is_wide)[0] - 2 * MARGIN
        lists = 16.0
        if plan.lists_here:
            lists = sum(row_height(row) for row in plan.rows) + stack_height(self._below(inner)) + 8
        room = top - self.sheet.bottom - _foot_height(wide=plan.is_wide) - lists
        return fit_lay(self.lay, inner, max(room, 120))

    def _head(self) -> None:
        """Lay number as large as a hand, batch and fabric beside it, the length to spread at the right."""
        sheet, lay, canvas = self.sheet, self.lay, self.sheet.canvas
        top = sheet.y
        canvas.setFillColor(INK)
        draw_text(canvas, sheet.left, top - 9, "lay", 10)
        number_width = draw_text(canvas, sheet.left, top - 58, str(lay.number), 62, bold=True)
        x = sheet.left + max(number_width, 22) + 16
        spread = amounts.lay_length(spread_length_mm(lay), imperial=self.imperial)
        right_width = max(width_of(spread, 22, bold=True), width_of("length to spread", 9)) + 6
        due = f"due {sheet.heading.due_on}" if sheet.heading.due_on else ""
        right_width = max(right_width, width_of(due, 10, bold=True) + 6)
        draw_text(canvas, sheet.right, top - 9, "length to spread", 9, align="right")
        draw_text(canvas, sheet.right, top - 32, spread, 22, bold=True, align="right")
        draw_text(canvas, sheet.right, top - 52, due, 10, bold=True, align="right")
        room = sheet.right - right_width - x - 10
        small = f"Cut ticket · {sheet.heading.workroom}" if sheet.heading.workroom else "Cut ticket"
        y = draw_lines(canvas, x, top - 9, wrap(small, 9, room), 9)
        for text, largest in ((sheet.heading.batch, 24), (lay.fabric, 15)):
            size, lines = fitted(text, largest, 8, room, bold=True)
            y = (
                draw_lines(canvas, x, y + 9 * LEADING - 4 - size, lines, size, bold=True)
                - 9 * LEADING
                + size * 0.95
            )
        end = min(top - 66, y - 4)
        cut_line(canvas, sheet.left, end, sheet.right, end, weight=0.9)
        sheet.y = end - 6

    def _facts(self, width: float) -> list[Block]:
        lay = self.lay
        marker = amounts.lay_length(lay.marker_length_mm, imperial=self.imperial)
        end = amounts.length(lay.end_allowance_mm, imperial=self.imperial)
        spread = amounts.lay_length(spread_length_mm(lay), imperial=self.imperial)
        share = amounts.share(lay.efficiency)
        kind = share if lay.nested else f"{share}, an estimate: not nested yet"
        cloth = lay.reckoning or amounts.cloth(lay.cloth_m, imperial=self.imperial)
        usable = amounts.length(lay.lay_width_mm, imperial=self.imperial)
        return [
            *([cut_already_block(lay.cut, width)] if lay.cut else []),
            *([text_block(lay.before, width, 10, bold=True, after=4)] if lay.before else []),
            *self._plies_and_sizes(width),
            run_in_block("Spread", f"{way_in_words(lay)} {turning_in_words(lay)}", width),
            run_in_block(
                "Length",
                f"marker {marker} + 2 × {end} ends = {spread} · cloth in all {cloth} · efficiency {kind}",
                width,
            ),
            run_in_block("Width", f"{usable}: measure the cloth before it is spread.", width),
            *(
                [run_in_block("Each marker", marked, width, after=5)]
                if (marked := self._marker_in_words())
                else []
            ),
        ]

    def _plies_and_sizes(self, width: float) -> list[Block]:
        """The plies as they lie at the left, the sizes of the marker at the right; a high stack goes overleaf."""
        lay = self.lay
        each = sum(count for _, count in lay.size_counts)
        spreads = lay.still
        still = " still to cut" if lay.plies_cut else ""
        has_stack = bool(lay.ply_rows) and self._stack_here(width)
        left = width * (STACK_SHARE if has_stack else LINE_SHARE)
        right = width - left - 14
        sizes = stacked(
            [
                text_block("garments on the marker, by size", right, 8, soft=True, after=1),
                size_boxes([(size, str(count)) for size, count in lay.size_counts], right, box=36),
                text_block(
                    f"{each} × {spreads} = {amounts.grouped(each * spreads)} garments{still}",
                    right,
                    10,
                    bold=True,
                ),
            ]
        )
        stack = ply_stack(lay, left) if has_stack else no_rows_block(lay, left)
        return [_side_by_side(stack, sizes, left + 14)]

    def _stack_here(self, width: float) -> bool:
        """Whether the plies stand on the first page, with the drawing."""
        return not self.lay.ply_rows or ply_stack(self.lay, width * STACK_SHARE).height <= HIGHEST_STACK

    def _marker_in_words(self) -> str:
        """What a marker holds, unless its plies say so; and what the sign of a mirrored piece means."""
        words = [] if self.lay.ply_rows else ["; ".join(self.lay.garments) or "–"]
        if any(piece.mirrored for piece in self.lay.pieces):
            words.append(f"{MIRRORED_SIGN} = {MIRRORED} piece")
        return " · ".join(words)

    def _below(self, width: float) -> list[Block]:
        bundles = ", ".join(self.lay.bundles) if self.lay.bundles else "none yet"
        return [run_in_block("Bundles from this lay", bundles, width, after=4)]

    def _pieces(self, plan: _Plan) -> None:
        for row in plan.rows:
            self.sheet.place_row(row, [plan.column] * len(row))
        self.sheet.gap(2)
        for block in self._below(self.sheet.inner_width):
            self.sheet.place(block)

    def _foot(self, *, wide: bool) -> None:
        """Lines for the pencil and the caution, at the foot of the page; side by side where it is wide."""
        sheet = self.sheet
        width = sheet.inner_width / 2 - 8 if wide else sheet.inner_width
        top = sheet.bottom + _foot_height(wide=wide) - 6
        if not self.lay.is_cut:
            self._record(sheet.left, top, width)
        panel = caution_block((BLADES,), width)
        if wide:
            panel.draw(sheet.canvas, sheet.right - width, top)
        else:
            panel.draw(sheet.canvas, sheet.left, top - RECORD_HEIGHT)

    def _record(self, x: float, top: float, width: float) -> None:
        """What was really spread, written by hand."""
        canvas = self.sheet.canvas
        half = width / 2
        for index, word in enumerate(("cloth width measured", "cloth relaxed, not stretched")):
            ticked_block(word, half - 8, 9.5).draw(canvas, x + index * half, top)
        used = "yards really used" if self.imperial else "metres really used"
        for index, word in enumerate(("plies really spread", used, "cut by", "date")):
            at = x + (index % 2) * half
            y = top - 38 - (index // 2) * 25
            canvas.setFillColor(INK)
            written = draw_text(canvas, at, y, word, 9.5, bold=True)
            pencil_line(canvas, at + written + 6, y - 2, at + half - 10)


def _worth(plan: _Plan) -> tuple[float, bool, bool]:
    """The larger drawing first (a second page for the pieces must gain a third), then upright paper."""
    return plan.fit.scale * (1.0 if plan.lists_here else 1.3), not plan.lists_here, plan.is_wide


def _foot_height(*, wide: bool) -> float:
    return 6 + (max(RECORD_HEIGHT, CAUTION_HEIGHT) if wide else RECORD_HEIGHT + CAUTION_HEIGHT)


def _side_by_side(left: Block, right: Block, at: float) -> Block:
    def draw(canvas: Canvas, x: float, top: float) -> None:
        draw_stack(canvas, [left], x, top)
        draw_stack(canvas, [right], x + at, top)

    return Block(max(left.height, right.height), draw)
