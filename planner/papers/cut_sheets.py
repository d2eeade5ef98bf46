"""The cut sheet: the whole batch on paper for the cutting table."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from reportlab.pdfgen.canvas import Canvas

from planner.core.listed import lays_listed
from planner.papers import amounts
from planner.papers.blocks import (
    Block,
    run_in_block,
    size_boxes,
    stack_height,
    stacked,
    text_block,
    ticked_block,
)
from planner.papers.buy_data import THERE_FOR_IT
from planner.papers.cautions import BEFORE_CUTTING, CUTTING_TABLE
from planner.papers.cut_lengths import draw_lengths
from planner.papers.data import CountRow, CutSheet, LayPaper, PaperSize, SizeRow
from planner.papers.figures import ROUNDING, figure, nearest
from planner.papers.lay_fit import spread_length_mm
from planner.papers.marks import INK, SOFT, check_box, rule
from planner.papers.order import forward_in_words, in_order, waits
from planner.papers.panels import caution_block
from planner.papers.sheet import Column, Sheet
from planner.papers.sheet_lays import draw_lays
from planner.papers.spreading import plies_in_words, rolls_in_words
from planner.papers.stripes import repeats_to_measure
from planner.papers.typefaces import draw_text, fitting_size
from planner.papers.washing import cloth_to_wash

#: A last page of which less is taken is given more, or done without.
LITTLE = 0.3
#: Share of the gaps that is left where that saves a page.
CLOSER = 0.55
#: Of so many pages the last may look as it comes: to draw them once more takes long.
MANY_PAGES = 40
#: So many parts are tried on the last page.
MOST_MOVED = 3


def cut_sheet(data: CutSheet, size: PaperSize = "A4") -> bytes:
    """The cut sheet as PDF: what is made, cloth, before cutting, cautions, lays to scale, counts, lengths, notions.

    `size` is A4 or Letter. Lays are drawn at the largest whole scale that leaves room for their key. A last page with
    next to nothing on it is avoided by smaller gaps where these suffice; otherwise something from the page before moves
    over to it. A sheet of very many pages is left as it is.
    """
    sheet = _sheet(data, size)
    if 1 < sheet.page_count < MANY_PAGES and sheet.used_share < LITTLE:
        closer = _sheet(data, size, spacing=CLOSER)
        sheet = closer if closer.page_count < sheet.page_count else _with_more_at_the_end(data, size, sheet)
    return sheet.finish()


def _with_more_at_the_end(data: CutSheet, size: PaperSize, sheet: Sheet) -> Sheet:
    """With parts of the page before the last moved over to the last: as few as fill it enough."""
    before = [n for n, page in enumerate(sheet.joints) if page == sheet.page_count - 1]
    for joint in reversed(before[-MOST_MOVED:]):
        moved = _sheet(data, size, break_before=joint)
        if moved.page_count == sheet.page_count and moved.used_share >= LITTLE:
            return moved
    return sheet


def _sheet(
    data: CutSheet, size: PaperSize, *, spacing: float = 1.0, break_before: int | None = None
) -> Sheet:
    """The whole sheet drawn, its last page still open."""
    sheet = Sheet(data.heading, "Cut sheet", size, spacing=spacing, break_before=break_before)
    garments = sum(sum(row.quantities) for row in data.demand)
    lays = [lay for lay in in_order(data.lays) if data.stands(lay)]
    in_all = amounts.grouped(len(data.lays))
    facts = [
        ("due", data.heading.due_on),
        ("garments", amounts.grouped(garments)),
        ("lays", f"{amounts.grouped(len(lays))} of {in_all}" if data.only else in_all),
        ("mark", data.heading.mark),
    ]
    sheet.title([(label, value) for label, value in facts if value])
    if data.only:
        which = lays_listed(sorted(lay.number for lay in lays))
        words = f"With {which} only, of {in_all}; all else is of the whole batch."
        sheet.place(text_block(words, sheet.inner_width, 9.5, bold=True))
    _demand(sheet, data.demand)
    _cloths(sheet, data)
    repeats = repeats_to_measure(data.lays, imperial=data.imperial)
    _before_cutting(sheet, [*data.notes, *cloth_to_wash(data.lays), *repeats])
    _order(sheet, data)
    draw_lays(sheet, lays, imperial=data.imperial)
    _counts(sheet, data.counts)
    draw_lengths(sheet, data.lengths, data.length_totals, imperial=data.imperial)
    _notions(sheet, data.notions)
    return sheet


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
    """Draws blocks one under the other without a page break between them, as long as a page can hold them."""
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
        Column(THERE_FOR_IT, 1.4, "right"),
        Column("to buy", 2.2, "right", bold=True),
    )
    rows = [
        (
            " · ".join(part for part in (line.fabric, line.colour) if part),
            _metres(line.lay_m, 3, imperial=data.imperial),
            line.need or _metres(line.need_m, 2, imperial=data.imperial),
            line.in_stock or _metres(line.in_stock_m, 2, imperial=data.imperial, is_there=True),
            line.to_buy or "nothing",
        )
        for line in data.cloths
    ]
    sheet.table(columns, rows, under=[_sentences(line.reckoning, line.how) for line in data.cloths])
    sheet.place(text_block(ROUNDING, sheet.inner_width, 8.5, soft=True))


def _metres(metres: float, places: int, *, imperial: bool, is_there: bool = False) -> str:
    """Metres with so many places, as the sums beneath have them; yards to the eighth, rounded up, or down where it
    `is_there`.
    """
    if imperial:
        return amounts.cloth(metres, imperial=True, at_least=not is_there, at_most=is_there)
    return figure(nearest(metres, places), "m", least=places)


def _sentences(*parts: str) -> str:
    return ". ".join(part for part in parts if part)


def _before_cutting(sheet: Sheet, notes: Sequence[str]) -> None:
    """What to check before cutting, and the cautions: read before the knife is taken up, never alone on a page."""
    sheet.section("Before cutting", keep=60)
    sheet.ticked([*notes, *BEFORE_CUTTING])
    sheet.gap(4)
    sheet.place(caution_block(CUTTING_TABLE, sheet.inner_width))


def _order(sheet: Sheet, data: CutSheet) -> None:
    """The lays one after the other with the rolls they take, and how good the plan is."""
    if not data.lays:
        return
    sheet.section("Order of cutting", keep=70)
    columns = (
        Column("lay", 0.7, bold=True),
        Column("fabric", 2.6),
        Column("plies, from the bottom", 2.6),
        Column("spread", 1.5 if data.imperial else 1.1, "right", bold=True),
        Column("garments", 1.1, "right"),
    )
    every, forward = in_order(data.lays), forward_in_words(data.lays)
    waiting, several = _waiting_in_words(every), len({lay.due_on for lay in every}) > 1
    lays = [lay for lay in every if data.stands(lay)]
    rows = [
        (
            str(lay.number),
            lay.fabric,
            plies_in_words(lay),
            amounts.spread_length(spread_length_mm(lay), imperial=data.imperial),
            amounts.grouped(sum(count for _, count in lay.size_counts) * lay.still),
        )
        for lay in lays
    ]
    under = [
        ". ".join(
            filter(
                None,
                [
                    lay.cut or lay.before.rstrip("."),
                    _due_in_words(lay) if several else "",
                    waiting if waits(lay) and not lay.cut else "",
                    forward.get(lay.number, ""),
                    rolls_in_words(lay, imperial=data.imperial),
                    *lay.flaws,
                ],
            )
        )
        for lay in lays
    ]
    sheet.table(columns, rows, under=under)
    _why(sheet, data)


def _why(sheet: Sheet, data: CutSheet) -> None:
    """How good the plan is, fabric by fabric; it comes after the order of the lays, which is looked for first."""
    if not data.judged:
        return
    sheet.section("Why these lays", keep=50)
    fabrics = {lay.fabric for lay in data.lays}
    told: dict[str, list[str]] = {}
    for sentence in data.judged:
        fabric = next((name for name in fabrics if sentence.startswith(f"{name}: ")), "")
        told.setdefault(fabric, []).append(sentence.removeprefix(f"{fabric}: ") if fabric else sentence)
    for fabric, sentences in told.items():
        words = " ".join(sentences)
        one = (
            run_in_block(fabric, words, sheet.inner_width, 9)
            if fabric
            else text_block(words, sheet.inner_width, 9)
        )
        sheet.place(one)


def _waiting_in_words(lays: Sequence[LayPaper]) -> str:
    """What is said of each of these lays that waits for cloth: when it comes, where others do not wait."""
    count = sum(map(waits, lays))
    if count == len(lays):
        return "Waits for cloth"
    return f"Waits for cloth, so it comes {'last' if count == 1 else 'after what has its cloth'}"


def _due_in_words(lay: LayPaper) -> str:
    """ "First due Fri 4 Dec 2026"; "" where it is cut, or due on no day."""
    if lay.due_on is None or lay.is_cut:
        return ""
    return f"First due {lay.due_on:%a} {lay.due_on.day} {lay.due_on:%b %Y}"


def _counts(sheet: Sheet, counts: Sequence[CountRow]) -> None:
    sheet.section("Cutting counts", keep=90)
    if not counts:
        sheet.place(text_block("No pieces to count.", sheet.inner_width))
        return
    kinds = groupby(counts, key=lambda row: (row.style, row.options, row.colourway, row.sizes))
    for n, ((style, options, colourway, sizes), rows) in enumerate(kinds):
        if n:
            sheet.joint(90)
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
