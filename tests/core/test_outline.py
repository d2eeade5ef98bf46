import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.outline import (
    Edge,
    Outline,
    OutlineError,
    Point,
    make_outline,
    outline_from_json,
    rectangle,
    unfold,
)


@st.composite
def star_points(draw: st.DrawFn) -> list[Point]:
    """A ring round its middle that cannot cross itself: growing angles, any reach."""
    n = draw(st.integers(4, 12))
    reach = draw(st.lists(st.floats(50.0, 800.0), min_size=n, max_size=n))
    return [
        (r * math.cos(2 * math.pi * i / n), r * math.sin(2 * math.pi * i / n)) for i, r in enumerate(reach)
    ]


@st.composite
def outlines(draw: st.DrawFn) -> Outline:
    """A checked outline with edges that start anywhere and may share a name, drawn either way round."""
    points = draw(star_points())
    starts = draw(st.sets(st.integers(0, len(points) - 1), min_size=1, max_size=5))
    names = draw(st.lists(st.sampled_from("abc"), min_size=5, max_size=5))
    if draw(st.booleans()):
        points = points[::-1]
    return make_outline(points, [Edge(name, s) for name, s in zip(names, sorted(starts), strict=False)])


@st.composite
def halves(draw: st.DrawFn) -> tuple[list[Point], list[Edge]]:
    """Half a piece on one side of the fold: an open path from fold to fold, in either direction."""
    n = draw(st.integers(1, 8))
    gaps = draw(st.lists(st.floats(5.0, 100.0), min_size=n + 1, max_size=n + 1))
    out = draw(st.lists(st.floats(5.0, 400.0), min_size=n, max_size=n))
    side = draw(st.sampled_from([1.0, -1.0]))
    x, path = 0.0, [(0.0, 0.0)]
    for gap, y in zip(gaps, out, strict=False):
        x += gap
        path.append((x, side * y))
    path.append((x + gaps[-1], 0.0))
    if draw(st.booleans()):
        path.reverse()
    more = draw(st.sets(st.integers(1, n), max_size=4))
    names = draw(st.lists(st.sampled_from("abcde"), min_size=5, max_size=5, unique=True))
    return path, [Edge(name, s) for name, s in zip(names, sorted({0, *more}), strict=False)]


@given(outlines())
def test_mirrored_twice_is_the_same(outline: Outline) -> None:
    assert outline.mirrored().mirrored() == outline


@given(outlines(), st.floats(-5000, 5000), st.floats(-5000, 5000))
def test_moving_turning_and_mirroring_keep_area_and_edges(outline: Outline, dx: float, dy: float) -> None:
    for other in (outline.moved(dx, dy), outline.turned(180), outline.mirrored(), outline.at_origin()):
        assert other.area_mm2 == pytest.approx(outline.area_mm2, rel=1e-9)
        assert other.perimeter_mm == pytest.approx(outline.perimeter_mm, rel=1e-9)
        assert other.edge_lengths_mm() == pytest.approx(outline.edge_lengths_mm(), rel=1e-9)
        assert other.length_mm == pytest.approx(outline.length_mm, rel=1e-9)
        assert other.width_mm == pytest.approx(outline.width_mm, rel=1e-9)
        # Still counter-clockwise: built anew it is the same ring.
        assert make_outline(other.points, other.edges) == other


@given(outlines())
def test_edges_cover_the_ring_exactly_once(outline: Outline) -> None:
    assert sum(outline.edge_lengths_mm().values()) == pytest.approx(outline.perimeter_mm, rel=1e-12)
    walked = [p for i in range(len(outline.edges)) for p in outline.edge_path(i)[:-1]]
    assert sorted(walked) == sorted(outline.points)


@given(outlines())
def test_an_edge_keeps_its_own_points_in_the_mirror(outline: Outline) -> None:
    mirror = outline.mirrored()
    for name in {edge.name for edge in outline.edges}:
        as_drawn = {tuple(sorted((x, -y) for x, y in path)) for path in outline.edge_paths(name)}
        assert {tuple(sorted(path)) for path in mirror.edge_paths(name)} == as_drawn


@given(outlines())
def test_area_and_bounds_are_those_of_the_polygon(outline: Outline) -> None:
    assert outline.area_mm2 == pytest.approx(outline.polygon.area, rel=1e-9)
    assert outline.bounds_mm == outline.polygon.bounds
    assert outline.polygon.exterior.is_ccw


@given(outlines(), st.floats(0.5, 2.0), st.floats(0.5, 2.0))
def test_stretching_multiplies_the_area(outline: Outline, along: float, across: float) -> None:
    assert outline.scaled(along, across).area_mm2 == pytest.approx(
        outline.area_mm2 * along * across, rel=1e-9
    )


@given(halves())
def test_unfolding_doubles_the_area_and_every_edge(half: tuple[list[Point], list[Edge]]) -> None:
    path, edges = half
    whole = unfold(path, edges)
    assert whole.area_mm2 == pytest.approx(2 * make_outline(path).area_mm2, rel=1e-9)
    for i, edge in enumerate(edges):
        end = edges[i + 1].start if i + 1 < len(edges) else len(path) - 1
        stretch = path[edge.start : end + 1]
        drawn = sum(math.dist(a, b) for a, b in pairwise(stretch))
        assert whole.edge_length_mm(edge.name) == pytest.approx(2 * drawn, rel=1e-9)
        # At the ends of the fold an edge runs into its own image and becomes one; elsewhere there are two.
        on_the_fold = i in (0, len(edges) - 1)
        assert whole.edge_count(edge.name) == (1 if on_the_fold else 2)
    assert whole.mirrored().polygon.symmetric_difference(whole.polygon).area < 1e-6 * whole.area_mm2


@given(outlines())
def test_what_is_stored_comes_back_to_a_thousandth(outline: Outline) -> None:
    back = outline_from_json(outline.as_json())
    assert back.edges == outline.edges
    for (ax, ay), (bx, by) in zip(back.points, outline.points, strict=True):
        assert abs(ax - bx) <= 0.0005 + 1e-9
        assert abs(ay - by) <= 0.0005 + 1e-9


def test_a_rectangle_by_hand() -> None:
    sheet = rectangle(400.0, 60.0)
    assert (sheet.area_mm2, sheet.length_mm, sheet.width_mm) == (24_000.0, 400.0, 60.0)
    assert sheet.edge_lengths_mm() == {"bottom": 400.0, "right": 60.0, "top": 400.0, "left": 60.0}


def test_repeated_points_vanish_and_edges_stay_in_place() -> None:
    ring = [(0, 0), (100, 0), (100, 0), (100, 50), (0, 50), (0, 0)]
    outline = make_outline(ring, [Edge("long", 0), Edge("rest", 3)])
    assert len(outline.points) == 4
    assert outline.edge_lengths_mm() == {"long": 150.0, "rest": 150.0}


def test_a_ring_drawn_clockwise_is_turned_round_with_its_edges() -> None:
    clockwise = make_outline([(0, 0), (0, 50), (100, 50), (100, 0)], [Edge("short", 0), Edge("rest", 1)])
    assert clockwise.edge_length_mm("short") == 50.0
    assert clockwise.polygon.exterior.is_ccw


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([(0, 0), (1, 1)], "three"),
        ([(0, 0), (10, 0), (20, 0)], "no area"),
        ([(0, 0), (100, 100), (100, 0), (0, 90)], "crosses itself"),
        ([(0, 0), (float("nan"), 0), (1, 1)], "not a number"),
        ([(0, 0), (float("inf"), 0), (1, 1)], "not a number"),
        ([(0, 0), (30_000, 0), (0, 30_000)], "check the unit"),
    ],
)
def test_what_cannot_be_cut_is_refused(points: list[Point], words: str) -> None:
    with pytest.raises(OutlineError, match=words):
        make_outline(points)


def test_edges_that_make_no_sense_are_refused() -> None:
    square = [(0, 0), (10, 0), (10, 10), (0, 10)]
    with pytest.raises(OutlineError, match="does not exist"):
        make_outline(square, [Edge("a", 4)])
    with pytest.raises(OutlineError, match="same point"):
        make_outline(square, [Edge("a", 1), Edge("b", 1)])
    with pytest.raises(KeyError):
        make_outline(square).edge_length_mm("neck")
    with pytest.raises(ValueError, match="0 or 180"):
        make_outline(square).turned(90)
