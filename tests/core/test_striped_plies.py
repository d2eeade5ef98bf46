"""Cloth with a repeat along it: each ply begins at the same stripe, so up to a repeat is lost with every length cut."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.cloth import end_of_ply_mm, with_matched
from planner.core.lays.cut_plans import plan_fabrics
from tests.core.makers import make_cloth, make_shop, wanted
from tests.core.test_lays_items import WIDE, shop_with
from tests.core.test_match_points import matched_tee

#: A garment whose plies are 647 mm of marker and 2 × 20 mm of ends, on stripes that come again every 300 mm.
MARKER_MM, END_MM, REPEAT_MM = 647.0, 20.0, 300.0


def test_plain_cloth_has_its_allowance_alone() -> None:
    assert end_of_ply_mm(make_cloth(end_allowance_mm=END_MM, repeat_width_mm=REPEAT_MM)) == END_MM


def test_two_plies_reach_as_far_as_the_second_ends_that_begins_at_the_same_stripe() -> None:
    """By hand: the second begins at 900 mm, the third repeat, and ends at 900 + 687 = 1,587 mm."""
    cloth = make_cloth(end_allowance_mm=END_MM, repeat_length_mm=REPEAT_MM)
    counted_mm = 2 * (MARKER_MM + 2 * end_of_ply_mm(cloth))
    assert 1587 <= counted_mm == 2 * (687 + 300)


@given(
    marker_mm=st.floats(1, 9000),
    end_mm=st.floats(0, 200),
    repeat_mm=st.floats(1, 700),
    plies=st.integers(1, 40),
)
def test_what_is_counted_is_always_enough(
    marker_mm: float, end_mm: float, repeat_mm: float, plies: int
) -> None:
    cloth = make_cloth(end_allowance_mm=end_mm, repeat_length_mm=repeat_mm)
    ply_mm = marker_mm + 2 * end_mm
    whole_mm = math.ceil(ply_mm / repeat_mm) * repeat_mm
    counted_mm = plies * (marker_mm + 2 * end_of_ply_mm(cloth))
    assert counted_mm >= (plies - 1) * whole_mm + ply_mm - 1e-6
    assert counted_mm <= plies * (ply_mm + repeat_mm + 0.21)


@pytest.mark.parametrize(("washed", "repeat_mm"), [("cut_larger", 60.0), ("wash_first", 57.0)])
def test_lays_are_planned_with_it_as_the_pattern_lies(washed: str, repeat_mm: float) -> None:
    cloth = make_cloth(
        end_allowance_mm=END_MM, repeat_length_mm=60.0, shrinkage_length=0.05, shrinkage_handling=washed
    )
    plan = plan_fabrics([wanted(2, "S")], make_shop(jersey=cloth), only={"jersey"}, seconds=1, compare=False)[
        0
    ]
    assert {lay.end_allowance_mm for lay in plan.lays} == {END_MM + repeat_mm / 2}
    spreads = sum(lay.spreads for lay in plan.lays)
    markers_mm = sum(lay.spreads * lay.estimated_length_mm for lay in plan.lays)
    assert plan.facts.best.cloth_mm == pytest.approx(markers_mm + spreads * (2 * END_MM + repeat_mm))


def test_where_no_style_runs_it_on_over_a_seam_plies_begin_anywhere() -> None:
    cloth = make_cloth(WIDE.key, end_allowance_mm=END_MM, repeat_length_mm=REPEAT_MM)
    for shop, end_mm in (
        (shop_with(matched_tee("side"), cloth), END_MM + REPEAT_MM / 2),
        (shop_with(matched_tee(), cloth), END_MM),
    ):
        known = with_matched(shop).cloths[cloth.key]
        assert end_of_ply_mm(known) == end_mm
        # Whatever was known of it before, as when styles come in later.
        again = replace(shop, cloths={cloth.key: replace(cloth, is_matched=False)})
        assert with_matched(again).cloths[cloth.key] == known
