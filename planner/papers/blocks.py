"""Things of known height that are stacked down a page: lines of text, ticked lines, boxes of sizes.

A block is measured before it is drawn, so that what does not fit moves on whole. Measures are points.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from planner.papers.marks import INK, SOFT, check_box
from planner.papers.typefaces import (
    CAP_HEIGHT,
    LEADING,
    draw_lines,
    draw_text,
    fitted,
    fitting_size,
    width_of,
    wrap,
)

#: Text of several lines stands beside its bold word only if it has so much width there.
LEAST_BESIDE = 130.0
#: Draws at the left edge and the top edge given.
Draw = Callable[[Canvas, float, float], None]


@dataclass(frozen=True)
class Block:
    """Something to draw, and the height it takes."""

    height: float
    draw: Draw


def text_block(
    text: str, width: float, size: float = 9.5, *, bold: bool = False, soft: bool = False, after: float = 2
) -> Block:
    """A paragraph of plain text as one block."""
    lines = wrap(text, size, width, bold=bold)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(SOFT if soft else INK)
        draw_lines(canvas, x, top - size, lines, size, bold=bold)
        canvas.setFillColor(INK)

    return Block(len(lines) * size * LEADING + after, draw)


def ticked_block(text: str, width: float, size: float = 9.5, *, right: str = "", after: float = 3.5) -> Block:
    """A check box, the text beside it, and what belongs to it at the right edge."""
    side = size
    indent = side + 5
    right_width = width_of(right, size, bold=True) + 8 if right else 0
    if right_width > width / 2:
        text, right, right_width = f"{text}: {right}", "", 0
    lines = wrap(text, size, width - indent - right_width)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(INK)
        check_box(canvas, x, top - size * CAP_HEIGHT - (side - size * CAP_HEIGHT) / 2 - size * 0.27, side)
        draw_lines(canvas, x + indent, top - size, lines, size)
        if right:
            draw_text(canvas, x + width, top - size, right, size, bold=True, align="right")

    return Block(max(1, len(lines)) * size * LEADING + after, draw)


def run_in_block(label: str, text: str, width: float, size: float = 9, *, after: float = 3) -> Block:
    """A bold word and the text that follows it on the same line; beneath it where that would leave a narrow column."""
    return _RunIn(label, text, width, size, after).block()


@dataclass(frozen=True)
class _RunIn:
    label: str
    text: str
    width: float
    size: float
    after: float

    def block(self) -> Block:
        label_width = width_of(self.label, self.size, bold=True) + 5
        lines = wrap(self.text, self.size, max(self.width - label_width, 1.0))
        if len(lines) > 1 and self.width - label_width < LEAST_BESIDE:
            return self._beneath()

        def draw(canvas: Canvas, x: float, top: float) -> None:
            canvas.setFillColor(INK)
            draw_text(canvas, x, top - self.size, self.label, self.size, bold=True)
            draw_lines(canvas, x + label_width, top - self.size, lines, self.size)

        return Block(max(1, len(lines)) * self.size * LEADING + self.after, draw)

    def _beneath(self) -> Block:
        label = text_block(self.label, self.width, self.size, bold=True, after=0)
        return stacked([label, text_block(self.text, self.width, self.size, after=self.after)])


def size_boxes(pairs: Sequence[tuple[str, str]], width: float, *, box: float = 38, total: str = "") -> Block:
    """Sizes in a row of boxes with the quantity beneath, the way a maker writes it; wraps to more rows."""
    cell = min(box, width)
    total_width = width_of(total, 15, bold=True) + 12 if total else 0
    per_row = max(1, int((width - total_width) // cell))
    rows = [pairs[i : i + per_row] for i in range(0, len(pairs), per_row)]
    heads = {word: fitted(word, 9, 5, cell - 5) for word, _ in pairs}
    head = 13 + max((len(lines) - 1) * size * LEADING for size, lines in heads.values()) if heads else 13
    head = max(13.0, head)
    height = head + 23

    def draw_cell(canvas: Canvas, x: float, top: float, word: str, quantity: str) -> None:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.8)
        canvas.rect(x, top - height, cell, height, stroke=1, fill=0)
        canvas.setLineWidth(0.4)
        canvas.line(x, top - head, x + cell, top - head)
        middle = x + cell / 2
        size, lines = heads[word]
        y = top - 1.2 - size * 0.98
        for line in lines:
            draw_text(canvas, middle, y, line, size, align="centre")
            y -= size * LEADING
        number = fitting_size(quantity, 15, 6, cell - 4, bold=True)
        draw_text(canvas, middle, top - head - 17, quantity, number, bold=True, align="centre")

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(INK)
        for index, row in enumerate(rows):
            row_top = top - index * (height + 4)
            for column, (size, quantity) in enumerate(row):
                draw_cell(canvas, x + column * cell, row_top, size, quantity)
            if total and index == len(rows) - 1:
                draw_text(canvas, x + len(row) * cell + 8, row_top - head - 17, total, 15, bold=True)

    return Block(len(rows) * (height + 4) + 4, draw)


def stack_height(blocks: Sequence[Block]) -> float:
    """Height of blocks drawn one under the other."""
    return sum(block.height for block in blocks)


def draw_stack(canvas: Canvas, blocks: Sequence[Block], x: float, top: float) -> float:
    """Draw blocks one under the other; the bottom edge comes back."""
    for block in blocks:
        block.draw(canvas, x, top)
        top -= block.height
    return top


def stacked(blocks: Sequence[Block]) -> Block:
    """Several blocks one under the other as one."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        draw_stack(canvas, blocks, x, top)

    return Block(stack_height(blocks), draw)


def beside_each_other(blocks: Sequence[Block], width: float) -> Block:
    """Several blocks side by side as one, each `width` wide."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for index, block in enumerate(blocks):
            block.draw(canvas, x + index * width, top)

    return Block(max((block.height for block in blocks), default=0.0), draw)
