"""Cloth sold by the roll: no ply is longer than what a roll gives on the table, washed first or with flaws."""

from dataclasses import replace
from decimal import Decimal

import pytest

from planner.core.cloth import roll_on_table_mm
from planner.core.lays import nestings, settle
from planner.core.lays.cut_plans import Lengths, plan_fabrics
from planner.core.lays.learnt import Learnt
from planner.core.lays.problems import CannotPlan
from planner.core.lays.rows import first_marker
from planner.core.planning import plan_batch
from planner.core.rolls import PliesShort, what_to_buy
from tests.core.makers import SIZES, make_cloth, make_shop, wanted

#: So badly laid that one garment needs more than its roll by area.
BAD = Lengths(learnt={"jersey": Learnt(((1, 0.7),), "")})


def by_the_roll(metres, **changes):
    return make_cloth(sold_by="roll", pack_quantity=Decimal(metres), price=Decimal(40), **changes)


def washed(metres):
    return by_the_roll(metres, shrinkage_handling="wash_first", shrinkage_length=0.08, end_allowance_mm=20.0)


def ply_mm(lay):
    return lay.estimated_length_mm + 2 * lay.end_allowance_mm


def test_a_roll_gives_less_where_it_is_washed_first_or_kept_for_flaws():
    """4.1 m less 8 % are 3.772 m; with 5 % for flaws 4.2 m give 4.2 / 1.05 = 4 m. Cut larger, or grown, all of it."""
    assert roll_on_table_mm(washed("4.1")) == pytest.approx(3772)
    assert roll_on_table_mm(by_the_roll("4.2", damage_share=0.05)) == pytest.approx(4000)
    larger = by_the_roll("4.1", shrinkage_handling="cut_larger", shrinkage_length=0.08)
    assert roll_on_table_mm(larger) == pytest.approx(4100)
    grown = by_the_roll("4.1", shrinkage_handling="wash_first", shrinkage_length=-0.03)
    assert roll_on_table_mm(grown) == pytest.approx(4100)


@pytest.mark.parametrize("metres", ["4.1", "4.2", "3.3", "3.2"])
def test_what_is_planned_can_be_bought(metres):
    """Formerly plies of 4.05 m were planned of rolls of 4.1 m that wash down to 3.77 m, and no roll would do."""
    shop = make_shop(jersey=washed(metres), table_length_mm=6000.0)
    (plan,) = plan_fabrics(
        [wanted(6, size) for size in SIZES], shop, only={"jersey"}, seconds=3, compare=False
    )
    for lay in plan.lays:
        bought = what_to_buy([PliesShort("a", lay.spreads, ply_mm(lay))], washed(metres))
        assert bought.buy.sold >= 1


def test_a_garment_that_no_washed_roll_is_long_enough_for_is_told_so():
    """The front is 700 mm, with its ends 740 mm; 0.8 m wash down to 736 mm."""
    with pytest.raises(CannotPlan) as caught:
        plan_fabrics([wanted(1)], make_shop(jersey=washed("0.8")), only={"jersey"})
    assert str(caught.value).replace("\u2009", " ") == (
        "style 1 in size M needs a lay of 74 cm in jersey ink, but a roll of it gives only 73.6 cm"
    )


def test_one_garment_may_fill_a_roll_as_it_may_fill_the_table():
    """By area and the usual share of the cloth a top takes more than 0.75 m, but its front is 0.7 m: nesting tells."""
    shop = make_shop(jersey=by_the_roll("0.75"))
    (plan,) = plan_fabrics([wanted(1)], shop, lengths=BAD, only={"jersey"}, compare=False)
    assert [ply_mm(lay) for lay in plan.lays] == [pytest.approx(750)]


def test_lays_nested_too_long_for_a_roll_are_planned_again(monkeypatch):
    """Odd numbers of garments come out longer than thought. Formerly a lay of 4.89 m was left of a roll of 4 m."""

    def nest(job, **_):
        area = sum(item.outline.area_mm2 for item in job.items) / job.lay_width_mm
        is_odd = len({item.garment_no for item in job.items}) % 2
        length = max(area / (0.62 if is_odd else 0.75), *(item.outline.length_mm for item in job.items))
        return replace(first_marker(job), length_mm=length, efficiency=area / length, how="nested")

    monkeypatch.setattr(nestings, "nest_ruled", nest)
    monkeypatch.setattr(nestings, "marker_for", lambda job, marker, old: marker)
    # As after the last round of many: what does not fit by then has to be made to.
    monkeypatch.setattr(settle, "MOST_ROUNDS", 1)
    shop = make_shop(jersey=by_the_roll("4"), table_length_mm=6000.0)
    plan = plan_batch([wanted(3, size) for size in SIZES], shop, batch="B-1", seconds=5)
    jersey = [lay.ply_mm for lay in plan.lays if lay.planned.fabric == "jersey"]
    assert max(jersey) <= 4000


def test_face_to_face_no_ply_is_longer_than_half_a_roll():
    """Both plies of a pair come from one roll; formerly plies of up to 3.3 m were planned of rolls of 3.3 m."""
    jersey = by_the_roll("3.3", modes=("face_to_face",))
    shop = make_shop(jersey=jersey, table_length_mm=6000.0)
    (plan,) = plan_fabrics(
        [wanted(6, size) for size in SIZES], shop, only={"jersey"}, seconds=3, compare=False
    )
    assert max(map(ply_mm, plan.lays)) <= 1650
    for lay in plan.lays:
        plies = [PliesShort("a", 2 * lay.spreads, ply_mm(lay), 2)]
        assert what_to_buy(plies, jersey).buy.sold >= 1


def test_where_no_roll_gives_both_plies_of_the_smallest_pair_it_is_told_so():
    """The front is 700 mm: a roll of 1.3 m gives one such ply, and two of 650 mm."""
    jersey = by_the_roll("1.3", modes=("face_to_face",), end_allowance_mm=20.0)
    with pytest.raises(CannotPlan) as caught:
        plan_fabrics([wanted(2)], make_shop(jersey=jersey), only={"jersey"})
    assert str(caught.value).replace("\u2009", " ") == (
        "style 1 in size M needs a lay of 74 cm in jersey ink, but face to face both plies of a pair come from one "
        "roll, and it gives two of only 65 cm"
    )
