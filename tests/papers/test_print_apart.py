"""No print lies over other print on a cut ticket or cut sheet, whatever the shape of the lay."""

from __future__ import annotations

import ctypes
import io
import re
from dataclasses import replace

import numpy as np
import pypdfium2
import pypdfium2.raw
import pytest
from reportlab.pdfgen.canvas import Canvas
from shapely import STRtree, area, box, intersection

from planner.papers.cut_sheets import cut_sheet
from planner.papers.cut_tickets import cut_tickets
from planner.papers.data import DrawnPiece, GarmentCut, LayPaper, PlyRow, RollPart
from planner.papers.lay_drawing import draw_lay
from planner.papers.lay_fit import fit_lay
from tests.papers import samples
from tests.papers.words import texts_of

Box = tuple[float, float, float, float]
#: Letters whose boxes share more than this of the smaller one lie over each other; kerned ones share less.
SHARED = 0.2


def letter_boxes(paper: bytes) -> list[list[tuple[str, Box]]]:
    """Page by page each letter with the box of its ink (points), those of drawings too, as PDFium reads them."""
    found = []
    for page in pypdfium2.PdfDocument(paper):
        text = page.get_textpage()
        own = []
        for n in range(text.count_chars()):
            letter = chr(pypdfium2.raw.FPDFText_GetUnicode(text.raw, n))
            if not letter.strip():
                continue
            sides = [ctypes.c_double() for _ in range(4)]
            pypdfium2.raw.FPDFText_GetCharBox(text.raw, n, *map(ctypes.byref, sides))
            left, right, low, high = (side.value for side in sides)
            if right - left > 0.05 and high - low > 0.05:
                own.append((letter, (left, low, right, high)))
        found.append(own)
    return found


def overprinted(paper: bytes) -> list[str]:
    """Every two letters of a page that lie over each other, with those that follow them."""
    told = []
    for number, own in enumerate(letter_boxes(paper), 1):
        shapes = box(*np.array([sides for _, sides in own], dtype=float).reshape(-1, 4).T)
        letters = "".join(letter for letter, _ in own)
        pairs = STRtree(shapes).query(shapes, predicate="intersects")
        first, second = pairs[:, pairs[0] < pairs[1]]
        both = area(intersection(shapes[first], shapes[second]))
        smaller = np.minimum(area(shapes[first]), area(shapes[second]))
        for a, b in zip(first[both > SHARED * smaller], second[both > SHARED * smaller], strict=True):
            told.append(f"page {number}: {letters[a : a + 12]!r} and {letters[b : b + 12]!r}")
    return told


def bands(length_mm: float, width_mm: float, styles: int) -> LayPaper:
    """One ply of bands across the cloth, for garments of so many styles, each told with its options."""
    pieces = [
        DrawnPiece(n + 1, "rib neck band", "110", "SML"[n % 3], False, 0,
                   samples.at(samples.band(width_mm * 0.4, length_mm / 10),
                              2 + (n // 2) * length_mm / 8, 2 if n % 2 else width_mm / 2),
                   garment="abc"[n % 3])
        for n in range(16)
    ]  # fmt: skip
    made = "ink (closing: open, pocket: none, waist: rib band)"
    cuts = tuple(
        GarmentCut("abcde"[n], str(110 + 10 * n), ["S", "M", "L", "XL", "XXL"][n], made, f"B-0007-{20 + n}")
        for n in range(styles)
    )
    return replace(
        samples.lay(),
        plies=(("ink", 1),),
        ply_rows=(PlyRow(1, 1, "ink", RollPart("R-107", "A17", 1, length_mm + 40), cuts),),
        lay_width_mm=width_mm,
        marker_length_mm=length_mm,
        pieces=tuple(pieces),
    )


def of_length(length_mm: float) -> LayPaper:
    """The lay of all papers, its ply as long as this."""
    return replace(samples.stacked_lay(), marker_length_mm=length_mm)


LAYS = {
    **{f"{mm} mm of rib, {width} wide, {styles} styles": bands(mm, width, styles)
       for mm, width, styles in ((60, 300, 5), (250, 300, 5), (362, 1020, 1), (994, 1020, 5), (994, 1460, 3),
                                 (994, 1460, 5), (1700, 560, 3))},
    **{f"{mm} mm of bodies": of_length(mm) for mm in (1900, 4122, 24000)},
}  # fmt: skip


@pytest.mark.parametrize("shape", LAYS)
def test_no_print_lies_over_print(shape: str) -> None:
    """In metres and in inches, by turns."""
    lay, imperial = LAYS[shape], list(LAYS).index(shape) % 2 == 1
    sheet = replace(samples.cut_sheet_data(imperial=imperial), lays=(lay,), counts=(), lengths=())
    assert overprinted(cut_tickets(samples.HEADING, [lay], imperial=imperial)) == []
    assert overprinted(cut_sheet(sheet)) == []


@pytest.mark.parametrize(
    ("mode", "is_tube", "edges"),
    [
        ("open", False, ["selvedge", "selvedge"]),
        ("open", True, ["slit edge", "slit edge"]),
        ("folded", False, ["selvedges", "fold"]),
        ("folded", True, ["fold", "fold"]),
        ("face_to_face", False, ["selvedges", "selvedges"]),
    ],
)
@pytest.mark.parametrize("length_mm", [60, 24000])
def test_both_edges_of_a_drawn_lay_are_named(
    mode: str, is_tube: bool, edges: list[str], length_mm: float
) -> None:
    """Upper and lower edge, from the top; nothing lies over their names, in one strip or several."""
    lay = replace(bands(length_mm, 1020, 1), mode=mode, is_tube=is_tube)
    kept = io.BytesIO()
    canvas = Canvas(kept)
    fit = fit_lay(lay, 480, 400)
    draw_lay(canvas, lay, fit, 50, 800)
    canvas.save()
    lines = (line.strip() for line in texts_of(kept.getvalue())[0].splitlines())
    named = [re.match(r"(?:0 cm )?(selvedges?|fold|slit edge)\b(?! width)", line) for line in lines]
    assert [found[1] for found in named if found] == edges
    assert overprinted(kept.getvalue()) == []


def test_letters_that_lie_over_each_other_are_found() -> None:
    """The test itself: two lines on one place of a paper are told, two beside each other are not."""
    for far, over in ((40, False), (2, True)):
        kept = io.BytesIO()
        canvas = Canvas(kept)
        canvas.drawString(100, 100, "scale")
        canvas.drawString(100 + far, 101, "length")
        canvas.save()
        assert bool(overprinted(kept.getvalue())) == over
