"""Where the pieces of a striped cloth meet its stripes, and what cannot meet them."""

from dataclasses import replace

import pytest

from planner.core.cloth import repeats_mm
from planner.core.lays.items import (
    StripesDisagree,
    items_for,
    misfits,
)
from planner.core.lays.together import ACROSS, ALONG
from planner.core.outline import Edge, make_outline, rectangle
from tests.core.makers import body_outline, make_cloth, make_tee, same_in_all
from tests.core.test_lays_items import TEE, WIDE, shop_with, tee_with


def matched_tee(*seams):
    tee = make_tee()
    return replace(tee, seams=tuple(replace(s, match=s.name in seams) for s in tee.seams))


def test_match_points_lie_at_the_upper_end_of_the_seam_and_on_the_middle_line():
    plain = shop_with(matched_tee("side"))
    assert all(i.matches == () for i in items_for([TEE], "open", WIDE, plain))
    striped = replace(WIDE, repeat_length_mm=60.0)
    items = items_for([TEE], "open", striped, shop_with(matched_tee("side"), striped))
    points = {i.piece: [(m.name, m.x_mm, m.y_mm) for m in i.matches] for i in items}
    assert points["front"] == points["back"] == [(ALONG + "side", 700, 250), (ACROSS + "side", 700, 250)]
    assert points["sleeve"] == []


def test_a_mirrored_half_has_its_own_match_points():
    half = make_outline(
        [(0, 0), (600, 20), (700, 300), (0, 300)], [Edge("side", 0), Edge("top", 1), Edge("fold", 2)]
    )
    tee = tee_with("front", outlines=same_in_all(half), count=2, pair=True)
    tee = replace(tee, seams=matched_tee("side").seams)
    striped = replace(WIDE, repeat_length_mm=60.0)
    one, other = items_for([TEE], "open", striped, shop_with(tee, striped))[:2]
    assert [(m.name, m.x_mm, m.y_mm) for m in one.matches] == [(ALONG + "side", 600, 20)]
    assert [(m.name, m.x_mm, m.y_mm) for m in other.matches] == [(ALONG + "side", 600, -20)]


def test_seams_that_want_two_things_of_a_pattern_are_named():
    tee = matched_tee("side", "shoulder")
    short = {size: rectangle(650, 500, ("side", "shoulder", "side", "hem")) for size in tee.sizes}
    tee = replace(
        tee, pieces=tuple(replace(p, outlines=short) if p.name == "back" else p for p in tee.pieces)
    )
    lower = make_outline(
        [(0, 0), (500, 0), (700, 100), (700, 400), (500, 500), (0, 500)],
        [
            Edge("side", 0),
            Edge("shoulder", 1),
            Edge("neck", 2),
            Edge("shoulder", 3),
            Edge("side", 4),
            Edge("hem", 5),
        ],
    )
    tee = replace(
        tee,
        pieces=tuple(replace(p, outlines=same_in_all(lower)) if p.name == "front" else p for p in tee.pieces),
    )
    striped = replace(WIDE, repeat_length_mm=60.0)
    (problem,) = misfits(TEE, striped, "open", shop_with(tee, striped))
    assert isinstance(problem, StripesDisagree)
    assert "cannot run on over the seam" in problem.text


def test_pieces_too_wide_for_the_same_stripe_are_told_so():
    tee = matched_tee("side")
    wide = {size: body_outline(700.0, 990.0) for size in tee.sizes}
    # The back has one side edge more to the left, so that its middle line is another.
    askew = {
        size: make_outline(
            [(0, 990), (0, 0), (700, 40), (700, 190), (700, 840), (700, 990)],
            [Edge(name, i) for i, name in enumerate(["hem", "side", "shoulder", "neck", "shoulder", "side"])],
        )
        for size in tee.sizes
    }
    drawn = {"front": wide, "back": askew}
    tee = replace(tee, pieces=tuple(replace(p, outlines=drawn.get(p.name, p.outlines)) for p in tee.pieces))
    striped = replace(WIDE, usable_width_mm=1000.0, repeat_width_mm=200.0)
    (problem,) = misfits(TEE, striped, "open", shop_with(tee, striped))
    assert isinstance(problem, StripesDisagree)
    assert problem.text == "style 1: the pieces are too wide to lie on the same stripes across the cloth"
    assert misfits(TEE, replace(striped, usable_width_mm=1015.0), "open", shop_with(tee, striped)) == ()


def test_the_repeat_of_washed_cloth_is_shorter():
    cloth = make_cloth(
        repeat_length_mm=100, repeat_width_mm=50, shrinkage_length=0.05, shrinkage_width=0.02,
        shrinkage_handling="wash_first",
    )  # fmt: skip
    assert repeats_mm(cloth) == pytest.approx((95, 49))
    assert repeats_mm(replace(cloth, shrinkage_handling="in_pattern")) == (100, 50)
