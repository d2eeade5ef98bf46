"""Every size in lays of its own: the same lays for the same garments, with lengths as soon as they are nested."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from planner.core.lays import nestings, settle, single_sizes
from planner.core.lays.cut_plans import Lengths, plan_fabrics
from planner.core.lays.learnt import Learnt
from planner.core.lays.model import Mode
from planner.core.lays.rows import first_marker
from planner.core.lays.single_sizes import job_of, single_outcome, still_to_nest
from planner.core.lays.standing import as_it_stands
from planner.core.lays.stored import marker_key
from planner.core.lays.wishes import PlanFacts, facts_from_json, facts_to_json
from planner.core.spec import LayTimes
from tests.core.makers import JERSEY, make_cloth, make_shop, wanted

TIMES = LayTimes(setup=10, spread=1, spread_metre=0, mark_piece=0.5, cut_piece=1, rate_per_hour=Decimal("30"))
SHOP = make_shop(jersey=make_cloth(end_allowance_mm=20), times=TIMES, table_length_mm=2500, most_plies=2)
DEMAND = [wanted(2, size) for size in ("S", "M", "L")]


def facts_at(share: float, nested: dict[str, float] | None = None) -> PlanFacts:
    learnt = Learnt(tuple((n, share) for n in range(1, 13)))
    plans = plan_fabrics(DEMAND, SHOP, lengths=Lengths(nested or {}, {"jersey": learnt}))
    return next(plan.facts for plan in plans if plan.fabric == "jersey")


def test_which_lays_they_are_does_not_depend_on_what_was_learnt() -> None:
    lays = [
        [(one.garment.size, one.per_marker, one.spreads, one.key) for one in facts_at(share).single_lays]
        for share in (0.6, 0.75, 0.8, 0.9)
    ]
    assert [len({key for *_, key in told}) for told in lays] == [3] * 4
    assert lays[0] == lays[1] == lays[2] == lays[3]


def test_nested_lengths_stand_whatever_is_learnt_meanwhile() -> None:
    """A marker each: 3 lays of 2 plies, of 700, 800 and 900 mm with 40 mm of ends: 2 × (2,400 + 120) = 5,040 mm.

    3 × (10 + 2) minutes and 3 × 4 pieces × 1.5 at 30.00 an hour are 27.00, the cloth 50.40.
    """
    singles = facts_at(0.8).single_lays
    assert [one.per_marker for one in singles] == [1, 1, 1]
    nested = {one.key: 700.0 + 100 * n for n, one in enumerate(singles)}
    for share in (0.6, 0.8):
        single = facts_at(share, nested).single
        assert (single.lays, single.spreads, single.nested) == (3, 6, 3)
        assert single.cloth_mm == pytest.approx(5040.0)
        assert single.minutes == pytest.approx(54.0)
        assert float(single.cost) == pytest.approx(77.40)


def test_some_nested_some_estimated() -> None:
    singles = facts_at(0.8).single_lays
    nested = {singles[0].key: 700.0}
    told = single_outcome(singles, SHOP, nested)
    rest = sum(2 * (one.estimated_mm + 40) for one in singles[1:])
    assert (told.nested, told.cloth_mm) == (1, pytest.approx(2 * 740 + rest))
    assert list(still_to_nest((*singles, *singles), nested)) == list(singles[1:])


def test_their_markers_can_be_asked_for_from_what_is_stored() -> None:
    facts = facts_from_json(facts_to_json(facts_at(0.8)))
    assert facts == facts_at(0.8)
    for one in facts.single_lays:
        job = job_of(one, SHOP)
        assert marker_key(job) == one.key
        assert len(job.items) == one.pieces == 4 * one.per_marker


def test_one_size_alone_is_held_against_nothing() -> None:
    plans = plan_fabrics([wanted(4)], SHOP)
    facts = next(plan.facts for plan in plans if plan.fabric == "jersey")
    assert (facts.single_lays, facts.single) == ((), facts.best)


def test_facts_of_before_are_read() -> None:
    data = facts_to_json(facts_at(0.8))
    for name in ("reason", "single_lays", "singles_done"):
        del data[name]
    old = facts_from_json(data)
    assert (old.reason, old.single_lays, old.singles_done) == (None, (), False)


def test_the_best_of_what_anybody_would_think_of() -> None:
    """At most two plies, and a table for three: 4 M in two plies of two, 3 S in one ply of three, a lay each."""
    learnt = Learnt(tuple((n, 0.8) for n in range(1, 13)))
    plans = plan_fabrics([wanted(4, "M"), wanted(3, "S")], SHOP, lengths=Lengths(learnt={"jersey": learnt}))
    facts = next(plan.facts for plan in plans if plan.fabric == "jersey")
    told = {(one.garment.size, one.per_marker, one.spreads[0][1]) for one in facts.single_lays}
    assert told == {("M", 2, 2), ("S", 3, 1)}


def test_a_plan_of_very_many_garments_is_no_dearer_than_its_single_sizes() -> None:
    """There are too many markers to go through in the time. Formerly rib bands of 2,500 tops of each size came in more
    lays than those of single sizes, for more money."""
    shop = make_shop(times=TIMES, table_length_mm=3000, most_plies=60)
    plans = plan_fabrics([wanted(2500, size) for size in ("S", "M", "L")], shop, seconds=1, compare=False)
    costs = {plan.fabric: (float(plan.facts.best.cost), float(plan.facts.single.cost)) for plan in plans}
    assert set(costs) == {"jersey", "rib"}
    for best, single in costs.values():
        assert best <= single * (1 + 1e-9)


@pytest.mark.parametrize("is_whole", [True, False])
def test_single_sizes_that_come_out_cheaper_in_the_end_are_taken(
    monkeypatch: pytest.MonkeyPatch, is_whole: bool
) -> None:
    """Markers of several sizes use 60 % of the cloth, of one size 90 %, which nobody knows before they are nested.

    So they are where not all fabrics can be planned anew, for there is no time to nest what that would take.
    """

    def nested(job: Any, **_: Any) -> Any:
        share = 0.6 if len({item.size for item in job.items}) > 1 else 0.9
        laid = first_marker(job)
        return replace(
            laid, length_mm=laid.length_mm * laid.efficiency / share, efficiency=share, how="nested"
        )

    monkeypatch.setattr(nestings, "nest_ruled", nested)
    if not is_whole:
        monkeypatch.setattr(settle.Settler, "_can_take", lambda _, __, again: len(again) == 1)
    learnt = {"jersey": Learnt(tuple((n, 0.6) for n in range(1, 13)))}
    settler = settle.Settler(DEMAND[:2], SHOP, {}, Lengths(learnt=learnt), None, 1, None, None)
    plans, lays = settler.settle()
    jersey = next(plan for plan in plans if plan.fabric == "jersey").facts
    assert jersey.best.cost <= jersey.single.cost
    assert {len(set(one.planned.plies[0].slots)) for one in lays if one.planned.fabric == "jersey"} == {1}
    assert [one.number for one in lays] == list(range(1, len(lays) + 1))


@pytest.mark.parametrize("mode", ["face_to_face", "folded"])
def test_in_two_layers_a_garment_more_is_cut_of_single_sizes_too(mode: Mode) -> None:
    """Two S, two M and one L, of which one more may be cut: two layers give them in twos, so three lays of two."""
    shop = replace(SHOP, cloths={**SHOP.cloths, JERSEY: replace(SHOP.cloths[JERSEY], modes=(mode,))})
    demand = [*DEMAND[:2], replace(wanted(1, "L"), extra_allowed=1)]
    for plan in plan_fabrics(demand, shop):
        if plan.fabric == "jersey":
            assert sum(lay.garments_per_marker * lay.spreads for lay in plan.lays) == 6
            told = {(one.garment.size, one.per_marker, one.spreads[0][1]) for one in plan.facts.single_lays}
            assert told == {("S", 2, 1), ("M", 2, 1), ("L", 2, 1)}
            assert plan.facts.single.lays == 3


def test_where_there_are_no_single_sizes_a_plan_that_stands_is_held_against_nothing() -> None:
    """Formerly against the estimate of the plan that could have been had."""
    plans = plan_fabrics([wanted(4)], SHOP)
    could = next(plan.facts for plan in plans if plan.fabric == "jersey")
    kept = replace(could, best=replace(could.best, cloth_mm=could.best.cloth_mm - 100))
    stands = as_it_stands(kept, could)
    assert (stands.single_lays, stands.single.cloth_mm) == ((), kept.best.cloth_mm)


def test_each_size_alone_is_looked_for_once_a_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of 10,000 garments it took a fifth of the time of a plan, which begins from them and is held against them."""
    asked: list[int] = []
    found = single_sizes._best_alone
    monkeypatch.setattr(
        single_sizes, "_best_alone", lambda question, kind: asked.append(kind) or found(question, kind)
    )
    assert len(facts_at(0.8).single_lays) == 3
    # Jersey and the cloths that go with it, each with its own kinds.
    plans = plan_fabrics(DEMAND, SHOP)
    asked.clear()
    for plan in plans:
        only = [one.fabric for one in plan_fabrics(DEMAND, SHOP, only={plan.fabric})]
        assert only == [plan.fabric]
        assert sorted(asked) == sorted(set(asked)), "no kind twice"
        asked.clear()
