"""The buy list: what to order, by supplier, on paper and as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from decimal import Decimal

from planner.papers.blocks import text_block
from planner.papers.buy_data import IN_STOCK, THERE_FOR_IT, BuyLine, BuyList
from planner.papers.data import PaperSize
from planner.papers.figures import ROUNDING
from planner.papers.marks import rule
from planner.papers.sheet import Column, Sheet
from planner.papers.typefaces import draw_text, width_of

#: What the total is, where all has a price, and where some has none.
IN_ALL, IN_ALL_PRICED = "in all", "in all, what has a price"
NO_PRICE = "no price"
#: Points between a sum and what it is called.
BETWEEN = 14.0
#: A spreadsheet takes a cell that begins like this for a formula.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def _stock(data: BuyList) -> str:
    """What stock is called on this list."""
    return THERE_FOR_IT if data.for_batch else IN_STOCK


def _columns(data: BuyList) -> tuple[Column, ...]:
    return (
        Column("item", 2.7),
        Column("need", 1.7, "right"),
        Column(_stock(data), 1.7, "right"),
        Column("short", 1.7, "right"),
        Column("to buy", 2.0, "right", bold=True),
        Column("left over", 1.7, "right"),
        Column("price", 1.35, "right"),
    )


def csv_heads(data: BuyList) -> tuple[str, ...]:
    """Short = need − stock − besides, left over = stock + besides + bought − need."""
    return (
        "supplier", "item", "colour", "unit", "before waste", "factor", "need", _stock(data), "besides", "short",
        "pack holds", "packs", "bought", "left over", "to buy", "price", "currency", "how", "note",
    )  # fmt: skip


def buy_list(data: BuyList, size: PaperSize = "A4") -> bytes:
    """The buy list as PDF (A4 or Letter): a table with check boxes for each supplier, then the total."""
    sheet = Sheet(data.heading, "Buy list", size)
    total = f"{data.total} {data.currency}".strip()
    sum_of = IN_ALL_PRICED if data.unpriced else IN_ALL
    facts = [("due", data.heading.due_on), ("things to buy", str(len(data.lines))), (sum_of, total)]
    sheet.title([(label, value) for label, value in facts if value])
    if not data.lines:
        sheet.gap(10)
        sheet.place(
            text_block("Nothing to buy: the stock covers all that is planned.", sheet.inner_width, 12)
        )
        return sheet.finish()
    for supplier, lines in by_supplier(data.lines):
        sheet.section(supplier or "No supplier set down", keep=60)
        sheet.table(_columns(data), [_cells(line) for line in lines], under=[_under(line) for line in lines])
    sheet.gap(4)
    sheet.place(text_block(ROUNDING, sheet.inner_width, 8.5, soft=True))
    if data.unpriced:
        sheet.place(text_block(data.unpriced, sheet.inner_width, 9.5, bold=True))
    _total(sheet, sum_of, total)
    return sheet.finish()


def by_supplier(lines: Sequence[BuyLine]) -> list[tuple[str, list[BuyLine]]]:
    """Lines of one supplier together, suppliers in the order they first come, those without one last."""
    groups: dict[str, list[BuyLine]] = {}
    for line in lines:
        groups.setdefault(line.supplier, []).append(line)
    return sorted(groups.items(), key=lambda item: not item[0])


def _cells(line: BuyLine) -> tuple[str, ...]:
    item = " · ".join(part for part in (line.item, line.colour) if part)
    return item, line.need, line.in_stock, line.short, line.to_buy, line.left, line.price or NO_PRICE


def _under(line: BuyLine) -> str:
    """The reckoning and the note, beneath the row."""
    return ". ".join(part for part in (line.figures.words if line.figures else "", line.note) if part)


def _total(sheet: Sheet, sum_of: str, total: str) -> None:
    sheet.need(40)
    sheet.gap(24)
    left = sheet.right - max(190.0, width_of(sum_of, 10) + BETWEEN + width_of(total, 13, bold=True))
    rule(sheet.canvas, left, sheet.y + 15, sheet.right, sheet.y + 15, weight=0.9)
    draw_text(sheet.canvas, left, sheet.y, sum_of, 10)
    draw_text(sheet.canvas, sheet.right, sheet.y, total, 13, bold=True, align="right")


def buy_list_csv(data: BuyList) -> bytes:
    """The buy list as CSV in UTF-8 with a byte order mark, so that a spreadsheet opens it as it is.

    Figures are bare numbers in the unit of their row. A cell that a spreadsheet would take for a formula gets an
    apostrophe before it.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(csv_heads(data))
    for line in data.lines:
        names = (line.supplier, line.item, line.colour)
        how = line.figures.words if line.figures else ""
        words = (line.to_buy, line.price, data.currency, how, line.note)
        writer.writerow([*map(_harmless, names), *_csv_figures(line), *map(_harmless, words)])
    return b"\xef\xbb\xbf" + text.getvalue().encode("utf-8")


def _csv_figures(line: BuyLine) -> tuple[str, ...]:
    """Bare numbers with a point, so that a spreadsheet reckons with them; their unit stands in its own column."""
    one = line.figures
    if one is None:
        need, in_stock, short, left = map(_harmless, (line.need, line.in_stock, line.short, line.left))
        return "", "", "", need, in_stock, "", short, "", "", "", left
    besides = one.met + one.coming
    numbers = (one.need, one.on_shelf, besides, one.short, one.pack, one.packs, one.bought, one.left)
    # What is lost at flaws has no column of its own: what stands before it would not lead to the need.
    before = "" if one.before is None or one.lost else _bare(one.before)
    return one.unit, before, _bare(one.factor), *map(_bare, numbers)


def _bare(number: Decimal) -> str:
    return f"{number.normalize():f}"


def _harmless(cell: str) -> str:
    return f"'{cell}" if cell.lstrip(" ").startswith(FORMULA_STARTS) else cell
