"""Grade rules: the table as a file has it, and pieces in all sizes, worked out by hand."""

from __future__ import annotations

from typing import Any

import pytest

from planner.core.pattern_files.grade_rules import read_rules
from planner.core.pattern_files.model import PatternFileError, ReadPattern
from planner.core.pattern_files.read import read_pattern
from tests.core.pattern_makers import (
    DxfFile,
    PieceBlock,
    Point,
    edges_of,
    line,
    point,
    polyline,
    rectangle,
    rules_file,
    text,
)

BOX = rectangle(300, 200)
#: Moves of points 1 (0, 0), 2 (300, 0), 3 (300, 200) and 4 (0, 200) in S, M and L.
TABLE: dict[int, list[Point]] = {
    1: [(0, 0), (0, 0), (0, 0)],
    2: [(-10, 0), (0, 0), (12, 0)],
    3: [(-10, -6), (0, 0), (12, 8)],
    4: [(0, -6), (0, 0), (0, 8)],
}


def numbers(ring: list[Point]) -> str:
    return "".join(text(f"# {n}", at) for n, at in enumerate(ring, 1))


def base_file(body: str = "", *, table: str = "TABLE1", **facts: Any) -> bytes:
    piece = PieceBlock(body=body or edges_of(BOX) + numbers(BOX), **facts)
    style = ["Units: METRIC", "Sample Size: M", f"Grade Rule Table: {table}"]
    return DxfFile([piece], style=style).content()


def read(content: bytes, rules: bytes, **options: Any) -> ReadPattern:
    return read_pattern(content, name="top.dxf", rules=rules, rules_name="top.rul", **options)


def sizes_of(pattern: ReadPattern) -> dict[str, tuple[float, float]]:
    return {p.size: (round(p.outline.length_mm, 6), round(p.outline.width_mm, 6)) for p in pattern.pieces}


def test_each_size_moves_its_points_by_its_rule() -> None:
    pattern = read(base_file(), rules_file(TABLE))
    assert (pattern.format, pattern.sizes, pattern.sample_size) == (
        "DXF with grade rules",
        ("S", "M", "L"),
        "M",
    )
    assert sizes_of(pattern) == {"S": (290, 194), "M": (300, 200), "L": (312, 208)}
    assert [len(p.outline.edges) for p in pattern.pieces] == [4, 4, 4]


def test_the_list_of_sizes_may_stand_in_any_order_with_the_sample_size_anywhere() -> None:
    order = {number: [move[2], move[0], move[1]] for number, move in TABLE.items()}
    pattern = read(base_file(), rules_file(order, sizes="L S M"))
    assert sizes_of(pattern) == {"L": (312, 208), "S": (290, 194), "M": (300, 200)}
    assert pattern.sizes == ("L", "S", "M")


def test_points_between_two_rules_move_in_proportion_along_the_boundary() -> None:
    # On the side from 2 (300, 0) to 3 (300, 200): a quarter up, y moves a quarter of what point 3 moves.
    ring = [*BOX[:2], (300, 50), *BOX[2:]]
    body = polyline(ring, closed=True) + numbers(BOX)
    (large,) = [p for p in read(base_file(body), rules_file(TABLE)).pieces if p.size == "L"]
    assert (312, 52) in {(round(x, 6), round(y, 6)) for x, y in large.outline.points}


def test_proportion_follows_the_boundary_not_the_number_of_points() -> None:
    # The top runs from 3 over (100, 200) to 4; its points have no rule of their own, 4 moves and 3 does not.
    table = {1: TABLE[1], 3: [(0, 0)] * 3, 4: [(0, -6), (0, 0), (0, 9)]}
    ring = [*BOX[:3], (100, 200), (50, 200), BOX[3]]
    body = polyline(ring, closed=True) + text("# 1", (0, 0)) + text("# 3", (300, 200)) + text("# 4", (0, 200))
    (large,) = [p for p in read(base_file(body), rules_file(table)).pieces if p.size == "L"]
    points = {(round(x, 6), round(y, 6)) for x, y in large.outline.points}
    assert {(100, 206), (50, 207.5), (0, 209), (300, 200)} <= points


@pytest.mark.parametrize(
    ("reference", "length", "width"),
    [
        (((0, 0), (100, 0)), 312, 208),
        (((0, 0), (0, 100)), 300 - 8, 200 + 12),
        (((100, 0), (0, 0)), 300 - 12, 200 - 8),
    ],
)
def test_moves_are_measured_along_the_grade_reference_line(
    reference: tuple[Point, Point], length: float, width: float
) -> None:
    # Turned a quarter, a move (x, y) becomes (-y, x): point 2 (12, 0) -> (0, 12), 3 (12, 8) -> (-8, 12), 4 -> (-8, 0).
    content = base_file(edges_of(BOX) + numbers(BOX) + line(*reference, "5"))
    (large,) = [p for p in read(content, rules_file(TABLE)).pieces if p.size == "L"]
    xs = [large.outline.length_mm, large.outline.width_mm]
    if reference[0][0] == reference[1][0]:
        # Point 1 stays, 2 rises by 12, 3 goes left 8 and up 12, 4 goes left 8: area of that quadrilateral.
        assert large.outline.area_mm2 == pytest.approx(_area([(0, 0), (300, 12), (292, 212), (-8, 200)]))
    else:
        assert xs == pytest.approx([length, width])


def _area(ring: list[Point]) -> float:
    return sum(ax * by - bx * ay for (ax, ay), (bx, by) in zip(ring, [*ring[1:], ring[0]], strict=True)) / 2


def test_half_a_piece_is_graded_before_it_is_unfolded() -> None:
    content = base_file(edges_of(BOX) + numbers(BOX) + line((0, 0), (300, 0), "6"))
    pattern = read(content, rules_file(TABLE))
    assert sizes_of(pattern) == {"S": (290, 388), "M": (300, 400), "L": (312, 416)}
    assert all(piece.unfolded for piece in pattern.pieces)


def test_a_fold_that_moves_sideways_takes_the_mirror_line_with_it() -> None:
    table = {n: [(x, y - 4) for x, y in moves] for n, moves in TABLE.items()}
    table = {n: [moves[0], (0, 0), moves[2]] for n, moves in table.items()}
    content = base_file(edges_of(BOX) + numbers(BOX) + line((0, 0), (300, 0), "6"))
    assert sizes_of(read(content, rules_file(table))) == {"S": (290, 388), "M": (300, 400), "L": (312, 416)}


def test_notches_and_sew_lines_follow_the_boundary_and_holes_their_own_rule() -> None:
    body = (
        edges_of(BOX)
        + numbers(BOX)
        + point((300, 100, 5), "4")
        + point((50, 50), "13")
        + text("# 3", (50, 50))
    )
    body += polyline([(10, 190), (10, 10), (290, 10), (290, 190)], "14", closed=True)
    # A line inside with rules at its first and third points: between them in proportion, beyond as the last of them.
    body += polyline([(100, 100), (130, 140), (160, 100), (200, 100)], "8")
    body += text("# 3", (100, 100)) + text("# 4", (160, 100))
    (large,) = [p for p in read(base_file(body), rules_file(TABLE)).pieces if p.size == "L"]
    assert (large.marks.notches[0].x, large.marks.notches[0].y) == pytest.approx((312, 104))
    assert large.marks.holes[0] == pytest.approx((62, 58))
    (inside,) = large.marks.lines
    assert inside == tuple(map(pytest.approx, [(112, 108), (136, 148), (160, 108), (200, 108)]))
    assert list((large.allowance_mm or {}).values()) == [pytest.approx(10, abs=0.6)] * 4


def test_inches_in_the_table_and_millimetres_in_the_drawing() -> None:
    inches = {n: [(x / 25.4, y / 25.4) for x, y in moves] for n, moves in TABLE.items()}
    content = rules_file(inches, units="ENGLISH")
    pattern = read(base_file(), content)
    assert sizes_of(pattern)["L"] == pytest.approx((312, 208), abs=0.1)
    (told,) = [f.text for f in pattern.findings if f.kind == "units"]
    assert "drawing is in millimetres, its rules are in inches" in told
    # Where that was a slip of the table, a size may come out inside out: it is none.
    wrong = {n: [(40 * x, y) for x, y in moves] for n, moves in TABLE.items()}
    pattern = read(base_file(), rules_file(wrong))
    assert sizes_of(pattern) == {"M": (300, 200), "L": (780, 208)}
    assert [(f.level, f.size) for f in pattern.findings if f.kind == "inside out"] == [("refused", "S")]


def test_a_number_without_a_rule_leaves_the_base_size_and_names_the_piece() -> None:
    table = {n: moves for n, moves in TABLE.items() if n != 3}
    pattern = read(base_file(), rules_file(table))
    assert sizes_of(pattern) == {"M": (300, 200)}
    (finding,) = [f for f in pattern.findings if f.kind == "rule missing"]
    assert (finding.level, finding.piece) == ("refused", "FRONT")
    assert "number 3 in top.rul" in finding.text
    assert "S, L" in finding.text


def test_a_piece_without_numbers_is_the_same_in_all_sizes_with_a_finding() -> None:
    pattern = read(base_file(edges_of(BOX)), rules_file(TABLE))
    assert sizes_of(pattern) == {"S": (300, 200), "M": (300, 200), "L": (300, 200)}
    assert [f.level for f in pattern.findings if f.kind == "not graded"] == ["assumed"]


def test_the_base_size_alone_says_that_its_rules_are_missing() -> None:
    pattern = read_pattern(base_file(), name="top.dxf")
    assert [f.level for f in pattern.findings if f.kind == "no rules"] == ["missing"]


def test_rules_beside_a_drawing_with_all_sizes_are_ignored_with_a_finding() -> None:
    blocks = [PieceBlock("FRONT", size, edges_of(BOX)) for size in "SM"]
    pattern = read(DxfFile(blocks).content(), rules_file(TABLE))
    assert sizes_of(pattern).keys() == {"S", "M"}
    assert [f.level for f in pattern.findings if f.kind == "rules"] == ["ignored"]


@pytest.mark.parametrize(
    ("content", "rules", "said"),
    [
        (
            base_file(table="OTHER"),
            rules_file(TABLE),
            "these are the rules “TABLE1”, but top.dxf asks for “OTHER”",
        ),
        (base_file(size="XXL"), rules_file(TABLE), "top.dxf holds the pieces in size XXL"),
        (
            base_file(),
            rules_file(TABLE, sample="S"),
            "start from size S, but top.dxf holds the pieces in size M",
        ),
        (base_file(), rules_file(TABLE, sample="Q"), "“Q” is not in the list of sizes"),
        (base_file(), rules_file({**TABLE, 2: [(0, 0)]}), "rule 2 has 2 numbers for 3 sizes"),
        (base_file(), rules_file(TABLE)[:-30], "rule 4 has 2 numbers"),
        (base_file(), rules_file({1: [(0, 0), (0, 0), (9e9, 0)]}), "impossibly far"),
        (base_file(), rules_file(TABLE).replace(b"12.000", b"twelve"), "holds something that is no number"),
        (
            base_file(),
            rules_file(TABLE).replace(b"SIZES: 3", b"SIZES: 9"),
            "does not hold the number of sizes",
        ),
        (base_file(), rules_file(TABLE, sizes="M M L"), "twice"),
        (
            base_file(),
            rules_file(TABLE).replace(b"DELTA 4", b"DELTA 3"),
            "rule 3 stands there twice, with different moves",
        ),
        (base_file(), b"\x00\x01 no rules", "no table of grade rules"),
        (base_file(), b"", "no table of grade rules"),
    ],
)
def test_rules_for_another_file_or_damaged_are_refused(content: bytes, rules: bytes, said: str) -> None:
    with pytest.raises(PatternFileError) as refused:
        read(content, rules)
    assert said in str(refused.value)
    assert "top.rul" in str(refused.value)


def test_the_name_of_the_table_may_carry_a_folder_and_an_extension() -> None:
    assert len(read(base_file(table="C:\\rules\\table1.RUL"), rules_file(TABLE)).pieces) == 3


def test_a_table_that_moves_its_sample_size_is_taken_relative_to_it() -> None:
    shifted = {n: [(x + 3, y + 3) for x, y in moves] for n, moves in TABLE.items()}
    rules = read_rules(rules_file(shifted), name="r.rul", scale=None, default_scale=1.0)
    assert rules.moves[2] == {"S": (-10, 0), "M": (0, 0), "L": (12, 0)}
    assert len(rules.assumed) == 4


def test_a_table_without_an_end_and_with_names_of_sizes_that_hold_blanks() -> None:
    content = rules_file(TABLE, end="").replace(b"LIST: S M L", b"LIST: AGE 2, AGE 3, AGE 4")
    content = content.replace(b"SAMPLE SIZE: M", b"SAMPLE SIZE: age 3")
    rules = read_rules(content, name="r.rul", scale=None, default_scale=1.0)
    assert rules.sizes == ("AGE 2", "AGE 3", "AGE 4")
    assert rules.sample_size == "AGE 3"
    assert rules.assumed == ("the table does not end with END",)


def test_sizes_in_an_old_code_page_are_read_as_in_the_drawing() -> None:
    """The sample size of both is the letter Ж, one byte of the code page that the drawing names."""
    drawing = base_file(size="Ж").decode().replace("Sample Size: M", "Sample Size: Ж")
    page = "0\nSECTION\n2\nHEADER\n9\n$DWGCODEPAGE\n3\nANSI_1251\n0\nENDSEC\n"
    table = rules_file(TABLE, sizes="Б Ж Д", sample="Ж").decode()
    pattern = read((page + drawing).encode("cp1251"), table.encode("cp1251"))
    assert pattern.sizes == ("Б", "Ж", "Д")
    assert sizes_of(pattern) == {"Б": (290, 194), "Ж": (300, 200), "Д": (312, 208)}
    # Where the drawing has no such letter the table's are told apart all the same.
    assert read(base_file(), rules_file(TABLE, sizes="é M è").decode().encode("cp1252")).sizes == (
        "é",
        "M",
        "è",
    )


def test_units_are_what_the_maker_says_then_what_the_table_states_then_those_of_the_drawing() -> None:
    stated, unstated = rules_file(TABLE), rules_file(TABLE, units="")
    for content, scale, large_mm in (
        (stated, 25.4, 304.8),
        (unstated, 25.4, 304.8),
        (stated, None, 12.0),
        (unstated, None, 120.0),
    ):
        rules = read_rules(content, name="r.rul", scale=scale, default_scale=10.0)
        assert rules.moves[2]["L"] == (pytest.approx(large_mm), 0.0)
        assert bool(rules.assumed) is (content == unstated and scale is None)
