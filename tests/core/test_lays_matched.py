"""What is said of stripes: how often they come again, at which seams they are matched, and where no seam is marked."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.core.lays.items import job_for
from planner.core.lays.matched import Stripes, stripes_of, unmarked_styles
from planner.core.spec import Demand
from tests.core.test_lays_items import MODES, TEE, WIDE, matched_tee, shop_with, tee_with

STRIPED = replace(WIDE, repeat_length_mm=60.0)


@pytest.mark.parametrize("mode", MODES)
def test_a_seam_is_told_with_its_pieces_in_every_way_to_spread(mode: str) -> None:
    shop = shop_with(matched_tee("side"), STRIPED)
    slots = [TEE] if mode == "open" else [TEE, TEE]
    found = stripes_of(job_for(slots, mode, STRIPED, shop))
    assert found == Stripes(60.0, 0.0, (("side", ("front", "back")),))


def test_plain_cloth_and_a_seam_of_one_outline_alone_say_nothing() -> None:
    shop = shop_with(matched_tee("side"))
    assert stripes_of(job_for([TEE], "open", WIDE, shop)) is None
    alone = tee_with("back", role="rib")
    shop = shop_with(replace(alone, seams=matched_tee("side").seams), STRIPED)
    assert stripes_of(job_for([TEE], "open", STRIPED, shop)) == Stripes(60.0, 0.0, ())


def test_styles_without_a_marked_seam_are_named_with_the_striped_fabric() -> None:
    wanted = (Demand(TEE, 3),)
    assert unmarked_styles(wanted, shop_with(matched_tee(), STRIPED)) == ((STRIPED.key.fabric, TEE.style),)
    assert unmarked_styles(wanted, shop_with(matched_tee("side"), STRIPED)) == ()
    assert unmarked_styles(wanted, shop_with(matched_tee())) == ()
