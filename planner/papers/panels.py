"""Panels that several papers have."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.pdfgen.canvas import Canvas

from planner.papers.blocks import Block, draw_stack, run_in_block, stack_height, text_block
from planner.papers.cautions import DEFER
from planner.papers.marks import notched_panel


def caution_block(lines: Sequence[str], width: float) -> Block:
    """The cautions in a panel of pattern paper."""
    inner = width - 24
    blocks = [run_in_block("Take care.", DEFER, inner, 9, after=4)]
    blocks += [text_block(line, inner, 8.5, after=3) for line in lines]
    height = stack_height(blocks) + 12

    def draw(canvas: Canvas, x: float, top: float) -> None:
        notched_panel(canvas, x, top - height, width, height)
        draw_stack(canvas, blocks, x + 12, top - 7)

    return Block(height, draw)
