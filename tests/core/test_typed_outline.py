"""Outlines as typed: every way to write a point, and an answer that names the line for every slip."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.outline import Edge, make_outline, rectangle
from planner.core.typed_outline import MOST_CHARACTERS, MOST_POINTS, as_typed, read_outline, read_points


@pytest.mark.parametrize(
    ("line", "point"),
    [
        ("0, 0", (0, 0)),
        ("0,0", (0, 0)),
        ("12.5 cm, 3 cm", (125, 30)),
        ("12,5 cm; 3 cm", (125, 30)),
        ("12,5 cm, 3,5 cm", (125, 35)),
        ("4 1/2 in; 3 in", (114.3, 76.2)),  # 1 in = 25.4 mm exactly (NIST SP 811)
        ("12.5\t3", (125, 30)),
        ("12.5\t3\t\t", (125, 30)),
        ("12.5 3", (125, 30)),
        ("-3 cm; −2", (-30, -20)),
        ("1 m, 20 mm", (1000, 20)),
    ],
)
def test_a_point_may_be_written_in_many_ways(line, point):
    typed = read_points(line, unit="cm")
    assert typed.problems == ()
    assert typed.points[0] == pytest.approx(point)


def test_a_bare_number_takes_the_unit_chosen():
    assert read_points("2; 3", unit="in").points == ((50.8, pytest.approx(76.2)),)
    assert read_points("2; 3", unit="mm").points == ((2.0, 3.0),)


def test_names_start_edges_as_a_third_value_or_a_line_of_their_own():
    text = "0, 0, hem\n\n10, 0\n# side seam\n10, 5\n0; 5; neckline"
    typed = read_points(text)
    assert typed.edges == (Edge("hem", 0), Edge("side seam", 2), Edge("neckline", 3))
    assert typed.lines == (1, 3, 5, 6)
    outline = read_outline(text).outline
    assert outline is not None
    assert outline.area_mm2 == pytest.approx(100 * 50)
    assert outline.edge_lengths_mm() == pytest.approx({"hem": 150, "side seam": 100, "neckline": 50})


def test_a_heading_from_a_spreadsheet_is_passed_over():
    assert read_points("x\ty\tedge\n0\t0\themline").points == ((0.0, 0.0),)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("0, 0\n10, 0\n10, ten", 3, "ten"),
        ("0, 0\n\n10 furlongs; 0", 3, "furlongs"),
        ("0, 0\n10", 2, "is no point"),
        ("0, 0\n1, 2, 3", 2, "no name for an edge"),
        ("1;2;a;b", 1, "is no point"),
        ("0, 0\n21 m, 0", 2, "20 m"),
        ("0, 0\n1e9, 0", 2, "1e9"),
        ("0, 0\n5, 0, " + "x" * 41, 2, "40 letters"),
        ("# hem\n0, 0, side", 2, "Two names"),
        ("0, 0\n5, 0\n5, 5\n# end", 0, "No point follows"),
        ("0, 0\n5, 0", 0, "at least three"),
        ("", 0, "at least three"),
        ("0, 0\n5, 0\n10, 0", 0, "no area"),
        ("0, 0\nnan, 0\n10, 5", 2, "nan"),
    ],
)
def test_a_slip_is_answered_with_its_line(text, line, words):
    reading = read_outline(text)
    assert reading.outline is None
    assert reading.problems[0].line == line
    assert words in reading.problems[0].text
    assert str(reading.problems[0]).startswith(f"line {line}: " if line else reading.problems[0].text)


def test_a_line_that_crosses_itself_is_refused_and_placed():
    # The stretch from line 3 (10, 0) to line 4 (0, 12) crosses the one from line 1 to line 2.
    reading = read_outline("0, 0\n10, 10\n10, 0\n0, 12")
    assert reading.outline is None
    assert str(reading.problems[0]).startswith("line 3: The outline crosses itself")
    assert "from line 1" in reading.problems[0].text


def test_every_wrong_line_is_named_but_not_a_thousand_times():
    assert [p.line for p in read_outline("a, 1\n0, 0\nb, 2").problems] == [1, 3]
    assert len(read_outline("a, b\n" * 1000).problems) == 20


def test_a_half_is_unfolded_on_its_fold():
    # Half a body 60 cm long and 25 cm wide with a neckline cut straight: 5 cm of 10 × 10 cm away.
    reading = read_outline("0, 0, hem\n0, 25, side\n60, 25, shoulder\n60, 10, neckline\n50, 0", half=True)
    assert reading.problems == ()
    assert reading.outline is not None
    assert reading.outline.area_mm2 == pytest.approx(2 * (600 * 250 - 100 * 100 / 2))
    assert reading.outline.edge_lengths_mm() == pytest.approx(
        {"hem": 500, "side": 1200, "shoulder": 300, "neckline": 2 * math.hypot(100, 100)}
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0, 1\n0, 25\n60, 25\n60, 0", "begin and end on the fold"),
        ("0, 0\n0, 25, side\n60, 25\n60, 0", "first point of a half"),
        ("0, 0, hem\n0, 25\n60, 25\n60, 0, neck", "where the half ends"),
        ("0, 0\n0, 25\n60, -20\n60, 0", "crosses itself when it is unfolded"),
    ],
)
def test_half_a_piece_that_cannot_be_unfolded_is_refused(text, words):
    reading = read_outline(text, half=True)
    assert reading.outline is None
    assert words in reading.problems[0].text


def circle(points: int) -> str:
    """A circle of 40 cm, as many lines as points, in mm."""
    turns = [i * math.tau / points for i in range(points)]
    return "\n".join(f"{500 + 400 * math.cos(turn):.3f}; {500 + 400 * math.sin(turn):.3f}" for turn in turns)


def test_too_many_points_and_too_long_a_text_are_refused_with_the_limit():
    problem = read_outline(circle(10_000), unit="mm").problems[0]
    assert (problem.line, "2,000" in problem.text) == (MOST_POINTS + 1, True)
    problem = read_outline("1, 2\n" * 1_000_000).problems[0]
    assert f"{MOST_CHARACTERS:,}" in problem.text


def test_as_many_points_as_allowed_are_read():
    outline = read_outline(circle(MOST_POINTS), unit="mm").outline
    assert outline is not None
    assert len(outline.points) == MOST_POINTS
    # A ring of so many points is a circle but for one part in 100,000.
    assert outline.area_mm2 == pytest.approx(math.pi * 400**2, rel=1e-5)


@given(st.text(alphabet="0123456789.,;-\t\n #abcm½/\"'", max_size=200), st.booleans())
def test_no_text_makes_it_stumble(text, half):
    reading = read_outline(text, half=half)
    assert (reading.outline is None) == bool(reading.problems)


@given(
    st.lists(st.integers(60, 3000), min_size=3, max_size=40),
    st.sampled_from(["mm", "cm", "in"]),
)
def test_what_is_written_out_is_read_back(radii, unit):
    n = len(radii)
    ring = [(r * math.cos(i * math.tau / n), r * math.sin(i * math.tau / n)) for i, r in enumerate(radii)]
    outline = make_outline(ring, [Edge("side", 0), Edge("neck line", n // 2)])
    again = read_outline(as_typed(outline, unit=unit), unit=unit).outline
    assert again is not None
    assert [e.name for e in again.edges] == ["side", "neck line"]
    for (ax, ay), (bx, by) in zip(outline.points, again.points, strict=True):
        assert ax == pytest.approx(bx, abs=0.06)
        assert ay == pytest.approx(by, abs=0.06)


def test_a_rectangle_written_out_names_its_four_edges():
    text = as_typed(rectangle(44, 420, ("end", "fold", "end", "neckline")))
    assert text == "0; 0; end\n4.4; 0; fold\n4.4; 42; end\n0; 42; neckline"
    # Names as files and the page of edges may give them.
    names = ("1", "sewn; twice", "hem curve", "side, upper")
    again = read_outline(as_typed(rectangle(44, 420, names))).outline
    assert again is not None
    assert tuple(edge.name for edge in again.edges) == names
