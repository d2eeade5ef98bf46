"""The judge of markers, on arrangements that can be drawn on squared paper."""

from dataclasses import replace

import pytest

from planner.core.lays.check import check_marker, least_length_mm, marker_from_placements, placed
from planner.core.lays.misplaced import (
    ExtraPiece,
    GapTooSmall,
    MissingPiece,
    NotCongruent,
    OutsideCloth,
    Overlap,
    WronglyTurned,
)
from planner.core.lays.model import ItemToLay, MarkerJob
from planner.core.outline import make_outline, rectangle

WEDGE = make_outline([(0, 0), (400, 0), (300, 200), (0, 200)])


def item(outline, piece="front", garment_no=1, *, may_turn=True):
    return ItemToLay("T1", piece, "M", garment_no, False, may_turn, outline)


@pytest.fixture
def job():
    """Two rectangles 500 × 250 on cloth 1000 wide, 10 mm apart."""
    items = (item(rectangle(500, 250)), item(rectangle(500, 250), garment_no=2))
    return MarkerJob(1000.0, False, 10.0, items)


def side_by_side(job, second_y, second_x=0.0):
    return [placed(job.items[0], 0, 0, 0), placed(job.items[1], 0, second_x, second_y)]


def test_a_good_marker_has_no_problems_and_its_figures_follow_from_the_outlines(job):
    placements = side_by_side(job, 260)
    assert check_marker(job, placements) == []
    marker = marker_from_placements(job, placements)
    assert marker.length_mm == 500
    assert marker.efficiency == pytest.approx(0.5)  # 2 × 500 × 250 on 1000 × 500


def test_a_marker_begins_at_zero_wherever_its_pieces_were(job):
    far = [replace(p, outline=tuple((x + 77.5, y) for x, y in p.outline)) for p in side_by_side(job, 400)]
    marker = marker_from_placements(job, far)
    assert min(x for p in marker.placements for x, _ in p.outline) == 0
    assert marker.length_mm == 500


def test_no_placement_is_no_marker(job):
    with pytest.raises(ValueError, match="at least one piece"):
        marker_from_placements(job, [])


@pytest.mark.parametrize(("y", "by"), [(750.2, 0.2), (760, 10), (-0.3, 0.3)])
def test_a_piece_past_the_selvedge_is_found(job, y, by):
    (problem,) = check_marker(job, [placed(job.items[0], 0, 0, 400), placed(job.items[1], 0, 600, y)])
    assert isinstance(problem, OutsideCloth)
    assert (problem.index, round(problem.by_mm, 6)) == (1, pytest.approx(by))


def test_a_piece_before_the_start_of_the_cloth_is_found(job):
    (problem,) = check_marker(job, [placed(job.items[0], 0, -5, 0), placed(job.items[1], 0, 0, 400)])
    assert isinstance(problem, OutsideCloth)


def test_overlap_is_found_with_its_area(job):
    (problem,) = check_marker(job, side_by_side(job, 240))
    assert problem == Overlap(0, 1, pytest.approx(500 * 10))


def test_one_piece_right_on_another_is_an_overlap(job):
    assert isinstance(check_marker(job, side_by_side(job, 0))[0], Overlap)


@pytest.mark.parametrize(("y", "ok"), [(259.95, True), (259.85, False), (250.0, False)])
def test_the_gap_is_judged_to_a_tenth_of_a_millimetre(job, y, ok):
    problems = check_marker(job, side_by_side(job, y))
    assert (not problems) is ok
    if not ok:
        assert problems == [GapTooSmall(0, 1, pytest.approx(y - 250), 10.0)]


def test_without_a_gap_pieces_may_touch_but_not_overlap_by_more_than_the_tolerance(job):
    touching = replace(job, gap_mm=0.0)
    assert check_marker(touching, side_by_side(touching, 250)) == []
    assert check_marker(touching, side_by_side(touching, 249.95)) == []
    assert isinstance(check_marker(touching, side_by_side(touching, 249.8))[0], Overlap)


def test_one_way_cloth_and_pieces_that_may_not_turn_allow_no_half_turn():
    for one_way, may_turn, fine in [(False, True, True), (True, True, False), (False, False, False)]:
        wedge = item(WEDGE, may_turn=may_turn)
        job = MarkerJob(1000, one_way, 0, (wedge,))
        assert check_marker(job, [placed(wedge, 0, 0, 0)]) == []
        problems = check_marker(job, [placed(wedge, 180, 0, 0)])
        assert problems == ([] if fine else [WronglyTurned(0, 180)])


def test_a_turn_that_is_not_the_one_stated_is_not_congruent():
    wedge = item(WEDGE)
    job = MarkerJob(1000, False, 0, (wedge,))
    lied = replace(placed(wedge, 180, 0, 0), rotation_deg=0)
    (problem,) = check_marker(job, [lied])
    assert isinstance(problem, NotCongruent)
    assert problem.off_by_mm == pytest.approx(89.44, abs=0.01)  # 400 / √(1 + 2²)·½: the lost corner's height


def test_a_shrunk_or_mirrored_outline_is_not_congruent():
    wedge = item(WEDGE)
    job = MarkerJob(1000, False, 0, (wedge,))
    smaller = placed(replace(wedge, outline=WEDGE.scaled(0.99, 1)), 0, 0, 0)
    flipped = placed(replace(wedge, outline=WEDGE.mirrored()), 0, 0, 0)
    for wrong in (smaller, flipped):
        assert isinstance(check_marker(job, [wrong])[0], NotCongruent)


def test_the_same_line_begun_at_another_point_is_the_same_piece():
    wedge = item(WEDGE)
    job = MarkerJob(1000, False, 0, (wedge,))
    right = placed(wedge, 0, 30, 40)
    assert check_marker(job, [replace(right, outline=right.outline[2:] + right.outline[:2])]) == []


def test_missing_and_extra_pieces_are_named(job):
    assert check_marker(job, [placed(job.items[0], 0, 0, 0)]) == [
        MissingPiece(("T1", "front", "M", 2, False), 1)
    ]
    stranger = placed(item(rectangle(100, 100), piece="pocket"), 0, 0, 600)
    problems = check_marker(job, [*side_by_side(job, 300), stranger])
    assert problems == [ExtraPiece(2, ("T1", "pocket", "M", 1, False))]
    twice = check_marker(job, [*side_by_side(job, 300), placed(job.items[0], 0, 0, 600)])
    assert twice == [ExtraPiece(2, ("T1", "front", "M", 1, False))]
    assert check_marker(job, []) == [MissingPiece(("T1", "front", "M", no, False), 1) for no in (1, 2)]


def test_no_marker_is_shorter_than_its_area_or_its_longest_piece(job):
    assert least_length_mm(job) == 500  # the piece; the area alone would be 250
    assert least_length_mm(replace(job, lay_width_mm=400)) == pytest.approx(625)  # 250 000 / 400
