import math
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely.geometry import LineString
from shapely.geometry import Point as ShapelyPoint

from planner.core.outline import (
    Edge,
    Outline,
    OutlineError,
    Point,
    make_outline,
    path_length_mm,
    rectangle,
    unfold,
)
from planner.core.seam_lines import (
    LONGEST_MITRE,
    allowances_for,
    seam_lengths_by_name_mm,
    seam_line_lengths_mm,
    seam_lines,
    with_allowance,
)
from tests.core.test_outline import outlines

SAME_MM = 1e-6


def shape(points: list[Point], *names: str) -> Outline:
    """A polygon with an edge from every point to the next."""
    return make_outline(points, [Edge(name, i) for i, name in enumerate(names)])


def arc(centre: Point, radius: float, start_deg: float, end_deg: float, chords: int = 60) -> list[Point]:
    """Points on an arc, both ends included."""
    turn = [math.radians(start_deg + (end_deg - start_deg) * i / chords) for i in range(chords + 1)]
    return [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in turn]


def near(*wanted: float) -> object:
    return pytest.approx(wanted, abs=SAME_MM)


# --- polygons, with a pencil ------------------------------------------------------------------------------


def test_a_rectangle_loses_the_neighbours_allowances_not_its_own():
    box = rectangle(200, 100, ("hem", "right", "top", "left"))
    allowances = {"hem": 20.0, "right": 7.0, "top": 5.0, "left": 0.0}
    assert seam_line_lengths_mm(box, allowances) == near(200 - 7, 100 - 25, 200 - 7, 100 - 25)
    assert seam_lines(box, allowances)[0] == (near(0, 20), near(193, 20))
    assert seam_lines(box, allowances)[3] == (near(0, 95), near(0, 20))


def test_one_figure_is_the_allowance_of_all_edges_and_unnamed_edges_have_none():
    box = rectangle(200, 100)
    assert seam_line_lengths_mm(box, 10) == near(180, 80, 180, 80)
    assert seam_line_lengths_mm(box, {"bottom": 10.0}) == near(200, 90, 200, 90)
    assert allowances_for(box, 7.0, {"top": 20.0}) == {"bottom": 7.0, "right": 7.0, "top": 20.0, "left": 7.0}


def test_without_allowance_the_sewing_line_is_the_cut_line():
    box = rectangle(200, 100)
    assert seam_lines(box, 0) == tuple(box.edge_path(i) for i in range(4))
    assert seam_lengths_by_name_mm(box, {}) == box.edge_lengths_mm()


def test_a_trapezoid_with_sides_of_3_4_5():
    # tan θ = 80/60 at the bottom, so cot(θ/2) = 2 there and 1/2 at the top: 20 and 5 mm for 10 mm.
    shape_ = shape([(0, 0), (200, 0), (140, 80), (60, 80)], "bottom", "right", "top", "left")
    assert seam_line_lengths_mm(shape_, 10) == near(200 - 40, 100 - 25, 80 - 10, 100 - 25)


def test_an_edge_grows_at_a_hollow_corner():
    # An L: the two edges of its inner corner end 10 mm further on, and lose 10 mm at their other ends.
    points = [(0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)]
    ell = shape(points, "a", "b", "c", "d", "e", "f")
    assert seam_line_lengths_mm(ell, 10) == near(80, 20, 60, 60, 20, 80)
    assert seam_line_lengths_mm(ell, {"c": 10.0})[2:5] == near(60, 70, 40)


def test_lengths_of_one_name_are_added_up():
    box = rectangle(200, 100, ("hem", "side", "top", "side"))
    assert seam_lengths_by_name_mm(box, {"hem": 20.0}) == pytest.approx({"hem": 200, "side": 160, "top": 200})


# --- curves -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("allowance", [3.0, 7.0, 20.0])
def test_a_round_arc_shrinks_and_a_hollow_one_grows(allowance):
    quarter = make_outline(
        [(0, 0), *arc((0, 0), 200, 0, 90)], [Edge("straight", 0), Edge("arc", 1), Edge("straight", 61)]
    )
    wanted = (200 - allowance) * math.pi / 2
    assert seam_lengths_by_name_mm(quarter, {"arc": allowance})["arc"] == pytest.approx(wanted, rel=1e-3)

    bitten = make_outline(
        [(0, 300), (0, 200), *arc((0, 0), 200, 90, 0)[1:], (300, 0), (300, 300)],
        [Edge("left", 0), Edge("arc", 1), Edge("bottom", 61), Edge("right", 62), Edge("top", 63)],
    )
    wanted = (200 + allowance) * math.pi / 2
    assert seam_lengths_by_name_mm(bitten, {"arc": allowance})["arc"] == pytest.approx(wanted, rel=1e-3)


def test_a_corner_rounder_than_the_allowance_is_sewn_square():
    # The rounding has a radius of 5 mm, so nothing of it is left 7 mm further in.
    points = [(0, 0), (100, 0), (100, 95), *arc((95, 95), 5, 0, 90, 8)[1:], (0, 100)]
    named = [Edge("bottom", 0), Edge("right", 1), Edge("rounding", 2), Edge("top", 10), Edge("left", 11)]
    box = make_outline(points, named)
    assert seam_lines(box, 7)[2] == ()
    assert seam_line_lengths_mm(box, 7) == near(86, 86, 0, 86, 86)
    one_edge = make_outline(points, [Edge("bottom", 0), Edge("rest", 1)])
    assert seam_line_lengths_mm(one_edge, 7) == near(86, 3 * 86)


def test_a_deep_hem_swallows_several_chords_of_the_side():
    # Chords of 2.6 mm; the hem takes 20 mm. The side is an arc of 300 mm about (0, 0) seen from y = 20 up.
    side = arc((0, 0), 300, 0, 60, 120)
    piece = make_outline([(0, 0), *side], [Edge("hem", 0), Edge("side", 1), Edge("top", 121)])
    angle = math.radians(60) - math.asin(20 / 300)
    assert seam_lengths_by_name_mm(piece, {"hem": 20.0})["side"] == pytest.approx(300 * angle, rel=1e-3)


def test_a_neckline_runs_smoothly_over_the_fold():
    half = [(0.0, 0.0), (0.0, 300.0), (200.0, 300.0), *arc((200, 0), 100, 90, 180, 60)]
    whole = unfold(half, [Edge("hem", 0), Edge("side", 1), Edge("shoulder", 2), Edge("neckline", 3)])
    lengths = seam_lengths_by_name_mm(whole, {"neckline": 10.0})
    assert lengths["neckline"] == pytest.approx(110 * math.pi, rel=1e-3)
    assert lengths["shoulder"] == pytest.approx(2 * 190, rel=1e-3)


# --- joins that are no corners ----------------------------------------------------------------------------


def test_between_two_allowances_a_smooth_join_steps():
    straight = make_outline(
        [(0, 0), (100, 0), (200, 0), (200, 90), (0, 90)],
        [Edge("deep", 0), Edge("flat", 1), Edge("right", 2), Edge("top", 3), Edge("left", 4)],
    )
    allowances = {"deep": 20.0, "flat": 5.0}
    assert seam_lines(straight, allowances)[0] == (near(0, 20), near(100, 20))
    assert seam_lines(straight, allowances)[1] == (near(100, 5), near(200, 5))
    # A bend of 1° would let the two lines meet 860 mm away.
    bent = make_outline(
        [(0, 0), (100, 0), (200, 100 * math.tan(math.radians(1))), (200, 90), (0, 90)], straight.edges
    )
    deep, flat = seam_line_lengths_mm(bent, allowances)[:2]
    assert deep == pytest.approx(100, abs=0.5)
    assert flat == pytest.approx(100, abs=0.5)


def test_the_bottom_of_a_slit_is_cut_off():
    # A slit 0.2 mm wide, 50 deep: its two lines would meet 3.5 m above it.
    points = [(0, 0), (49.9, 0), (50, 50), (50.1, 0), (100, 0), (100, 200), (0, 200)]
    slit = shape(points, "hem", "slit", "slit", "hem", "side", "top", "side")
    lengths = seam_line_lengths_mm(slit, {"slit": 7.0})
    assert lengths[1] == pytest.approx(lengths[2])
    assert lengths[1] == pytest.approx(50 + LONGEST_MITRE * 7, abs=0.2)


# --- what cannot be sewn ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "outline",
    [
        rectangle(500, 10),
        rectangle(14, 14),
        # A dumb-bell: wide enough at its ends only.
        make_outline(
            [
                (0, 0),
                (50, 0),
                (50, 20),
                (90, 20),
                (90, 0),
                (140, 0),
                (140, 50),
                (90, 50),
                (90, 30),
                (50, 30),
                (50, 50),
                (0, 50),
            ]
        ),
    ],
)
def test_a_piece_narrower_than_its_allowances_is_refused(outline):
    with pytest.raises(OutlineError, match="narrower than its seam allowances"):
        seam_line_lengths_mm(outline, 7)


@pytest.mark.parametrize("allowance", [-1.0, math.nan, math.inf])
def test_an_allowance_is_a_length(allowance):
    for given_ in (allowance, {"top": allowance}):
        with pytest.raises(OutlineError, match="zero or more"):
            seam_line_lengths_mm(rectangle(200, 100), given_)


def test_stored_outlines_with_points_that_fell_together_are_measured():
    box = Outline(((0, 0), (100, 0), (100, 0), (100, 50), (0, 50)), (Edge("all", 0), Edge("right", 2)))
    assert seam_line_lengths_mm(box, 5) == near(90, 40 + 90 + 40)


# --- outwards ---------------------------------------------------------------------------------------------


def test_the_cut_line_runs_outside_the_sewing_line():
    sewn = rectangle(200, 100, ("hem", "right", "top", "left"))
    cut = with_allowance(sewn, {"hem": 20.0, "right": 7.0, "top": 5.0})
    assert cut.bounds_mm == near(0, -20, 207, 105)
    assert [edge.name for edge in cut.edges] == ["hem", "right", "top", "left"]
    assert cut.edge_lengths_mm() == pytest.approx({"hem": 207, "right": 125, "top": 207, "left": 125})


def test_a_very_sharp_corner_of_the_cut_line_is_cut_off():
    sewn = shape([(0, 0), (300, 10), (0, 20)], "lower", "upper", "end")
    cut = with_allowance(sewn, 7)
    assert cut.bounds_mm[2] == pytest.approx(300 + LONGEST_MITRE * 7)
    assert [edge.name for edge in cut.edges] == ["lower", "upper", "end"]
    assert seam_line_lengths_mm(cut, 7) == pytest.approx(seam_line_lengths_mm(sewn, 0))


def test_an_allowance_that_would_overlap_itself_is_refused():
    bay = [(0, 0), (100, 0), (100, 100), (60, 100), (56, 50), (52, 100), (0, 100)]
    with pytest.raises(OutlineError, match=r"overlap|swallowed|edge"):
        with_allowance(shape(bay, *"abcdefg"), 30)
    bottle = [
        (0, 0),
        (200, 0),
        (200, 100),
        (105, 100),
        (105, 80),
        (120, 80),
        (120, 40),
        (80, 40),
        (80, 80),
        (95, 80),
        (95, 100),
        (0, 100),
    ]
    with pytest.raises(OutlineError, match="overlap itself"):
        with_allowance(make_outline(bottle), 7)


def test_the_sewing_lines_are_told_by_the_names_of_the_edges():
    piece = rectangle(200, 100, ("hem", "right", "top", "left"))
    inner = seam_lengths_by_name_mm(piece, {"hem": 20.0, "right": 7.0})
    assert inner == pytest.approx({"hem": 193, "right": 80, "top": 193, "left": 80})


# --- any outline ------------------------------------------------------------------------------------------

allowance_maps = st.fixed_dictionaries({name: st.sampled_from([0.0, 1.0, 7.0, 20.0]) for name in "abc"})


@given(outlines(), allowance_maps)
def test_any_outline_is_measured_or_refused(outline, allowances):
    try:
        paths = seam_lines(outline, allowances)
    except OutlineError:
        return
    assert len(paths) == len(outline.edges)
    for path, length in zip(paths, seam_line_lengths_mm(outline, allowances), strict=True):
        assert length == pytest.approx(path_length_mm(path))
    inside = outline.polygon.buffer(1e-3)
    for index, path in enumerate(paths):
        cut = LineString(outline.edge_path(index))
        for point in path:
            assert inside.covers(ShapelyPoint(point))
            assert cut.distance(ShapelyPoint(point)) >= allowances[outline.edges[index].name] - 1e-3


@given(outlines(), st.floats(0.5, 30.0))
def test_edges_hold_together_where_allowances_are_even(outline, allowance):
    try:
        paths = [path for path in seam_lines(outline, allowance) if path]
    except OutlineError:
        assume(False)
    for before, after in pairwise([*paths, paths[0]]):
        # A cut-off bottom of a slit lies between the two edges and belongs to neither.
        assert math.dist(before[-1], after[0]) <= 2 * LONGEST_MITRE * allowance


@st.composite
def round_pieces(draw: st.DrawFn) -> Outline:
    """A piece without hollow corners: points on an ellipse."""
    n = draw(st.integers(3, 40))
    gaps = draw(st.lists(st.floats(0.2, 3.0), min_size=n, max_size=n))
    turns = [2 * math.pi * sum(gaps[:i]) / sum(gaps) for i in range(n)]
    a, b = draw(st.floats(60.0, 400.0)), draw(st.floats(60.0, 400.0))
    starts = draw(st.sets(st.integers(0, n - 1), min_size=1, max_size=5))
    return make_outline(
        [(a * math.cos(t), b * math.sin(t)) for t in turns], [Edge(f"e{s}", s) for s in sorted(starts)]
    )


@given(round_pieces(), st.floats(0.5, 25.0))
def test_the_sewing_line_of_an_added_allowance_is_the_line_it_was_added_to(outline, allowance):
    cut = with_allowance(outline, allowance)
    assert cut.area_mm2 > outline.area_mm2
    assert seam_line_lengths_mm(cut, allowance) == pytest.approx(seam_line_lengths_mm(outline, 0), abs=1e-3)


@given(outlines(), allowance_maps)
def test_turning_and_mirroring_change_no_length(outline, allowances):
    try:
        wanted = seam_lengths_by_name_mm(outline, allowances)
    except OutlineError:
        assume(False)
    for other in (outline.turned(180), outline.mirrored()):
        assert seam_lengths_by_name_mm(other, allowances) == pytest.approx(wanted, abs=1e-3)
