"""What is said of stripes: how often they come again, at which seams they are matched, and where no seam is marked."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.core.lays.items import job_for
from planner.core.lays.matched import Stripes, loose_styles, stripes_of, unmarked_styles
from planner.core.spec import Cloth, Demand
from tests.core.test_lays_items import MODES, TEE, WIDE, shop_with, tee_with
from tests.core.test_match_points import matched_tee

STRIPED = replace(WIDE, repeat_length_mm=60.0)


@pytest.mark.parametrize("mode", MODES)
def test_a_seam_is_told_with_its_pieces_in_every_way_to_spread(mode: str) -> None:
    shop = shop_with(matched_tee("side"), STRIPED)
    slots = [TEE] if mode == "open" else [TEE, TEE]
    found = stripes_of(job_for(slots, mode, STRIPED, shop), STRIPED)
    assert found == Stripes(60.0, 0.0, (("side", ("front", "back")),))


def test_plain_cloth_and_a_seam_of_one_outline_alone_say_nothing() -> None:
    shop = shop_with(matched_tee("side"))
    assert stripes_of(job_for([TEE], "open", WIDE, shop), WIDE) is None
    alone = tee_with("back", role="rib")
    shop = shop_with(replace(alone, seams=matched_tee("side").seams), STRIPED)
    assert stripes_of(job_for([TEE], "open", STRIPED, shop), STRIPED) == Stripes(60.0, 0.0, ())


@pytest.mark.parametrize(
    ("cloth", "now"),
    [
        (replace(STRIPED, repeat_length_mm=50.0), (50.0, 0.0)),
        (replace(STRIPED, repeat_width_mm=40.0), (60.0, 40.0)),
        (replace(STRIPED, shrinkage_handling="wash_first", shrinkage_length=0.05), (57.0, 0.0)),
        (WIDE, (0.0, 0.0)),
        (STRIPED, None),
    ],
)
def test_where_the_cloth_has_another_repeat_by_now_it_is_told(
    cloth: Cloth, now: tuple[float, float] | None
) -> None:
    shop = shop_with(matched_tee("side"), STRIPED)
    found = stripes_of(job_for([TEE], "open", STRIPED, shop), cloth)
    assert found is not None
    assert found.along_mm == 60.0
    assert found.now == (None if now is None else pytest.approx(now))


def test_styles_without_a_marked_seam_are_named_with_the_striped_fabric() -> None:
    wanted = (Demand(TEE, 3),)
    assert unmarked_styles(wanted, shop_with(matched_tee(), STRIPED)) == ((STRIPED.key.fabric, TEE.style),)
    assert unmarked_styles(wanted, shop_with(matched_tee("side"), STRIPED)) == ()
    assert unmarked_styles(wanted, shop_with(matched_tee())) == ()


def test_styles_of_which_no_pieces_lie_side_by_side_are_named_with_the_fabric_that_shades() -> None:
    wanted, shading = (Demand(TEE, 3),), replace(WIDE, shades=True)
    assert loose_styles(wanted, shop_with(tee_with("back"), shading)) == ((WIDE.key.fabric, TEE.style),)
    assert loose_styles(wanted, shop_with(tee_with("back"))) == ()
    one = tee_with("back", beside="body")
    assert loose_styles(wanted, shop_with(one, shading)) == ((WIDE.key.fabric, TEE.style),), "one alone"
    both = replace(one, pieces=tuple(replace(p, beside="body") for p in one.pieces))
    assert loose_styles(wanted, shop_with(both, shading)) == ()
