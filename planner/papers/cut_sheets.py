"""The cut sheet: the whole batch on paper for the cutting table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from reportlab.pdfgen.canvas import Canvas

from planner.papers import amounts
from planner.papers.blocks import (
    Block,
    beside_each_other,
    size_boxes,
    stack_height,
    stacked,
    text_block,
    ticked_block,
)
from planner.papers.cautions import BEFORE_CUTTING, CUTTING_TABLE
from planner.papers.cut_lengths import draw_lengths
from planner.papers.data import CountRow, CutSheet, LayPaper, PaperSize, SizeRow
from planner.papers.figures import ROUNDING, figure, nearest
from planner.papers.lay_drawing import LayFit, draw_lay, fit_lay, spread_length_mm
from planner.papers.lay_key import key_rows, row_height
from planner.papers.marks import INK, MIRRORED, MIRRORED_SIGN, SOFT, check_box, rule
from planner.papers.panels import caution_block, cut_already_block
from planner.papers.sheet import Column, Sheet
from planner.papers.spreading import plies_in_words, ply_blocks, rolls_in_words, way_in_words
from planner.papers.typefaces import draw_text, fitting_size

LEGEND = (
    "Drawn to scale: dashed line = cut, arrow = grain, short bar = notch, double line = selvedge, "
    "dots = end of the marker. Small letters tell the garments of a marker apart."
)
#: The drawing of a lay takes no more than this share of a page of the cut sheet.
DRAWING_SHARE = 0.33


def cut_sheet(data: CutSheet, size: PaperSize = "A4") -> bytes:
    """The cut sheet as PDF: what is made, cloth, before cutting, lays to scale, counts, lengths, cautions.

    `size` is A4 or Letter. Lays are drawn at the largest whole scale that leaves room for their key.
    """
    sheet = Sheet(data.heading, "Cut sheet", size)
    garments = sum(sum(row.quantities) for row in data.demand)
    facts = [
        ("due", data.heading.due_on),
        ("garments", amounts.grouped(garments)),
        ("lays", str(len(data.lays))),
    ]
    sheet.title([(label, value) for label, value in facts if value])
    _demand(sheet, data.demand)
    _cloths(sheet, data)
    _before_cutting(sheet, data.notes)
    _order(sheet, data)
    _lays(sheet, data.lays, imperial=data.imperial)
    _counts(sheet, data.counts)
    draw_lengths(sheet, data.lengths, data.length_totals, imperial=data.imperial)
    _notions(sheet, data.notions)
    sheet.gap(14)
    sheet.place(caution_block(CUTTING_TABLE, sheet.inner_width))
    return sheet.finish()


def _demand(sheet: Sheet, rows: Sequence[SizeRow]) -> None:
    sheet.section("What is made", keep=80)
    width = sheet.inner_width
    if not rows:
        sheet.place(text_block("Nothing is in this batch yet.", width))
    for row in rows:
        name = f"{row.style} {row.style_name}".strip()
        choice = " · ".join(part for part in (row.colourway, row.options) if part)
        pairs = [(s, str(q) if q else "–") for s, q in zip(row.sizes, row.quantities, strict=True)]
        blocks = [text_block(name, width, 11, bold=True, after=1)]
        if choice:
            blocks.append(text_block(choice, width, 9.5, after=4))
        blocks.append(size_boxes(pairs, width, total=f"= {sum(row.quantities)}"))
        place_together(sheet, blocks)
        sheet.gap(4)


def place_together(sheet: Sheet, blocks: Sequence[Block]) -> None:
    """Draw blocks one under the other without a page between them, as far as a page can hold them."""
    sheet.need(min(stack_height(blocks), sheet.height * 0.6))
    for block in blocks:
        sheet.place(block)


def _cloths(sheet: Sheet, data: CutSheet) -> None:
    sheet.section("Cloth", keep=60)
    if not data.cloths:
        sheet.place(text_block("No cloth has been worked out yet.", sheet.inner_width))
        return
    columns = (
        Column("fabric and colour", 4.6),
        Column("lay", 1.4, "right"),
        Column("need", 1.4, "right", bold=True),
        Column("in stock", 1.4, "right"),
        Column("to buy", 2.2, "right", bold=True),
    )
    rows = [
        (
            " · ".join(part for part in (line.fabric, line.colour) if part),
            _metres(line.lay_m, 3, imperial=data.imperial),
            _metres(line.need_m, 2, imperial=data.imperial),
            _metres(line.in_stock_m, 2, imperial=data.imperial),
            line.to_buy or "nothing",
        )
        for line in data.cloths
    ]
    sheet.table(columns, rows, under=[_sentences(line.reckoning, line.how) for line in data.cloths])
    sheet.place(text_block(ROUNDING, sheet.inner_width, 8.5, soft=True))


def _metres(metres: float, places: int, *, imperial: bool) -> str:
    """Metres with so many places, as the sums beneath have them; yards to the eighth."""
    if imperial:
        return amounts.cloth(metres, imperial=True)
    return figure(nearest(metres, places), "m", least=places)


def _sentences(*parts: str) -> str:
    return ". ".join(part for part in parts if part)


def _before_cutting(sheet: Sheet, notes: Sequence[str]) -> None:
    sheet.section("Before cutting", keep=60)
    sheet.ticked([*notes, *BEFORE_CUTTING])


def _order(sheet: Sheet, data: CutSheet) -> None:
    """How good the plan is, and the lays one after the other with the rolls they take."""
    if not data.lays:
        return
    sheet.section("Order of cutting", keep=70)
    for sentence in data.judged:
        sheet.place(text_block(sentence, sheet.inner_width, 9.5, after=3))
    columns = (
        Column("lay", 0.7, bold=True),
        Column("fabric", 2.6),
        Column("plies, from the bottom", 2.6),
        Column("spread", 1.1, "right", bold=True),
        Column("garments", 1.1, "right"),
    )
    rows = []
    for lay in data.lays:
        garments = sum(count for _, count in lay.size_counts) * lay.still
        rows.append(
            (
                str(lay.number),
                lay.fabric,
                plies_in_words(lay),
                amounts.lay_length(spread_length_mm(lay), imperial=data.imperial),
                amounts.grouped(garments),
            )
        )
    under = [
        ". ".join(
            filter(None, [lay.cut or lay.before.rstrip("."), rolls_in_words(lay, imperial=data.imperial)])
        )
        for lay in data.lays
    ]
    sheet.table(columns, rows, under=under)


def _lays(sheet: Sheet, lays: Sequence[LayPaper], *, imperial: bool) -> None:
    if not lays:
        sheet.section("Lays")
        sheet.place(text_block("No lay has been planned yet.", sheet.inner_width))
        return
    sheet.section("Lays", keep=_lay_height(sheet, lays[0]) + 20)
    sheet.place(text_block(LEGEND, sheet.inner_width, 8.5, soft=True, after=4))
    for lay in lays:
        _lay(sheet, lay, imperial=imperial)


@dataclass(frozen=True)
class _LayPlan:
    """How a lay stands on the cut sheet: its drawing, its key beside it when there is room, else beneath."""

    fit: LayFit
    beside: Block | None
    rows: list[list[Block]]
    column: float

    @property
    def height(self) -> float:
        """Head, drawing, key and the line of check boxes."""
        return (
            52
            + (self.fit.height if self.rows or self.beside else 30)
            + sum(row_height(row) for row in self.rows)
            + 16
        )


def _plan_lay(sheet: Sheet, lay: LayPaper) -> _LayPlan:
    fit = fit_lay(lay, sheet.inner_width, sheet.height * DRAWING_SHARE)
    if not lay.pieces:
        return _LayPlan(fit, None, [], sheet.inner_width)
    free = sheet.inner_width - fit.drawn_width(lay) - 14
    if free >= 120:
        rows, _ = key_rows(lay, free, tick_each=False)
        beside = stacked([beside_each_other(row, free / len(rows[0])) for row in rows])
        if beside.height <= fit.height - 14:
            return _LayPlan(fit, beside, [], free)
    rows, column = key_rows(lay, sheet.inner_width, tick_each=False)
    return _LayPlan(fit, None, rows, column)


def _lay_height(sheet: Sheet, lay: LayPaper) -> float:
    """What has to stay together of a lay, unless its key alone fills a page."""
    banner = cut_already_block(lay.cut, sheet.inner_width).height if lay.cut else 0.0
    return min(_plan_lay(sheet, lay).height + banner, sheet.height * 0.6)


def _lay(sheet: Sheet, lay: LayPaper, *, imperial: bool) -> None:
    width = sheet.inner_width
    plan = _plan_lay(sheet, lay)
    sheet.need(_lay_height(sheet, lay))
    sheet.place(text_block(f"Lay {lay.number} · {lay.fabric}", width, 13, bold=True))
    if lay.cut:
        sheet.place(cut_already_block(lay.cut, width))
    words = " ".join(filter(None, [lay.before, lay_in_words(lay, imperial=imperial)]))
    if any(piece.mirrored for piece in lay.pieces):
        words += f" {MIRRORED_SIGN} = {MIRRORED}."
    sheet.place(text_block(words, width, 9.5, after=4))

    def draw(canvas: Canvas, x: float, top: float) -> None:
        draw_lay(canvas, lay, plan.fit, x, top, imperial=imperial)
        if plan.beside:
            plan.beside.draw(canvas, x + width - plan.column, top - 14)

    if lay.pieces:
        sheet.place(Block(plan.fit.height, draw))
    else:
        sheet.place(no_drawing_block(lay, width, imperial=imperial))
    for row in plan.rows:
        sheet.place_row(row, [plan.column] * len(row))
    if lay.ply_rows:
        sheet.gap(4)
        place_together(sheet, ply_blocks(lay, width))
        sheet.gap(4)
    left = ("pieces counted and tied",) if lay.is_cut else ("spread", "cut", "pieces counted and tied")
    done = [ticked_block(word, width / 3 - 8) for word in left]
    sheet.place_row(done, [width / 3] * len(done))
    sheet.gap(10)


def no_drawing_block(lay: LayPaper, width: float, *, imperial: bool) -> Block:
    """What stands in place of the drawing of a lay without pieces."""
    across = amounts.length(lay.lay_width_mm, imperial=imperial)
    word = "folded width" if lay.mode == "folded" else "usable width"
    words = f"No pieces have been laid yet, so there is nothing to draw. {word.capitalize()} {across}."
    return text_block(words, width, 9.5, after=4)


def lay_in_words(lay: LayPaper, *, imperial: bool) -> str:
    """Plies, way of spreading, cloth and efficiency in one sentence."""
    spread = amounts.lay_length(spread_length_mm(lay), imperial=imperial)
    used = amounts.cloth(lay.cloth_m, imperial=imperial)
    share = amounts.share(lay.efficiency)
    kind = f"efficiency {share}" if lay.nested else f"an estimate at {share} efficiency: not nested yet"
    cloth = lay.reckoning or f"{used} of cloth in all"
    return f"{plies_in_words(lay)}. {way_in_words(lay)} Spread {spread} a ply; {cloth}; {kind}."


def _counts(sheet: Sheet, counts: Sequence[CountRow]) -> None:
    sheet.section("Cutting counts", keep=90)
    if not counts:
        sheet.place(text_block("No pieces to count.", sheet.inner_width))
        return
    for (style, options, colourway, sizes), rows in groupby(
        counts, key=lambda row: (row.style, row.options, row.colourway, row.sizes)
    ):
        words = " · ".join(part for part in (style, colourway, options) if part)
        title = text_block(words, sheet.inner_width, 10.5, bold=True, after=3)
        _count_table(sheet, title, sizes, list(rows))
        sheet.gap(8)


def _count_table(sheet: Sheet, title: Block, sizes: Sequence[str], rows: Sequence[CountRow]) -> None:
    """Piece and cloth at the left, a count and a box to tick for each size; many sizes take a second table.

    Title and sizes come again on every page the table goes on to.
    """
    width = sheet.inner_width
    name_width = width * 0.27
    per_table = max(1, min(len(sizes), int((width - name_width) // 42) - 1))
    for start in range(0, max(1, len(sizes)), per_table):
        part = slice(start, start + per_table)
        cell = min(58.0, (width - name_width) / (per_table + 1))
        is_last = start + per_table >= len(sizes)
        words = [*sizes[part], *(["all"] if is_last else [])]
        head = stacked([title, _count_head(words, name_width, cell)])
        for index, row in enumerate(rows):
            total = sum(row.counts) if is_last else None
            block = _count_row(row, row.counts[part], total, name_width, cell, width)
            is_first_here = sheet.need(block.height + (head.height if index == 0 else 0))
            if index == 0 or is_first_here:
                sheet.place(head)
            sheet.place(block)
        sheet.gap(4)


def _count_head(words: Sequence[str], name_width: float, cell: float) -> Block:
    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(SOFT)
        draw_text(canvas, x, top - 9, "piece and cloth", 8)
        canvas.setFillColor(INK)
        for index, word in enumerate(words):
            size = fitting_size(word, 10, 3.5, cell - 6, bold=True)
            at = x + name_width + index * cell + cell / 2
            draw_text(canvas, at, top - 9, word, size, bold=True, align="centre")
        rule(canvas, x, top - 13, x + name_width + len(words) * cell, top - 13, weight=0.8)

    return Block(14, draw)


def _count_row(
    row: CountRow, counts: Sequence[int], total: int | None, name_width: float, cell: float, width: float
) -> Block:
    """One piece: count and check box side by side in each size, the sum at the end."""
    name = stacked(
        [
            text_block(row.piece, name_width - 8, 10, bold=True, after=0),
            text_block(row.cloth, name_width - 8, 8, soft=True, after=0),
        ]
    )
    height = max(24.0, name.height + 5)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        name.draw(canvas, x, top - 1)
        base = top - height / 2 - 4.5
        right = x + name_width
        canvas.setFillColor(INK)
        for count in counts:
            text = str(count) if count else "–"
            size = fitting_size(text, 13, 6, cell / 2 - 3, bold=True)
            draw_text(canvas, right + cell / 2 - 1, base, text, size, bold=True, align="right")
            if count:
                check_box(canvas, right + cell / 2 + 4, base, 9.5)
            right += cell
            rule(canvas, right, top - 2, right, top - height + 2)
        end = right
        if total is not None:
            text = amounts.grouped(total)
            draw_text(
                canvas, right + cell / 2, base, text, fitting_size(text, 13, 6, cell - 4), align="centre"
            )
            end += cell
        rule(canvas, x, top - height, min(end, x + width), top - height)

    return Block(height, draw)


def _notions(sheet: Sheet, notions: Sequence[tuple[str, str]]) -> None:
    if not notions:
        return
    sheet.section("Notions to lay ready", keep=50)
    half = sheet.inner_width / 2
    blocks = [ticked_block(name, half - 12, right=amount) for name, amount in notions]
    for index in range(0, len(blocks), 2):
        sheet.place_row(blocks[index : index + 2], [half, half])
