"""What is written in a drawn piece keeps clear of its cut line, at every scale that a cut sheet has."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO

import pypdfium2.raw as pdfium
import pytest
from pypdfium2 import PdfDocument
from reportlab.pdfgen.canvas import Canvas
from shapely import STRtree, box
from shapely.geometry import LinearRing, Polygon

from planner.papers.data import DrawnPiece, LayPaper, Point
from planner.papers.lay_drawing import draw_lay
from planner.papers.lay_fit import ROOM_LEFT, ROOM_TOP, TURNED_LEFT, TURNED_TOP, LayFit, spread_length_mm
from planner.papers.piece_labels import BESIDE
from tests.papers import samples

#: Where the drawing stands on its paper (points).
X, TOP, PAPER = 10.0, 1190.0, (4000.0, 1200.0)


def wedges() -> LayPaper:
    """Godets, gussets and facings of a garment a, from small to large: all get narrow from their widest place on."""
    pieces: list[DrawnPiece] = []
    x = 4.0
    for grow in range(14):
        long, wide = 110.0 + 35 * grow, 60.0 + 30 * grow
        shapes: list[list[Point]] = [
            [(0, 0), (long, wide / 2), (0, wide)],
            [(0, 0), (wide * 0.6, 0), (wide * 0.9, long * 0.8), (wide * 0.2, long * 0.8)],
        ]
        y = 4.0
        for shape in shapes:
            outline = samples.at(shape, x, y)
            number = len(pieces) + 1
            pieces.append(
                DrawnPiece(number, "facing", "110", "XL", grow % 2 == 1, 0, outline, garment="a over b")
            )
            y = max(p[1] for p in outline) + 4
        x += max(long, wide) + 4
    return replace(samples.lay(), pieces=tuple(pieces), marker_length_mm=x)


def drawn(lay: LayPaper, scale: int, *, turned: bool = False) -> tuple[bytes, list[list[Point]]]:
    """The lay alone on a paper, and the cut lines of its pieces there (points)."""
    paper = BytesIO()
    canvas = Canvas(paper, pagesize=PAPER)
    fit = LayFit(scale, PAPER[0], PAPER[1], turned=turned)
    draw_lay(canvas, lay, fit, X, TOP)
    canvas.save()
    if turned:
        right = X + TURNED_LEFT + fit.points(lay.lay_width_mm)
        start = TOP - TURNED_TOP - fit.points(spread_length_mm(lay) - lay.end_allowance_mm)
        outlines = [
            [(right - fit.points(y), start + fit.points(x)) for x, y in piece.outline] for piece in lay.pieces
        ]
        return paper.getvalue(), outlines
    low = TOP - ROOM_TOP - fit.points(lay.lay_width_mm)
    left = X + ROOM_LEFT + fit.points(lay.end_allowance_mm)
    outlines = [
        [(left + fit.points(x), low + fit.points(y)) for x, y in piece.outline] for piece in lay.pieces
    ]
    return paper.getvalue(), outlines


def letters(paper: bytes) -> Iterator[tuple[str, float, tuple[float, float, float, float]]]:
    """Each letter with its size and the box of what is seen of it."""
    words = PdfDocument(paper)[0].get_textpage()
    for at in range(words.count_chars()):
        letter = words.get_text_range(at, 1)
        if letter.strip():
            yield letter, pdfium.FPDFText_GetFontSize(words, at), words.get_charbox(at)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("scale", [12, 30, 45])
@pytest.mark.parametrize("lay", [samples.lay(), samples.stacked_lay(), wedges()])
def test_no_label_lies_on_a_cut_line(lay: LayPaper, scale: int, *, turned: bool) -> None:
    paper, outlines = drawn(lay, scale, turned=turned)
    lines = STRtree([LinearRing(outline) for outline in outlines])
    crossing = []
    for letter, size, room in letters(paper):
        # A number beside its piece has a box of its own, which may lie on a line.
        if abs(size - BESIDE) > 0.01 and len(lines.query(box(*room), predicate="intersects")):
            crossing.append((letter, size, room))
    assert crossing == []


@pytest.mark.parametrize("turned", [False, True])
def test_every_piece_keeps_its_number_in_it_or_beside_it(*, turned: bool) -> None:
    paper, _ = drawn(wedges(), 45, turned=turned)
    told = PdfDocument(paper)[0].get_textpage().get_text_range().split()
    assert all(str(piece.number) in told for piece in wedges().pieces)


def test_large_pieces_keep_name_and_size() -> None:
    paper, outlines = drawn(wedges(), 12)
    largest = Polygon(outlines[-2])
    within = [letter for letter, _, room in letters(paper) if largest.contains(box(*room))]
    assert "".join(within) == "27facingXLaoverbmirrored"


def test_what_is_written_in_bands_of_a_turned_lay_is_read_like_the_page() -> None:
    """Bands across the cloth lie along the page then: no letter in them stands on its side."""
    paper, outlines = drawn(samples.rib_lay(), 4, turned=True)
    words = PdfDocument(paper)[0].get_textpage()
    seen = ""
    for at in range(words.count_chars()):
        letter = words.get_text_range(at, 1)
        if letter.strip() and any(Polygon(one).contains(box(*words.get_charbox(at))) for one in outlines):
            seen += letter
            assert pdfium.FPDFText_GetCharAngle(words, at) % 3.14159 == pytest.approx(0, abs=0.01)
    assert seen == "1neckbandS2neckbandM3neckbandL"
