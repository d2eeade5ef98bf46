"""Plain rows: not short, but right whatever comes."""

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.lays.check import check_marker
from planner.core.lays.model import ItemToLay, MarkerJob
from planner.core.lays.rows import first_marker, is_shortest
from planner.core.outline import make_outline, rectangle


def items_of(outlines):
    return tuple(ItemToLay("T1", "part", "M", n, False, True, o) for n, o in enumerate(outlines, 1))


def test_four_rectangles_fill_the_width():
    job = MarkerJob(1000, False, 0, items_of([rectangle(500, 250)] * 4))
    marker = first_marker(job)
    assert (marker.length_mm, marker.efficiency) == (500, 1.0)


def test_the_gap_costs_a_second_row():
    job = MarkerJob(1000, False, 10, items_of([rectangle(500, 250)] * 4))
    assert first_marker(job).length_mm == 500 + 10 + 500


def test_rows_that_cannot_be_shorter_are_known():
    """One piece is as long as it is; two across the cloth are as long as both, for the area says so."""
    alone = MarkerJob(1000, False, 0, items_of([rectangle(500, 250)]))
    filling = MarkerJob(1000, False, 0, items_of([rectangle(500, 1000), rectangle(300, 1000)]))
    loose = MarkerJob(1000, False, 0, items_of([rectangle(500, 600), rectangle(500, 600)]))
    assert [is_shortest(job, first_marker(job)) for job in (alone, filling, loose)] == [True, True, False]


def test_a_piece_across_the_whole_cloth_has_a_row_of_its_own():
    job = MarkerJob(1000, True, 5, items_of([rectangle(300, 1000), rectangle(400, 500)]))
    marker = first_marker(job)
    assert marker.length_mm == 400 + 5 + 300
    assert check_marker(job, marker.placements) == []


@st.composite
def blobs(draw):
    """A star-shaped outline of 3 to 24 points somewhere in the plane, up to 800 mm across."""
    count = draw(st.integers(3, 24))
    radii = draw(st.lists(st.floats(20, 400), min_size=count, max_size=count))
    x, y = draw(st.floats(-5000, 5000)), draw(st.floats(-5000, 5000))
    turn = 2 * math.pi / count
    return make_outline(
        [(x + r * math.cos(i * turn), y + r * math.sin(i * turn)) for i, r in enumerate(radii)]
    )


@settings(max_examples=60, deadline=None)
@given(
    outlines=st.lists(blobs(), min_size=1, max_size=12),
    width=st.floats(800, 2000),
    gap=st.floats(0, 20),
    one_way=st.booleans(),
)
def test_rows_always_pass_the_check_and_obey_the_area_bound(outlines, width, gap, one_way):
    job = MarkerJob(width, one_way, gap, items_of(outlines))
    marker = first_marker(job)
    assert check_marker(job, marker.placements) == []
    assert marker.length_mm * width >= sum(o.area_mm2 for o in outlines) * (1 - 1e-9)
