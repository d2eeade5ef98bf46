"""What was really spread, written in at the table: a row for each colour, with all that the lay's page asks for."""

from __future__ import annotations

from typing import NamedTuple

from reportlab.pdfgen.canvas import Canvas

from planner.papers.blocks import Block, stacked, ticked_block
from planner.papers.data import LayPaper
from planner.papers.marks import INK, pencil_line, rule
from planner.papers.typefaces import LEADING, draw_lines, draw_text, fitted, fitting_size, width_of

#: More rows than these go to a page of their own; each roll has a row of its own only as long as there are so few.
MOST_ROWS, MOST_BY_ROLL = 6, 3
#: Height of a row, wide enough for a pencil, and of the heads over them.
ROW, HEADS = 18.0, 11.0
#: What is counted there, as on the form.
ASKED = {"open": "plies", "face_to_face": "pairs", "folded": "lengths"}
#: Columns to write in with their shares of the width; what was planned stands in the first.
SHARES = (0.24, 0.14, 0.14, 0.2, 0.14, 0.14)


class RecordRow(NamedTuple):
    """A colour still to be spread, and from which roll as planned ("" where nobody knows yet)."""

    colour: str
    roll: str


def record_rows(lay: LayPaper) -> list[RecordRow]:
    """A row for each colour that is still to come, from the bottom; for each of its rolls where these are few."""
    if not lay.ply_rows:
        return [RecordRow(colour, "") for colour, _ in lay.plies]
    to_come = [row for row in lay.ply_rows if not row.is_cut]
    rows = [RecordRow(row.colour, row.roll.number if row.roll else "") for row in to_come]
    by_roll = list(dict.fromkeys(rows))
    if len(by_roll) <= MOST_BY_ROLL:
        return by_roll
    return list(dict.fromkeys(row._replace(roll="") for row in rows))


def record_block(lay: LayPaper, width: float, *, imperial: bool = False) -> Block:
    """All of it as one block."""
    return stacked(record_blocks(lay, width, imperial=imperial))


def record_blocks(lay: LayPaper, width: float, *, imperial: bool = False) -> list[Block]:
    """Its ticks, who cut it and heads, then row by row, so that many rows go on over the page."""
    drawn = [_row(row, width) for row in record_rows(lay)]
    head = stacked([_checked_and_signed(width), _heads(width, lay.mode, "yards" if imperial else "metres")])
    return [stacked([head, *drawn[:1]]), *drawn[1:]]


def _starts(width: float) -> list[float]:
    """Where the columns begin, and where the last ends."""
    return [sum(SHARES[:n]) * width for n in range(len(SHARES) + 1)]


def _heads(width: float, mode: str, unit: str) -> Block:
    starts = _starts(width)
    words = (
        "colour", f"{ASKED[mode]} really spread", f"{unit} really used", "roll and lot", "flaw from–to", "remarks",
    )  # fmt: skip

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(INK)
        for n, word in enumerate(words):
            room = starts[n + 1] - starts[n] - 4
            draw_text(
                canvas, x + starts[n] + (3 if n else 0), top - 8, word, fitting_size(word, 7.5, 6, room)
            )
        rule(canvas, x, top - HEADS, x + width, top - HEADS, weight=0.8)

    return Block(HEADS, draw)


def _row(row: RecordRow, width: float) -> Block:
    starts = _starts(width)
    words = f"{row.colour} · {row.roll}" if row.roll else row.colour
    size, lines = fitted(words, 9, 6, starts[1] - 4, bold=True)
    height = max(ROW, len(lines) * size * LEADING + 6)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(INK)
        draw_lines(canvas, x, top - 12, lines, size, bold=True)
        for at in starts[1:-1]:
            rule(canvas, x + at, top, x + at, top - height)
        rule(canvas, x, top - height, x + width, top - height)

    return Block(height, draw)


def _checked_and_signed(width: float) -> Block:
    """Two ticks, and lines for a name and a day at their right."""
    words = ("cloth width measured", "cloth relaxed, not stretched")
    size = 8.5
    first, second = (width_of(word, size) + size + 15 for word in words)
    free = width - first - second
    starts = (0.0, first, first + second, first + second + 0.58 * free, width)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for n, word in enumerate(words):
            ticked_block(word, starts[n + 1] - starts[n], size).draw(canvas, x + starts[n], top)
        canvas.setFillColor(INK)
        for n, word in enumerate(("cut by", "date"), 2):
            at = x + starts[n]
            draw_text(canvas, at, top - size, word, size, bold=True)
            pencil_line(canvas, at + width_of(word, size, bold=True) + 4, top - 10.5, x + starts[n + 1] - 6)

    return Block(17, draw)
