"""Bands against plane geometry and the trade's rules of thumb."""

import math

import pytest

from planner.core.notions import bands


@pytest.mark.parametrize(
    ("opening", "width", "ratio"),
    # Plane geometry: an inner parallel of a closed curve is 2π·w shorter, so B/L = 1 − 2π·w/L. By hand.
    [(600, 15, 0.843), (600, 25, 0.738), (600, 10, 0.895), (500, 15, 0.812)],
)
def test_what_lies_flat(opening: float, width: float, ratio: float) -> None:
    assert bands.lie_flat_ratio(opening, width) == pytest.approx(ratio, abs=0.0006)


def test_inner_edge_of_a_round_opening() -> None:
    # A circle: circumference 2πr. The band's inner edge is the circle w further in.
    radius, width = 95.0, 15.0
    opening = 2 * math.pi * radius
    inner = 2 * math.pi * (radius - width)
    assert bands.band_length_mm(opening, bands.lie_flat_ratio(opening, width)) == pytest.approx(inner)


def test_geometry_tells_the_rules_of_thumb() -> None:
    # Common practice: rib about 0.75 of the opening, self-fabric about 0.85 and then only 10 to 15 mm wide.
    # Sewing-education fact sheets: ribbing 2/3 to 3/4 of the opening.
    assert 2 / 3 <= bands.RIB_RATIO <= 3 / 4
    assert bands.lie_flat_ratio(600, 25) == pytest.approx(bands.RIB_RATIO, abs=0.02)
    assert bands.lie_flat_ratio(600, bands.WIDEST_SELF_FABRIC_MM) == pytest.approx(
        bands.SELF_FABRIC_RATIO, abs=0.02
    )


def test_widest_band_within_the_stretch() -> None:
    # Plane geometry and the stretch limit L/B − 1 ≤ e: w_max = L·(e/(1+e))/θ; L = 600, e = 0.25 → 19.1 mm.
    assert bands.widest_band_mm(600, 0.25) == pytest.approx(19.1, abs=0.05)


def test_cut_size_of_a_folded_band() -> None:
    # By hand: L = 600, ratio 0.85, w = 15, SA = 7 → 524 × 44 mm.
    assert bands.cut_size_mm(bands.band_length_mm(600, 0.85), 15, 7) == pytest.approx((524.0, 44.0))


def test_over_the_head() -> None:
    # B·(1 + e) ≥ head girth. ISO 8559-1 defines the measure; adults about 540 to 600 mm (from memory).
    assert 540 <= bands.HEAD_GIRTH_MM <= 600
    too_small = bands.check_band(500, 420, 12, 0.30, head_girth_mm=570)
    assert [problem.kind for problem in too_small] == ["head"]
    assert bands.check_band(540, 450, 12, 0.30, head_girth_mm=570) == ()
