"""DXF pattern files: what real ones are like, written by hand, and what is wrong with the wrong ones."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

import pytest

from planner.core.outline import path_length_mm
from planner.core.pattern_files.model import Finding, PatternFileError, ReadPattern
from planner.core.pattern_files.read import read_pattern
from planner.core.pattern_files.texts import guess_from, key_and_value, quantity_of, rule_number, units_of
from tests.core.pattern_makers import (
    DxfFile,
    PieceBlock,
    Point,
    arc,
    edges_of,
    line,
    lwpolyline,
    one_piece,
    point,
    polyline,
    rectangle,
    tags,
    text,
)

BOX = rectangle(300, 200)


def read(content: bytes, **options: Any) -> ReadPattern:
    return read_pattern(content, name="tops.dxf", **options)


def found(pattern: ReadPattern, kind: str) -> list[Finding]:
    return [finding for finding in pattern.findings if finding.kind == kind]


@pytest.mark.parametrize(
    "body",
    [
        pytest.param(edges_of(BOX), id="edges out of order, some backwards"),
        pytest.param(edges_of(BOX[::-1]), id="clockwise"),
        pytest.param(polyline(BOX, closed=True), id="one closed line"),
        pytest.param(polyline([*BOX, BOX[0]]), id="closed flag missing"),
        pytest.param(polyline([*BOX, BOX[0]], closed=True), id="closed flag and first point repeated"),
        pytest.param(polyline([BOX[0], *BOX, BOX[3]], closed=True), id="repeated points"),
        pytest.param(lwpolyline(BOX, closed=True), id="LWPOLYLINE"),
        pytest.param("".join(line(BOX[i], BOX[i - 1], "1") for i in (2, 0, 3, 1)), id="LINEs"),
        pytest.param(polyline(BOX, closed=True) + polyline(BOX, "84", closed=True), id="dense copy beside"),
        pytest.param(edges_of(BOX) + polyline([*BOX, BOX[0]]), id="edges and the whole"),
    ],
)
def test_a_boundary_is_read_however_it_was_drawn(body: str) -> None:
    (piece,) = read(one_piece(body)).pieces
    assert (piece.name, piece.size, piece.count, piece.unfolded) == ("FRONT", "M", 1, False)
    assert piece.outline.area_mm2 == pytest.approx(60_000)
    assert sorted(piece.outline.edge_lengths_mm().values()) == [200, 200, 300, 300]


def test_edges_are_the_lines_drawn_else_lie_between_turn_points_else_between_corners() -> None:
    seven = [(0, 0), (150, 0), (300, 0), (300, 200), (200, 205), (100, 205), (0, 200)]
    drawn = read(one_piece(polyline(seven[:3]) + polyline([*seven[2:], seven[0]]))).pieces[0]
    assert len(drawn.outline.edges) == 2
    turns = "".join(point(seven[i], "2") for i in (0, 2, 3, 4, 6))
    cut = read(one_piece(polyline(seven, closed=True) + turns)).pieces[0]
    assert len(cut.outline.edges) == 5
    corners = read(one_piece(polyline(seven, closed=True))).pieces[0]
    assert len(corners.outline.edges) == 4


def test_inches_and_millimetres() -> None:
    for units, scale in (("METRIC", 1.0), ("ENGLISH", 25.4)):
        file = DxfFile([PieceBlock(body=edges_of(rectangle(10, 8)))], style=[f"Units: {units}"])
        pattern = read(file.content())
        assert (pattern.units, pattern.asks_units) == (units, False)
        assert pattern.pieces[0].outline.length_mm == pytest.approx(10 * scale)


def test_units_may_stand_in_the_blocks() -> None:
    piece = PieceBlock(body=edges_of(rectangle(10, 8)), texts=["Units: ENGLISH", "Quantity: 1"])
    assert read(DxfFile([piece], style=[]).content()).units == "ENGLISH"


def test_units_are_asked_where_the_file_is_silent_whatever_its_header_hints() -> None:
    file = DxfFile([PieceBlock(body=edges_of(BOX))], style=[], header=tags((9, "$INSUNITS"), (70, 1)))
    silent = read(file.content())
    assert (silent.units, silent.asks_units) == ("asked", True)
    (finding,) = found(silent, "no units")
    assert finding.level == "ask"
    assert "inches" in finding.text
    told = read(file.content(), units="in")
    assert (told.units, told.asks_units) == ("asked", False)
    assert told.pieces[0].outline.length_mm == pytest.approx(300 * 25.4)


def test_what_the_maker_says_wins_over_the_file_with_a_finding() -> None:
    pattern = read(one_piece(edges_of(rectangle(10, 8))), units="in")
    assert pattern.pieces[0].outline.length_mm == pytest.approx(254)
    assert found(pattern, "units")[0].level == "assumed"


@pytest.mark.parametrize("fold", [((0, 0), (300, 0)), ((300, 0), (300, 200)), ((300, 200), (0, 200))])
def test_half_a_piece_is_unfolded_and_counts_once(fold: tuple[Point, Point]) -> None:
    (piece,) = read(one_piece(edges_of(BOX) + line(*fold, "6"))).pieces
    assert piece.unfolded
    assert piece.count == 1
    assert piece.outline.area_mm2 == pytest.approx(120_000)
    assert {piece.outline.length_mm, piece.outline.width_mm} in ({300, 400}, {600, 200})
    assert len(piece.outline.edges) == 4


def test_half_a_piece_without_a_line_along_its_fold_is_unfolded_too() -> None:
    """Its edges lie between corners, be it one line or bits of lines, and between turn points where it has any."""
    ring, fold = [(0, 0), (0, 200), (150, 200), (300, 200), (300, 0)], line((0, 0), (300, 0), "6")
    bits = "".join(line(a, b, "1") for a, b in pairwise(ring))
    for body, lengths in (
        (polyline(ring), [300, 300, 400, 400]),
        (bits, [300, 300, 400, 400]),
        (polyline(ring) + point((0, 200), "2") + point((150, 200), "2"), [150, 150, 400, 700]),
    ):
        (piece,) = read(one_piece(body + fold)).pieces
        assert piece.outline.area_mm2 == pytest.approx(120_000)
        assert not piece.mends
        paths = (piece.outline.edge_path(i) for i in range(len(piece.outline.edges)))
        assert sorted(map(path_length_mm, paths)) == pytest.approx(lengths)


def test_a_mirror_line_off_the_boundary_names_piece_and_size() -> None:
    body = edges_of(BOX) + line((0, 90), (300, 90), "6")
    with pytest.raises(PatternFileError, match=r"^tops\.dxf: FRONT, size M: the mirror line does not lie"):
        read(one_piece(body))
    good = PieceBlock("BACK", "M", edges_of(BOX))
    pattern = read(DxfFile([good, PieceBlock(body=body)]).content())
    assert pattern.piece_names() == ("BACK",)
    (finding,) = found(pattern, "mirror")
    assert (finding.level, finding.piece, finding.size) == ("refused", "FRONT", "M")


@pytest.mark.parametrize(
    ("grain", "degrees", "along"),
    [
        (((10, 50), (90, 50)), 0, 300),
        (((50, 90), (50, 10)), 90, 200),
        (((50, 50), (80, 80)), 45, 500 / math.sqrt(2)),
    ],
)
def test_the_grain_is_turned_along_x(grain: tuple[Point, Point], degrees: float, along: float) -> None:
    (piece,) = read(one_piece(edges_of(BOX), grain=grain)).pieces
    assert piece.grain_deg == pytest.approx(degrees)
    assert piece.outline.length_mm == pytest.approx(along)
    assert piece.outline.area_mm2 == pytest.approx(60_000)


def test_without_a_grain_line_it_is_taken_along_x_with_a_finding() -> None:
    pattern = read(one_piece(edges_of(BOX), grain=None))
    assert found(pattern, "no grain")[0].level == "assumed"


def test_sew_lines_give_the_allowance_of_each_edge() -> None:
    # Hem 20 mm, sides and top 10 mm; two separate sew lines, the top has none.
    sewn = polyline([(10, 190), (10, 20), (290, 20)], "14") + polyline([(290, 20), (290, 190)], "14")
    (piece,) = read(one_piece(edges_of(BOX) + sewn)).pieces
    assert sorted((piece.allowance_mm or {}).values()) == [10, 10, 20]
    assert len(piece.marks.sew_lines) == 2


def test_sew_lines_of_a_half_piece_are_unfolded_with_it() -> None:
    sewn = polyline([(10, 0), (10, 190), (290, 190), (290, 0)], "14")
    pattern = read(one_piece(edges_of(BOX) + line((0, 0), (300, 0), "6") + sewn))
    (piece,) = pattern.pieces
    assert set((piece.allowance_mm or {}).values()) == {10}
    assert len(piece.marks.sew_lines) == 2
    assert not found(pattern, "no sew line")


def test_without_a_sew_line_the_allowance_is_asked() -> None:
    (finding,) = found(read(one_piece(edges_of(BOX))), "no sew line")
    assert finding.level == "ask"


def test_marks_are_read_from_their_layers_in_the_coordinates_of_the_outline() -> None:
    away = [(x + 1000, y + 500) for x, y in BOX]
    body = edges_of(away) + point((1150, 500, 5), "4", (39, 3), (50, 90)) + point((1150, 700, 4), "4")
    body += point((1000, 600, 6), "80") + line((1300, 600), (1294, 600), "4")
    body += line((1010, 510), (1200, 510), "8") + polyline(
        [(1050, 550), (1080, 550), (1065, 580)], "11", closed=True
    )
    body += point((1020, 520), "13") + line((1000, 560), (1300, 560), "9")
    (piece,) = read(one_piece(body, grain=((1010, 550), (1100, 550)))).pieces
    notches = {(n.kind, n.x, n.y, n.depth_mm, n.angle_deg) for n in piece.marks.notches}
    assert notches == {
        ("V", 150, 0, 5, 90),
        ("slit", 150, 200, 4, None),
        ("T", 0, 100, 6, None),
        ("slit", 300, 100, 6, 180),
    }
    assert piece.marks.lines == (((10, 10), (200, 10)),)
    assert piece.marks.cutouts == (((50, 50), (80, 50), (65, 80), (50, 50)),)
    assert piece.marks.holes == ((20, 20),)
    assert piece.marks.stripe_lines == (((0, 60), (300, 60)),)
    assert piece.outline.area_mm2 == pytest.approx(60_000)


@pytest.mark.parametrize(
    ("says", "name", "size"),
    [
        (["Piece Name: FRONT", "Size: M"], "FRONT", "M"),
        (["PIECE NAME:FRONT", "size name:2XL"], "FRONT", "2XL"),
        (["Piece Name: 1/2 v. front_left", "Size: 26"], "1/2 v. front_left", "26"),
        (["Piece Name: FRONT", "Sample Size: L"], "FRONT", "L"),
        (["Piece Name: THE BLOCK"], "THE BLOCK", "XS"),
        (["Size: XS"], "the block", "XS"),
        ([], "the block", "XS"),
    ],
)
def test_names_and_sizes_in_all_the_ways_they_are_written(says: Sequence[str], name: str, size: str) -> None:
    (piece,) = read(one_piece(edges_of(BOX), says=says, block_name="the block_XS")).pieces
    assert (piece.name, piece.size) == (name, size)


def test_sizes_stand_in_the_order_of_the_file_and_the_nest_lies_as_in_the_file() -> None:
    blocks = [
        PieceBlock("FRONT", size, edges_of(rectangle(width, 200, (-width / 2, 40))))
        for size, width in (("L", 320), ("XS", 260), ("M", 300))
    ]
    pattern = read(DxfFile(blocks).content())
    assert pattern.sizes == ("L", "XS", "M")
    assert pattern.sample_size == "M"
    assert pattern.style_name == "7001"
    assert [p.outline.bounds_mm[0] for p in pattern.pieces] == [0, 30, 10]
    starts = [p.outline.points[p.outline.edges[0].start] for p in pattern.pieces]
    assert len({y for _, y in starts}) == 1
    # Where every block repeats the style's sample size, the names of the blocks tell the sizes.
    says = ["Piece Name: FRONT", "Sample Size: M"]
    alike = [PieceBlock("FRONT", block.size, block.body, says=says) for block in blocks]
    assert [p.size for p in read(DxfFile(alike).content()).pieces] == ["L", "XS", "M"]


def test_sizes_drawn_beside_each_other_each_begin_at_the_corner() -> None:
    blocks = [PieceBlock("FRONT", s, edges_of(rectangle(300, 200, (900 * i, 0)))) for i, s in enumerate("SM")]
    assert {p.outline.bounds_mm[:2] for p in read(DxfFile(blocks).content()).pieces} == {(0, 0)}


@pytest.mark.parametrize(
    ("texts", "count", "pair", "guess", "role"),
    [
        (["Quantity: 2"], 2, None, None, ""),
        (["Quantity:1,1", "Material: SHELL"], 2, True, None, "SHELL"),
        (["Quantity: many", "Annotation: 2XFABRIC"], None, None, 2, "fabric"),
        (["Category: 1XRIB"], None, None, 1, "rib"),
        (["Annotation: 10 X1"], None, None, 1, ""),
        (["Annotation: for 2XL only"], None, None, None, ""),
        ([], None, None, None, ""),
    ],
)
def test_counts_are_stated_or_guessed_never_made_up(
    texts: Sequence[str], count: int | None, pair: bool | None, guess: int | None, role: str
) -> None:
    pattern = read(one_piece(edges_of(BOX), texts=texts))
    (piece,) = pattern.pieces
    assert (piece.count, piece.pair, piece.count_guess, piece.role_guess) == (count, pair, guess, role)
    assert bool(found(pattern, "count guess")) == (guess is not None)
    assert bool(found(pattern, "no count")) == (count is None and guess is None)


def test_words_of_a_pattern_file() -> None:
    assert key_and_value("PIECE  Name:a:b") == ("piece name", "a:b")
    assert key_and_value("no key") is None
    assert [quantity_of(q) for q in ("2", "1,1", "2;1", "0", "x", "9999")] == [
        (2, None),
        (2, True),
        (3, False),
        None,
        None,
        None,
    ]
    assert [rule_number(t) for t in ("# 12", "#7", "12", "x # 3")] == [12, 7, None, None]
    assert [units_of(u) for u in ("Metric", "ENGLISH", "cubits")] == ["METRIC", "ENGLISH", None]
    assert guess_from(["cut 1 pair"]).count == 2
    assert guess_from(["cut 1 pair"]).pair is True
    assert guess_from(["Cut 4"]).count == 4


def test_letters_in_an_old_code_page_are_read_or_marked() -> None:
    content = DxfFile([PieceBlock("RÜCKEN", "M", edges_of(BOX))]).text().encode("cp1252")
    pattern = read(content)
    assert pattern.pieces[0].name == "RÜCKEN"
    assert found(pattern, "letters")[0].level == "assumed"
    told = content.replace(b"HEADER\n", b"HEADER\n9\n$DWGCODEPAGE\n3\nANSI_1251\n", 1)
    assert read(told).pieces[0].name == "RЬCKEN"
    lost = read(content.replace("Ü".encode("cp1252"), b"\x81"))
    assert lost.pieces[0].name == "R\ufffdCKEN"
    assert "could not be read" in found(lost, "letters")[0].text


def test_a_piece_drawn_without_a_block_and_a_file_with_windows_line_ends() -> None:
    drawn = text("Piece Name: CUFF") + text("Size: M") + edges_of(BOX)
    content = DxfFile(style=["Units: METRIC"], drawn=drawn).text().replace("\n", "\r\n").encode()
    (piece,) = read(content).pieces
    assert (piece.name, piece.size) == ("CUFF", "M")


def test_names_of_edges_written_as_remarks_are_taken() -> None:
    names = {"hem": (150, 0), "side": (300, 100), "shoulder": (150, 200), "centre": (0, 100)}
    body = edges_of(BOX) + "".join(text(f"Edge: {name}", at, "15") for name, at in names.items())
    (piece,) = read(one_piece(body)).pieces
    assert piece.outline.edge_lengths_mm() == {"hem": 300, "side": 200, "shoulder": 300, "centre": 200}


def test_a_gap_is_asked_and_closed_only_when_told_to() -> None:
    body = polyline([(0, 5), (0, 200), (300, 200), (300, 0), (0, 0)])
    asked = read(one_piece(body))
    assert asked.pieces == ()
    (finding,) = found(asked, "gap")
    assert (finding.level, finding.piece, finding.size) == ("ask", "FRONT", "M")
    assert "5.0 mm" in finding.text
    (piece,) = read(one_piece(body), mend=True).pieces
    assert [(mend.kind, mend.at) for mend in piece.mends] == [("gap", (0, 2.5))]
    assert piece.outline.area_mm2 == pytest.approx(60_000)


def test_a_crossing_is_asked_and_mended_only_when_told_to() -> None:
    body = polyline([(0, 0), (200, 100), (200, 0), (0, 60)], closed=True)
    asked = read(one_piece(body))
    assert (asked.pieces, found(asked, "crossing")[0].level) == ((), "ask")
    (piece,) = read(one_piece(body), mend=True).pieces
    assert piece.mends[0].kind == "crossing"
    assert piece.outline.area_mm2 == pytest.approx(6250)


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (polyline([(0, 0), (300, 0), (300, 200), (0, 200)]), "open by 200.0 mm"),
        (edges_of(BOX) + edges_of(rectangle(100, 100, (400, 0))), "two outlines in one block"),
        ("", "no boundary on layer 1"),
        (
            edges_of(BOX) + line((0, 0), (300, 0), "6") + line((0, 0), (0, 200), "6"),
            "more than one mirror line",
        ),
        (polyline([(0, 0), (300, 0), (150, 0)], closed=True), "no area"),
        (polyline([(0, 0), ("nan", 0), (300, 200)], closed=True), "“nan” stands where a number"),  # type: ignore[list-item]
        (polyline([(0, 0), (1e300, 0), (300, 200)], closed=True), "impossibly far"),
        (polyline([(0, 0), (30_000, 0), (300, 200)], closed=True), "larger than 20 m"),
        (polyline([(0, 0), (300, 0, 1e6), (300, 200)], closed=True), "bulge is so large"),
        (
            tags((0, "SPLINE"), (8, "1"), (71, 500), *[(c, i) for i in range(9) for c in (10, 20)]),
            "degree 500",
        ),
        (
            polyline([(i * 37 % 101, i * 53 % 103) for i in range(400)], closed=True),
            "no mend can be proposed",
        ),
        # Only written when asked for: every process loads this module.
        (lambda: polyline([(i, i * i % 7) for i in range(20_001)], closed=True), "more than 20,000 points"),
    ],
)
def test_what_cannot_be_read_names_file_piece_and_size(body: str | Callable[[], str], said: str) -> None:
    with pytest.raises(PatternFileError) as refused:
        read(one_piece(body if isinstance(body, str) else body()))
    assert str(refused.value).startswith("tops.dxf: FRONT, size M: ")
    assert said in str(refused.value)


def test_a_closed_line_inside_the_boundary_is_kept_for_drawing() -> None:
    pattern = read(one_piece(edges_of(BOX) + polyline(rectangle(50, 50, (20, 20)), closed=True)))
    assert pattern.pieces[0].outline.area_mm2 == pytest.approx(60_000)
    assert len(pattern.pieces[0].marks.lines) == 1
    assert found(pattern, "inner line")[0].level == "assumed"


def test_the_same_block_twice_is_read_once_and_two_different_ones_are_refused() -> None:
    twice = [PieceBlock(body=edges_of(BOX)), PieceBlock(body=edges_of(BOX), block_name="FRONT_M 2")]
    pattern = read(DxfFile(twice).content())
    assert (len(pattern.pieces), found(pattern, "duplicate")[0].level) == (1, "ignored")
    twice[1].body = edges_of(rectangle(310, 200))
    with pytest.raises(PatternFileError, match="FRONT, size M: 2 different blocks"):
        read(DxfFile(twice).content())


def test_blocks_within_blocks_are_left_alone_however_deep() -> None:
    inside = tags((0, "INSERT"), (8, "1"), (2, "FRONT_M"), (10, 0), (20, 0))
    pattern = read(one_piece(edges_of(BOX) + inside))
    assert pattern.pieces[0].outline.area_mm2 == pytest.approx(60_000)
    assert found(pattern, "nested block")


def test_plain_drawings_give_one_outline_a_layer_and_a_block() -> None:
    block = tags((0, "BLOCK"), (8, "0"), (2, "COLLAR")) + polyline(rectangle(50, 10), "0", closed=True)
    block += tags((0, "ENDBLK"))
    drawn = edges_of(BOX, "front") + polyline(rectangle(9, 9, (20, 20)), "front", closed=True)
    drawn += polyline([(0, 0), (100, 0, 1), (100, 50), (0, 50)], "sleeve", closed=True)
    drawn += line((0, 0), (90, 0), "construction") + tags((0, "INSERT"), (2, "COLLAR"), (41, 2), (42, 2))
    pattern = read(DxfFile(style=[], drawn=drawn, more_blocks=block).content(), units="mm")
    assert pattern.format == "plain DXF"
    areas = {p.name: p.outline.area_mm2 for p in pattern.pieces}
    assert areas == {
        "front": pytest.approx(60_000),
        "sleeve": pytest.approx(5000 + math.pi * 25**2 / 2, rel=1e-3),
        "COLLAR": pytest.approx(2000),
    }
    assert len(pattern.of("front")[""].marks.lines) == 1
    assert found(pattern, "no outline")[0].piece == "construction"


def test_a_block_of_a_plain_drawing_lies_as_it_is_placed(subtests: pytest.Subtests) -> None:
    """Turned it has another grain, mirrored it is the other side of a twisted front: what is seen counts."""
    shape = [(0, 0), (60, 0), (60, 10), (0, 30)]
    block = (
        tags((0, "BLOCK"), (8, "0"), (2, "FLAP")) + polyline(shape, "0", closed=True) + tags((0, "ENDBLK"))
    )

    def placed(*ways: tuple[tuple[int, int], ...]) -> ReadPattern:
        drawn = "".join(tags((0, "INSERT"), (2, "FLAP"), *way) for way in ways)
        return read(DxfFile(style=[], drawn=drawn, more_blocks=block).content(), units="mm")

    # Where the corner with the right angle at the short end, (60, 0), comes to lie, of 60 along and 30 across.
    for way, is_seen in (
        ((), {(0, 0), (60, 0), (60, 10), (0, 30)}),
        (((41, -1),), {(60, 0), (0, 0), (0, 10), (60, 30)}),
        (((42, -1),), {(0, 30), (60, 30), (60, 20), (0, 0)}),
        (((41, -1), (42, -1)), {(60, 30), (0, 30), (0, 20), (60, 0)}),
        (((50, 90),), {(30, 0), (30, 60), (20, 60), (0, 0)}),
        (((50, 90), (41, -1)), {(30, 60), (30, 0), (20, 0), (0, 60)}),
        (((50, 90), (230, -1)), {(0, 0), (0, 60), (10, 60), (30, 0)}),
    ):
        with subtests.test(way=way):
            (piece,) = placed(way).pieces
            assert {(round(x, 6), round(y, 6)) for x, y in piece.outline.points} == is_seen
    pattern = placed((), ((41, -1), (50, 90)))
    assert len(pattern.pieces) == 1
    assert "cut as a mirrored pair?" in found(pattern, "mirrored block")[0].text
    assert "its grain was taken from the first" in found(pattern, "turned block")[0].text


def test_a_plain_outline_of_lines_and_arcs_has_edges_at_its_corners() -> None:
    drawn = line((0, 0), (100, 0), "a") + arc((100, 50), 50, -90, 90, "a") + line((100, 100), (0, 100), "a")
    drawn += line((0, 100), (0, 40), "a") + line((0, 40), (0, 0), "a")
    (piece,) = read(DxfFile(style=["Units: METRIC"], drawn=drawn).content()).pieces
    assert sorted(piece.outline.edge_lengths_mm().values()) == [
        pytest.approx(100),
        pytest.approx(200 + 50 * math.pi, rel=1e-3),
    ]


def test_several_outlines_on_one_layer_of_a_plain_drawing_are_pointed_out() -> None:
    drawn = polyline(BOX, "0", closed=True) + polyline(rectangle(50, 50, (400, 0)), "0", closed=True)
    pattern = read(DxfFile(style=["Units: METRIC"], drawn=drawn).content())
    assert pattern.pieces[0].outline.area_mm2 == pytest.approx(60_000)
    assert "1 more closed line beside" in found(pattern, "two outlines")[0].text


@pytest.mark.parametrize(("more", "said"), [(1, "1 further line was kept"), (2, "2 further lines were kept")])
def test_further_lines_of_a_plain_drawing_are_counted(more: int, said: str) -> None:
    inside = "".join(polyline(rectangle(20, 20, (20 + 40 * n, 20)), "0", closed=True) for n in range(more))
    drawn = polyline(BOX, "0", closed=True) + inside
    pattern = read(DxfFile(style=["Units: METRIC"], drawn=drawn).content())
    assert said in found(pattern, "inner line")[0].text


def test_what_is_drawn_as_seen_from_behind_is_turned_over() -> None:
    seen = tags(
        (0, "LWPOLYLINE"), (8, "1"), (90, 3), (70, 1), (230, -1), (10, 0), (20, 0), (10, -90), (20, 0)
    )
    seen += tags((10, -90), (20, 50))
    (piece,) = read(one_piece(seen)).pieces
    corner = {(round(x), round(y)) for x, y in piece.outline.points}
    assert corner == {(0, 0), (90, 0), (90, 50)}
