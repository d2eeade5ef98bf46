"""Bands cut to measure against plane geometry, the trade's rules of thumb and their limits."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.notions.band_pieces import with_bands
from planner.core.notions.band_proposals import BandProposal, propose_band
from planner.core.notions.bands import FULL_TURN, least_ratio, thumb_ratio, widest_band_mm
from planner.core.outline import Edge, make_outline
from planner.core.spec import BandSpec, ClothKey, ColourwaySpec, EdgeRef, PieceSpec, SeamSpec, StyleSpec
from tests.core.makers import JERSEY, RIB, make_cloth

NECK = BandSpec("neck", 15.0, turn_rad=FULL_TURN)


def neck_band(opening_mm: float = 600.0, stretch: float = 0.45, **changes: object) -> BandProposal:
    band = replace(NECK, **changes)  # type: ignore[arg-type]
    return propose_band(
        band,
        opening_mm,
        stretch,
        end_allowances_mm=14,
        side_allowances_mm=14,
        opening="neckline",
        cloth="jersey",
    )


@pytest.mark.parametrize(
    ("opening", "width", "ratio"),
    # Plane geometry: the inner parallel of a closed curve is 2π·w shorter, so B/L = 1 − 2π·w/L. By hand.
    [(600, 15, 0.843), (600, 25, 0.738), (600, 10, 0.895), (500, 15, 0.812)],
)
def test_a_turning_opening_gets_what_lies_flat(opening: float, width: float, ratio: float) -> None:
    made = neck_band(opening, finished_width_mm=width)
    assert made.flat_ratio == pytest.approx(ratio, abs=0.0006)
    assert made.ratio == made.proposed_ratio == made.flat_ratio
    assert made.band_mm == pytest.approx(opening - 2 * math.pi * width)
    assert made.problems == ()


def test_thumb_rules_follow_from_the_geometry() -> None:
    # Common practice: rib B ≈ 0.75 L; self-fabric B ≈ 0.85 L and narrow, 10 to 15 mm at most. Solving
    # B/L = 1 − 2π·w/L for w at a 600 mm neckline: the rule for rib is the flat one at 24 mm, an ordinary rib
    # width, that for self-fabric at 14 mm, within its 10 to 15 mm.
    def flat_width_mm(rule: float) -> float:
        return (1 - rule) * 600 / (2 * math.pi)

    assert flat_width_mm(thumb_ratio(0.7)) == pytest.approx(23.9, abs=0.05)
    assert flat_width_mm(thumb_ratio(0.3)) == pytest.approx(14.3, abs=0.05)
    assert 10 <= flat_width_mm(thumb_ratio(0.3)) <= 15
    # The other way round: at those widths our proposals meet the rules within 2 %.
    assert neck_band(finished_width_mm=25, stretch=0.7).ratio == pytest.approx(0.75, rel=0.02)
    assert neck_band(finished_width_mm=15, stretch=0.3).ratio == pytest.approx(0.85, rel=0.02)
    # And at necklines of every size of a range (common practice: 500 to 680 mm), rib 20 to 28 mm wide.
    for opening in (500, 560, 620, 680):
        made = {w: neck_band(opening, finished_width_mm=w, stretch=0.7) for w in range(20, 29)}
        widths = [w for w, one in made.items() if abs(one.ratio - 0.75) <= 0.03]
        assert widths, opening


def test_rib_is_told_by_its_stretch() -> None:
    # Common practice: ribs give half their length and more, body jerseys less. 0.75 asks a stretch of 1/0.75 − 1.
    assert thumb_ratio(0.7) == 0.75
    assert thumb_ratio(0.49) == 0.85
    assert least_ratio(1 / 3) == pytest.approx(0.75)


@pytest.mark.parametrize(("stretch", "ratio"), [(0.7, 0.75), (0.3, 0.85), (0.1, 1 / 1.1), (0.0, 1.0)])
def test_a_straight_opening_gets_the_rule_within_the_stretch(stretch: float, ratio: float) -> None:
    # Common practice for cuffs and hems, and the stretch limit L/B − 1 ≤ e, so B ≥ L/(1 + e).
    cuff = propose_band(BandSpec("cuff", 60.0), 200.0, stretch)
    assert cuff.ratio == pytest.approx(ratio)
    assert cuff.flat_ratio == 1.0
    assert cuff.widest_mm is None


def test_stretch_limits_the_proposal_and_names_the_widest() -> None:
    # Plane geometry and the stretch limit: w_max = L·(e/(1+e))/θ; L = 600, e = 0.25 → 19.1 mm.
    assert widest_band_mm(600, 0.25) == pytest.approx(19.1, abs=0.05)
    made = neck_band(stretch=0.25, finished_width_mm=25)
    assert made.ratio == pytest.approx(0.8)
    assert made.band_mm == pytest.approx(480)
    assert made.widest_mm == pytest.approx(19.1, abs=0.05)
    assert [problem.kind for problem in made.problems] == ["stands_up"]
    # To lie flat, 600 → 443 mm: 600/443 − 1 = 35 %.
    assert "must stretch 35\N{NO-BREAK SPACE}%" in made.problems[0].text
    assert "widest band that would lie flat is 19.1 mm" in made.problems[0].text
    assert neck_band(stretch=0.25, finished_width_mm=19).problems == ()


def test_own_ratio_beyond_the_stretch() -> None:
    # L/B − 1 ≤ e: 0.75 asks 33 % of a jersey that gives 25 %.
    made = neck_band(stretch=0.25, ratio=0.75)
    assert made.ratio == 0.75
    assert made.proposed_ratio == pytest.approx(0.843, abs=0.0006)
    assert [problem.kind for problem in made.problems] == ["overstretched"]
    assert (
        "stretch 33\N{NO-BREAK SPACE}% to fit the opening; the cloth takes 25\N{NO-BREAK SPACE}%"
        in made.problems[0].text
    )


def test_cut_size() -> None:
    # By hand: L = 600, ratio 0.85, w = 15, SA = 7 → 524 × 44 mm; not folded 15 + 14 = 29 mm wide.
    made = neck_band(ratio=0.85)
    assert (made.cut_length_mm, made.cut_width_mm) == pytest.approx((524.0, 44.0))
    assert neck_band(ratio=0.85, folded=False).cut_width_mm == pytest.approx(29.0)


def test_over_the_head() -> None:
    # B·(1 + e) ≥ head girth; adults about 540 to 600 mm (ISO 8559-1 defines the measure; values from memory).
    tight = neck_band(500, 0.30, over_head=True)
    assert [problem.kind for problem in tight.problems] == ["head"]
    # 500 − 2π × 15 = 405.8 mm; × 1.30 = 527 mm.
    assert "lets 528 mm through" in tight.problems[0].text or "lets 527 mm through" in tight.problems[0].text
    assert neck_band(600, 0.45, over_head=True).problems == ()


def test_a_band_that_closes_its_opening() -> None:
    # 1 − 2π·w/L reaches nothing at w = L/2π: a circle's band as wide as its radius. 600 mm → 95.5 mm.
    made = neck_band(finished_width_mm=96)
    assert made.flat_ratio == 0
    assert made.problems[0].kind == "closes"
    assert neck_band(finished_width_mm=95, stretch=0.45).problems[0].kind == "stands_up"


def test_the_reason_in_one_sentence() -> None:
    # Figures by hand, as above.
    assert neck_band().why == "15 mm wide on a 600 mm neckline lies flat at 0.84; jersey takes it"
    assert neck_band(stretch=0.25, finished_width_mm=25).why == (
        "25 mm wide on a 600 mm neckline would lie flat at 0.74, "
        "but jersey gives only 25\N{NO-BREAK SPACE}%, so it is cut at 0.80"
    )


# --- what holds of every band -----------------------------------------------------------------------------

openings = st.floats(80, 2000)
widths = st.floats(1, 400)
stretches = st.floats(0, 3)
turns = st.sampled_from([0.0, math.pi, FULL_TURN])


@given(openings, widths, widths, stretches, turns)
def test_more_width_never_lengthens_a_band(
    opening: float, width: float, other: float, stretch: float, turn: float
) -> None:
    # Plane geometry: B = L − θ·w falls with w; the limit of the stretch does not depend on it.
    narrow, wide = sorted((width, other))
    first, second = (
        propose_band(BandSpec("neck", w, turn_rad=turn), opening, stretch) for w in (narrow, wide)
    )
    assert second.band_mm <= first.band_mm + 1e-9
    assert second.cut_width_mm >= first.cut_width_mm


@given(openings, widths, stretches, turns)
def test_the_proposal_never_asks_more_than_the_cloth_has(
    opening: float, width: float, stretch: float, turn: float
) -> None:
    # The stretch limit L/B − 1 ≤ e, by definition of the usable stretch.
    made = propose_band(BandSpec("neck", width, turn_rad=turn), opening, stretch)
    assert opening / made.band_mm - 1 <= stretch + 1e-9
    assert 0 < made.ratio <= 1
    assert "overstretched" not in [problem.kind for problem in made.problems]


@given(openings, widths, stretches, turns, st.floats(0.1, 1.5))
def test_the_own_ratio_is_always_kept(
    opening: float, width: float, stretch: float, turn: float, own: float
) -> None:
    # By definition: B = ratio × L, whatever would be proposed.
    free = propose_band(BandSpec("neck", width, turn_rad=turn), opening, stretch)
    kept = propose_band(BandSpec("neck", width, turn_rad=turn, ratio=own), opening, stretch)
    assert kept.ratio == own
    assert kept.band_mm == pytest.approx(own * opening)
    assert kept.proposed_ratio == free.ratio


@given(openings, widths, stretches)
def test_a_flat_proposal_stays_flat_and_no_wider_band_would(
    opening: float, width: float, stretch: float
) -> None:
    # The two limits meet at the widest band: narrower lies flat, wider does not.
    made = propose_band(BandSpec("neck", width, turn_rad=FULL_TURN), opening, stretch)
    assert made.widest_mm is not None
    if width <= made.widest_mm:
        assert made.problems == ()
    elif width > made.widest_mm + 0.2:
        assert {problem.kind for problem in made.problems} & {"stands_up", "closes"}


# --- on a garment -----------------------------------------------------------------------------------------


def test_a_round_neck_measured_on_the_pattern() -> None:
    # A half neck of the front and of the back, each a half circle of radius 100 mm drawn without allowance: the
    # opening is 2π × 100 = 628.3 mm, the band of 20 mm its inner circle 2π × 80 = 502.7 mm (plane geometry).
    steps = 400
    arc = [
        (100 * math.sin(math.pi * i / steps), 100 * math.cos(math.pi * i / steps)) for i in range(steps + 1)
    ]
    half = make_outline([*arc, (-300, -100), (-300, 100)], [Edge("neckline", 0), Edge("rest", steps)])
    pieces = tuple(PieceSpec(name, "body", 1, False, True, None, {"M": half}) for name in ("front", "back"))
    band = PieceSpec(
        "neck band", "rib", 1, False, True, None, {}, allowance_mm=7.0,
        band=BandSpec("neck", 20.0, turn_rad=FULL_TURN),
    )  # fmt: skip
    seam = SeamSpec(
        "neck", None,
        (EdgeRef("front", "neckline"), EdgeRef("back", "neckline"), EdgeRef("neck band", "neckline", 2)),
        1, "set the band",
    )  # fmt: skip
    ways = {
        "ribbed": ColourwaySpec("ribbed", {"body": JERSEY, "rib": RIB}, None),
        "plain": ColourwaySpec("plain", {"body": JERSEY, "rib": JERSEY}, None),
    }
    style = StyleSpec("1", "tee", ("M",), "M", {}, (*pieces, band), (seam,), colourways=ways)
    cloths = {RIB: make_cloth(RIB, stretch_share=0.7), JERSEY: make_cloth(JERSEY, stretch_share=0.2)}
    cut = with_bands(style, cloths).pieces[-1]

    of_rib, of_jersey = cut.outline("M", RIB), cut.outline("M", JERSEY)
    assert of_rib is not None
    assert of_jersey is not None
    # Long side across the grain; cut length B + 2 × 7, cut width 2 × 20 + 2 × 7.
    assert of_rib.width_mm == pytest.approx(2 * math.pi * 80 + 14, abs=0.1)
    assert of_rib.length_mm == pytest.approx(54)
    # The jersey gives 20 %: no shorter than 628.3 / 1.2 = 523.6 mm.
    assert of_jersey.width_mm == pytest.approx(2 * math.pi * 100 / 1.2 + 14, abs=0.1)
    assert cut.outline("M", ClothKey("unknown", "")) == of_rib
    assert of_rib.edge_count("neckline") == 1
    assert of_rib.edge_length_mm("neckline") == pytest.approx(of_rib.width_mm)


@pytest.mark.parametrize(
    ("band", "opening", "stretch", "takes", "words"),
    # Reckoned by hand with a pocket calculator: 2π × 18 = 113.1, π × 20 = 62.8.
    [
        (
            BandSpec("neck", 18.0, turn_rad=FULL_TURN), 487.6, 0.7, 1,
            "487.6 − 2π × 18 = 374.5, + 14 for the seams = 388.5 long; 2 × 18 + 14 = 50 wide",
        ),
        (
            BandSpec("armhole", 20.0, turn_rad=math.pi, folded=False), 400.0, 0.45, 2,
            "400 − π × 20 = 337.2, ÷ 2 = 168.6, + 14 for the seams = 182.6 long; 20 + 14 = 34 wide",
        ),
        (
            BandSpec("neck", 30.0, turn_rad=FULL_TURN), 580.0, 0.25, 1,
            "580 ÷ 1.25 = 464, + 14 for the seams = 478 long; 2 × 30 + 14 = 74 wide",
        ),
        (
            BandSpec("cuff", 60.0), 200.0, 0.7, 1,
            "200 × 0.75 = 150, + 14 for the seams = 164 long; 2 × 60 + 14 = 134 wide",
        ),
        (
            BandSpec("cuff", 60.0, ratio=0.855), 190.0, 0.7, 1,
            "190 × 0.855 = 162.5, + 14 for the seams = 176.5 long; 2 × 60 + 14 = 134 wide",
        ),
        (
            BandSpec("hem", 60.0), 900.0, 0.1, 1,
            "900 ÷ 1.1 = 818.2, + 14 for the seams = 832.2 long; 2 × 60 + 14 = 134 wide",
        ),
    ],
)  # fmt: skip
def test_the_sum_behind_a_cut_size(
    band: BandSpec, opening: float, stretch: float, takes: int, words: str
) -> None:
    made = propose_band(band, opening, stretch, end_allowances_mm=14.0, side_allowances_mm=14.0, takes=takes)
    assert made.reckoned == words
