"""Grade rules against a table computed by hand.

Source: ASTM D6673 as summarised (rule tables, grade reference line). Areas within 0.1 %, lengths within 0.1 mm.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from planner.core.pattern_files.model import PatternFileError
from planner.core.pattern_files.read import read_pattern
from tests.outside.pattern_checks import (
    assert_piece,
    piece,
    report,
    said,
)
from tests.outside.pattern_writer import (
    Point,
    Tags,
    drawing,
    line,
    polyline,
    rotated,
    rule_table,
    shoelace,
    style_texts,
    text,
    to_bytes,
)

# Grade rules: x, y from the base size along the grade reference line, in the order of SIZE LIST.

SQUARE: list[Point] = [(0, 0), (400, 0), (400, 300), (0, 300)]
CORNERS = list(zip((1, 2, 3, 4), SQUARE, strict=True))
GRADED_SIZES = ["XL", "L", "M", "S"]  # falling, the sample size neither first nor last
WIDER, HIGHER = [20.0, 10.0, 0.0, -10.0], [8.0, 4.0, 0.0, -4.0]
RULES: dict[int, list[Point]] = {
    1: [(0, 0)] * 4,
    2: [(dx, 0) for dx in WIDER],
    3: list(zip(WIDER, HIGHER, strict=True)),
    4: [(0, dy) for dy in HIGHER],
}


def base(
    points: list[Point], rules: list[tuple[int, Point]], *drawn: Tags, grain: list[Point] | None = None
) -> bytes:
    numbers = [text(f"# {n}", at) for n, at in rules]
    blocks = [piece(polyline(points, closed=True), *numbers, *drawn, grain=grain)]
    return to_bytes(drawing(blocks, [*style_texts(), text("GRADE RULE TABLE: TESTGRADE")]))


def assert_graded(answer: dict[str, Any]) -> None:
    """The hand-computed table: 400 + dx by 300 + dy."""
    found = {p["size"]: p for p in answer["pieces"]}
    assert list(found) == GRADED_SIZES
    for size, dx, dy in zip(GRADED_SIZES, WIDER, HIGHER, strict=True):
        along, across = 400 + dx, 300 + dy
        edges = [along, across, along, across]
        assert_piece(found[size], area=along * across, along=along, across=across, edges=edges)


@pytest.mark.parametrize("per_line", [1, 2, 3, 4])
def test_grade_rules_wrapped_anyhow(per_line: int) -> None:
    # A pair a size in the order of SIZE LIST, wrapped over several lines (rule tables as summarised).
    table = rule_table(GRADED_SIZES, "M", RULES, per_line=per_line)
    assert_graded(report(base(SQUARE, CORNERS), rules=table, rules_name="facts.rul"))


def test_grade_rules_follow_the_grade_reference_line() -> None:
    # Along a line that points up the sheet a rule's x is the sheet's y, and its y the sheet's −x.
    turned_rules = {n: [(dy, -dx) for dx, dy in moves] for n, moves in RULES.items()}
    content = base(SQUARE, CORNERS, line((50, 50), (50, 250), "5"))
    assert_graded(report(content, rules=rule_table(GRADED_SIZES, "M", turned_rules), rules_name="facts.rul"))
    tilted = rotated(SQUARE, 30)
    grade, grain = rotated([(50, 50), (250, 50)], 30), rotated([(100, 100), (300, 100)], 30)
    content = base(
        tilted, list(zip((1, 2, 3, 4), tilted, strict=True)), line(grade[0], grade[1], "5"), grain=grain
    )
    assert_graded(report(content, rules=rule_table(GRADED_SIZES, "M", RULES), rules_name="facts.rul"))


def test_points_between_two_graded_ones_move_in_proportion_along_the_boundary() -> None:
    points: list[Point] = [(0, 0), (400, 0), (400, 300), (100, 320), (0, 300)]
    before, behind = math.dist(points[2], points[3]), math.dist(points[3], points[4])
    share = before / (before + behind)
    answer = report(base(points, CORNERS), rules=rule_table(GRADED_SIZES, "M", RULES), rules_name="facts.rul")
    for found, dx, dy in zip(answer["pieces"], WIDER, HIGHER, strict=True):
        # From (dx, dy) at the one end to (0, dy) at the other.
        between = (100 + dx * (1 - share), 320 + dy)
        expected = [(0, 0), (400 + dx, 0), (400 + dx, 300 + dy), between, (0, 300 + dy)]
        assert found["area_mm2"] == pytest.approx(shoelace(expected), rel=1e-4)


def test_half_a_piece_is_graded_and_then_unfolded() -> None:
    # Rules move points of the half that is drawn; layer 6 mirrors it: twice the graded half, by geometry.
    content = base(SQUARE, CORNERS, line((0, 0), (400, 0), "6"))
    answer = report(content, rules=rule_table(GRADED_SIZES, "M", RULES), rules_name="facts.rul")
    for found, dx, dy in zip(answer["pieces"], WIDER, HIGHER, strict=True):
        assert_piece(found, area=2 * (400 + dx) * (300 + dy), along=400 + dx, across=600 + 2 * dy)


def test_rules_in_inches_for_a_drawing_in_millimetres() -> None:
    # A rule table has UNITS of its own: ENGLISH is inches of 25.4 mm.
    inches = {n: [(dx / 25.4, dy / 25.4) for dx, dy in moves] for n, moves in RULES.items()}
    table = rule_table(GRADED_SIZES, "M", inches, units="ENGLISH")
    assert_graded(report(base(SQUARE, CORNERS), rules=table, rules_name="facts.rul"))


def test_rules_that_cannot_be_followed_are_named() -> None:
    # Rule tables as summarised: each rule a pair a size, NUMBER OF SIZES as many as SIZE LIST, "# n" on a point.
    good = rule_table(GRADED_SIZES, "M", RULES)
    without = report(base(SQUARE, [*CORNERS[:3], (77, (0, 300))]), rules=good, rules_name="facts.rul")
    assert "77" in said(without, "FRONT")
    assert [p["size"] for p in without["pieces"]] == ["M"]
    loose = report(base(SQUARE, [*CORNERS[:3], (4, (50, 200))]), rules=good, rules_name="facts.rul")
    assert "rule 4 stands on no point" in said(loose, "FRONT")
    for table, why in (
        (rule_table(GRADED_SIZES, "M", RULES, name="OTHER"), "OTHER"),
        (rule_table(GRADED_SIZES, "M", {**RULES, 2: RULES[2][:3]}), "rule 2 has 6 numbers for 4 sizes"),
        (good.replace(b"SIZES: 4", b"SIZES: 5"), r"number of sizes it says \(4 listed, 5 said\)"),
    ):
        with pytest.raises(PatternFileError, match=why):
            read_pattern(base(SQUARE, CORNERS), name="facts.dxf", rules=table, rules_name="facts.rul")
