"""Trapezoids, strips and pieces measured from the fold, held against figures worked out by hand."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.builders import (
    Lies,
    StraightSide,
    strip,
    strip_cut_size_mm,
    trapezoid,
)
from planner.core.curves import FLATTENED_WITHIN_MM, smooth_line
from planner.core.outline import Edge, OutlineError, make_outline, path_length_mm
from planner.core.typed_outline import as_typed, read_from_fold, read_outline, read_points

measure = st.floats(1, 3000, allow_nan=False)


# --- trapezoid --------------------------------------------------------------------------------------------


def test_a_trapezoid_has_the_area_and_sides_of_the_schoolbook():
    # A cuff 120 long, 200 wide at the wrist and 260 above: half the difference is 30, 30-120-√15300.
    cuff = trapezoid(120, 200, 260)
    assert cuff.area_mm2 == pytest.approx(120 * (200 + 260) / 2)
    assert cuff.edge_lengths_mm() == pytest.approx(
        {"left": math.hypot(120, 30), "top": 260, "right": math.hypot(120, 30), "bottom": 200}
    )
    assert cuff.bounds_mm == (0, 0, 120, 260)


@pytest.mark.parametrize(
    ("straight", "left", "right"),
    [(StraightSide.LEFT, 120, math.hypot(120, 60)), (StraightSide.RIGHT, math.hypot(120, 60), 120)],
)
def test_a_trapezoid_with_a_straight_side(straight, left, right):
    panel = trapezoid(120, 260, 200, straight=straight)
    assert panel.edge_length_mm("left") == pytest.approx(left)
    assert panel.edge_length_mm("right") == pytest.approx(right)
    assert panel.area_mm2 == pytest.approx(120 * 230)


@given(measure, measure, measure, st.sampled_from(StraightSide))
def test_every_trapezoid_keeps_its_area_and_ends(length, bottom, top, straight):
    shape = trapezoid(length, bottom, top, straight=straight)
    assert shape.area_mm2 == pytest.approx(length * (bottom + top) / 2)
    assert shape.edge_length_mm("bottom") == pytest.approx(bottom)
    assert shape.edge_length_mm("top") == pytest.approx(top)
    assert shape.length_mm == pytest.approx(length)
    assert shape.width_mm == pytest.approx(max(bottom, top))


def test_sides_alike_may_have_one_name():
    shape = trapezoid(100, 200, 260, names=("side", "waist", "side", "hem"))
    assert shape.edge_count("side") == 2


@pytest.mark.parametrize("measures", [(0, 1, 1), (1, 0, 1), (1, 1, -1), (math.nan, 1, 1)])
def test_a_trapezoid_without_a_measure_is_refused(measures):
    with pytest.raises(OutlineError, match="greater than zero"):
        trapezoid(*measures)


# --- strip ------------------------------------------------------------------------------------------------


def test_the_cut_size_of_a_folded_band():
    # A band of 510 × 15 mm folded in half, seam allowance 7 mm all round: cut 524 × 44 mm (common practice).
    assert strip_cut_size_mm(510, 15, layers=2, edge_allowance_mm=7, end_allowance_mm=7) == (524, 44)


def test_the_cut_size_of_a_binding_with_both_edges_turned_in():
    # Four times the finished width (common practice for binding), nothing at the ends.
    assert strip_cut_size_mm(900, 10, layers=4) == (900, 40)


def test_a_cut_size_stays_as_it_is():
    assert strip_cut_size_mm(900, 10) == (900, 10)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"length_mm": 0}, "greater than zero"),
        ({"width_mm": -1}, "greater than zero"),
        ({"layers": 5}, "one to four layers"),
        ({"edge_allowance_mm": -1}, "allowance"),
        ({"end_allowance_mm": -1}, "allowance"),
    ],
)
def test_a_strip_that_cannot_be_is_refused(changes, words):
    with pytest.raises(OutlineError, match=words):
        strip_cut_size_mm(**{"length_mm": 100, "width_mm": 10, **changes})


@pytest.mark.parametrize(
    ("lies", "along", "across"),
    [
        (Lies.ALONG, 600, 40),
        (Lies.ACROSS, 40, 600),
        # At 45° both extents are (600 + 40) / √2.
        (Lies.BIAS, 640 / math.sqrt(2), 640 / math.sqrt(2)),
    ],
)
def test_a_strip_lies_along_across_or_on_the_bias(lies, along, across):
    shape = strip(600, 40, lies=lies, names=("neckline", "end", "fold", "end"))
    assert shape.bounds_mm == pytest.approx((0, 0, along, across), abs=1e-9)
    assert shape.area_mm2 == pytest.approx(600 * 40)
    assert shape.edge_lengths_mm() == pytest.approx({"neckline": 600, "end": 80, "fold": 600})


# --- curves -----------------------------------------------------------------------------------------------


def arc(radius: float, degrees: list[float]) -> list[tuple[float, float]]:
    return [
        (radius * math.cos(math.radians(turn)), radius * math.sin(math.radians(turn))) for turn in degrees
    ]


def test_a_curve_through_points_of_a_circle_is_the_circle():
    # A quarter of r = 100 mm from seven points, ended freely: π·r/2 long, every point within 0.1 mm of it.
    points = [*arc(100, [0, 15, 30, 45, 60, 75, 90]), (0.0, 0.0)]
    line = smooth_line(points, [Edge("neckline", 0), Edge("rest", 6)], {0, 1, 2, 3, 4, 5})
    curve = line.points[: line.edges[1].start + 1]
    assert path_length_mm(curve) == pytest.approx(math.pi * 50, rel=1e-3)
    assert all(abs(math.hypot(x, y) - 100) < 0.1 for x, y in curve)


def test_a_round_piece_closes_smoothly():
    points = arc(80, list(range(0, 360, 20)))
    line = smooth_line(points, [Edge("pocket edge", 0)], set(range(18)))
    outline = make_outline(line.points, line.edges)
    assert outline.area_mm2 == pytest.approx(math.pi * 80**2, rel=1e-3)


def test_a_curve_goes_through_its_points_and_straight_stretches_stay():
    points = [(0.0, 0.0), (100.0, 0.0), (150.0, 30.0), (160.0, 90.0), (0.0, 90.0)]
    line = smooth_line(points, [Edge("a", 0), Edge("b", 1), Edge("c", 3)], {1, 2})
    assert set(points) <= set(line.points)
    assert line.points[:2] == ((0, 0), (100, 0))
    assert [line.points[edge.start] for edge in line.edges] == [points[0], points[1], points[3]]
    assert line.points[-1] == points[4]


def test_a_curve_through_two_points_is_a_straight_line():
    points = [(0.0, 0.0), (100.0, 0.0), (100.0, 50.0)]
    assert smooth_line(points, [Edge("a", 0), Edge("b", 1)], {0}).points == tuple(points)


def test_a_curve_that_names_no_edge_may_run_over_the_first_point():
    # The same ring begun at another point gives the same line.
    ring = [*arc(100, [-60, -30, 0, 30, 60]), (-50.0, 0.0)]
    one = smooth_line(ring, [Edge("a", 0), Edge("b", 4)], {0, 1, 2, 3})
    turned = ring[2:] + ring[:2]
    other = smooth_line(turned, [Edge("a", 4), Edge("b", 2)], {4, 5, 0, 1})
    assert make_outline(one.points).area_mm2 == pytest.approx(make_outline(other.points).area_mm2)
    assert len(one.points) == len(other.points)


def test_a_repeated_point_in_a_curve_is_refused():
    with pytest.raises(OutlineError, match="the same"):
        smooth_line([(0, 0), (10, 0), (10, 0), (20, 20)], [Edge("a", 0), Edge("b", 3)], {0, 1, 2})


@given(st.lists(st.tuples(st.integers(10, 80), st.integers(-60, 60)), min_size=2, max_size=8))
def test_a_curve_is_flattened_closely(steps):
    """Between two points of the flattened curve the turn is small, so nothing of the curve is cut off."""
    points = [(0.0, 0.0)]
    turn = 0.0
    for length, degrees in steps:
        turn += math.radians(degrees)
        points.append((points[-1][0] + length * math.cos(turn), points[-1][1] + length * math.sin(turn)))
    line = smooth_line(points, [], set(range(len(points) - 1)), half=True)
    assert set(points) <= set(line.points)
    assert len(line.points) <= 128 * len(steps) + 1
    assert path_length_mm(line.points) >= math.dist(points[0], points[-1]) - FLATTENED_WITHIN_MM


# --- from the fold ----------------------------------------------------------------------------------------

FRONT = """down\tout
8\t0\tneckline curve
6.5\t4
3\t7.5
0\t9\tshoulder
4\t21\tarmhole curve
12\t19.5
18\t21.5
21\t25\tside
62\t26\them
62\t0"""


def test_a_paper_front_measured_from_its_fold():
    reading = read_from_fold(FRONT)
    assert reading.problems == ()
    front = reading.outline
    assert front is not None
    assert front.bounds_mm == pytest.approx((-620, -260, 0, 260))
    lengths = front.edge_lengths_mm()
    assert lengths["shoulder"] == pytest.approx(2 * math.hypot(40, 120))
    assert lengths["side"] == pytest.approx(2 * math.hypot(410, 10))
    assert lengths["hem"] == pytest.approx(520)
    assert front.edge_count("neckline") == 1
    assert front.edge_count("armhole") == 2
    # Two half necklines: longer than the chords through the points, shorter than the steps square on them.
    chords = math.hypot(15, 40) + math.hypot(35, 35) + math.hypot(30, 15)
    assert 2 * chords < lengths["neckline"] < 2 * chords * 1.05


def test_a_neckline_crosses_the_fold_squarely():
    front = read_from_fold(FRONT).outline
    assert front is not None
    (path,) = front.edge_paths("neckline")
    middle = next(i for i, (_, y) in enumerate(path) if abs(y) < 1e-9)
    (ax, ay), (bx, by) = path[middle - 1], path[middle + 1]
    assert ax == pytest.approx(bx)
    assert ay == pytest.approx(-by)
    # The first stretch beside the fold rises less than a tenth of its run.
    assert abs(ax - path[middle][0]) < abs(ay) / 10


def test_half_a_circle_from_its_fold_is_a_circle():
    rows = "\n".join(
        f"{100 - 100 * math.cos(math.radians(t)):.4f}; {100 * math.sin(math.radians(t)):.4f}"
        + ("; edge curve" if t == 0 else "")
        for t in range(0, 181, 20)
    )
    outline = read_from_fold(rows, unit="mm").outline
    assert outline is not None
    assert outline.area_mm2 == pytest.approx(math.pi * 100**2, rel=1e-3)
    assert outline.perimeter_mm == pytest.approx(math.tau * 100, rel=1e-3)


def test_straight_measures_are_the_same_as_points_of_a_half():
    rows = "0; 10; shoulder\n5; 25; side\n60; 25; hem\n60; 0"
    fold = read_from_fold("10; 0; neckline\n" + rows).outline
    points = read_outline(
        "-10; 0; neckline\n0; 10; shoulder\n-5; 25; side\n-60; 25; hem\n-60; 0", half=True
    ).outline
    assert fold == points


def test_a_station_that_says_so_is_curved():
    typed = read_points(
        "80;0;neckline;curve\n40;70\n0;90;shoulder\n40;210;side\n620;250;hem\n620;0", unit="mm"
    )
    assert typed.curved == {0, 1}


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("8, 2, neckline\n0, 9\n60, 25\n60, 0", 1, "start on the fold"),
        ("8, 0, neckline\n0, 9\n60, 25\n\n60, 2", 5, "end on the fold"),
        ("8, 0, neckline\n0, -9\n60, 25\n60, 0", 2, "other side of the fold"),
        ("8, 0, neckline\n0, nine\n60, 25\n60, 0", 2, "nine"),
        ("8, 0\n0, 9, shoulder\n60, 25\n60, 0", 1, "must name its edge"),
        ("8, 0, neckline\n0, 9\n60, 25\n60, 0, hem", 4, "where the half ends"),
        ("8, 0, neckline curve\n8, 0\n0, 9\n60, 25\n60, 0", 0, "the same"),
        ("8, 0\n60, 0", 0, "at least three"),
        ("0, 0, neck\n0, 20\n60, 20\n10, 30\n60, 0", 4, "crosses itself"),
        ("", 0, "at least three"),
    ],
)
def test_a_slip_in_the_measures_is_answered_with_its_line(text, line, words):
    reading = read_from_fold(text)
    assert reading.outline is None
    assert reading.problems[0].line == line
    assert words in reading.problems[0].text


# --- curves as they are typed -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "name", "curved"),
    [
        ("1; 2; neckline curve", "neckline", {0}),
        ("1; 2; neckline; curve", "neckline", {0}),
        ("1\t2\tneckline\tCurved", "neckline", {0}),
        ("1, 2, neckline, curve", "neckline", {0}),
        ("1; 2; curve", None, {0}),
        ("1; 2; straight", None, set()),
        ("1; 2; neckline", "neckline", set()),
        ("# hem curve\n1; 2", "hem curve", set()),
        ("1; 2; incurve", "incurve", set()),
    ],
)
def test_a_word_behind_a_point_begins_a_curve(line, name, curved):
    typed = read_points(line)
    assert typed.problems == ()
    assert [edge.name for edge in typed.edges] == ([name] if name else [])
    assert typed.curved == curved


def test_a_curve_goes_on_until_another_edge_or_the_word_straight():
    typed = read_points("0;0;a curve\n1;0\n2;0;b\n3;1\n2;2;curve\n1;3\n0;3;straight\n0;2")
    assert typed.curved == {0, 1, 4, 5}


def test_an_edge_that_is_called_curve_is_read_back_as_it_was():
    outline = make_outline([(0, 0), (100, 0), (100, 50)], [Edge("hem curve", 0), Edge("straight", 1)])
    assert read_outline(as_typed(outline)).outline == outline


def test_curves_of_too_many_points_are_refused_with_the_limit():
    ring = "\n".join(f"{x:.2f}; {y:.2f}; curve" for x, y in arc(500, [i * 360 / 1500 for i in range(1500)]))
    problem = read_outline(ring, unit="mm").problems[0]
    assert "2,000" in problem.text


@given(
    st.text(alphabet="0123456789.,; \n-curvestraigh#", max_size=200),
    st.booleans(),
)
def test_no_text_makes_curves_or_measures_stumble(text, half):
    for reading in (read_outline(text, half=half), read_from_fold(text)):
        assert (reading.outline is None) == bool(reading.problems)
