"""What was really spread, written in at the table: a row for each roll, with all that the lay's page asks for."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from typing import NamedTuple

from reportlab.pdfgen.canvas import Canvas

from planner.papers.blocks import Block, stacked, ticked_block
from planner.papers.data import LayPaper
from planner.papers.marks import INK, pencil_line, rule
from planner.papers.typefaces import LEADING, draw_lines, draw_text, fitted, fitting_size, width_of

#: More rows than these go to a page of their own.
MOST_ROWS = 6
#: Height of a row, wide enough for a pencil, and of the heads over them.
ROW, HEADS = 18.0, 11.0
#: What is counted there, as on the form.
ASKED = {"open": "plies", "face_to_face": "pairs", "folded": "lengths"}
#: Columns to write in with their shares of the width; what was planned stands in the first.
SHARES = (0.24, 0.14, 0.14, 0.2, 0.14, 0.14)


class RecordRow(NamedTuple):
    """A colour still to be spread, from which roll as planned ("" where nobody knows yet), and which of the plies that
    are counted from the table up: "1–4, 9"; "" where there is nothing to tell apart.
    """

    colour: str
    roll: str
    plies: str = ""

    @property
    def words(self) -> str:
        """ "ink · R-12 · plies 1–4"."""
        plies = f"{'plies' if re.search('[–,]', self.plies) else 'ply'} {self.plies}" if self.plies else ""
        return " · ".join(filter(None, (self.colour, self.roll, plies)))


def record_rows(lay: LayPaper) -> list[RecordRow]:
    """A row for each roll of each colour that is still to come, from the bottom."""
    if not lay.ply_rows:
        return [RecordRow(colour, "") for colour, _ in lay.plies]
    found: dict[RecordRow, list[tuple[int, int]]] = defaultdict(list)
    for row in lay.ply_rows:
        if row.is_cut:
            continue
        runs = found[RecordRow(row.colour, row.roll.number if row.roll else "")]
        if runs and runs[-1][1] + 1 == row.first:
            runs[-1] = (runs[-1][0], row.last)
        else:
            runs.append((row.first, row.last))
    if len(found) == 1:
        return list(found)
    return [row._replace(plies=_runs_in_words(runs)) for row, runs in found.items()]


def _runs_in_words(runs: Iterable[tuple[int, int]]) -> str:
    return ", ".join(f"{first}" if first == last else f"{first}–{last}" for first, last in runs)


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
        "colour, roll, plies", f"{ASKED[mode]} really spread", f"{unit} really used",
        "roll and lot", "flaw from–to", "remarks",
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
    size, lines = fitted(row.words, 9, 6, starts[1] - 4, bold=True)
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
