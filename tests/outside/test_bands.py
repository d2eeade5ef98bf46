"""Bands against plane geometry and the trade's rules of thumb; more of them in test_band_pieces."""

import math

import pytest

from planner.core.notions import bands
from planner.core.notions.band_proposals import propose_band
from planner.core.spec import BandSpec


def test_inner_edge_of_a_round_opening() -> None:
    # A circle: circumference 2πr. The band's inner edge is the circle w further in.
    radius, width = 95.0, 15.0
    made = propose_band(BandSpec("neck", width, turn_rad=bands.FULL_TURN), 2 * math.pi * radius, 0.45)
    assert made.band_mm == pytest.approx(2 * math.pi * (radius - width))


def test_the_rule_for_rib_is_that_of_the_fact_sheets() -> None:
    # Sewing-education fact sheets: ribbing 2/3 to 3/4 of the opening.
    assert 2 / 3 <= bands.RIB_RATIO <= 3 / 4


def test_widest_band_within_the_stretch() -> None:
    # Plane geometry and the stretch limit L/B − 1 ≤ e: w_max = L·(e/(1+e))/θ; L = 600, e = 0.25 → 19.1 mm.
    assert bands.widest_band_mm(600, 0.25) == pytest.approx(19.1, abs=0.05)


def test_cut_size_of_a_folded_band() -> None:
    # By hand: L = 600, ratio 0.85, w = 15, SA = 7 → 524 × 44 mm.
    band = BandSpec("neck", 15.0, ratio=0.85, turn_rad=bands.FULL_TURN)
    made = propose_band(band, 600, 0.45, end_allowances_mm=2 * 7, side_allowances_mm=2 * 7)
    assert (made.cut_length_mm, made.cut_width_mm) == pytest.approx((524.0, 44.0))


def test_over_the_head() -> None:
    # B·(1 + e) ≥ head girth. ISO 8559-1 defines the measure; adults about 540 to 600 mm (from memory).
    assert 540 <= bands.HEAD_GIRTH_MM <= 600
    too_small = bands.check_band(500, 420, 12, 0.30, head_girth_mm=570)
    assert [problem.kind for problem in too_small] == ["head"]
    assert bands.check_band(540, 450, 12, 0.30, head_girth_mm=570) == ()
