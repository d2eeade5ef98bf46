"""Plans whose lays were nested stay known, and are what a wish is priced by, whatever estimates promise."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.core.cut_plan.solve import solve
from planner.core.lays import plan_facts
from planner.core.lays.cut_plans import Lengths, plan_fabrics, totals_by_garment
from planner.core.lays.fabric_planner import FabricPlan, FabricPlanner
from planner.core.lays.kinds import tables_of
from planner.core.lays.model import Mode
from planner.core.lays.plan_facts import Compared, FactFinder
from planner.core.lays.standing import as_it_stands
from planner.core.lays.stored import marker_key
from planner.core.lays.wishes import Wishes, facts_from_json, facts_to_json
from tests.core.makers import make_cloth, make_shop, make_tee, wanted
from tests.core.test_plan_facts import AT_80, TIMES

DEMAND = [wanted(n, size) for size, n in (("S", 7), ("M", 11), ("L", 13))]
APART = Wishes(apart=(frozenset({("1", "S"), ("1", "M")}),))


def jersey(wish: Wishes, lengths: Lengths) -> FabricPlan:
    room = make_shop(jersey=make_cloth(end_allowance_mm=20), times=TIMES, table_length_mm=3300, most_plies=20)
    plans = plan_fabrics(DEMAND, room, wishes={"jersey": wish}, lengths=lengths, only=["jersey"], seconds=6)
    return plans[0]


def nested(plan: FabricPlan, factor: float) -> dict[str, float]:
    """The lengths of a plan's markers, as if they had come out longer by a factor than they were estimated."""
    return {marker_key(lay.job): lay.estimated_length_mm * factor for lay in plan.lays}


@pytest.fixture(scope="module")
def found() -> tuple[FabricPlan, FabricPlan]:
    """The plan that stood, and the one with S and M apart."""
    return jersey(Wishes(), AT_80), jersey(APART, AT_80)


def test_the_plan_that_stood_is_told_beside_one_that_only_promises_more(
    found: tuple[FabricPlan, FabricPlan],
) -> None:
    """Its markers came out 8 % longer than others are thought to be, so one of these looks better without the wish."""
    stood, apart = found
    known = {**nested(apart, 1.0), **nested(stood, 1.08)}
    lengths = replace(AT_80, nested=known, plans={"jersey": stood.facts.plans})
    facts = jersey(APART, lengths).facts
    (price,) = facts.prices
    assert price.without.nested < price.without.lays
    assert price.sure is not None
    assert (price.sure.nested, price.sure.is_proven) == (price.sure.lays, False)
    as_it_stood = jersey(Wishes(keep=stood.lays), replace(lengths, plans={})).facts.best
    assert price.sure.cost == pytest.approx(as_it_stood.cost)
    assert price.sure.cost > price.without.cost
    assert facts_from_json(facts_to_json(facts)) == facts


def test_what_was_nested_is_not_crowded_out_by_what_was_only_estimated(
    found: tuple[FabricPlan, FabricPlan], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of all plans found later only so many are kept: the one that stood is among them, be it the oldest."""
    stood, apart = found
    monkeypatch.setattr(plan_facts, "MOST_PLANS", 4)
    lengths = replace(AT_80, nested={**nested(stood, 1.02), **nested(apart, 1.0)})
    others = tuple(plan for plan in apart.facts.plans if plan != stood.facts.plans[0])
    known = (*others, *(one for one in stood.facts.plans[1:] if one not in others), stood.facts.plans[0])
    facts = jersey(APART, replace(lengths, plans={"jersey": known})).facts
    assert len(facts.plans) == 4 < len(known) + 1
    assert stood.facts.plans[0] in facts.plans
    # Nor where the plan that was found next did not take the place of the one there is.
    assert stood.facts.plans[0] in as_it_stands(apart.facts, facts).plans


@pytest.mark.parametrize("modes", [("open",), ("face_to_face",)])
def test_plans_are_chosen_by_the_money_that_is_told(modes: tuple[Mode, ...]) -> None:
    """A top with a self band has a piece more in jersey, which takes its minutes: the search weighs each as it is.

    With the same for all it took a plan of other garments for the cheaper one than what is told of both says; with the
    pieces of the way that has most of them a pair of layers was charged for twice as many as it has, and for one ply.
    """
    jersey = make_cloth(end_allowance_mm=20, modes=modes)
    room = make_shop(make_tee("1"), make_tee("2"), jersey=jersey, times=TIMES)
    demand = [wanted(2, "S"), wanted(4, "M", neck="self band"), wanted(2, "M", style="2")]
    totals = totals_by_garment(demand, room)
    table = next(one for one in tables_of(totals, room) if one.fabric == "jersey")
    planner = FabricPlanner(table, room, Wishes(), AT_80)
    question = planner.question()
    assert len(set(question.ways[0].cost_each)) > 1
    plans = plan_fabrics(demand, room, lengths=AT_80, only=["jersey"], seconds=6)[0].facts.plans
    assert {one.way for plan in plans for one in plan} == set(modes)
    for plan in plans:
        finder = FactFinder(
            table, room, Wishes(), question, solve(question, seconds=1, known=(plan,)), planner.lengths, Compared(), {},
            tool_plies=question.most_plies,
        )  # fmt: skip
        told = finder.outcome(finder.answer, "money")
        assert finder.answer.cost == pytest.approx(float(told.cost))
