"""Markers at true scale as papers: every page there, named, told and within the paper."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import Point as Dot
from shapely.geometry import box

from planner.papers.data import LayPaper
from planner.papers.marker_tiles import count_in_words, marker_tiles, sheets_in_words, tiles_of
from planner.papers.marker_wide import marker_wide, pages_in_words, roll_width_for, wide_pages
from planner.papers.marker_words import bundles_in_words, marker_pieces, piece_words, placed_on
from planner.papers.tiling import row_letters, tiling
from tests.papers import samples
from tests.papers.test_papers import SIZES_MM, pages, sizes_mm


def square(x: float, y: float, side: float) -> tuple[tuple[float, float], ...]:
    return ((x, y), (x + side, y), (x + side, y + side), (x, y + side))


def small_lay(*, wide: bool) -> LayPaper:
    """A piece that goes onto one wide sheet, or onto one upright."""
    length, across = (240.0, 150.0) if wide else (150.0, 240.0)
    shape = ((5.0, 5.0), (length - 5, 5.0), (length - 5, across - 5), (5.0, across - 5))
    piece = replace(samples.lay().pieces[0], outline=shape)
    return replace(samples.lay(), pieces=(piece,), marker_length_mm=length, lay_width_mm=across)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("wide", [False, True])
def test_the_first_page_stands_upright_whatever_the_sheets_do(paper: str, wide: bool):
    lay = small_lay(wide=wide)
    found, is_wide = tiles_of(lay, paper)  # type: ignore[arg-type]
    assert (is_wide, len(found.tiles)) == (wide, 1)
    across, high = SIZES_MM[paper]
    sheets = [(high, across)] if wide else [(across, high)]
    assert sizes_mm(marker_tiles(samples.HEADING, lay, paper)) == [(across, high), *sheets]  # type: ignore[arg-type]


def test_every_sheet_has_its_name_its_neighbours_and_the_word_on_scale():
    lay = samples.stacked_lay()
    found, _ = tiles_of(lay, "A4")
    first, *sheets = pages(marker_tiles(samples.HEADING, lay, "A4"))
    assert len(sheets) == len(found.tiles)
    assert f"sheets to join {len(sheets)}" in first
    assert "100 mm" in first
    assert count_in_words(found) in first
    assert "Local law" in first
    for tile, words in zip(found.tiles, sheets, strict=True):
        assert tile.name in words.split()
        assert tile.name in first.split()
        assert "Print at 100 % (actual size), not fitted to the page." in words
        joins = found.joins(tile)
        for side, word in (
            ("right", "cut here and lay on"),
            ("below", "cut here and lay on"),
            ("above", "below"),
        ):
            if side in joins:
                assert f"{word} {joins[side].name}" in words
        assert f"page {found.tiles.index(tile) + 2} of {len(sheets) + 1}" in words


def test_sheets_that_hold_nothing_are_left_out_and_said_so():
    found = tiling([square(0, 0, 90), square(410, 410, 80)], 500, 500, (200, 200), 10)
    assert (found.rows, found.columns, len(found.everywhere)) == (3, 3, 9)
    assert [tile.name for tile in found.tiles] == ["A3", "C1"]
    assert "7 more hold nothing and are left out" in count_in_words(found)
    assert sheets_in_words(found, "A4").startswith(
        "3 pages of A4: a first page with the map, then 2 sheets to join; "
        "with room for 9, 3 across the cloth and 3 along it, the 7 blank ones are left out."
    )
    full = tiling([square(0, 0, 390)], 390, 390, (210, 210), 10)
    assert sheets_in_words(full, "A4").startswith(
        "5 pages of A4: a first page with the map, then 4 sheets to join, 2 across the cloth and 2 along it."
    )
    assert found.joins(found.tiles[0]) == {}


def test_a_sliver_in_what_two_sheets_share_is_printed_once():
    """The piece reaches 4 mm into an overlap of 20: the sheet that it comes from shows all of it."""
    whole = tiling([square(0, 0, 194)], 390, 200, (210, 210), 20)
    assert [tile.name for tile in whole.tiles] == ["A1"]
    x0, _, x1, _ = whole.tiles[0].window
    assert x0 <= 0
    assert x1 >= 194


@pytest.mark.parametrize("sheet", [(190.0, 269.0), (277.0, 182.0), (900.0, 5000.0)])
def test_sheets_cover_the_marker_and_overlap_as_they_say(sheet: tuple[float, float]):
    found = tiling([square(0, 0, 10)], 3210.0, 1460.0, sheet, 12.0)
    assert min(tile.window[0] for tile in found.everywhere) < 0
    assert max(tile.window[2] for tile in found.everywhere) > 3210
    assert min(tile.window[1] for tile in found.everywhere) < 0
    assert max(tile.window[3] for tile in found.everywhere) > 1460
    places = {(tile.row, tile.column): tile.window for tile in found.everywhere}
    for (row, column), window in places.items():
        if (row, column + 1) in places:
            assert window[2] - places[row, column + 1][0] == pytest.approx(12.0)
        if (row + 1, column) in places:
            assert places[row + 1, column][3] - window[1] == pytest.approx(12.0)


def test_registration_marks_stand_in_the_middle_of_what_is_shared():
    found = tiling([square(0, 0, 390)], 390, 390, (200, 200), 10)
    for x, y in found.registration:
        holding = [
            w for w in (tile.window for tile in found.everywhere) if w[0] <= x <= w[2] and w[1] <= y <= w[3]
        ]
        assert len(holding) >= 2
        assert any(min(x - w[0], w[2] - x, y - w[1], w[3] - y) == pytest.approx(5.0) for w in holding)


def test_rows_have_letters():
    assert [row_letters(row) for row in (0, 25, 26, 27, 701, 702)] == ["A", "Z", "AA", "AB", "ZZ", "AAA"]
    with pytest.raises(ValueError, match="larger than its overlap"):
        tiling([], 100, 100, (10, 10), 12)


def test_a_lay_without_pieces_gives_the_first_page_alone():
    empty = replace(samples.lay(), pieces=())
    (only,) = pages(marker_tiles(samples.HEADING, empty, "A4"))
    assert "0 sheets follow this page" in only
    (page,) = pages(marker_wide(samples.HEADING, empty))
    assert "No pieces have been laid yet." in page


def test_words_of_a_piece():
    piece = replace(samples.stacked_lay().pieces[0], mirrored=True)
    assert piece_words(piece) == (
        "1 · front S",
        "style 110 · garment a",
        "bundles B-0007-01, 04",
        "mirrored",
    )
    shared = piece_words(replace(piece, garment="a b"))
    assert shared[1] == "style 110 · garments a over b"
    assert bundles_in_words(()) == ""
    assert bundles_in_words(("B-0007-01",)) == "bundle B-0007-01"
    assert bundles_in_words(("X", "B-2")) == "bundles X, B-2"


def test_paper_of_any_width_and_what_is_said_of_it():
    lay = samples.lay()
    assert roll_width_for(lay) == 1460 + 30 + 8
    assert roll_width_for(replace(lay, lay_width_mm=90.0)) == 250
    assert sizes_mm(marker_wide(samples.HEADING, replace(samples.rib_lay(), lay_width_mm=90.0)))[0][0] == 250
    assert pages_in_words(wide_pages(lay)).startswith("One page, 149.8")
    parted = wide_pages(lay, 914.0)
    assert parted.count == 2
    assert "as the paper is narrower than the lay" in pages_in_words(parted)
    first, second = pages(marker_wide(samples.HEADING, lay, 914.0))
    assert "page 1 of 2" in first
    assert "lay on B1" in first
    assert "goes under A1" in second
    for wrong in (100.0, 6000.0):
        with pytest.raises(ValueError, match="mm wide"):
            wide_pages(lay, wrong)


@pytest.mark.parametrize(
    ("mode", "is_tube", "upper", "lower"),
    [
        ("open", False, "selvedge", "selvedge"),
        ("folded", False, "selvedges", "fold"),
        ("folded", True, "fold", "fold"),
        ("face_to_face", False, "selvedges", "selvedges"),
    ],
)
def test_the_edges_of_the_cloth_are_named(mode: str, is_tube: bool, upper: str, lower: str):
    """On every sheet in one length: a cutter must not take a fold for a selvedge."""
    lay = replace(small_lay(wide=True), mode=mode, is_tube=is_tube)
    (words,) = pages(marker_wide(samples.HEADING, lay))
    named = [word for word in words.split() if word in {"selvedge", "selvedges", "fold"}]
    assert sorted(named) == sorted([upper, lower] * (len(named) // 2))
    assert named


def tiny_lay(*sizes_mm: tuple[float, float]) -> LayPaper:
    """A large front, and beside it pieces so long and wide, each with all that is known of it."""
    front = replace(samples.lay().pieces[0], number=1, outline=square(0, 0, 120))
    known = replace(front, name="pocket facing", garment="a", bundles=("B-0007-01", "B-0007-02"))
    pieces = [front]
    for number, (long, wide) in enumerate(sizes_mm, 70):
        y = 5.0 + 30 * (number - 70)
        corners = ((130.0, y), (130 + long, y), (130 + long, y + wide), (130.0, y + wide))
        pieces.append(replace(known, number=number, outline=corners))
    return replace(samples.lay(), pieces=tuple(pieces), marker_length_mm=170.0, lay_width_mm=130.0)


def test_every_piece_is_labelled_however_small_it_is():
    """Formerly of pieces of 25 × 20 mm nothing was written at all, not even the number."""
    for sheets in (
        marker_tiles(samples.HEADING, tiny_lay((35, 25), (25, 20), (12, 9), (20, 2))),
        marker_wide(samples.HEADING, tiny_lay((35, 25), (25, 20), (12, 9), (20, 2)), 900.0),
    ):
        words = " ".join(pages(sheets)).split()
        assert {"70", "71", "72", "73"} <= set(words)


def test_what_a_small_piece_bears_stands_on_it_as_far_as_it_has_room():
    front, facing, small, strip = marker_pieces(tiny_lay((25, 20), (12, 9), (20, 2)))
    assert front.beside is None
    assert front.words.lines[0] == "1 · front S"
    assert (facing.words.lines, facing.beside) == (("70 · S", "pocket facing"), None)
    assert (small.words.lines, small.beside) == (("71",), None)
    assert facing.words.size >= 6
    assert small.words.size >= 6
    # A strip 2 mm wide has its number beside it, within the cloth, with a line to it.
    assert strip.beside is not None
    left, low, right, high = strip.beside.box
    assert not strip.polygon.intersects(box(left, low, right, high))
    assert 0 <= left < right <= 170
    assert 0 <= low < high <= 130
    assert strip.polygon.contains(Dot(strip.beside.tip))
    # It is drawn on a sheet that shows nothing but its number, too.
    assert strip.reaches((left, low, right, high))


def strip_at_a_seam() -> tuple[LayPaper, float]:
    """A large piece and a strip 2 mm wide right before the seam to a sheet that holds nothing; and where that runs."""
    lay = replace(samples.lay(), marker_length_mm=530.0, lay_width_mm=240.0)
    found = tiling([], 530.0, 240.0, (190.0, 269.0), 12.0)
    seam = found.seams[0][0]
    front = replace(lay.pieces[0], outline=((0.0, 0.0), (seam - 5, 0.0), (seam - 5, 240.0), (0.0, 240.0)))
    narrow = ((seam - 4, 40.0), (seam - 2, 40.0), (seam - 2, 200.0), (seam - 4, 200.0))
    strip = replace(front, number=71, outline=narrow)
    return replace(lay, pieces=(front, strip)), seam


def test_no_number_beside_a_piece_stands_on_a_sheet_that_is_left_out():
    """There the cloth is free, on the sheet itself lies another piece; formerly the number stood on the free cloth."""
    lay, seam = strip_at_a_seam()
    (_, free) = marker_pieces(lay)
    assert free.beside is not None
    assert free.beside.box[2] > seam, "where there is most room, if all were printed"
    found = tiling([piece.outline for piece in lay.pieces], 530.0, 240.0, (190.0, 269.0), 12.0)
    assert len(found.tiles) < len(found.everywhere)
    printed, (_, strip) = placed_on(lay, found)
    assert printed == found, "no sheet more"
    assert strip.beside is not None
    assert not any(box(*cell).intersects(box(*strip.beside.box)) for cell in found.blank)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_sheet_that_a_number_stands_on_is_printed(paper: str):
    lay, _ = strip_at_a_seam()
    found, _ = tiles_of(lay, paper)  # type: ignore[arg-type]
    _, (_, strip) = placed_on(lay, found)
    assert strip.beside is not None
    assert not any(box(*cell).intersects(box(*strip.beside.box)) for cell in found.blank)
    sheets = pages(marker_tiles(samples.HEADING, lay, paper))[1:]  # type: ignore[arg-type]
    assert len(sheets) == len(found.tiles)
    assert any("71" in words.split() for words in sheets)
    assert "71" in " ".join(pages(marker_wide(samples.HEADING, lay, 250.0))).split()


def test_where_a_number_finds_no_other_room_its_sheet_is_printed_besides():
    """Cells of 4 mm, narrower than any number: it stands on two or three of them, and they are printed."""
    lay, _ = strip_at_a_seam()
    cells = tiling([], 530.0, 240.0, (16.0, 269.0), 12.0)
    middle = sum(cells.seams[0][20:22]) / 2
    narrow = ((middle - 1, 40.0), (middle + 1, 40.0), (middle + 1, 200.0), (middle - 1, 200.0))
    alone = replace(lay, pieces=(replace(lay.pieces[1], number=1071, outline=narrow),))
    found = tiling([narrow], 530.0, 240.0, (16.0, 269.0), 12.0)
    assert len(found.tiles) == 1
    printed, (one,) = placed_on(alone, found)
    assert one.beside is not None
    assert set(found.tiles) < set(printed.tiles)
    assert not any(box(*cell).intersects(box(*one.beside.box)) for cell in printed.blank)
    assert [tile for tile in printed.everywhere if tile in printed.tiles] == list(printed.tiles), (
        "in their order"
    )


def test_where_there_is_no_room_beside_a_piece_its_number_is_written_over_it():
    lay = replace(tiny_lay((20, 2)), marker_length_mm=3.0, lay_width_mm=3.0)
    assert marker_pieces(lay)[1].beside is None
    assert "70" in " ".join(pages(marker_wide(samples.HEADING, tiny_lay((20, 2)), 900.0))).split()
