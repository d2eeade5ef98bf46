"""Papers in the words of who cuts: numbers that stay whole."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from reportlab.pdfgen.canvas import Canvas

from planner.core.lays.matched import Stripes
from planner.papers.blocks import Block, run_in_block
from planner.papers.cut_sheets import cut_sheet
from planner.papers.cut_tickets import cut_tickets
from planner.papers.layers import layers_in_words, lengths_in_words
from planner.papers.sheet_lays import lay_in_words
from planner.papers.spreading import ply_blocks
from planner.papers.stripes import stripes_in_words
from planner.papers.typefaces import width_of, wrap
from planner.papers.washing import washing_in_words
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


def test_a_cutter_is_told_of_stripes_on_ticket_and_sheet_and_to_measure_their_repeat() -> None:
    stripes = Stripes(60.0, 0.0, (("side", ("front", "back")),))
    for mode in ("open", "folded"):
        lay = replace(samples.stacked_lay(mode=mode), stripes=stripes)
        sheet = all_words(cut_sheet(replace(samples.cut_sheet_data(), lays=(lay,))))
        for words in (all_words(cut_tickets(samples.HEADING, [lay])), sheet):
            assert "Striped, repeat 6 cm along: stripe on stripe in every ply" in words
            assert "Matched at: side (front, back)." in words
            assert "Measure the repeat on the cloth itself before cutting" in words
            assert ("pin the lower to it, stripe on stripe" in words) is (mode == "folded")
        assert "on the cloth itself: its lays are made for 6 cm along." in sheet
    assert "tripe" not in all_words(cut_tickets(samples.HEADING, [samples.stacked_lay()]))


def test_a_cutter_is_told_on_ticket_and_sheet_which_cloth_is_washed_first() -> None:
    """Laid as washed and cut unwashed, a garment comes out too small: nothing else on paper would say so."""
    lay = replace(samples.stacked_lay(), shrinks=(0.05, 0.0))
    sheet = all_words(cut_sheet(replace(samples.cut_sheet_data(), lays=(lay, replace(lay, number=8)))))
    assert sheet.count(f"Wash and dry {lay.fabric}, as the garment will be") == 1
    assert "its lays are planned on cloth 5 % shorter than bought." in sheet
    ticket = all_words(cut_tickets(samples.HEADING, [lay]))
    assert "Wash first" in ticket
    assert "this lay is planned on cloth 5 % shorter than bought." in ticket
    assert washing_in_words((0.0, -0.01)).endswith("before it is spread, as the garment will be.")
    cut = cut_sheet(replace(samples.cut_sheet_data(), lays=(replace(lay, is_cut=True),)))
    for done in (cut, cut_tickets(samples.HEADING, [samples.stacked_lay()])):
        assert "Wash" not in all_words(done)


def test_repeats_are_told_both_ways_and_as_washed() -> None:
    washed = Stripes(57.0, 40.0, (), is_washed=True)
    told = stripes_in_words(washed, "open", 1).replace("\u2009", " ")
    assert told.startswith("Striped or checked, repeat 5.7 cm along and 4 cm across once washed. No seam")


def test_a_repeat_that_was_changed_since_is_told_instead_of_one_to_measure() -> None:
    made_for = Stripes(60.0, 0.0, ())
    for now, noted in (((50.0, 40.0), "a repeat of 5 cm along and 4 cm across"), ((0.0, 0.0), "no repeat")):
        told = stripes_in_words(replace(made_for, now=now), "open", 1).replace("\u2009", " ")
        assert told.startswith("Striped, repeat 6 cm along. ")
        assert told.endswith(
            f"By now the cloth is noted with {noted}: have the lay planned anew before it is cut."
        )


@pytest.mark.parametrize(
    ("mode", "spread", "layers", "each"),
    [
        ("face_to_face", "1 pair of plies of ink", "In all 2 plies, in 1 pair: the cloth is spread twice.", "ply"),
        ("folded", "1 folded length of ink", "In all 2 plies, two in each length: the cloth is spread once.", "length"),
    ],
)  # fmt: skip
def test_layers_and_spreads_are_told_alike(mode: str, spread: str, layers: str, each: str) -> None:
    lay = replace(samples.stacked_lay(mode=mode), plies=(("ink", 1),))
    rows = (replace(lay.ply_rows[0], first=1, last=2),)
    ticket = all_words(cut_tickets(samples.HEADING, [replace(lay, ply_rows=rows)]))
    assert layers in ticket
    assert f"{'pairs' if each == 'ply' else 'lengths'} really spread" in ticket
    told = lay_in_words(lay, imperial=False).replace("\u2009", " ")
    assert told.startswith(spread)
    assert layers in told
    assert f" a {each};" in told


def test_lengths_are_those_of_the_cloth_spread() -> None:
    assert [lengths_in_words(3, mode) for mode in ("open", "face_to_face", "folded")] == [
        "3 plies",
        "6 plies",
        "3 lengths",
    ]
    assert layers_in_words(3, "face_to_face") == "In all 6 plies, in 3 pairs: the cloth is spread 6 times."
    assert layers_in_words(3, "open") == ""
