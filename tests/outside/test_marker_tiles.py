"""A marker at true scale, rendered back by PDFium and measured in pixels; a lay as DXF, read back by ezdxf.

Source of the scale: the default user unit of PDF is 1/72 inch (ISO 32000-1, 8.3.2.3), an inch is 25.4 mm exactly.
"""

from __future__ import annotations

import io
import math
from dataclasses import replace
from functools import cache
from itertools import pairwise

import ezdxf
import numpy as np
import pypdfium2
import pytest

from planner.core.lays.check import placed
from planner.core.lays.marks import placed_marks
from planner.core.lays.model import ItemToLay, Placement
from planner.core.outline import Outline, make_outline
from planner.core.pattern_files.model import Marks, Notch
from planner.core.pattern_files.to_write import LayToWrite
from planner.core.pattern_files.write_dxf import lay_as_dxf
from planner.papers import marker_tiles as tiles
from planner.papers import marker_wide as wide
from planner.papers.data import DrawnPiece, Heading, LayPaper
from planner.papers.tiling import LINE_ROOM_MM, Tile

#: At 254 dots an inch a millimetre is ten dots.
DOTS = 10
#: Darkness of a dot is a byte, for a page one metre square has a hundred million dots.
BLACK = 255
HEADING = Heading("Quay Lane Workroom", "B-0007", "3 March 2026", "20 March 2026")
PIECE = make_outline([(0, 0), (300, 0), (340, 120), (180, 200), (20, 150)])
BAND = make_outline([(0, 0), (44, 0), (44, 400), (0, 400)])
NOTCHES = Marks(notches=(Notch(150.0, 0.0, depth_mm=6.0), Notch(320.0, 60.0, "T", 5.0, 150.0)))


def laid(
    outline: Outline, name: str, x: float, y: float, *, mirrored: bool = False, turn: int = 0
) -> Placement:
    shape = outline.mirrored() if mirrored else outline
    return placed(ItemToLay("110", name, "M", 1, mirrored, True, shape), turn, x, y)


PLACEMENTS = (
    laid(PIECE, "front", 3.0, 4.0),
    laid(PIECE, "front", 30.0, 215.0, mirrored=True),
    laid(PIECE, "front", 352.0, 4.0, turn=180),
    laid(BAND, "band", 640.0, 215.0),
)


def marks_of(placement: Placement) -> Marks:
    return placed_marks(PIECE, NOTCHES, placement) if placement.piece == "front" else Marks()


LAY = LayPaper(
    number=2,
    fabric="Cotton jersey 180",
    plies=(("ink", 3),),
    mode="open",
    one_way=False,
    lay_width_mm=640.0,
    marker_length_mm=693.0,
    end_allowance_mm=20.0,
    efficiency=0.7,
    nested=True,
    cloth_m=2.2,
    garments=("1 × 110 M, ink",),
    size_counts=(("M", 1),),
    pieces=tuple(
        DrawnPiece(n, p.piece, p.style, p.size, p.mirrored, p.rotation_deg, p.outline, "a", ("B-0007-01",), marks_of(p))
        for n, p in enumerate(PLACEMENTS, 1)
    ),
)  # fmt: skip


def rendered(paper: bytes, page: int) -> np.ndarray:
    """Darkness from 0 to BLACK, ten dots a millimetre, the first row at the top."""
    # A page that is a hair too long would be stretched over one more dot.
    scale = DOTS * 25.4 / 72 * (1 - 1e-6)
    picture = pypdfium2.PdfDocument(paper)[page].render(scale=scale, grayscale=True)
    return BLACK - picture.to_numpy().squeeze()


def _darker(picture: np.ndarray, share: float) -> np.ndarray:
    """Where it is darker than this share of black."""
    return picture > int(share * BLACK)


def _unlike(one: np.ndarray, other: np.ndarray) -> float:
    """By how much of black the dots differ, on average."""
    return float(np.abs(one.astype(np.int16) - other).mean()) / BLACK


@cache
def paper_of(paper: str) -> bytes:
    return tiles.marker_tiles(HEADING, LAY, paper)  # type: ignore[arg-type]


@cache
def sheets_of(paper: str) -> dict[str, np.ndarray]:
    """What each sheet shows of the lay, by its name."""
    found, _ = tiles.tiles_of(LAY, paper)  # type: ignore[arg-type]
    shown = {}
    for page, tile in enumerate(found.tiles, 1):
        picture = rendered(paper_of(paper), page)
        x0, y0, x1, y1 = tile.window
        left, low = round(tiles.SIDE_MM * DOTS), round(tiles.FOOT_MM * DOTS)
        wide_dots, high_dots = round((x1 - x0) * DOTS), round((y1 - y0) * DOTS)
        bottom = picture.shape[0] - low
        shown[tile.name] = picture[bottom - high_dots : bottom, left : left + wide_dots]
    return shown


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_square_measures_100_mm(paper: str):
    """ISO 32000-1, 8.3.2.3: a unit is 1/72 in. Between the middles of opposite sides, within 0.2 mm."""
    picture = rendered(paper_of(paper), 0)
    upper = picture[: int(picture.shape[0] * 0.62), : int(125 * DOTS)]
    for axis in (0, 1):
        sides = _long_lines(upper, axis)
        assert len(sides) == 2, sides
        assert abs(sides[1] - sides[0]) / DOTS == pytest.approx(100.0, abs=0.2)


def _long_lines(picture: np.ndarray, axis: int) -> list[float]:
    """Middles of lines (dots) that are dark over more than 95 mm without a gap; rows for axis 0, columns for 1."""
    dark = picture if axis == 0 else picture.T
    found: list[list[int]] = []
    for index, line in enumerate(_darker(dark, 0.25)):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(int), [0]])))
        if max(edges[1::2] - edges[::2], default=0) > 95 * DOTS:
            if found and found[-1][-1] == index - 1:
                found[-1].append(index)
            else:
                found.append([index])
    return [sum(group) / len(group) for group in found]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_neighbours_show_the_same_where_they_overlap(paper: str):
    found, _ = tiles.tiles_of(LAY, paper)  # type: ignore[arg-type]
    shown = sheets_of(paper)
    shared = round(found.overlap_mm * DOTS)
    compared = dark = 0
    for tile in found.tiles:
        joins = found.joins(tile)
        pairs = []
        if "right" in joins:
            pairs.append((shown[tile.name][:, -shared:], shown[joins["right"].name][:, :shared]))
        if "below" in joins:
            pairs.append((shown[tile.name][-shared:, :], shown[joins["below"].name][:shared, :]))
        for one, other in pairs:
            compared += 1
            dark += int(_darker(one, 0.5).sum())
            assert _unlike(one, other) < 0.001
            # Each has at least its marks, and half a millimetre aside they would not agree.
            assert _unlike(one[5:, 5:], other[:-5, :-5]) > 5 * max(_unlike(one, other), 1e-4)
    assert compared >= 6
    assert dark > 1000


def _joined(shown: dict[str, np.ndarray], found_tiles: tuple[Tile, ...]) -> tuple[np.ndarray, float, float]:
    """All sheets laid over each other: darkness, and the lay's x and y at the lower left corner."""
    x0 = min(tile.window[0] for tile in found_tiles)
    y0 = min(tile.window[1] for tile in found_tiles)
    x1 = max(tile.window[2] for tile in found_tiles)
    y1 = max(tile.window[3] for tile in found_tiles)
    whole = np.zeros((round((y1 - y0) * DOTS) + 2, round((x1 - x0) * DOTS) + 2), dtype=np.uint8)
    for tile in found_tiles:
        picture = shown[tile.name]
        left, top = round((tile.window[0] - x0) * DOTS), round((y1 - tile.window[3]) * DOTS)
        part = whole[top : top + picture.shape[0], left : left + picture.shape[1]]
        np.maximum(part, picture, out=part)
    return whole, x0, y1


def _dark_share(
    whole: np.ndarray, x0: float, y1: float, path: list[tuple[float, float]], dx: float = 0.0
) -> float:
    """The share of points along a path, every half millimetre, that lie within 0.2 mm of something dark."""
    hits = []
    for a, b in pairwise(path):
        steps = max(1, int(math.dist(a, b) * 2))
        for step in range(steps):
            x, y = (a[i] + (b[i] - a[i]) * step / steps for i in (0, 1))
            column, row = round((x + dx - x0) * DOTS), round((y1 - y - dx) * DOTS)
            hits.append(bool(_darker(whole[row - 2 : row + 3, column - 2 : column + 3], 0.4).any()))
    return sum(hits) / len(hits)


def test_the_joined_sheets_are_the_marker_at_true_scale():
    """Dashes of 9 points and gaps of 4 along every outline, where the lay has them and nowhere else."""
    found, _ = tiles.tiles_of(LAY, "A4")
    whole, x0, y1 = _joined(sheets_of("A4"), found.tiles)
    for piece in LAY.pieces:
        ring = [*piece.outline, piece.outline[0]]
        assert _dark_share(whole, x0, y1, ring) > 0.66
        assert _dark_share(whole, x0, y1, ring, dx=1.2) < 0.35
        for notch in piece.marks.notches:
            angle = math.radians(notch.angle_deg or 0.0)
            end = (notch.x + 4.5 * math.cos(angle), notch.y + 4.5 * math.sin(angle))
            assert _dark_share(whole, x0, y1, [(notch.x, notch.y), end]) == 1.0


def test_in_one_length_the_page_is_as_wide_as_the_paper_and_as_long_as_the_marker():
    paper = wide.marker_wide(HEADING, LAY, 914.0)
    (page,) = pypdfium2.PdfDocument(paper)
    across, along = (points * 25.4 / 72 for points in page.get_size())
    assert across == pytest.approx(914.0, abs=0.01)
    assert along == pytest.approx(693.0 + 2 * LINE_ROOM_MM + wide.HEAD_MM + wide.FOOT_MM, abs=0.01)
    picture = rendered(paper, 0)
    # Turned by a quarter: the lay's x runs up the page, its y to the left.
    upright = np.rot90(picture, k=-1)
    tile = wide.wide_pages(LAY, 914.0).found.tiles[0]
    x0 = tile.window[0] - wide.FOOT_MM
    y1 = tile.window[3] + wide.SIDE_MM
    for piece in LAY.pieces:
        ring = [*piece.outline, piece.outline[0]]
        assert _dark_share(upright, x0, y1, ring) > 0.66
        assert _dark_share(upright, x0, y1, ring, dx=1.2) < 0.35


def test_no_page_is_longer_than_a_pdf_allows():
    """ISO 32000-1, annex C.2: at most 14,400 units a side, where a unit is 1/72 in."""
    shift = tuple((x + 6800.0, y) for x, y in LAY.pieces[0].outline)
    far = replace(LAY.pieces[0], number=5, outline=shift, marks=Marks())
    long = replace(LAY, marker_length_mm=7200.0, pieces=(*LAY.pieces, far))
    pages = list(pypdfium2.PdfDocument(wide.marker_wide(HEADING, long)))
    assert len(pages) == 2
    assert all(max(page.get_size()) <= 14_400 for page in pages)
    assert "no PDF page is longer" in wide.pages_in_words(wide.wide_pages(long))


def test_a_lay_as_dxf_keeps_outlines_and_notches_to_a_hundredth_of_a_millimetre():
    """As ezdxf reads it: each INSERT moves the outline of its block to where the piece lies."""
    lay = LayToWrite(
        "lay",
        693.0,
        640.0,
        PLACEMENTS,
        marks=tuple(map(marks_of, PLACEMENTS)),
        bundles=("bundle B-0007-01",) * 4,
    )
    doc = ezdxf.read(io.StringIO(lay_as_dxf(lay).decode("ascii")))
    inserts = list(doc.modelspace().query("INSERT"))
    assert len(inserts) == len(PLACEMENTS)
    for insert, placement in zip(inserts, PLACEMENTS, strict=True):
        block = doc.blocks[insert.dxf.name]

        def there(point: tuple[float, ...], at: tuple[float, float] = tuple(insert.dxf.insert)[:2]) -> tuple:
            return point[0] + at[0], point[1] + at[1]

        corners = {
            there(tuple(v.dxf.location))
            for line in block.query('POLYLINE[layer=="1"]')
            for v in line.vertices
        }
        for corner in placement.outline:
            assert min(math.dist(corner, one) for one in corners) <= 0.01
        for one in corners:
            assert min(math.dist(corner, one) for corner in placement.outline) <= 0.01
        notches = [
            there(tuple(point.dxf.location)) for point in block.query('POINT[layer=="4" | layer=="80"]')
        ]
        wanted = [(notch.x, notch.y) for notch in marks_of(placement).notches]
        assert len(notches) == len(wanted)
        assert all(min(math.dist(one, other) for other in notches) <= 0.01 for one in wanted)
        words = " ".join(text.dxf.text for text in block.query("TEXT"))
        assert "bundle B-0007-01" in words
        assert "style 110, garment a" in words
        assert "Size: M" in words
