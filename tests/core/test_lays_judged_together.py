"""The judge of pieces that lie side by side, and of stripes that run on."""

from dataclasses import replace

import pytest

from planner.core.lays.check import check_marker
from planner.core.lays.misplaced import NotSideBySide, StripesApart, WrongTwin
from planner.core.lays.together import ACROSS, ALONG, has_rules
from planner.core.outline import make_outline, rectangle
from tests.core.lays_together_makers import block_job, box, item, laid, striped


@pytest.mark.parametrize(
    ("x", "y", "turn", "why"),
    [
        (0, 260, 0, None),
        (120, 260, 0, None),  # 380 of 500 mm shared
        (130, 260, 0, "not level"),
        (0, 290, 0, None),  # 40 mm apart: 10 of gap and 30
        (0, 291, 0, "apart"),
        (0, 260, 180, "turned"),
        (510, 0, 0, "not level"),
    ],
)
def test_neighbours_of_a_block_lie_level_near_and_the_same_way(x, y, turn, why):
    job = block_job(box("front"), box("back"))
    problems = check_marker(job, laid(job, (0, 0, 0), (x, y, turn)))
    assert [p.why for p in problems] == ([why] if why else [])


def test_a_piece_between_two_of_a_block_is_found_one_in_a_notch_behind_them_is_not():
    hollow = make_outline(
        [(0, 0), (500, 0), (500, 250), (400, 250), (400, 150), (100, 150), (100, 250), (0, 250)]
    )
    job = block_job(
        item(hollow, "front", beside="body"), box("back"), item(rectangle(100, 50), "pocket"), gap=5.0
    )
    assert check_marker(job, laid(job, (0, 0, 0), (0, 255, 0), (600, 100, 0))) == []
    (problem,) = check_marker(job, laid(job, (0, 0, 0), (0, 255, 0), (200, 170, 0)))
    assert problem == NotSideBySide(0, 1, "between", 2)
    behind = block_job(
        item(hollow.mirrored(), "front", beside="body"),
        box("back"),
        item(rectangle(100, 50), "pocket"),
        gap=5.0,
    )
    assert check_marker(behind, laid(behind, (0, 0, 0), (0, 255, 0), (200, 20, 0))) == []
    # Right behind the room between them it only touches that.
    touching = block_job(box("front"), box("back"), item(rectangle(100, 50), "pocket"), gap=0.0)
    assert check_marker(touching, laid(touching, (0, 0, 0), (0, 270, 0), (500, 240, 0))) == []


def test_neighbours_in_a_block_follow_one_another_across_the_cloth_wherever_they_lie_along_it():
    """Three panels of which the middle one is pushed back by more than it is wide."""
    job = block_job(*(box(name, length=1000, width=100) for name in ("left", "middle", "right")))
    assert check_marker(job, laid(job, (200, 0, 0), (0, 110, 0), (200, 220, 0))) == []


def test_blocks_of_different_garments_and_lone_pieces_are_free():
    job = block_job(box("front", 1), box("front", 2), box("sleeve", 1, beside="arm"))
    assert not has_rules(job)
    assert check_marker(job, laid(job, (0, 0, 0), (600, 0, 180), (1200, 0, 0))) == []


def test_a_twin_belongs_to_the_blocks_of_both_its_garments():
    job = block_job(box("front", 1, twin_no=2), box("back", 1, twin_no=2))
    assert check_marker(job, laid(job, (0, 0, 0), (0, 260, 0))) == []
    assert [p.why for p in check_marker(job, laid(job, (0, 0, 0), (600, 0, 0)))] == ["not level"]
    wrong = [replace(p, twin_no=3) for p in laid(job, (0, 0, 0), (0, 260, 0))]
    assert [type(p) for p in check_marker(job, wrong)] == [WrongTwin, WrongTwin]


@pytest.mark.parametrize(
    ("x", "name", "apart"),
    [
        (600, "side", []),
        (651, "side", []),  # 1 mm is within what is judged
        (620, "side", [(20, 0)]),
        (640, "side", [(10, 0)]),
        (620, ALONG + "side", [(20, 0)]),
        (620, ACROSS + "side", []),
    ],
)
def test_points_of_a_seam_agree_modulo_the_repeat_along_the_cloth(x, name, apart):
    one = striped(rectangle(500, 250), "front", x=400, name=name)
    job = block_job(one, replace(one, piece="back"), repeat_length_mm=50.0)
    problems = check_marker(job, laid(job, (0, 0, 0), (x, 0, 0)))
    assert [(p.along_mm, p.across_mm) for p in problems] == [(pytest.approx(a), b) for a, b in apart]


def test_points_agree_across_the_cloth_too_where_its_pattern_does():
    one = striped(rectangle(500, 250), "front", x=400, y=125)
    job = block_job(one, replace(one, piece="back"), repeat_width_mm=100.0)
    assert check_marker(job, laid(job, (0, 0, 0), (600, 300, 0))) == []
    (problem,) = check_marker(job, laid(job, (0, 0, 0), (600, 340, 0)))
    assert problem == StripesApart(0, 1, "side", 0.0, pytest.approx(40))


def test_pieces_turned_two_ways_meet_on_one_stripe_only():
    one = striped(rectangle(500, 250), "front", x=250)
    job = block_job(one, replace(one, piece="back"), repeat_length_mm=50.0)
    (problem,) = check_marker(job, laid(job, (0, 0, 0), (600, 0, 180)))
    assert problem == StripesApart(0, 1, "side", 0.0, 0.0)
    assert check_marker(job, laid(job, (0, 0, 180), (600, 0, 180))) == []


def test_other_garments_may_lie_on_other_stripes():
    job = block_job(
        striped(rectangle(500, 250), "front", 1),
        striped(rectangle(500, 250), "front", 2),
        repeat_length_mm=60.0,
    )
    assert check_marker(job, laid(job, (0, 0, 0), (511, 0, 0))) == []
