"""Panels that several papers have."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.colors import white
from reportlab.pdfgen.canvas import Canvas

from planner.papers.blocks import Block, draw_stack, run_in_block, stack_height, text_block
from planner.papers.cautions import DEFER, TIE_APART
from planner.papers.marks import INK, notched_panel
from planner.papers.typefaces import LEADING, draw_lines, wrap


def cut_already_block(words: str, width: float) -> Block:
    """What is cut of a lay already, white on black, so that nobody takes its paper for one to spread by."""
    size = 17.0
    lines = wrap(words, size, width - 20, bold=True)
    height = len(lines) * size * LEADING + 9

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setFillColor(INK)
        canvas.rect(x, top - height, width, height, stroke=0, fill=1)
        canvas.setFillColor(white)
        draw_lines(canvas, x + 10, top - 5 - size * 0.9, lines, size, bold=True)
        canvas.setFillColor(INK)

    return Block(height + 6, draw)


def lots_apart_blocks(apart: Sequence[tuple[str, str]], width: float) -> list[Block]:
    """Bundles that must be tied lot by lot, in a panel of their own, or in several (see :func:`_panels`)."""
    inner = width - 24
    blocks = [run_in_block("Shade lots differ within a bundle.", TIE_APART, inner, 9, after=3)]
    blocks += [run_in_block(bundle, f"{words}.", inner, 9, after=2) for bundle, words in apart]
    return _panels(blocks, width)


def flaws_blocks(flaws: Sequence[str], width: float) -> list[Block]:
    """Flaws on the rolls of a lay and where its plies begin behind them, in a panel of their own, or in several."""
    inner = width - 24
    first, *more = flaws
    blocks = [run_in_block("No ply lies across a flaw.", f"{first}.", inner, 10, after=2)]
    blocks += [text_block(f"{words}.", inner, 10, after=2) for words in more]
    return _panels(blocks, width)


#: Of a panel: so high it finds room on any page, under its head.
MOST_HIGH = 420.0


def _panels(blocks: Sequence[Block], width: float) -> list[Block]:
    """The blocks in one panel, in several one under the other where one would be higher than a page."""
    parts: list[list[Block]] = [[]]
    for block in blocks:
        if parts[-1] and stack_height(parts[-1]) + block.height > MOST_HIGH:
            parts.append([])
        parts[-1].append(block)
    return [_panel(part, width) for part in parts]


def _panel(blocks: Sequence[Block], width: float, *, after: float = 5) -> Block:
    """The blocks in a panel of pattern paper, with so much room beneath it."""
    height = stack_height(blocks) + 12

    def draw(canvas: Canvas, x: float, top: float) -> None:
        notched_panel(canvas, x, top - height, width, height)
        draw_stack(canvas, blocks, x + 12, top - 7)

    return Block(height + after, draw)


def caution_block(lines: Sequence[str], width: float) -> Block:
    """The cautions in a panel of pattern paper."""
    inner = width - 24
    blocks = [run_in_block("Take care.", DEFER, inner, 9, after=4)]
    blocks += [text_block(line, inner, 8.5, after=3) for line in lines]
    return _panel(blocks, width, after=0)
