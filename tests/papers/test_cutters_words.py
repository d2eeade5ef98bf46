"""Papers in the words of who cuts: numbers that stay whole."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from reportlab.pdfgen.canvas import Canvas

from planner.papers.blocks import Block, run_in_block
from planner.papers.spreading import ply_blocks
from planner.papers.typefaces import width_of, wrap
from tests.papers import samples
from tests.papers.words import all_words


def drawn(*blocks: Block) -> str:
    """The words of these, one under the other."""
    held = io.BytesIO()
    canvas, top = Canvas(held), 820.0
    for block in blocks:
        block.draw(canvas, 20.0, top)
        top -= block.height
    canvas.save()
    return all_words(held.getvalue())


@pytest.mark.parametrize("width", [150.0, 190.0, 400.0])
def test_the_number_of_a_bundle_stays_whole_in_a_narrow_column(width: float) -> None:
    lay = samples.stacked_lay()
    cuts = tuple(replace(cut, signs="a b c d") for cut in lay.ply_rows[0].cuts)
    told = drawn(
        *ply_blocks(replace(lay, ply_rows=(replace(lay.ply_rows[0], cuts=cuts),)), width),
        run_in_block("Bundles from this lay", ", ".join(f"B-0009-{n:02d}" for n in range(1, 6)), width),
    )
    for number in ("B-0007-01", "B-0007-02", "B-0007-03", *(f"B-0009-{n:02d}" for n in range(1, 6))):
        assert number in told


def test_what_is_held_together_parts_at_its_spaces_first_and_only_then_within_a_word() -> None:
    held = "a\u00a0b\u00a0M\u00a0→\u00a0B-0006-01"
    assert wrap(held, 9, width_of("B-0006-01", 9) + 1) == ("a\u00a0b\u00a0M\u00a0→", "B-0006-01")
    assert "".join(wrap(held, 9, 20)).replace("\u00a0", "") == "abM→B-0006-01"
