"""A paper in the making: pages with running head and foot (page x of y), and a cursor that moves down."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

from planner.papers.blocks import Block, ticked_block
from planner.papers.data import NOT_NOTED, Heading, PaperSize
from planner.papers.lay_alike import LayDrawings
from planner.papers.marks import INK, SOFT, check_box, cut_line, notch, rule
from planner.papers.paging import FOOT, MARGIN, PagedCanvas, page_size, standard_foot
from planner.papers.typefaces import (
    LEADING,
    Align,
    draw_lines,
    draw_text,
    fitted,
    width_of,
    wrap,
)

#: What the head of a page takes where the batch's number goes in one line.
RUNNING_HEAD = 33.0


@dataclass(frozen=True)
class Column:
    """One column of a table: its title, its share of the width, how its cells stand."""

    title: str
    share: float
    align: Align = "left"
    bold: bool = False


class Sheet:
    """Pages of one paper. `y` is the top of what comes next; `place` turns the page when it must.

    `spacing` is the share of the gaps that are left. What begins with a :meth:`joint` may begin a page: `joints` has
    the page of each, and the one with the number `break_before` does begin one.
    """

    def __init__(
        self,
        heading: Heading,
        kind: str,
        size: PaperSize,
        *,
        wide: bool = False,
        spacing: float = 1.0,
        break_before: int | None = None,
    ) -> None:
        self.heading, self.kind = heading, kind
        self.width, self.height = page_size(size, wide=wide)
        self.left, self.right = MARGIN, self.width - MARGIN
        self.bottom = FOOT + 6
        self._target = io.BytesIO()
        title = f"{kind} {heading.batch}"
        self.canvas = PagedCanvas(
            self._target, (self.width, self.height), standard_foot(heading, kind), title, heading.workroom
        )
        self.drawings = LayDrawings(self.canvas)
        self.y = self.height - MARGIN
        self._is_open = True
        self.spacing, self.break_before = spacing, break_before
        self.joints: list[int] = []

    @property
    def page_count(self) -> int:
        """Pages so far, with the present one."""
        return len(self.canvas._held) + self._is_open

    @property
    def used_share(self) -> float:
        """How much of the present page is taken, of 1."""
        return 1 - (self.y - self.bottom) / self.room_on_page

    @property
    def inner_width(self) -> float:
        """Width between the margins."""
        return self.right - self.left

    @property
    def room_on_page(self) -> float:
        """Height of a whole page under its running head."""
        return self.height - MARGIN - RUNNING_HEAD - self.bottom

    def turn(self, size: PaperSize, *, wide: bool) -> None:
        """What comes next stands on paper this way round. Call it between pages only."""
        self.width, self.height = page_size(size, wide=wide)
        self.right = self.width - MARGIN
        self.canvas.setPageSize((self.width, self.height))
        self.y = self.height - MARGIN

    def end_page(self) -> None:
        """Finish this page; the next one is blank, without a head."""
        self.canvas.showPage()
        self.canvas.setPageSize((self.width, self.height))
        self.y = self.height - MARGIN
        self._is_open = False

    def new_page(self, what: str = "") -> None:
        """Finish this page and begin the next with the running head; `what` says what is continued."""
        self.end_page()
        self._running_head(f"{self.kind} · {what}" if what else self.kind)

    def open_page(self) -> None:
        """Mark that something stands on this page."""
        self._is_open = True

    def finish(self) -> bytes:
        """The whole paper."""
        if self._is_open:
            self.canvas.showPage()
        self.canvas.save()
        return self._target.getvalue()

    def _running_head(self, kind: str) -> None:
        self._is_open = True
        canvas = self.canvas
        canvas.setFillColor(INK)
        kind_width = width_of(kind, 12)
        room = self.inner_width - kind_width - 14
        size, lines = fitted(self.heading.batch, 20, 9, room, bold=True)
        base = self.y - size * 0.78
        after = draw_lines(canvas, self.left, base, lines, size, bold=True)
        draw_text(canvas, self.right, base, kind, 12, align="right")
        end = after + size * LEADING - 7
        cut_line(canvas, self.left, end, self.right, end)
        self.y = end - 10

    def title(self, big_facts: Sequence[tuple[str, str]]) -> None:
        """The head of the first page: workroom, batch as large as it goes, and facts at the right edge."""
        self._is_open = True
        canvas = self.canvas
        canvas.setFillColor(INK)
        facts_width = self.inner_width * 0.36
        left_width = self.inner_width - facts_width - 12
        noted = "" if self.heading.is_noted or not self.heading.mark else NOT_NOTED
        small = " · ".join(filter(None, (self.kind, self.heading.workroom, noted)))
        y = draw_lines(canvas, self.left, self.y - 9.5, wrap(small, 9.5, left_width), 9.5)
        size, lines = fitted(self.heading.batch, 40, 14, left_width, bold=True)
        base = y + 9.5 * LEADING - 9.5 - size * 0.76
        left_end = draw_lines(canvas, self.left, base, lines, size, bold=True) + size * LEADING
        y = self.y - 9.5
        right_end = y
        for label, value in big_facts:
            draw_text(canvas, self.right - facts_width, y, label, 8.5)
            room = facts_width - width_of(label, 8.5) - 8
            fact_size, fact_lines = fitted(value, 12, 7, room, bold=True)
            for line in fact_lines:
                draw_text(canvas, self.right, y, line, fact_size, bold=True, align="right")
                right_end = y
                y -= fact_size * LEADING
            y -= 3
        end = min(left_end, right_end) - 10
        cut_line(canvas, self.left, end, self.right, end, weight=0.9)
        self.y = end - 6

    def need(self, height: float) -> bool:
        """Turn the page when less than this height is left (not an empty page); was it turned?"""
        is_turned = self.y - height < self.bottom and self.y < self.height - MARGIN - 40
        if is_turned:
            self.new_page()
        return is_turned

    def place(self, block: Block) -> None:
        """Draw a block at the cursor, on a new page when it does not fit on this one."""
        self.need(block.height)
        block.draw(self.canvas, self.left, self.y)
        self.y -= block.height

    def place_row(self, blocks: Sequence[Block], widths: Sequence[float]) -> None:
        """Draw blocks side by side; the row is as high as its highest block."""
        height = max(block.height for block in blocks)
        self.need(height)
        x = self.left
        for block, width in zip(blocks, widths, strict=False):
            block.draw(self.canvas, x, self.y)
            x += width
        self.y -= height

    def gap(self, height: float) -> None:
        """Leave some room."""
        self.y -= height * self.spacing

    def joint(self, keep: float) -> None:
        """Here the page may be turned, and is where less than `keep` is left of it."""
        if len(self.joints) == self.break_before and self.y < self.height - MARGIN - RUNNING_HEAD:
            self.new_page()
        else:
            self.need(keep)
        self.joints.append(self.page_count)

    def section(self, title: str, *, keep: float = 40) -> None:
        """A heading: a notch, the words, and a cut line to the margin. `keep`: height that must follow it."""
        self.joint(28 + keep)
        self.gap(20)
        notch(self.canvas, self.left + 1.3, self.y - 1, height=11)
        self.canvas.setFillColor(INK)
        size, lines = fitted(title, 12.5, 9, self.inner_width - 40, bold=True)
        after = draw_lines(self.canvas, self.left + 8, self.y, lines, size, bold=True)
        width = width_of(lines[0], size, bold=True) if lines else 0
        cut_line(self.canvas, self.left + width + 16, self.y + 4, self.right, self.y + 4, weight=0.5)
        self.y = after + size * LEADING - 8

    def ticked(self, lines: Sequence[str]) -> None:
        """One check box a line."""
        for line in lines:
            self.place(ticked_block(line, self.inner_width))

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        *,
        under: Sequence[str] = (),
    ) -> None:
        """Rows of wrapped cells under a head that comes again on every page; a check box before each row.

        `under` has words for each row that stand beneath it over the whole width.
        """
        indent = 15.0
        total = sum(column.share for column in columns)
        widths = [column.share / total * (self.inner_width - indent) for column in columns]
        self._table_head(columns, widths, indent)
        for index, row in enumerate(rows):
            below = wrap(under[index], 8.5, self.inner_width - indent) if under else ()
            cells = [
                wrap(text, 9.5, width - 12, bold=column.bold)
                for text, width, column in zip(row, widths, columns, strict=True)
            ]
            height = max(1, *(len(lines) for lines in cells)) * 9.5 * LEADING + 5
            height += len(below) * 8.5 * LEADING
            if self.y - height < self.bottom:
                self.new_page()
                self._table_head(columns, widths, indent)
            low = self.y - height + 4 + len(below) * 8.5 * LEADING
            self._table_row(columns, widths, cells, indent, height)
            draw_lines(self.canvas, self.left + indent, low - 8.5, below, 8.5)

    def _table_head(self, columns: Sequence[Column], widths: Sequence[float], indent: float) -> None:
        canvas = self.canvas
        heads = [wrap(c.title, 8, w - 12) for c, w in zip(columns, widths, strict=True)]
        lines = max(len(head) for head in heads)
        self.need(lines * 10 + 30)
        canvas.setFillColor(SOFT)
        self._cells(columns, widths, heads, indent, 8, bold=False)
        canvas.setFillColor(INK)
        self.y -= lines * 8 * LEADING + 3
        rule(canvas, self.left, self.y, self.right, self.y, weight=0.8)
        self.y -= 2

    def _table_row(
        self,
        columns: Sequence[Column],
        widths: Sequence[float],
        cells: Sequence[Sequence[str]],
        indent: float,
        height: float,
    ) -> None:
        if indent:
            check_box(self.canvas, self.left, self.y - 11, 9)
        self.canvas.setFillColor(INK)
        self._cells(columns, widths, cells, indent, 9.5, bold=None)
        self.y -= height
        rule(self.canvas, self.left, self.y + 1, self.right, self.y + 1)

    def _cells(
        self,
        columns: Sequence[Column],
        widths: Sequence[float],
        cells: Sequence[Sequence[str]],
        indent: float,
        size: float,
        *,
        bold: bool | None,
    ) -> None:
        x = self.left + indent
        for column, width, lines in zip(columns, widths, cells, strict=True):
            y = self.y - size
            thick = column.bold if bold is None else bold
            for line in lines:
                at = x + width - 12 if column.align == "right" else x
                draw_text(self.canvas, at, y, line, size, bold=thick, align=column.align)
                y -= size * LEADING
            x += width
