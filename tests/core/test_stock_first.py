"""A plan is made from what lies in stock by itself where that spends less today: which, when, and when not."""

from dataclasses import replace
from decimal import Decimal

import pytest

from planner.core.lays import nestings
from planner.core.lays.cut_plans import plan_fabrics
from planner.core.lays.rows import first_marker
from planner.core.lays.standing import as_it_stands
from planner.core.lays.stock_first import is_worth_it, is_worth_no_more
from planner.core.lays.wishes import FromStock, Wishes
from planner.core.planning import plan_batch
from planner.core.rolls import RollThere
from tests.core.makers import JERSEY, make_cloth, make_shop, wanted
from tests.core.test_from_stock import AT_80, jersey_plan

#: Six unlike tops in rows: one marker holds them all on the table.
SIX = [wanted(1, size, neck=neck) for size in "SML" for neck in ("rib band", "self band")]


def pieces(*lengths_mm):
    return {JERSEY: tuple(RollThere(f"{n}", mm) for n, mm in enumerate(lengths_mm))}


@pytest.fixture
def in_rows(monkeypatch):
    """Nesting replaced by plain rows; how many markers were asked for."""
    asked = []

    def rows(job, **_):
        asked.append(job)
        return first_marker(job)

    monkeypatch.setattr(nestings, "nest_ruled", rows)
    return asked


def plan_six(shop=None, **options):
    plan = plan_batch(SIX, shop or make_shop(), batch="B-1", lengths=AT_80, seconds=1, **options)
    lays = [lay for lay in plan.lays if lay.planned.fabric == "jersey"]
    return plan.facts["jersey"], sorted(round(lay.ply_mm) for lay in lays)


@pytest.fixture(scope="module")
def blind():
    """The facts of the six without looking at any stock, and their plies."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(nestings, "nest_ruled", lambda job, **_: first_marker(job))
        return plan_six()


@pytest.mark.usefixtures("in_rows")
def test_pieces_of_3_5_m_are_used_where_the_best_marker_is_longer(blind):
    """All six by themselves are one ply longer than 3.5 m, which is bought whole at 10.00 a metre. Of two pieces of
    3.5 m nothing is bought, and a lay more takes a few minutes of work."""
    facts_blind, plies = blind
    assert len(plies) == 1
    assert plies[0] > 3500
    assert facts_blind.stock is None
    facts, shorter = plan_six(stock=pieces(3500.0, 3500.0))
    assert len(shorter) == 2
    assert max(shorter) <= 3500
    told = facts.stock
    assert (told.is_aim, told.buys_mm) == (True, 0)
    # What it would have been: bought to the tenth of a metre, and its minutes.
    assert told.other_buys_mm == pytest.approx(-(-plies[0] // 100) * 100)
    assert told.other.lays == 1
    rate = make_shop().times.rate_per_hour / 60
    assert float(told.spends) == pytest.approx(facts.best.minutes * float(rate))
    assert float(told.other_spends) == pytest.approx(
        told.other_buys_mm / 100 + facts_blind.best.minutes * float(rate)
    )
    assert told.other_saves == told.spends - told.other_spends < 0


@pytest.mark.usefixtures("in_rows")
def test_without_stock_or_where_it_does_nothing_changes(blind):
    facts_blind, plies = blind
    for stock in ({}, pieces(500.0), pieces(9000.0)):
        facts, same = plan_six(stock=stock)
        assert same == plies
        assert facts.best == facts_blind.best
        assert facts.stock is None or not facts.stock.is_aim


@pytest.mark.usefixtures("in_rows")
def test_where_the_work_is_worth_more_than_the_cloth_it_stays_and_says_what_stock_would_take():
    """At 0.20 a metre some 5 m are 1.00; setting up another lay takes longer than that is worth."""
    cheap = make_shop(jersey=make_cloth(price=Decimal("0.20")))
    _, plies = plan_six(cheap)
    facts, same = plan_six(cheap, stock=pieces(3500.0, 3500.0))
    assert same == plies
    assert (facts.stock.is_aim, facts.stock.other.lays) == (False, 2)
    assert facts.stock.other_saves < 0


@pytest.mark.usefixtures("in_rows")
def test_an_aim_that_was_wished_for_is_kept():
    facts, plies = plan_six(stock=pieces(3500.0, 3500.0), wishes={"jersey": Wishes("fewest_lays")})
    assert len(plies) == 1
    assert not facts.stock.is_aim


def test_lays_that_come_out_too_long_for_their_pieces_are_given_up_again(monkeypatch):
    """Nested, every lay of four tops or less is half as long again as in rows: of three tops none fits on 3.5 m, and
    what is bought costs more than the one lay of all six, which is taken up again."""

    def rows(job, **_):
        marker = first_marker(job)
        return replace(marker, length_mm=marker.length_mm * 1.5) if len(job.items) < 20 else marker

    monkeypatch.setattr(nestings, "nest_ruled", rows)
    _, plies = plan_six()
    facts, same = plan_six(stock=pieces(3500.0, 3500.0))
    assert same == plies
    assert not facts.stock.is_aim


def test_cloth_without_a_price_is_weighed_as_where_plans_are_compared():
    """8.00 a metre: 2.3 m against 0.8 m is 12.00, though nothing is told to be paid."""
    free = make_shop(jersey=make_cloth(price=Decimal(0)))
    (plan,) = plan_fabrics(
        [wanted(1, size) for size in "SML"],
        free,
        lengths=AT_80,
        only=["jersey"],
        stock=pieces(2000.0),
        seconds=3,
    )
    told = plan.facts.stock
    work = float(told.other_spends - told.spends)
    assert float(told.other_saves) == pytest.approx(1.5 * 8 - work)
    assert is_worth_it(plan.facts)


def test_a_trifle_is_not_worth_more_lays_and_back_it_goes_for_less():
    """5 % of what the other plan spends, or less than half a metre; back by half a cent, once both are nested."""
    plan = jersey_plan(2000.0).facts
    at = replace(plan.stock, weighs=Decimal("40.00"))
    for weighs, is_worth in (("38.01", False), ("37.99", True), ("41.00", False)):
        assert is_worth_it(replace(plan, stock=replace(at, other_weighs=Decimal(weighs)))) is is_worth
    cheap = replace(at, other_weighs=Decimal(20))
    for other_buys_mm, is_worth in ((1801.0, False), (1800.0, True)):
        assert is_worth_it(replace(plan, stock=replace(cheap, other_buys_mm=other_buys_mm))) is is_worth
    own = replace(at, is_aim=True, buys_mm=0.0, other_buys_mm=900.0)
    nested = replace(own, other=replace(own.other, nested=own.other.lays))
    for told, weighs, is_worth in (
        (nested, "39.99", False),
        (nested, "40.01", True),
        (own, "39.99", True),
        (own, "39.10", False),
        (replace(nested, buys_mm=895.0), "45.00", False),
        (replace(nested, other=None), "30.00", True),
    ):
        facts = replace(plan, stock=replace(told, other_weighs=Decimal(weighs)))
        assert is_worth_no_more(facts) is not is_worth
        assert not is_worth_it(facts)
    assert is_worth_no_more(replace(plan, stock=None)), "nothing fits there any more"
    assert not is_worth_it(replace(plan, stock=None))
    assert not is_worth_it(replace(plan, stock=FromStock(2300.0, 2000.0, is_open=True)))


def test_a_plan_from_stock_that_stands_tells_what_the_other_one_would_be():
    could = jersey_plan(2000.0, from_stock=True).facts
    kept = replace(could, stock=replace(could.stock, other=None, other_buys_mm=0.0, other_weighs=None))
    told = as_it_stands(kept, could).stock
    assert (told.other, told.other_buys_mm) == (could.stock.other, pytest.approx(2300))
    assert told.other_saves == could.stock.other_saves
