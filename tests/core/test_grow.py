"""Sizes grown from a base size, held against figures worked out by hand."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.grow import grow, moves_between, same_step
from planner.core.grow_points import PointKind, grow_base
from planner.core.outline import Edge, Outline, OutlineError, make_outline, rectangle, unfold
from planner.core.pattern_files.model import Notch
from planner.core.pattern_files.to_write import notch_bar
from planner.core.typed_outline import read_from_fold

SIDES = ("left", "top", "right", "bottom")


def panel() -> Outline:
    """200 long, 100 wide, all four sides named differently: nothing lies on a fold."""
    return rectangle(200, 100, SIDES)


def front() -> Outline:
    """A whole front: half 250 wide and 600 long, the neckline cut straight from (500, 0) to (600, 80)."""
    half = [(0, 0), (0, 250), (580, 250), (600, 80), (500, 0)]
    return unfold(half, [Edge("hem", 0), Edge("side", 1), Edge("shoulder", 2), Edge("neckline", 3)])


# --- the points -------------------------------------------------------------------------------------------


def test_a_corner_is_named_by_the_two_edges_that_meet():
    base = grow_base(panel())
    corners = [point for point in base.points if point.kind is PointKind.CORNER]
    # Counter-clockwise from the top as drawn, where y runs to the left: letters go with the way round.
    assert [(c.letter, c.name) for c in corners] == [
        ("A", "left/top"),
        ("B", "top/right"),
        ("C", "right/bottom"),
        ("D", "bottom/left"),
    ]
    assert not base.has_fold
    assert base.point("top/left") == base.point("left/top") == corners[0]
    assert base.point("left/right") is None


def test_the_middle_of_each_edge_is_a_point_too():
    base = grow_base(panel())
    middles = {p.name: base.outline.points[p.index] for p in base.points if p.kind is PointKind.MIDDLE}
    assert middles == {
        "middle of left": (100, 0),
        "middle of top": (200, 50),
        "middle of right": (100, 100),
        "middle of bottom": (0, 50),
    }
    assert base.outline.area_mm2 == pytest.approx(panel().area_mm2)
    assert base.outline.edge_lengths_mm() == pytest.approx(panel().edge_lengths_mm())


def test_the_points_of_a_folded_piece_are_named_once():
    base = grow_base(front())
    assert base.has_fold
    named = [(p.letter, p.name) for p in base.points if p.kind is not PointKind.MIDDLE]
    assert named == [
        ("A", "middle of neckline"),
        ("B", "neckline/shoulder"),
        ("C", "shoulder/side"),
        ("D", "side/hem"),
        ("E", "middle of hem"),
    ] or named == [
        ("A", "middle of neckline"),
        ("B", "shoulder/neckline"),
        ("C", "side/shoulder"),
        ("D", "hem/side"),
        ("E", "middle of hem"),
    ]
    points = base.outline.points
    for point in base.points:
        x, y = points[point.index]
        assert y >= -1e-9
        assert point.on_fold == (abs(y) < 1e-9)
        if point.twin is not None:
            assert points[point.twin] == pytest.approx((x, -y))


def test_halves_with_other_names_are_no_fold():
    assert not grow_base(rectangle(200, 100, ("one side", "top", "other side", "bottom"))).has_fold
    assert grow_base(rectangle(200, 100, ("side", "top", "side", "bottom"))).has_fold


def test_corners_of_one_name_are_told_apart():
    names = [p.name for p in grow_base(rectangle(200, 100, ("end", "long", "end", "long"))).points]
    assert len(names) == len(set(names))


def test_a_sharp_turn_within_an_edge_is_a_point():
    # A hem with a slit corner; the gentle bend of 11° on the other side is none.
    ring = [(0, 0), (200, 0), (200, 100), (100, 120), (0, 100), (20, 50)]
    base = grow_base(make_outline(ring, [Edge("left", 0), Edge("top", 1), Edge("right", 2), Edge("hem", 4)]))
    turns = [base.outline.points[p.index] for p in base.points if p.kind is PointKind.TURN]
    assert turns == [(20, 50)]


def test_an_outline_without_names_still_has_its_turns():
    base = grow_base(make_outline([(0, 0), (200, 0), (200, 100), (0, 110)]))
    assert [p.kind for p in base.points].count(PointKind.TURN) == 3


# --- the moves --------------------------------------------------------------------------------------------


def test_a_panel_grows_at_its_corners():
    # 10 mm longer at the top and 5 mm wider at the right: (200+10) × (100+5).
    moves = {
        "left/top": {"L": (10, 0)},
        "top/right": {"L": (10, 5)},
        "right/bottom": {"L": (0, 5)},
    }
    grown = grow(panel(), moves)
    assert grown.problems == ()
    assert grown.outlines == {"L": rectangle(210, 105, SIDES)}


def test_points_between_two_corners_move_in_proportion():
    # The left side has points at 1/4 and 1/2 of its length; its top corner moves by (8, 4).
    ring = [(0, 0), (50, 0), (100, 0), (200, 0), (200, 100), (0, 100)]
    piece = make_outline(ring, [Edge("left", 0), Edge("top", 3), Edge("right", 4), Edge("bottom", 5)])
    grown = grow(piece, {"left/top": {"L": (8, 4)}}).outlines["L"]
    assert grown.points == ((0, 0), (52, 1), (104, 2), (208, 4), (200, 100), (0, 100))


def test_proportion_is_by_the_length_of_the_line():
    # An edge of two legs, 30 and 10 long: its knee is at 3/4 of the way. It is sharp, but left to go along.
    ring = [(0, 0), (30, 0), (30, 10), (0, 40)]
    piece = make_outline(ring, [Edge("a", 0), Edge("b", 2), Edge("c", 3)])
    grown = grow(piece, {"a/b": {"L": (4, 8)}}).outlines["L"]
    assert grown.points[1] == pytest.approx((33, 6))


def test_both_halves_of_a_folded_piece_move_as_mirror_images():
    name = next(p.name for p in grow_base(front()).points if "shoulder" in p.name and "side" in p.name)
    grown = grow(front(), {name: {"L": (6, 5), "S": (-6, -5)}})
    assert grown.problems == ()
    large = grown.outlines["L"]
    assert (586, 255) in large.points
    assert (586, -255) in large.points
    assert grow_base(large).has_fold
    small = grown.outlines["S"]
    assert (574, 245) in small.points
    assert large.edge_length_mm("shoulder") == pytest.approx(2 * math.hypot(14, 175))


def test_a_point_on_the_fold_moves_only_along_it():
    grown = grow(front(), {"middle of neckline": {"L": (-5, 0), "XL": (-10, 2)}})
    assert (495, 0) in grown.outlines["L"].points
    assert "XL" not in grown.outlines
    (problem,) = grown.problems
    assert (problem.point, problem.size) == ("middle of neckline", "XL")
    assert "on the fold" in problem.text


def test_a_fold_point_that_is_not_named_goes_along_with_its_neighbours():
    name = next(p.name for p in grow_base(front()).points if "neckline" in p.name and "shoulder" in p.name)
    grown = grow(front(), {name: {"L": (7, 3)}}).outlines["L"]
    # Both ends of the neckline move up by 7, so its middle does; across they cancel each other out.
    assert (507, 0) in [(round(x, 9), round(y, 9) + 0.0) for x, y in grown.points]


def test_the_middle_of_an_edge_may_be_moved_and_only_then_is_a_point_added():
    still = grow(panel(), {"left/top": {"L": (10, 0)}}).outlines["L"]
    assert len(still.points) == 4
    bent = grow(panel(), {"middle of right": {"L": (0, 12)}}).outlines["L"]
    assert (100, 112) in bent.points
    assert len(bent.points) == 5
    assert bent.area_mm2 == pytest.approx(200 * 100 + 200 * 12 / 2)


def test_a_curved_piece_keeps_its_edges_in_every_size():
    neck = "8; 0; neckline curve\n6.5; 4\n3; 7.5\n0; 9; shoulder\n"
    text = neck + "4; 21; armhole curve\n12; 19.5\n21; 25; side\n62; 26; hem\n62; 0"
    base = read_from_fold(text).outline
    assert base is not None
    sizes = ["S", "M", "L", "XL"]
    names = {frozenset(p.name.split("/")): p.name for p in grow_base(base).points}
    steps = {
        names[frozenset(["armhole", "side"])]: (-3.0, 10.0),
        names[frozenset(["side", "hem"])]: (-8.0, 10.0),
        names[frozenset(["shoulder", "armhole"])]: (0.0, 5.0),
        "middle of neckline": (-2.0, 0.0),
    }
    moves = {name: same_step(step, sizes, "M") for name, step in steps.items()}
    grown = grow(base, moves)
    assert grown.problems == ()
    assert list(grown.outlines) == ["S", "L", "XL"]
    for shape in grown.outlines.values():
        assert shape.edges == base.edges
        assert len(shape.points) == len(base.points)
    hems = [shape.edge_length_mm("hem") for shape in grown.outlines.values()]
    assert hems == pytest.approx([500, 540, 560])
    again = moves_between(base, grown.outlines)
    assert again is not None
    for name, by_size in moves.items():
        for size, move in by_size.items():
            assert again[name][size] == pytest.approx(move)


@pytest.mark.parametrize(
    ("moves", "words"),
    [
        ({"left/armhole": {"L": (1, 1)}}, "no point “left/armhole”"),
        ({"left/top": {"L": (math.nan, 1)}}, "not a number"),
        ({"left/top": {"L": (math.inf, 1)}}, "not a number"),
        ({"left/top": {"L": (1e300, 1)}}, "more than 20 m"),
        ({"left/top": {"L": (-250, 50)}}, "crosses itself"),
        ({"left/top": {"L": (-400, 0)}, "top/right": {"L": (-400, 0)}}, "inside out"),
        ({"left/top": {"L": (0, 100)}}, "two edges start at the same point"),
    ],
)
def test_figures_that_cannot_be_cut_are_named_with_their_size(moves, words):
    grown = grow(panel(), moves)
    assert "L" not in grown.outlines
    assert words in grown.problems[0].text
    assert {problem.size for problem in grown.problems} == {"L"}


def test_one_wrong_size_does_not_spoil_the_others():
    grown = grow(panel(), {"left/top": {"L": (10, 0), "XL": (-250, 50)}})
    assert list(grown.outlines) == ["L"]
    assert [problem.size for problem in grown.problems] == ["XL"]


def test_the_same_step_each_size_counts_from_the_base_size():
    assert same_step((-2.5, 5), ["S", "M", "L", "XL"], "M") == {
        "S": (2.5, -5),
        "L": (-2.5, 5),
        "XL": (-5, 10),
    }


def test_sizes_drawn_otherwise_are_not_taken_for_a_table():
    other = make_outline([(0, 0), (210, 0), (210, 100), (0, 100), (0, 50)], [Edge("left", 0)])
    assert moves_between(panel(), {"L": other}) is None
    bent = [(0, 0), (50, 0), (200, 0), (200, 100), (0, 100)]
    edges = [Edge("left", 0), Edge("top", 2), Edge("right", 3), Edge("bottom", 4)]
    belly = [(0, 0), (50, -9), (200, 0), (200, 100), (0, 100)]
    assert moves_between(make_outline(bent, edges), {"L": make_outline(belly, edges)}) is None


small_move = st.tuples(st.integers(-9, 9), st.integers(-9, 9))


@given(st.lists(small_move, min_size=4, max_size=4))
def test_a_table_of_corners_is_read_back(figures):
    corners = [p.name for p in grow_base(panel()).points if p.kind is PointKind.CORNER]
    moves = {name: {"L": figure} for name, figure in zip(corners, figures, strict=True)}
    grown = grow(panel(), moves)
    assert grown.problems == ()
    assert moves_between(panel(), grown.outlines) == moves


@given(st.lists(small_move, min_size=3, max_size=3), st.integers(-9, 9))
def test_a_folded_piece_stays_alike_on_both_sides(figures, neck):
    corners = [p.name for p in grow_base(front()).points if p.kind is PointKind.CORNER]
    moves = {name: {"L": figure} for name, figure in zip(corners, figures, strict=True)}
    moves["middle of neckline"] = {"L": (neck, 0)}
    shape = grow(front(), moves).outlines["L"]
    mirrored = {(round(x, 6), round(-y, 6) + 0.0) for x, y in shape.points}
    assert mirrored == {(round(x, 6), round(y, 6) + 0.0) for x, y in shape.points}
    assert sum(y > 0 for _, y in shape.points) == sum(y < 0 for _, y in shape.points)


def test_points_that_rounding_brought_to_one_place_do_no_harm():
    """Outlines may be stored with an edge without length, a stretch without direction; none are made any more."""
    points = [(0, 400), (0, 0), (600, 0), (600, 0), (600, 400), (0, 400)]
    edges = [Edge("side", 0), Edge("hem", 1), Edge("nick", 2), Edge("far", 3), Edge("top", 4), Edge("end", 5)]
    shape = Outline(tuple(points), tuple(edges))
    # Rounded to 0.001 mm, as they are stored, these would be at one place.
    with pytest.raises(OutlineError, match="two edges start at the same point"):
        make_outline([*points[:3], (600.00095, 0.00095), *points[4:5]], edges[:5])
    (problem,) = grow(shape, {"side/hem": {"L": (10, 0)}}).problems
    assert "two edges start at the same point" in problem.text
    assert moves_between(shape, {"L": shape.scaled(1.1, 1.0)}) is None
    # The ring begins at (0, 400) and runs down from there; the piece lies on its left, which is +x.
    turned = Outline((*shape.points[5:], *shape.points[:5]), (Edge("outline", 0),))
    (x0, y0), (x1, y1) = notch_bar(turned, Notch(0, 400, depth_mm=5))
    assert (x1 - x0, y1 - y0) == pytest.approx((5, 0), abs=1e-9)
