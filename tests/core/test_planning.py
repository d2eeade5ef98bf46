"""A whole batch from demand to bundles."""

from collections import Counter
from dataclasses import replace

import pytest

from planner.core.lays import nestings, settle
from planner.core.lays.check import check_marker
from planner.core.lays.marker_lengths import Lengths
from planner.core.lays.plan import CannotPlan, plan_lays
from planner.core.lays.rows import first_marker
from planner.core.lays.stored import marker_key
from planner.core.planning import main_cloth, make_bundles, plan_batch
from planner.core.spec import ClothKey, Demand, Garment
from tests.core.makers import JERSEY, RIB, make_cloth, make_shop, make_tee, wanted


@pytest.fixture
def in_rows(monkeypatch):
    """Nesting replaced by plain rows, which repeat and take no time; the real one has its own tests."""

    def rows(job, *, on_progress=None, **_):
        marker = first_marker(job)
        if on_progress:
            on_progress(marker)
        return marker

    monkeypatch.setattr(nestings, "nest_ruled", rows)


def test_a_small_batch_really_nested():
    shop = make_shop(jersey=make_cloth(end_allowance_mm=20))
    seen = []
    plan = plan_batch(
        [wanted(2, "M"), wanted(1, "L")], shop, batch="B-0007", seconds=1, on_progress=seen.append
    )
    assert {cloth.cloth.key for cloth in plan.cloths} == {JERSEY, RIB}
    for lay in plan.lays:
        assert check_marker(lay.planned.job, lay.marker.placements) == []
    jersey = next(c for c in plan.cloths if c.cloth.key == JERSEY)
    (lay,) = jersey.lays
    assert jersey.lay_m == pytest.approx((lay.marker.length_mm + 40) / 1000)
    assert jersey.need.lay_m == pytest.approx(jersey.lay_m)
    assert jersey.need.is_estimate is False
    # Bands in rows are as short as can be, and are not made shorter a second time.
    assert {p.lays for p in seen} == {2, 1}
    assert {p.done for p in seen} == {0, 1}


def test_everything_that_is_missing_is_said_at_once():
    nowhere = Demand(Garment("9", (), "ink", "M"), 1)
    with pytest.raises(CannotPlan) as caught:
        plan_batch([nowhere, wanted(1, "XXL")], make_shop(), batch="B-1")
    assert [p.text for p in caught.value.problems] == ["there is no style 9", "style 1 has no size XXL"]
    with pytest.raises(CannotPlan, match="nothing is wanted"):
        plan_batch([], make_shop(), batch="B-1")


@pytest.mark.usefixtures("in_rows")
def test_a_lay_that_comes_out_too_long_is_split_until_it_fits():
    """Rows of boxes are far from 78 %, so the estimate is wrong and lays must be split."""
    shop = make_shop(table_length_mm=2300)
    demand = [wanted(6, "S"), wanted(5, "M"), wanted(3, "L", neck="self band")]
    plan = plan_batch(demand, shop, batch="B-1")
    assert all(lay.marker.length_mm <= 2300 for lay in plan.lays)
    assert [lay.number for lay in plan.lays] == list(range(1, len(plan.lays) + 1))
    cut = Counter()
    for lay in plan.lays:
        cut += lay.planned.cut_from(JERSEY)
    assert cut == {d.garment: d.quantity for d in demand}


@pytest.mark.usefixtures("in_rows")
def test_a_garment_that_nests_longer_than_the_table_stops_the_plan():
    """In rows one top takes 700 + 2 + 200 + ... more than 800 mm, though its area alone would fit."""
    with pytest.raises(CannotPlan, match="the table is 80\u2009cm long"):
        plan_batch([wanted(1)], make_shop(table_length_mm=800), batch="B-1")


@pytest.mark.parametrize(("seconds", "spent"), [(None, 9.7), (16.0, 16.0), (0.1, 2.0)])
def test_time_is_for_what_can_still_gain_and_no_lay_gets_less_than_a_second(monkeypatch, seconds, spent):
    """5 tops: 20 pieces of jersey (6.7 s) and 5 of rib (3 s). Half finds the plan out, what is left polishes it.

    Nothing takes any time here, so all of it is left for polishing the jersey: the rib's rows cannot be shorter.
    """
    given = []

    def rows(job, *, seconds, **_):
        given.append((len(job.items), seconds))
        return first_marker(job)

    monkeypatch.setattr(nestings, "nest_ruled", rows)
    plan_batch([wanted(5)], make_shop(table_length_mm=9000), batch="B-1", seconds=seconds)
    assert all(share >= 1.0 for _, share in given)
    assert sum(share for _, share in given) <= 1.5 * spent + 2
    if seconds == 16:
        assert [share for pieces, share in given if pieces == 5] == [1.0]
        assert given[-1] == (20, pytest.approx(16, abs=0.5))


@pytest.mark.usefixtures("in_rows")
def test_bundles_hold_the_demand_each_from_one_lay_of_the_main_cloth():
    shop = make_shop(table_length_mm=4000, bundle_size=4, most_plies=3)
    demand = [wanted(7, "S"), wanted(5, "M", neck="self band"), wanted(1, "L")]
    plan = plan_batch(demand, shop, batch="B-0007")
    held = {
        (lay.number, g.garment): g.per_marker * lay.planned.spreads
        for lay in plan.lays
        for g in lay.planned.plies[0].garments
    }
    total, by_lay = Counter(), Counter()
    for bundle in plan.bundles:
        assert 1 <= bundle.quantity <= 4
        total[bundle.garment] += bundle.quantity
        by_lay[bundle.lay, bundle.garment] += bundle.quantity
        assert bundle.lay in bundle.lays
    assert total == {d.garment: d.quantity for d in demand}
    assert all(by_lay[key] == held[key] for key in by_lay)
    assert [b.number for b in plan.bundles] == [f"B-0007-{n:02d}" for n in range(1, len(plan.bundles) + 1)]
    cloths = {lay.number: lay.planned.cloths[0] for lay in plan.lays}
    for bundle in plan.bundles:
        of = {cloths[n] for n in bundle.lays}
        assert of == ({JERSEY, RIB} if ("neck", "rib band") in bundle.garment.options else {JERSEY})


def test_bundles_are_shared_out_evenly():
    """12 with at most 10 in a bundle are 6 and 6."""
    shop = make_shop(table_length_mm=20_000)
    lays = plan_lays([wanted(12)], shop)
    assert [b.quantity for b in make_bundles([wanted(12)], shop, lays, batch="B-1")] == [6, 6]


def test_the_main_cloth_is_that_of_the_largest_area():
    assert main_cloth(wanted(1).garment, make_shop()) == JERSEY


def test_an_outline_that_cannot_be_nested_is_told_as_a_problem_of_the_plan():
    shop = make_shop(piece_gap_mm=-1.0)
    with pytest.raises(CannotPlan, match="gap between pieces"):
        plan_batch([wanted(1)], shop, batch="B-1", seconds=1)


def test_the_same_question_in_two_colours_is_nested_once(monkeypatch):
    asked = []

    def rows(job, **_):
        asked.append(job)
        return first_marker(job)

    monkeypatch.setattr(nestings, "nest_ruled", rows)
    white = ClothKey("jersey", "white")
    tee = make_tee()
    ink = tee.colourways["ink"]
    pale = replace(ink, name="pale", cloths={"body": white, "rib": RIB})
    shop = make_shop(make_tee(colourways={"ink": ink, "pale": pale}))
    shop = replace(shop, cloths={**shop.cloths, white: make_cloth(white)})
    other = replace(wanted(2), garment=replace(wanted(2).garment, colourway="pale"))
    plan = plan_batch([wanted(2), other], shop, batch="B-1")
    assert len({marker_key(job) for job in asked}) == 2  # both jerseys as one, and the rib for all
    assert [lay.planned.cloths for lay in plan.lays] in ([(JERSEY, white), (RIB,)], [(white, JERSEY), (RIB,)])
    for lay in plan.lays:
        assert check_marker(lay.planned.job, lay.marker.placements) == []


@pytest.mark.usefixtures("in_rows")
def test_one_cloth_in_two_roles_is_laid_once():
    colourway = make_tee().colourways["ink"]
    both = make_tee(
        colourways={"ink": type(colourway)("ink", {"body": JERSEY, "rib": JERSEY}, colourway.thread)}
    )
    plan = plan_batch([wanted(1)], make_shop(both), batch="B-1")
    (cloth,) = plan.cloths
    (lay,) = cloth.lays
    assert Counter(p.piece for p in lay.marker.placements) == {
        "front": 1,
        "back": 1,
        "sleeve": 2,
        "rib band": 1,
    }


@pytest.mark.usefixtures("in_rows")
def test_what_a_plan_says_in_the_end_rests_on_the_lengths_that_were_reached():
    """Formerly, where estimates promised another plan in the end, it was still told as proven by those before."""
    settler = settle.Settler([wanted(4, "M")], make_shop(), {}, Lengths(), 1.0, 1, None, None)
    plans, _ = settler.settle()
    cheaper = [replace(p.facts.best, cost=p.facts.best.cost * 9 / 10) for p in plans]
    promised = [
        replace(p, facts=replace(p.facts, best=best, gap_share=None))
        for p, best in zip(plans, cheaper, strict=True)
    ]
    for told, before in zip(settler._as_they_stand(plans, promised), plans, strict=True):
        assert (told.lays, told.facts.best.cost) == (before.lays, before.facts.best.cost)
        assert told.facts.nested == told.facts.best.lays
        assert told.facts.gap_share == pytest.approx(0.1)
        assert not told.facts.best.is_proven
    # Only what was nested too may take their place.
    wider = [
        replace(p, lays=tuple(replace(lay, job=replace(lay.job, lay_width_mm=9000.0)) for lay in p.lays))
        for p in plans
    ]
    assert settler._can_take(plans, plans)
    assert not settler._can_take(plans, wider)


@pytest.mark.usefixtures("in_rows")
@pytest.mark.parametrize("kept", [(), ("jersey",)], ids=["no lay at all", "no lay of its rib"])
def test_a_plan_that_does_not_cut_a_garment_from_each_of_its_cloths_is_refused(monkeypatch, kept):
    settled = settle.Settler.settle

    def some_lost(settler):
        plans, lays = settled(settler)
        return plans, [lay for lay in lays if lay.planned.fabric in kept]

    monkeypatch.setattr(settle.Settler, "settle", some_lost)
    with pytest.raises(AssertionError, match=r"0 cut of .* from (jersey|rib) ink, 1 wanted"):
        plan_batch([wanted(1)], make_shop(), batch="B-1", seconds=1)
