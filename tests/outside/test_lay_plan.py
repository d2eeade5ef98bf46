"""Lay plans against rules and figures from apparel coursework and published cloth conversions."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.lays.cut_plans import Lengths
from planner.core.lays.learnt import Learnt
from planner.core.lays.plan import plan_lays
from planner.core.lays.wishes import Wishes
from planner.core.spec import Demand, Garment
from tests.core.makers import make_cloth, make_shop, make_tee, wanted

#: Apparel cut-planning coursework: sizes and quantities, most plies, garments a marker, fewest lays.
TEXTBOOK = [
    ({"10": 40, "12": 90, "14": 80, "16": 25, "18": 25}, 50, 4, 2),
    ({"12": 100, "14": 160, "16": 120, "18": 60}, 60, 4, 2),
    ({"S": 300, "M": 600, "L": 400}, 75, 5, 4),
]


def at(efficiency):
    """As if every marker of jersey came out at this share."""
    return Lengths(learnt={"jersey": Learnt(tuple((n, efficiency) for n in range(1, 41)))})


@pytest.mark.parametrize(("demand", "plies", "garments", "fewest"), TEXTBOOK)
def test_textbook_demand_is_cut_exactly_and_in_no_fewer_lays_than_can_be(demand, plies, garments, fewest):
    """Garments cut = garments per marker × plies, demand met exactly, no more plies than the knife, fewest lays."""
    tee = make_tee(sizes=tuple(demand), base_size=next(iter(demand)))
    front = next(p for p in tee.pieces if p.name == "front")
    outlines = dict.fromkeys(demand, front.outlines["M"])
    tee = make_tee(
        sizes=tuple(demand),
        base_size=next(iter(demand)),
        pieces=(type(front)("front", "body", 1, False, True, None, outlines),),
    )
    # A table that takes exactly so many fronts of 700 × 500 at the efficiency given.
    per_garment = 700 * 500 / (1400 * 0.8)
    shop = make_shop(tee, table_length_mm=max(garments * per_garment, 700) + 1, most_plies=plies)
    rows = [Demand(Garment("1", (), "ink", size), count) for size, count in demand.items()]
    lays = plan_lays(rows, shop, wishes={"jersey": Wishes(aim="fewest_lays")}, lengths=at(0.8))
    cut: dict[str, int] = {}
    for lay in lays:
        assert lay.spreads <= plies
        held = sum(g.per_marker for g in lay.plies[0].garments)
        assert held <= garments
        for g in lay.plies[0].garments:
            cut[g.garment.size] = cut.get(g.garment.size, 0) + g.per_marker * lay.spreads
    assert cut == demand
    assert len(lays) == fewest


@settings(max_examples=10, deadline=None)
@given(quantity=st.integers(1, 40), width_mm=st.floats(900, 1800), efficiency=st.floats(0.5, 1.0))
def test_no_estimate_is_below_the_area_bound(quantity, width_mm, efficiency):
    """Lower bound of the length of any lay = area of the pieces / usable width (lay efficiency ≤ 1)."""
    shop = make_shop(jersey=make_cloth(usable_width_mm=width_mm), table_length_mm=8000, most_plies=4)
    for lay in plan_lays([wanted(quantity)], shop, lengths=at(efficiency), seconds=0.2):
        area = sum(item.outline.area_mm2 for item in lay.job.items)
        assert lay.estimated_length_mm * lay.lay_width_mm >= area


def test_cloth_washed_first_and_pieces_cut_larger_follow_the_dimensional_change():
    """ISO 5077 after ISO 6330: cut size = finished size / (1 − s); 5 % gives × 1.05263. Washed before
    cutting, the usable width shrinks by s across and the pieces stay as they are."""
    larger = make_cloth(shrinkage_length=0.05, shrinkage_width=0.05, shrinkage_handling="cut_larger")
    washed = make_cloth(shrinkage_length=0.05, shrinkage_width=0.05, shrinkage_handling="wash_first")
    cut_larger = plan_lays([wanted(1)], make_shop(jersey=larger))[0]
    washed_first = plan_lays([wanted(1)], make_shop(jersey=washed))[0]
    front_larger, front_as_is = (lay.job.items[0].outline for lay in (cut_larger, washed_first))
    assert front_larger.length_mm / front_as_is.length_mm == pytest.approx(1.05263, abs=1e-5)
    assert washed_first.lay_width_mm == pytest.approx(1400 * 0.95)
