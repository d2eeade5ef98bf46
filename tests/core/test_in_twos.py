"""Cloth that gives garments in twos only: with more allowed an odd number is rounded up, whichever cloth it is."""

from collections import Counter
from dataclasses import replace
from itertools import product

import pytest

from planner.core.lays.cut_plans import plan_fabrics
from planner.core.lays.plan import CannotPlan
from planner.core.lays.wishes import Wishes
from planner.core.spec import ClothKey, ColourwaySpec, EdgeRef, SeamSpec
from tests.core.makers import JERSEY, RIB, THREAD, make_cloth, make_shop, make_tee, wanted


def planned(shop, *demand):
    """What is cut of each size from each cloth, and what of it is told to be beyond the demand."""
    plans = plan_fabrics(demand, shop, compare=False, seconds=2)
    cut = Counter()
    for lay in (lay for plan in plans for lay in plan.lays):
        for cloth in lay.cloths:
            cut += Counter({(lay.fabric, g.size): n for g, n in lay.cut_from(cloth).items()})
    return cut, extras_of(plans)


def extras_of(plans):
    """What is cut beyond the demand, by size."""
    return {garment.size: n for plan in plans for garment, n in plan.extra.items()}


def shop_with_rib(*modes):
    """Jersey laid open, the rib of the neck in these ways only."""
    shop = make_shop()
    return replace(shop, cloths={**shop.cloths, RIB: replace(shop.cloths[RIB], modes=modes)})


def odd(size, quantity, more):
    return replace(wanted(quantity, size), extra_allowed=more)


@pytest.mark.parametrize("mode", ["folded", "face_to_face"])
def test_one_more_allowed_is_cut_where_the_cloth_gives_two(mode):
    """The jersey is laid open; the rib band, one of each top, comes in twos. 1 S and 3 M become 2 and 4 of both."""
    shop = shop_with_rib(mode)
    cut, extra = planned(shop, odd("S", 1, 1), odd("M", 3, 3), odd("L", 2, 1))
    assert cut == {(f, s): n for f in ("jersey", "rib") for s, n in (("S", 2), ("M", 4), ("L", 2))}
    assert extra == {"S": 1, "M": 1}


@pytest.mark.parametrize("mode", ["folded", "face_to_face"])
def test_one_more_allowed_is_cut_where_the_main_cloth_gives_two(mode):
    shop = make_shop(jersey=make_cloth(modes=(mode,), usable_width_mm=2800.0))
    cut, extra = planned(shop, odd("M", 1, 1))
    assert (cut, extra) == ({("jersey", "M"): 2, ("rib", "M"): 2}, {"M": 1})


def test_with_none_allowed_it_is_refused_by_name():
    shop = shop_with_rib("folded")
    with pytest.raises(CannotPlan, match="1 of 1 S is wanted from rib, which is cut 2 at a time"):
        planned(shop, odd("S", 1, 0), odd("M", 3, 1))


def test_where_it_may_lie_open_too_nothing_is_rounded():
    shop = shop_with_rib("open", "folded")
    assert planned(shop, odd("S", 1, 1))[1] == {}


def test_garments_that_share_their_numbers_are_one_more_together():
    """Tops with and without a band are cut from the same jersey parts: one of each makes two of those. With a rib that
    comes in twos it takes a second one with a band, and then one without, for the jersey."""
    both = [replace(wanted(1, neck=neck), extra_allowed=1) for neck in ("rib band", "none")]
    shop = make_shop(jersey=make_cloth(modes=("folded",), usable_width_mm=2800.0))
    assert extras(shop, both) == {}
    shop = replace(shop, cloths={**shop.cloths, RIB: replace(shop.cloths[RIB], modes=("folded",))})
    assert extras(shop, both) == {one.garment: 1 for one in both}


def test_on_stripes_garments_share_their_numbers_whose_seams_run_alike_there():
    """As above on striped jersey: which neck a top has says nothing of its side seams, but where a neck has a seam of
    its own that stripes run on over it is laid otherwise, and each of the two is odd."""
    both = [replace(wanted(1, neck=neck), extra_allowed=1) for neck in ("rib band", "none")]
    tee = make_tee()
    sides = tuple(replace(seam, match=seam.name == "side") for seam in tee.seams)
    jersey = make_cloth(modes=("folded",), usable_width_mm=2800.0, repeat_length_mm=40.0)
    assert extras(make_shop(replace(tee, seams=sides), jersey=jersey), both) == {}
    edges = (EdgeRef("front", "shoulder"), EdgeRef("back", "shoulder"))
    taped = SeamSpec("taped", ("neck", "rib band"), edges, 2, "shoulders", match=True)
    apart = make_shop(replace(tee, seams=(*sides, taped)), jersey=jersey)
    assert extras(apart, both) == {one.garment: 1 for one in both}


def extras(shop, demand):
    """What is cut beyond the demand, by garment."""
    plans = plan_fabrics(demand, shop, compare=False, seconds=2)
    return {garment: n for plan in plans for garment, n in plan.extra.items()}


def test_two_colours_of_one_cloth_are_cut_alike_often():
    """Body ink and band chalk of one jersey: no more bodies are cut than bands, though more are allowed."""
    chalk = ClothKey("jersey", "chalk")
    way = ColourwaySpec("ink", {"body": JERSEY, "rib": chalk}, THREAD)

    def cut(jersey, *demand, **options):
        """What is cut of each size in ink and in chalk, and what of it beyond the demand."""
        shop = make_shop(make_tee(colourways={"ink": way}), jersey=jersey)
        shop = replace(shop, cloths={**shop.cloths, chalk: replace(jersey, key=chalk)})
        plans = plan_fabrics(demand, shop, compare=False, seconds=2, **options)
        sizes = [Counter(), Counter()]
        for lay, (found, key) in product(plans[0].lays, zip(sizes, (JERSEY, chalk), strict=True)):
            found.update({garment.size: n for garment, n in lay.cut_from(key).items()})
        return sizes, extras_of(plans)

    folded = make_cloth(modes=("folded",), usable_width_mm=2800.0)
    assert cut(folded, odd("S", 1, 1), odd("M", 4, 1)) == ([Counter(S=2, M=4)] * 2, {"S": 1})
    # Laid open there would be fewer lays with one body more, which had no band.
    fewest = {"jersey": Wishes("fewest_lays")}
    assert cut(make_cloth(), odd("S", 5, 1), odd("M", 6, 1), wishes=fewest) == ([Counter(S=5, M=6)] * 2, {})
