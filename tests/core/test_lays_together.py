"""Pieces that lie side by side, and stripes that run on: bound, laid in rows and nested."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from planner.core.lays.blocks import BlockTooWide, bind_blocks, bind_stripes_too
from planner.core.lays.check import check_marker, marker_from_placements, placed
from planner.core.lays.model import MatchPoint
from planner.core.lays.nest import NestingFailed, PieceTooWide
from planner.core.lays.rows import first_marker
from planner.core.lays.ruled import check_ruled, nest_ruled
from planner.core.lays.stripes import moved_onto_stripes, without_turning
from planner.core.lays.together import ACROSS, ALONG, CannotMatch, has_rules, stripe_groups
from planner.core.outline import make_outline, rectangle
from planner.core.units import format_length
from tests.core.lays_together_makers import BACK, FRONT, SLEEVE, block_job, box, item, striped

# --- blocks --------------------------------------------------------------------------------------------------------


def shirt(no, **changes):
    """Front and back of a garment side by side, two sleeves anywhere."""
    return (
        item(FRONT, "front", no, beside="body", **changes),
        item(BACK, "back", no, beside="body", **changes),
        item(SLEEVE, "sleeve", no),
        item(SLEEVE.mirrored(), "sleeve", no, mirrored=True),
    )


def test_a_block_is_bound_with_just_the_gap_and_taken_apart_again():
    job = block_job(*shirt(1), width=1100.0, gap=5.0)
    bound = bind_blocks(job)
    assert [len(unit.members) for unit in bound.units] == [2, 1, 1]
    outline = bound.units[0].item.outline
    front, back = (placed(i, 0, x, y) for i, x, y in bound.units[0].members)
    shapes = [Polygon(p.outline) for p in (front, back)]
    assert shapes[0].distance(shapes[1]) == pytest.approx(5.0, abs=0.06)
    assert all(outline.at_origin().polygon.buffer(0.02).covers(shape) for shape in shapes)
    for turn in (0, 180):
        spots = [placed(unit.item, turn, 2000 * n, 50) for n, unit in enumerate(bound.units)]
        placements = bound.unbind(spots)
        assert check_marker(job, placements) == []
        assert bound.rebind(placements) == tuple(spots)
    assert bound.rebind(first_marker(replace(job, items=job.items[:2])).placements) is None


def test_the_order_in_a_block_is_the_one_that_wastes_least():
    """A wedge and its counterpart fit into each other one way round only."""
    wedge = make_outline([(0, 0), (600, 0), (600, 300), (0, 100)])
    counter = make_outline([(0, 0), (600, 0), (600, 100), (0, 300)])
    job = block_job(item(counter.mirrored(), "front", beside="b"), item(wedge, "back", beside="b"), gap=0.0)
    (unit,) = bind_blocks(job).units
    assert unit.item.outline.area_mm2 == pytest.approx(wedge.area_mm2 * 2, rel=0.001)


def test_a_block_wider_than_the_cloth_is_refused_by_name():
    job = block_job(*shirt(1), width=900.0)
    with pytest.raises(
        BlockTooWide, match=r"front, back in size M must lie side by side, which takes 97\scm"
    ):
        bind_blocks(job)
    with pytest.raises(NestingFailed, match="but the cloth lies only 90\u2009cm wide") as caught:
        nest_ruled(job, seconds=1)
    in_inches = format_length(900.0, "imperial", "small")
    assert caught.value.told_in("imperial").endswith(f"but the cloth lies only {in_inches} wide")
    with pytest.raises(PieceTooWide):
        check_ruled(replace(job, lay_width_mm=450.0))


def test_a_short_piece_lies_in_the_hollow_of_a_long_one():
    hollow = make_outline(
        [(0, 0), (900, 0), (900, 300), (890, 300), (890, 20), (10, 20), (10, 300), (0, 300)]
    )
    job = block_job(item(hollow, "one", beside="b"), item(rectangle(200, 100), "two", beside="b"), gap=2.0)
    (unit,) = bind_blocks(job).units
    assert unit.item.outline.width_mm == pytest.approx(300)
    assert check_marker(job, first_marker(job).placements) == []


def test_pieces_that_stripes_keep_from_lying_level_are_refused():
    front = box("front", matches=(MatchPoint("side", 0, 0),))
    back = box("back", matches=(MatchPoint("side", 250, 0),))
    job = block_job(front, back, repeat_length_mm=1000.0)
    with pytest.raises(BlockTooWide, match="their stripes keep them apart"):
        bind_blocks(job)
    assert bind_blocks(replace(job, repeat_length_mm=125.0)).units[0].item.outline.length_mm == pytest.approx(
        500
    )


# --- rows and nesting ----------------------------------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(
    garments=st.integers(1, 3),
    width=st.floats(1050, 1800),  # a block is 980 mm, the gap and up to a repeat more
    gap=st.sampled_from([0.0, 2.0, 12.0]),
    repeats=st.tuples(st.sampled_from([0.0, 37.0, 240.0]), st.sampled_from([0.0, 45.0])),
    blocked=st.booleans(),
    points=st.tuples(st.floats(0, 400), st.floats(0, 400)),
)
def test_rows_keep_every_rule(garments, width, gap, repeats, blocked, points):
    items = [
        replace(
            i, beside=i.beside if blocked else "", matches=(MatchPoint("side", 400, x),) if i.beside else ()
        )
        for no in range(1, garments + 1)
        for i, x in zip(shirt(no), (*points, 0, 0), strict=True)
    ]
    job = block_job(*items, width=width, gap=gap, repeat_length_mm=repeats[0], repeat_width_mm=repeats[1])
    assert check_marker(job, first_marker(job).placements) == []


def test_a_row_of_striped_pieces_is_as_long_as_the_moves_make_it():
    job = block_job(
        striped(rectangle(500, 250), "front"),
        striped(rectangle(500, 250), "back", x=20),
        repeat_length_mm=60.0,
    )
    marker = first_marker(job)
    assert marker.length_mm == 500 + 40  # the back begins 40 mm on, where 20 mm into it lies on 60
    assert check_marker(job, marker.placements) == []


def test_pieces_too_wide_for_the_same_stripe_across_are_refused():
    job = block_job(
        striped(rectangle(500, 995), "front"),
        striped(rectangle(500, 995), "back", y=50),
        repeat_width_mm=100.0,
    )
    with pytest.raises(CannotMatch, match="too wide"):
        first_marker(job)
    with pytest.raises(NestingFailed, match="too wide"):
        nest_ruled(job, seconds=1)


def test_a_wide_piece_decides_where_the_stripes_run():
    job = block_job(
        striped(rectangle(500, 200), "back", y=50),
        striped(rectangle(400, 995), "front"),
        repeat_width_mm=100.0,
    )
    assert check_marker(job, first_marker(job).placements) == []


@pytest.mark.usefixtures("compiled_search")
def test_nested_blocks_are_shorter_than_rows_and_every_marker_on_the_way_is_valid():
    job = block_job(*shirt(1), *shirt(2), width=1600.0, gap=2.0)
    seen = []
    marker = nest_ruled(job, seconds=1, on_progress=seen.append, should_stop=lambda: len(seen) > 3, workers=1)
    assert marker == seen[-1]
    assert all(check_marker(job, m.placements) == [] for m in seen)
    assert (seen[0].how, marker.how != "rows") == ("rows", True)
    assert marker.length_mm < first_marker(job).length_mm
    asked = iter(range(8))
    again = nest_ruled(job, seconds=1, start=marker, should_stop=lambda: next(asked, None) is None, workers=1)
    assert again.length_mm <= marker.length_mm


@pytest.mark.usefixtures("compiled_search")
def test_nested_stripes_run_on_and_cost_at_most_what_rows_do():
    items = [
        replace(i, matches=(MatchPoint(ALONG + "side", 430, 0),)) if i.piece in {"front", "back"} else i
        for no in (1, 2)
        for i in shirt(no)
    ]
    items = [replace(i, beside="") for i in items]
    job = block_job(*items, width=1600.0, gap=2.0, repeat_length_mm=64.0)
    seen = []
    marker = nest_ruled(job, seconds=1, on_progress=seen.append, should_stop=lambda: len(seen) > 3, workers=1)
    assert all(check_marker(job, m.placements) == [] for m in seen)
    assert marker.length_mm < first_marker(job).length_mm
    assert has_rules(job)
    assert not has_rules(replace(job, repeat_length_mm=0.0))


def test_plain_jobs_go_straight_to_nesting():
    job = block_job(item(rectangle(500, 1000)), gap=0.0)
    marker = nest_ruled(job, seconds=1)
    assert (marker.length_mm, marker.how) == (500, "nested")


def test_what_is_moved_onto_stripes_keeps_its_order_and_place_across():
    items = tuple(striped(rectangle(300, 400), "part", no, name=f"n{no // 2}") for no in range(4))
    items = tuple(replace(i, garment_no=1) for i in items)
    job = block_job(*items, gap=2.0, repeat_length_mm=250.0)
    bound = without_turning(bind_blocks(job))
    spots = [
        placed(u.item, 0, x, y)
        for u, (x, y) in zip(bound.units, [(0, 0), (10, 500), (310, 0), (320, 500)], strict=True)
    ]
    moved = moved_onto_stripes(bound, spots, repeat_length_mm=250.0)
    assert [min(p.outline)[0] for p in sorted(moved, key=lambda p: int(p.piece))] == pytest.approx(
        [0, 250, 310, 560]
    )
    assert check_marker(job, bound.unbind(moved)) == []


def test_binding_onto_stripes_aligns_the_points_within_the_block():
    items = (striped(FRONT, "front", x=430), striped(BACK, "back", x=400), item(SLEEVE, "sleeve"))
    job = block_job(*items, width=1100.0, repeat_length_mm=64.0)
    bound = bind_stripes_too(job)
    assert [len(unit.members) for unit in bound.units] == [2, 1]
    assert bound.stripes == ()
    spots = [placed(unit.item, 180, 1000 * n, 0) for n, unit in enumerate(bound.units)]
    assert check_marker(job, bound.unbind(spots)) == []
    assert bind_stripes_too(replace(job, lay_width_mm=600.0)) is None


def test_two_seams_that_want_two_things_are_refused():
    job = block_job(
        item(FRONT, "front", matches=(MatchPoint("side", 400, 0), MatchPoint("yoke", 600, 0))),
        item(BACK, "back", matches=(MatchPoint("side", 400, 0), MatchPoint("yoke", 630, 0))),
        width=1200.0, repeat_length_mm=64.0,
    )  # fmt: skip
    with pytest.raises(CannotMatch, match="over the seam yoke"):
        stripe_groups(job)
    with pytest.raises(NestingFailed, match="over the seam yoke"):
        nest_ruled(job, seconds=1)


def test_stripes_reach_through_pieces_that_share_no_seam():
    """Front and back meet at the side, back and yoke at the yoke's seam: one group of three."""
    job = block_job(
        item(FRONT, "front", matches=(MatchPoint("side", 400, 0),)),
        item(BACK, "back", matches=(MatchPoint("side", 410, 0), MatchPoint("yoke", 600, 0))),
        item(SLEEVE, "yoke", matches=(MatchPoint("yoke", 17, 0),)),
        width=1200.0, repeat_length_mm=64.0,
    )  # fmt: skip
    (group,) = stripe_groups(job)
    assert group.indices == (0, 1, 2)
    marker = first_marker(job)
    assert check_marker(job, marker.placements) == []
    assert check_marker(job, marker_from_placements(job, marker.placements).placements) == []


def test_blocks_that_two_seams_tie_are_bound_to_lie_alike():
    """Each front with its yoke, the back with its own: sides and yokes must meet, though no seam joins the two."""

    def part(piece, beside, seam, x, y, length=700.0):
        points = (MatchPoint(ALONG + seam, x, y), MatchPoint(ACROSS + seam, x, y))
        return item(rectangle(length, 200.0), piece, beside=beside, matches=points)

    job = block_job(
        part("front", "front", "side", 400, 100), part("front yoke", "front", "yoke", 100, 75, 650.0),
        part("back", "back", "side", 400, 60), part("back yoke", "back", "yoke", 113, 85, 650.0),
        width=1400.0, repeat_length_mm=50.0, repeat_width_mm=70.0,
    )  # fmt: skip
    bound = bind_blocks(job)
    assert len(bound.units) == 2
    assert len(bound.stripes) == 1
    assert check_marker(job, first_marker(job).placements) == []
