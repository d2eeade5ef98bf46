"""Lines chained into rings, edges, half pieces unfolded, curves flattened: cases checked by hand."""

from __future__ import annotations

import itertools
import math
import random

import pytest
import shapely
from ezdxf.math import BSpline, Vec3
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.outline import Point, path_length_mm, signed_area_mm2
from planner.core.pattern_files import curves
from planner.core.pattern_files.chaining import MOST_LINES, chain
from planner.core.pattern_files.folding import mirrored_across, on_boundary, unfolded
from planner.core.pattern_files.model import FLATTEN_MM, JOIN_MM
from planner.core.pattern_files.ring_edges import cut_at_corners, cut_at_points, lined_up
from planner.core.pattern_files.ring_mending import mended_crossing
from planner.core.pattern_files.rings import (
    Ring,
    RingError,
    Stroke,
    line_angle_deg,
    places_on,
    ring_outline,
    turn_to_grain_deg,
    turned,
)

HOUSE: list[Point] = [(0, 0), (300, 0), (300, 200), (150, 280), (0, 200)]


def sides(ring: list[Point]) -> list[Stroke]:
    return [Stroke((a, ring[(i + 1) % len(ring)])) for i, a in enumerate(ring)]


@given(st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_edges_in_any_order_and_direction_make_the_same_ring(chance: random.Random) -> None:
    lines = [Stroke(s.points[::-1]) if chance.random() < 0.5 else s for s in sides(HOUSE)]
    chance.shuffle(lines)
    (ring,) = chain(lines).rings
    assert set(ring.points) == set(HOUSE)
    assert signed_area_mm2(ring.points) == 300 * 200 + 300 * 80 / 2
    assert len(ring.starts) == 5
    assert not ring.gaps


def test_ends_within_the_tolerance_meet_in_their_middle_without_a_word() -> None:
    lines = sides(HOUSE)
    lines[1] = Stroke(((300, 0.4), (300, 200)))
    (ring,) = chain(lines).rings
    assert not ring.gaps
    assert (300, 0.2) in ring.points


def test_a_gap_is_closed_straight_and_told() -> None:
    lines = [Stroke(((0, 0), (300, 0), (300, 200))), Stroke(((300, 205), (0, 205), (0, 0)))]
    (ring,) = chain(lines).rings
    assert [(gap.kind, gap.at) for gap in ring.gaps] == [("gap", (300, 202.5))]
    assert "open by 5.0 mm" in ring.gaps[0].text
    assert ring.area_mm2 == 300 * 205


def test_a_single_line_open_by_a_gap_is_closed_and_told() -> None:
    (ring,) = chain([Stroke((*HOUSE, (0, 6)))]).rings
    assert [gap.kind for gap in ring.gaps] == ["gap"]


def test_a_wider_gap_stays_open() -> None:
    chained = chain([Stroke(((0, 0), (300, 0), (300, 200))), Stroke(((300, 210.5), (0, 210), (0, 0)))])
    assert not chained.rings
    assert [round(one.gap_mm, 1) for one in chained.open] == [10.5]


@pytest.mark.parametrize("closed", [True, False])
def test_the_first_point_repeated_at_the_end_counts_once(closed: bool) -> None:
    (ring,) = chain([Stroke((*HOUSE, HOUSE[0]), closed=closed)]).rings
    assert len(ring.points) == 5


def test_repeated_points_go_and_either_winding_is_the_same() -> None:
    (ring,) = chain([Stroke((*HOUSE[:2], *HOUSE[1:]), closed=True)]).rings
    (other,) = chain([Stroke(tuple(HOUSE[::-1]), closed=True)]).rings
    assert len(ring.points) == 5
    assert signed_area_mm2(other.points) == signed_area_mm2(ring.points) > 0


def test_a_line_or_an_outline_drawn_twice_counts_once() -> None:
    chained = chain([*sides(HOUSE), Stroke(((300, 200), (300, 0)))])
    assert (len(chained.rings), chained.open, chained.repeats) == (1, (), 1)
    chained = chain([Stroke(tuple(HOUSE), closed=True), *sides(HOUSE)])
    assert (len(chained.rings), chained.repeats) == (1, 1)


def test_two_outlines_are_two_rings_the_larger_first() -> None:
    small = [(x / 3 + 500, y / 3) for x, y in HOUSE]
    rings = chain([Stroke(tuple(small), closed=True), *sides(HOUSE)]).rings
    assert [round(ring.area_mm2) for ring in rings] == [72000, 8000]


def test_single_lines_are_no_edges_where_they_go_on_smoothly() -> None:
    points = [*HOUSE[:2], (301, 100), *HOUSE[2:]]
    bits = [Stroke(s.points, is_edge=False) for s in sides(points)]
    assert len(chain(bits).rings[0].starts) == 5
    assert len(chain(sides(points)).rings[0].starts) == 6


def test_a_curve_of_a_thousand_single_lines_is_chained_but_loose_lines_are_refused() -> None:
    circle = [(100 * math.cos(i * math.tau / 1000), 100 * math.sin(i * math.tau / 1000)) for i in range(1000)]
    (ring,) = chain([Stroke(s.points, is_edge=False) for s in sides(circle)]).rings
    assert len(ring.points) == 1000
    loose = [Stroke(((30.0 * i, 0.0), (30.0 * i + 10, 0.0))) for i in range(MOST_LINES + 1)]
    with pytest.raises(RingError, match="do not meet"):
        chain(loose)


def test_names_of_lines_become_names_of_edges_whichever_way_the_ring_runs() -> None:
    names = ["hem", "side", "right shoulder", "left shoulder", "other side"]
    lines = [Stroke(s.points, name=name) for s, name in zip(sides(HOUSE), names, strict=True)]
    for drawn in (lines, lines[::-1], [Stroke(s.points[::-1], name=s.name) for s in lines]):
        outline = ring_outline(chain(drawn).rings[0])
        assert outline.edge_lengths_mm() == {
            "hem": 300,
            "side": 200,
            "right shoulder": 170,
            "left shoulder": 170,
            "other side": 200,
        }


def test_edges_are_cut_at_turn_points_also_between_points() -> None:
    ring = cut_at_points(Ring(tuple(HOUSE)), [(0, 0), (300, 0.3), (200, 0.1), (999, 0)])
    assert [ring.points[i] for i in ring.starts] == [(0, 0), (200, 0.1), (300, 0)]
    assert cut_at_points(Ring(tuple(HOUSE)), [(0, 0)]).starts == ()


def test_edges_are_cut_at_corners_but_not_in_curves() -> None:
    bow = curves.bulge_path((300, 200), (0, 200), 0.5)
    ring = cut_at_corners(Ring(((0, 0), (300, 0), *bow)))
    assert [ring.points[i] for i in ring.starts] == [(0, 0), (300, 0), (300, 200), (0, 200)]
    circle = cut_at_corners(Ring(curves.arc_path((0, 0), 50, 0, math.tau)[:-1]))
    assert circle.starts == (0,)


@pytest.mark.parametrize("fold", range(5))
@pytest.mark.parametrize("turn", [0, 37, 90, 200])
def test_half_a_house_unfolds_on_any_of_its_sides(fold: int, turn: int) -> None:
    points = turned(HOUSE, turn)
    ring = Ring(points, (0, 1, 2, 3, 4))
    mirror = (points[fold], points[(fold + 1) % 5])
    for line in (mirror, mirror[::-1]):
        whole = unfolded(ring, line)
        assert whole.area_mm2 == pytest.approx(2 * 72000)
        outer = path_length_mm([*HOUSE, HOUSE[0]]) - math.dist(*mirror)
        assert whole.perimeter_mm == pytest.approx(2 * outer)


def test_edges_of_an_unfolded_piece_and_their_images_share_names() -> None:
    ring = Ring(((0, 0), (300, 0), (300, 200), (0, 200)), (0, 1, 2, 3), (), ("fold", "hem", "side", "neck"))
    whole = unfolded(ring, ((0, 0), (300, 0)))
    assert whole.edge_lengths_mm() == {"hem": 400, "side": 600, "neck": 400}
    assert whole.edge_count("side") == 2
    plain = unfolded(Ring(ring.points, ring.starts), ((0, 0.2), (300, -0.2)))
    assert [edge.name for edge in plain.edges] == ["edge 1", "edge 2", "edge 1", "edge 3"]


def test_a_short_mirror_line_is_brought_onto_the_side_it_lies_on() -> None:
    ring = Ring(tuple(HOUSE), (0, 1, 2, 3, 4))
    assert on_boundary(ring, ((100, 0.2), (50, 0))) == ((300, 0), (0, 0))
    off = ((50, 0), (100, 3))
    assert on_boundary(ring, off) == off


@pytest.mark.parametrize(
    ("mirror", "why"),
    [
        (((0, 100), (300, 100)), "does not lie on the boundary"),
        (((0, -20), (300, -20)), "does not lie on the boundary"),
        (((400, 0), (500, 0)), "does not lie on the boundary"),
        (((5, 5), (5, 5)), "only a point"),
    ],
)
def test_a_mirror_line_off_the_boundary_is_refused(mirror: tuple[Point, Point], why: str) -> None:
    with pytest.raises(RingError, match=why):
        unfolded(Ring(tuple(HOUSE), (0, 1, 2, 3, 4)), mirror)


def test_a_fold_in_two_stretches_and_a_mirror_line_through_the_piece_are_refused() -> None:
    notched = Ring(((0, 0), (100, 0), (150, 40), (200, 0), (300, 0), (300, 200), (0, 200)))
    with pytest.raises(RingError, match="one stretch"):
        unfolded(notched, ((0, 0), (300, 0)))
    both_sides = Ring(((0, 0), (100, 0), (100, -50), (300, -50), (300, 200), (0, 200)))
    with pytest.raises(RingError, match="through the piece"):
        unfolded(both_sides, ((0, 0), (100, 0)))


def test_points_near_the_fold_that_belong_to_the_neckline_stay_in_it() -> None:
    neck = curves.arc_path((300, 0), 80, math.pi / 2, math.pi / 2)
    ring = Ring(((0, 0), *neck[::-1], (300, 200), (0, 200)))
    whole = unfolded(ring, ((0, 0), (220, 0)))
    assert whole.area_mm2 == pytest.approx(2 * signed_area_mm2(ring.points), rel=1e-6)


def test_a_crossing_gets_a_proposal_that_says_so() -> None:
    mended = mended_crossing(Ring(((0, 0), (200, 100), (200, 0), (0, 60))))
    assert mended is not None
    # By hand: the lines y = x/2 and y = 60 - 3x/10 meet at (75, 37.5); right 100 x 125 / 2, left 60 x 75 / 2.
    assert mended.area_mm2 == pytest.approx(100 * 125 / 2)
    assert (mended.gaps[0].kind, mended.gaps[0].at) == ("crossing", pytest.approx((75, 37.5)))
    assert mended_crossing(Ring(tuple(HOUSE))) is None


def test_the_grain_turns_small_slips_the_same_way() -> None:
    for level in (0.0, 0.01, 179.99):
        assert turn_to_grain_deg(level) == pytest.approx(0, abs=0.02)
    for upright in (89.99, 90.0, 90.01):
        assert turn_to_grain_deg(upright) == pytest.approx(-90, abs=0.02)
    assert line_angle_deg((5, 5), (0, 5)) == 0
    assert line_angle_deg((0, 0), (0, -7)) == 90


def test_sizes_written_from_different_corners_get_edge_one_at_the_same_corner() -> None:
    small = Ring(tuple(HOUSE), (0, 1, 2, 3, 4))
    large = [(x * 1.1, y * 1.1) for x, y in HOUSE]
    turned_round = Ring((*large[2:], *large[:2]), (0, 1, 2, 3, 4))
    first, second = lined_up([small, turned_round])
    assert second.points[second.starts[0]] == large[0]
    assert [e.start for e in ring_outline(second).edges] == [e.start for e in ring_outline(first).edges]
    # A first size with an edge less keeps none of the others from it.
    odd = Ring(tuple(HOUSE), (0, 1, 2, 3))
    assert lined_up([odd, small, turned_round]) == [odd, first, second]


def test_a_place_on_a_ring_is_found_by_segment_and_share() -> None:
    (place,) = places_on(HOUSE, [(75, -3)])
    assert (place.segment, place.share, place.distance_mm) == (0, 0.25, 3)
    (closing,) = places_on(HOUSE, [(-1, 50)])
    assert (closing.segment, closing.share, closing.distance_mm) == (4, pytest.approx(0.75), 1)


def test_mirroring_across_a_slanted_line() -> None:
    assert mirrored_across([(10, 0)], ((0, 0), (5, 5)))[0] == pytest.approx((0, 10))


@pytest.mark.parametrize("radius", [3, 25, 150, 900])
def test_a_flattened_arc_keeps_the_tolerance(radius: float) -> None:
    path = curves.arc_path((10, -5), radius, 0.3, 4)
    for a, b in itertools.pairwise(path):
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        assert radius - math.dist(middle, (10, -5)) <= FLATTEN_MM
    assert path_length_mm(path) == pytest.approx(4 * radius, rel=1e-3)


def test_a_bulge_of_one_is_a_half_circle_and_its_sign_the_side() -> None:
    left, right = curves.bulge_path((0, 0), (100, 0), 1.0), curves.bulge_path((0, 0), (100, 0), -1.0)
    assert min(y for _, y in left) == pytest.approx(-50, abs=0.1)
    assert max(y for _, y in right) == pytest.approx(50, abs=0.1)
    assert left[0] == (0, 0)
    assert left[-1] == (100, 0)
    with pytest.raises(curves.CurveError, match="20 m"):
        curves.bulge_path((0, 0), (100, 0), 1e9)


@pytest.mark.parametrize(
    ("control", "degree", "knots", "weights"),
    [
        ([(0, 0)] * 40, 30, [], []),
        ([(0, 0), (1, 1)], 3, [], []),
        ([(0, 0), (1, 1), (2, 0), (3, 1)], 3, [0, 0, 0, 1], []),
        ([(0, 0), (1, 1), (2, 0), (3, 1)], 3, [0, 0, 0, 0, 1, 1, 0.5, 1], []),
        ([(0, 0), (1, 1), (2, 0), (3, 1)], 3, [], [1, 1, -1, 1]),
    ],
)
def test_impossible_splines_are_refused(
    control: list[Point], degree: int, knots: list[float], weights: list[float]
) -> None:
    with pytest.raises(curves.CurveError):
        curves.spline_path(control, degree, knots, weights)


@pytest.mark.parametrize(
    "control",
    [
        # Bent like an S: the middle of its second half lies on the chord by chance.
        [(338, 380), (253, 82), (389, 367), (230, 185), (229, 183), (323, 291)],
        # Turned back: the middle lies on the chord's line, but beyond its end.
        [(86, 356), (298, 142), (317, 227), (296, 375), (322, 114)],
    ],
)
def test_chords_keep_to_a_spline_however_it_turns(control: list[Point]) -> None:
    path = shapely.LineString(curves.spline_path(control, 3, [], []))
    spline = BSpline([Vec3(x, y) for x, y in control], order=4)
    points = spline.points([spline.max_t * i / 2000 for i in range(2001)])
    assert max(path.distance(shapely.Point(v.x, v.y)) for v in points) <= curves.SAGITTA_MM


def test_the_tolerances_stand_in_the_right_order() -> None:
    assert curves.SAGITTA_MM < FLATTEN_MM < JOIN_MM
