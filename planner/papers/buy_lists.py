"""The buy list: what to order, by supplier, on paper and as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from planner.papers.blocks import text_block
from planner.papers.data import BuyLine, BuyList, PaperSize
from planner.papers.marks import rule
from planner.papers.sheet import Column, Sheet
from planner.papers.typefaces import draw_text

COLUMNS = (
    Column("item", 4.0),
    Column("need", 1.5, "right"),
    Column("in stock", 1.4, "right"),
    Column("to buy", 2.0, "right", bold=True),
    Column("price", 1.4, "right"),
    Column("note", 2.2),
)
CSV_HEADS = ("supplier", "item", "colour", "need", "in stock", "to buy", "price", "currency", "note")
#: A spreadsheet takes a cell that begins like this for a formula.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def buy_list(data: BuyList, size: PaperSize = "A4") -> bytes:
    """The buy list as PDF (A4 or Letter): a table with check boxes for each supplier, then the total."""
    sheet = Sheet(data.heading, "Buy list", size)
    total = f"{data.total} {data.currency}".strip()
    facts = [("due", data.heading.due_on), ("things to buy", str(len(data.lines))), ("in all", total)]
    sheet.title([(label, value) for label, value in facts if value])
    if not data.lines:
        sheet.gap(10)
        sheet.place(text_block("Nothing to buy: the stock covers this batch.", sheet.inner_width, 12))
        return sheet.finish()
    for supplier, lines in by_supplier(data.lines):
        sheet.section(supplier or "No supplier set down", keep=60)
        sheet.table(COLUMNS, [_cells(line) for line in lines])
    _total(sheet, total)
    return sheet.finish()


def by_supplier(lines: Sequence[BuyLine]) -> list[tuple[str, list[BuyLine]]]:
    """Lines of one supplier together, suppliers in the order they first come, those without one last."""
    groups: dict[str, list[BuyLine]] = {}
    for line in lines:
        groups.setdefault(line.supplier, []).append(line)
    return sorted(groups.items(), key=lambda item: not item[0])


def _cells(line: BuyLine) -> tuple[str, ...]:
    item = " · ".join(part for part in (line.item, line.colour) if part)
    return item, line.need, line.in_stock, line.to_buy, line.price, line.note


def _total(sheet: Sheet, total: str) -> None:
    sheet.need(40)
    sheet.gap(24)
    rule(sheet.canvas, sheet.right - 190, sheet.y + 15, sheet.right, sheet.y + 15, weight=0.9)
    draw_text(sheet.canvas, sheet.right - 190, sheet.y, "in all", 10)
    draw_text(sheet.canvas, sheet.right, sheet.y, total, 13, bold=True, align="right")


def buy_list_csv(data: BuyList) -> bytes:
    """The buy list as CSV in UTF-8 with a byte order mark, so that a spreadsheet opens it as it is.

    A cell that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(CSV_HEADS)
    for line in data.lines:
        row = (
            line.supplier,
            line.item,
            line.colour,
            line.need,
            line.in_stock,
            line.to_buy,
            line.price,
            data.currency,
            line.note,
        )
        writer.writerow([_harmless(cell) for cell in row])
    return b"\xef\xbb\xbf" + text.getvalue().encode("utf-8")


def _harmless(cell: str) -> str:
    return f"'{cell}" if cell.lstrip(" ").startswith(FORMULA_STARTS) else cell
