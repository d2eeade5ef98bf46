"""Cloth nobody has put a price to counts 8 a metre wherever plans are compared, and nothing where they are paid for."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from planner.core.lays.cut_plans import plan_fabrics
from planner.core.lays.outcomes import Laid, outcome_of
from planner.core.lays.settle import _is_dearer
from planner.core.lays.standing import gap_between
from planner.core.lays.wishes import Outcome, PlanFacts, facts_from_json, facts_to_json
from tests.core.makers import JERSEY, make_cloth, make_shop, wanted

FREE = make_shop(jersey=make_cloth(price=Decimal(0)))
AT_8 = make_shop(jersey=make_cloth(price=Decimal(8)))


def outcome(mm: float, shop=FREE, pieces: int = 12) -> Outcome:
    laid = [Laid(mm, "open", {JERSEY: 2}, pieces, True)]
    return outcome_of("money", laid, shop, end_mm=40.0, is_proven=True)


def facts(best: Outcome, single: Outcome | None = None, lays=()) -> PlanFacts:
    return PlanFacts(
        best, single or best, (), "proven", 5, 5, 5, (), 1, None, 1, "counted", "", single_lays=lays
    )


def test_two_spreads_of_3_m_weigh_48_more_than_they_cost():
    found = outcome(2960.0)
    assert found.weighs - found.cost == pytest.approx(Decimal(48))
    assert outcome(2960.0, AT_8).weighs == outcome(2960.0, AT_8).cost == found.weighs
    flawed = make_shop(jersey=make_cloth(price=Decimal(0), damage_share=0.05))
    assert float(outcome(2960.0, flawed).weighs - found.cost) == pytest.approx(48 * 1.05)


def test_how_far_a_plan_may_be_from_the_best_is_the_same_without_a_price():
    """Formerly 1.0 % were told where 7.8 % are, for cloth counted nothing there."""
    kept, could = outcome(3300.0), outcome(3000.0)
    gap = gap_between(facts(kept), facts(could))
    assert gap == pytest.approx(gap_between(facts(outcome(3300.0, AT_8)), facts(outcome(3000.0, AT_8))))
    assert gap > 0.05


def test_a_plan_of_less_cloth_is_not_thought_dearer_than_its_single_sizes():
    """As in a workroom that notes no prices: it has more to mark and cut, and takes half a metre less."""
    plan, single = outcome(2750.0, pieces=16), outcome(3000.0, pieces=12)
    assert plan.cost > single.cost
    assert not _is_dearer(facts(plan, single, lays=("one",)))
    assert _is_dearer(facts(single, plan, lays=("one",)))


def test_the_plan_for_the_least_money_weighs_no_more_than_those_for_other_aims():
    shop = make_shop(
        jersey=make_cloth(price=Decimal(0), end_allowance_mm=20.0), table_length_mm=2500.0, most_plies=4
    )
    (plan,) = plan_fabrics([wanted(n, s) for n, s in ((7, "S"), (5, "M"), (2, "L"))], shop, only={"jersey"})
    assert plan.facts.gap_share is None
    assert all(other.weighs >= plan.facts.best.weighs - Decimal("0.0001") for other in plan.facts.others)
    assert plan.facts.single.weighs >= plan.facts.best.weighs


def test_what_a_plan_weighs_is_kept_with_it_and_is_its_money_where_it_was_not_noted_yet():
    told = facts(outcome(2960.0))
    data = json.loads(json.dumps(facts_to_json(told)))
    assert facts_from_json(data) == told
    for name in ("best", "single"):
        del data[name]["unpriced"]
    assert facts_from_json(data).best.weighs == told.best.cost
