"""The key beneath a drawn lay: which numbers are which piece in which size."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from reportlab.pdfgen.canvas import Canvas

from planner.papers.blocks import Block, beside_each_other, stacked
from planner.papers.data import DrawnPiece, LayPaper
from planner.papers.marks import INK, MIRRORED_SIGN, check_box
from planner.papers.typefaces import LEADING, draw_lines, draw_text, width_of, wrap

SIZE = 9.0
#: A column of the key is at least so wide (points).
LEAST_COLUMN = 118.0


@dataclass(frozen=True)
class KeyEntry:
    """One kind of piece in one size and the numbers it has on the drawing; which of them are `mirrored`.

    `signs` are those of the garments that the numbers belong to, where the marker holds several.
    """

    label: str
    numbers: tuple[int, ...]
    mirrored: frozenset[int] = frozenset()
    signs: Mapping[int, str] = field(default_factory=dict)

    @property
    def marked(self) -> list[str]:
        """The numbers as printed: "3", "3a" for one of garment a, and "4↔" for a mirrored piece."""
        return [
            f"{number}{self.signs.get(number, '')}{MIRRORED_SIGN if number in self.mirrored else ''}"
            for number in self.numbers
        ]


def key_of(pieces: Sequence[DrawnPiece]) -> tuple[KeyEntry, ...]:
    """Pieces of one style, name and size together, in order of coming; the style only if it tells."""
    groups: dict[tuple[str, str, str], list[int]] = {}
    for piece in pieces:
        groups.setdefault((piece.style, piece.name, piece.size), []).append(piece.number)
    mirrored = frozenset(piece.number for piece in pieces if piece.mirrored)
    signs = {piece.number: piece.garment.replace(" ", "") for piece in pieces}
    signs = signs if len(set(signs.values())) > 1 else {}
    several = len({style for style, _, _ in groups}) > 1
    return tuple(
        KeyEntry(
            " · ".join(part for part in ((style if several else ""), name, size) if part),
            tuple(sorted(numbers)),
            mirrored.intersection(numbers),
            signs,
        )
        for (style, name, size), numbers in groups.items()
    )


def key_block(entry: KeyEntry, width: float, *, tick_each: bool) -> Block:
    """One entry: its name in bold, then its numbers; a check box for each number or one for all of them."""
    indent = 0.0 if tick_each else 14.0
    lines = wrap(entry.label, SIZE, width - indent, bold=True)
    last = width_of(lines[-1], SIZE, bold=True) if lines else 0.0
    tokens = _rows_of_numbers(entry.marked, width, indent, indent + last + 8, tick_each=tick_each)
    row = 13.5 if tick_each else SIZE * LEADING
    head = (len(lines) - 1) * SIZE * LEADING

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(INK)
        if not tick_each:
            check_box(canvas, x, top - SIZE - 0.8, 8.5)
        draw_lines(canvas, x + indent, top - SIZE, lines, SIZE, bold=True)
        base = top - head - SIZE
        for numbers in tokens:
            for at, number in numbers:
                if tick_each:
                    check_box(canvas, x + at, base - 1.2, 9)
                draw_text(canvas, x + at + (11.5 if tick_each else 0), base, number, SIZE)
            base -= row

    return Block(max(0.0, head) + len(tokens) * row + 4, draw)


def _rows_of_numbers(
    numbers: Sequence[str], width: float, start: float, first: float, *, tick_each: bool
) -> list[list[tuple[float, str]]]:
    """Numbers in rows no wider than `width`, each with its place; the first row begins at `first`."""
    before, after = (11.5, 8.0) if tick_each else (0.0, 6.0)
    rows: list[list[tuple[float, str]]] = [[]]
    at = first
    for number in numbers:
        needed = before + width_of(number, SIZE)
        if at + needed > width and at > start:
            rows.append([])
            at = start
        rows[-1].append((at, number))
        at += needed + after
    return rows


def key_rows(lay: LayPaper, width: float, *, tick_each: bool) -> tuple[list[list[Block]], float]:
    """The key in rows of equal columns for `width` points: the rows, and the width of a column."""
    blocks, count, column = _key_blocks(lay, width, tick_each=tick_each, least=LEAST_COLUMN)
    return [blocks[i : i + count] for i in range(0, len(blocks), count)], column


def _key_blocks(
    lay: LayPaper, width: float, *, tick_each: bool, least: float
) -> tuple[list[Block], int, float]:
    """The entries of the key, in how many equal columns of `width` points they stand, and how wide a column is."""
    entries = key_of(lay.pieces)
    count = max(1, min(len(entries) or 1, int(width // least)))
    column = width / count
    return [key_block(entry, column - 12, tick_each=tick_each) for entry in entries], count, column


def key_flow(lay: LayPaper, width: float, *, tick_each: bool, least: float = LEAST_COLUMN) -> Block:
    """The key in columns that are read downwards, as even as they can be."""
    blocks, count, column = _key_blocks(lay, width, tick_each=tick_each, least=least)
    height = max(
        [sum(block.height for block in blocks) / count, *(block.height for block in blocks)], default=0
    )
    while len(columns := _flowed(blocks, height)) > count:
        height += 3
    return beside_each_other([stacked(part) for part in columns], column)


def _flowed(blocks: Sequence[Block], height: float) -> list[list[Block]]:
    """Blocks one after the other in columns no higher than this."""
    columns: list[list[Block]] = [[]]
    left = height
    for block in blocks:
        if block.height > left + 0.01 and columns[-1]:
            columns.append([])
            left = height
        columns[-1].append(block)
        left -= block.height
    return columns
