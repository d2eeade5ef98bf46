"""Cut tickets: one page for each lay, to hang over the table while it is spread and cut."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from reportlab.pdfgen.canvas import Canvas

from planner.core.lays.items import width_taken_mm
from planner.core.listed import listed, ordinal
from planner.papers import amounts
from planner.papers.blocks import (
    Block,
    draw_stack,
    run_in_block,
    size_boxes,
    stack_height,
    stacked,
    text_block,
)
from planner.papers.cautions import BLADES
from planner.papers.data import NOT_NOTED, Heading, LayPaper, PaperSize
from planner.papers.lay_figures import length_words
from planner.papers.lay_fit import spread_length_mm
from planner.papers.lay_key import key_flow, key_rows
from planner.papers.marks import INK, MIRRORED, MIRRORED_SIGN, cut_line
from planner.papers.paging import MARGIN, page_size
from planner.papers.panels import caution_block, cut_already_block, flaws_blocks, lots_apart_blocks
from planner.papers.sheet import Sheet
from planner.papers.sheet_lays import no_drawing_block
from planner.papers.spreading import (
    no_rows_block,
    ply_blocks,
    ply_stack,
    side_by_side_in_words,
    turning_in_words,
    twins_in_words,
    way_in_words,
)
from planner.papers.stripes import lay_stripes_in_words
from planner.papers.ticket_plan import TicketParts, TicketPlan, plan_ticket
from planner.papers.ticket_record import MOST_ROWS, record_block, record_blocks, record_rows
from planner.papers.typefaces import LEADING, draw_lines, draw_text, fitted, width_of, wrap
from planner.papers.washing import washing_in_words

#: The plies take this share of the width, or in one line that; narrower than this, the sizes stand under them.
STACK_SHARE, LINE_SHARE, NARROW = 0.6, 0.46, 400.0
#: So many bundles are told in one block.
MOST_BUNDLES = 200
#: So far above the foot of a page a line that refers to the next one reaches into the room of the foot.
INTO_FOOT = 16.0
#: On a wide page the caution takes this share of the width, beside what is written in.
CAUTION_SHARE = 0.36


def cut_tickets(
    heading: Heading, lays: Sequence[LayPaper], size: PaperSize = "A4", *, imperial: bool = False
) -> bytes:
    """One page for each lay as PDF (a second where its pieces need it), upright or wide as it draws larger.

    `size` is A4 or Letter. No lays give one page that says so.
    """
    sheet = Sheet(heading, "Cut ticket", size)
    sheet.drawings.expect(lays)
    for index, lay in enumerate(lays):
        if index:
            sheet.end_page()
        _Ticket(sheet, lay, size, imperial).draw()
    if not lays:
        sheet.title([("due", heading.due_on)])
        sheet.place(text_block("No lay has been planned yet.", sheet.inner_width))
    return sheet.finish()


def _due_in_words(heading: Heading, lay: LayPaper) -> str:
    """ "due Mon 7 Dec 2026", the day of the batch; "first due Mon 14 Dec 2026" where nothing that is cut of the lay is
    due before; "" where no day is known."""
    first = f"{lay.due_on:%a} {lay.due_on.day} {lay.due_on:%b %Y}" if lay.due_on else heading.due_on
    return f"{'' if first == heading.due_on else 'first '}due {first}" if first else ""


class _Ticket:
    """One lay on its page."""

    def __init__(self, sheet: Sheet, lay: LayPaper, size: PaperSize, imperial: bool) -> None:  # noqa: FBT001
        self.sheet, self.lay, self.size, self.imperial = sheet, lay, size, imperial
        # The same widths are tried again and again.
        self.parts = TicketParts(
            head=cache(self._head),
            notes=cache(self._notes),
            plies=cache(lambda width: [self._plies_and_sizes(width, has_stack=bool(lay.ply_rows))]),
            briefly=cache(lambda width: [self._plies_and_sizes(width, has_stack=False)]),
            facts=cache(self._facts),
            key=cache(self._key),
            foot=cache(self._foot_height),
        )

    def draw(self) -> None:
        """Head, facts, drawing, pieces, bundles, pencil lines, caution."""
        sheet = self.sheet
        plan = plan_ticket(self.lay, self.parts, self.size)
        sheet.turn(self.size, wide=plan.is_wide)
        sheet.open_page()
        for block in (self.parts.head(sheet.inner_width), *plan.over):
            sheet.place(block)
        if self.lay.pieces:
            sheet.place(self._drawing(plan))
        else:
            sheet.place(no_drawing_block(self.lay, sheet.inner_width, imperial=self.imperial))
        for block in plan.under:
            sheet.place(block)
        writes = self._writes_overleaf and not self.lay.is_cut
        there = [
            *(["plies"] if plan.layout.plies == "overleaf" else []),
            *(["pieces", "bundles"] if plan.layout.key == "overleaf" else []),
            *(["what was really spread"] if writes else []),
        ]
        if there:
            words = listed(there)
            sheet.place(text_block(f"{words[0].upper()}{words[1:]}: next page.", sheet.inner_width, 9))
        # Where all goes on over pages there may be no room left for the foot; it then stands on the last.
        has_room = sheet.y - self._foot_height(plan.is_wide) >= sheet.bottom - INTO_FOOT
        if has_room:
            self._foot(wide=plan.is_wide)
        if there:
            self._overleaf(plan, writes=writes)
        if not has_room:
            sheet.need(self._foot_height(plan.is_wide))
            self._foot(wide=plan.is_wide)

    def _drawing(self, plan: TicketPlan) -> Block:
        """The drawing, and what stands at its right."""
        height = max(plan.fit.height, stack_height(plan.beside))

        def draw(canvas: Canvas, x: float, top: float) -> None:
            self.sheet.drawings.draw(self.lay, plan.fit, x, top, imperial=self.imperial)
            draw_stack(canvas, plan.beside, x + plan.inner - plan.column, top)

        return Block(height, draw)

    def _overleaf(self, plan: TicketPlan, *, writes: bool) -> None:
        """Plies, key and bundles, where they had no room, and what is written in; over as many pages as they take."""
        sheet = self.sheet
        mark = f" · mark {self.lay.mark}" if self.lay.mark else ""
        sheet.new_page(f"Lay {self.lay.number}{mark}")
        if plan.layout.plies == "overleaf" and self.lay.ply_rows:
            for block in ply_blocks(self.lay, sheet.inner_width):
                sheet.place(block)
            sheet.gap(8)
        if plan.layout.key == "overleaf":
            rows, column = key_rows(self.lay, sheet.inner_width, tick_each=not self.lay.is_cut)
            for row in rows:
                sheet.place_row(row, [column] * len(row))
            sheet.gap(2)
            for block in self._bundles(sheet.inner_width):
                sheet.place(block)
        if writes:
            sheet.gap(10)
            for block in record_blocks(self.lay, sheet.inner_width, imperial=self.imperial):
                sheet.place(block)

    def _head(self, width: float) -> Block:
        """Lay number as large as a hand, batch and fabric beside it, the length to spread at the right."""
        lay = self.lay
        left = max(width_of(str(lay.number), 62, bold=True), 22) + 16
        spread = amounts.spread_length(spread_length_mm(lay), imperial=self.imperial)
        right_width = max(width_of(spread, 22, bold=True), width_of("length to spread", 9)) + 6
        due = _due_in_words(self.sheet.heading, lay)
        due = " · ".join(filter(None, (due, lay.mark and f"mark {lay.mark}")))
        right_width = max(right_width, width_of(due, 10, bold=True) + 6)
        room = width - right_width - left - 10
        workroom = self.sheet.heading.workroom
        turn = f"{ordinal(lay.turn[0])} of {lay.turn[1]} to cut" if lay.turn and lay.turn[1] > 1 else ""
        noted = NOT_NOTED if lay.mark and not lay.is_noted else ""
        small = wrap(" · ".join(filter(None, ("Cut ticket", turn, workroom, noted))), 9, room)
        names = [
            fitted(text, largest, 8, room, bold=True)
            for text, largest in ((self.sheet.heading.batch, 24), (lay.fabric, 15))
        ]
        # Down from the top: the base of the small line, then each name with its own letters.
        bases, y = [], -9 - len(small) * 9 * LEADING
        for size, lines in names:
            bases.append(y + 9 * LEADING - 4 - size)
            y = bases[-1] - len(lines) * size * LEADING - 9 * LEADING + size * 0.95
        end = min(-66.0, y - 4)

        def draw(canvas: Canvas, x: float, top: float) -> None:
            canvas.setFillColor(INK)
            draw_text(canvas, x, top - 9, "lay", 10)
            draw_text(canvas, x, top - 58, str(lay.number), 62, bold=True)
            right = x + width
            draw_text(canvas, right, top - 9, "length to spread", 9, align="right")
            draw_text(canvas, right, top - 32, spread, 22, bold=True, align="right")
            draw_text(canvas, right, top - 52, due, 10, bold=True, align="right")
            draw_lines(canvas, x + left, top - 9, small, 9)
            for base, (size, lines) in zip(bases, names, strict=True):
                draw_lines(canvas, x + left, top + base, lines, size, bold=True)
            cut_line(canvas, x, top + end, right, top + end, weight=0.9)

        return Block(6 - end, draw)

    def _notes(self, width: float) -> list[Block]:
        """What is cut already, of which lay this is the rest, flaws ahead, and bundles to tie lot by lot."""
        lay = self.lay
        return [
            *([cut_already_block(lay.cut, width)] if lay.cut else []),
            *([text_block(lay.before, width, 10, bold=True, after=4)] if lay.before else []),
            *(flaws_blocks(lay.flaws, width) if lay.flaws else []),
            *(lots_apart_blocks(lay.apart, width) if lay.apart else []),
        ]

    def _facts(self, width: float) -> list[Block]:
        lay = self.lay
        length = length_words(lay, imperial=self.imperial)
        share = amounts.share(lay.efficiency)
        kind = share if lay.nested else f"{share}, an estimate: not nested yet"
        # In metres it is reckoned on the sheet; a tape in inches is told no millimetres at the table.
        reckoned = "" if self.imperial else lay.reckoning
        cloth = reckoned or amounts.cloth(lay.cloth_m, imperial=self.imperial, at_least=True)
        facts = (
            ("Wash first", washing_in_words(lay.shrinks), 3.0),
            ("Spread", f"{way_in_words(lay)} {turning_in_words(lay)}", 3.0),
            ("Stripes", lay_stripes_in_words(lay, imperial=self.imperial), 3.0),
            ("Side by side", side_by_side_in_words(lay), 3.0),
            ("Two letters", twins_in_words(lay), 3.0),
            (
                "Length",
                f"{length} · cloth in all {cloth} · efficiency {kind}",
                3.0,
            ),
            ("Width", f"{self._width_in_words()}: measure the cloth before it is spread.", 3.0),
            ("Each marker", self._marker_in_words(), 5.0),
        )
        return [run_in_block(label, words, width, after=after) for label, words, after in facts if words]

    def _width_in_words(self) -> str:
        """The usable width; of folded cloth as it is measured before it is folded, and as it lies."""
        lay = self.lay
        usable = amounts.length(lay.lay_width_mm, imperial=self.imperial)
        if lay.mode != "folded":
            return usable
        if lay.is_tube:
            return f"{usable} as the tube lies flat"
        whole = amounts.length(width_taken_mm(lay.lay_width_mm, lay.mode), imperial=self.imperial)
        return f"{whole} open, {usable} folded"

    def _plies_and_sizes(self, width: float, *, has_stack: bool) -> Block:
        """The plies as they lie at the left, the sizes of the marker at the right; one under the other where narrow."""
        lay = self.lay
        is_narrow = width < NARROW
        left = width if is_narrow else width * (STACK_SHARE if has_stack else LINE_SHARE)
        right = width if is_narrow else width - left - 14
        each = sum(count for _, count in lay.size_counts)
        spreads = lay.still
        still = " still to cut" if lay.plies_cut else ""
        sizes = stacked(
            [
                text_block("garments on the marker, by size", right, 8, soft=True, after=1),
                size_boxes([(size, str(count)) for size, count in lay.size_counts], right, box=36),
                text_block(
                    f"{each} × {spreads} = {garments_in_words(each * spreads)}{still}",
                    right,
                    10,
                    bold=True,
                    after=6 if is_narrow else 2,
                ),
            ]
        )
        stack = ply_stack(lay, left) if has_stack else no_rows_block(lay, left)
        return stacked([stack, sizes]) if is_narrow else _side_by_side(stack, sizes, left + 14)

    def _key(self, width: float) -> list[Block]:
        """The numbers of the pieces, then the bundles they go into."""
        return [key_flow(self.lay, width, tick_each=not self.lay.is_cut), *self._bundles(width)]

    def _marker_in_words(self) -> str:
        """What a marker holds, unless its plies say so; and what the sign of a mirrored piece means."""
        words = [] if self.lay.ply_rows else ["; ".join(self.lay.garments) or "–"]
        if any(piece.mirrored for piece in self.lay.pieces):
            words.append(f"{MIRRORED_SIGN} = {MIRRORED} piece")
        return " · ".join(words)

    def _bundles(self, width: float) -> list[Block]:
        """The bundles it goes into; very many in several blocks, so that each finds room on a page."""
        names = self.lay.bundles
        parts = [
            f"{', '.join(names[at : at + MOST_BUNDLES])}{',' if at + MOST_BUNDLES < len(names) else ''}"
            for at in range(0, len(names), MOST_BUNDLES)
        ]
        first, *more = parts or ["none yet"]
        head = run_in_block("Bundles from this lay", first, width, after=0 if more else 4)
        return [head, *(text_block(part, width, 9, after=4 if part is more[-1] else 0) for part in more)]

    def _foot_height(self, is_wide: bool) -> float:  # noqa: FBT001
        width = _foot_width(self.size, wide=is_wide)
        panel = caution_block((BLADES,), width).height
        record = (
            0.0
            if self.lay.is_cut or self._writes_overleaf
            else self._record(_record_width(width, wide=is_wide)).height + 4
        )
        return 10 + (max(record, panel) if is_wide else record + panel)

    def _foot(self, *, wide: bool) -> None:
        """Lines for the pencil and the caution, at the foot of the page; side by side where it is wide."""
        sheet = self.sheet
        width = _foot_width(self.size, wide=wide)
        top = sheet.bottom + self._foot_height(wide) - 6
        if not self.lay.is_cut and not self._writes_overleaf:
            self._record(_record_width(width, wide=wide)).draw(sheet.canvas, sheet.left, top)
        panel = caution_block((BLADES,), width)
        if wide:
            panel.draw(sheet.canvas, sheet.right - width, top)
        else:
            panel.draw(sheet.canvas, sheet.left, sheet.bottom + panel.height + 4)

    @property
    def _writes_overleaf(self) -> bool:
        """Many colours and rolls: their rows would take the room of the drawing."""
        return len(record_rows(self.lay)) > MOST_ROWS

    def _record(self, width: float) -> Block:
        """What was really spread, to be written in by hand."""
        return record_block(self.lay, width, imperial=self.imperial)


def garments_in_words(count: int) -> str:
    """ "1 garment", "1,200 garments"."""
    return f"{amounts.grouped(count)} {'garment' if count == 1 else 'garments'}"


def _record_width(caution: float, *, wide: bool) -> float:
    """Of the record, beside a caution of this width where the page is wide."""
    return caution / CAUTION_SHARE * (1 - CAUTION_SHARE) - 12 if wide else caution


def _foot_width(size: PaperSize, *, wide: bool) -> float:
    """Of the caution."""
    inner = page_size(size, wide=wide)[0] - 2 * MARGIN
    return inner * CAUTION_SHARE if wide else inner


def _side_by_side(left: Block, right: Block, at: float) -> Block:
    def draw(canvas: Canvas, x: float, top: float) -> None:
        draw_stack(canvas, [left], x, top)
        draw_stack(canvas, [right], x + at, top)

    return Block(max(left.height, right.height), draw)
