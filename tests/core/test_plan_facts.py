"""What a cut plan says of itself, on figures that can be checked with a pencil."""

from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import pytest

from planner.core.cut_plan.solve import solve
from planner.core.lays import fabric_planner, plan_facts
from planner.core.lays.cut_plans import Lengths, plan_fabrics
from planner.core.lays.learnt import Learnt
from planner.core.lays.stored import marker_key
from planner.core.lays.wishes import Wishes, facts_from_json, facts_to_json
from planner.core.spec import LayTimes
from tests.core.makers import make_cloth, make_shop, wanted

#: Every marker of jersey comes out at 80 %: a top in M takes 860,000 / 1,400 / 0.8 = 767.9 mm.
AT_80 = Lengths(learnt={"jersey": Learnt(tuple((n, 0.8) for n in range(1, 13)), "from twelve lays")})
TIMES = LayTimes(setup=10, spread=1, spread_metre=0, mark_piece=0.5, cut_piece=1, rate_per_hour=Decimal("30"))


def jersey_plan(demand, wish=None, lengths=AT_80, **shop):
    shop = make_shop(jersey=make_cloth(end_allowance_mm=20), times=TIMES, **shop)
    plans = plan_fabrics(demand, shop, wishes={"jersey": wish or Wishes()}, lengths=lengths)
    return next(plan for plan in plans if plan.fabric == "jersey")


def test_lays_cloth_minutes_and_money_of_a_plan():
    """4 tops, 2 a marker (1,535.8 mm on a table of 1.6 m), 2 plies: 1 lay, 2 × (1,535.8 + 40) = 3,151.6 mm at 10.00.

    10 min for the lay, 2 × 1 for the plies, 8 pieces × 1.5 = 12: 24 min at 30.00 an hour are 12.00.
    """
    facts = jersey_plan([wanted(4)], table_length_mm=1600, most_plies=2).facts
    assert (facts.best.lays, facts.best.spreads, facts.best.is_proven) == (1, 2, True)
    assert facts.best.cloth_mm == pytest.approx(3151.6, abs=0.1)
    assert facts.best.minutes == pytest.approx(24.0)
    assert float(facts.best.cost) == pytest.approx(31.516 + 12.0, abs=0.001)
    assert (facts.fewer, facts.nested, facts.how_lengths) == ("one", 0, "from twelve lays")


def test_what_only_explains_is_left_out_where_it_is_not_asked_for():
    """The plan is the same, and as proven; other aims, wishes and why not fewer lays are looked at another time."""
    shop = make_shop(jersey=make_cloth(end_allowance_mm=20), times=TIMES, table_length_mm=1600, most_plies=20)
    demand = [wanted(1, size) for size in ("S", "M", "L")]
    wish = Wishes(apart=(frozenset({("1", "S"), ("1", "M")}),))
    both = [
        plan_fabrics(demand, shop, wishes={"jersey": wish}, lengths=AT_80, only={"jersey"}, explain=explain)[
            0
        ]
        for explain in (True, False)
    ]
    told, bare = (plan.facts for plan in both)
    assert both[0].lays == both[1].lays
    assert (bare.best, bare.gap_share, bare.single) == (told.best, None, told.single)
    assert [len(one.others) for one in (told, bare)] == [2, 0]
    assert [len(one.prices) for one in (told, bare)] == [1, 0]


def test_a_plan_that_is_not_proven_is_held_against_others_all_the_same(monkeypatch):
    """One of another aim may be better by its own."""
    plain = fabric_planner.solve

    def unproven(question, **options):
        return replace(plain(question, **options), is_proven=False, gap_share=0.1)

    monkeypatch.setattr(fabric_planner, "solve", unproven)
    shop = make_shop(jersey=make_cloth(end_allowance_mm=20), times=TIMES)
    plan = plan_fabrics([wanted(4)], shop, lengths=AT_80, only={"jersey"}, explain=False)[0]
    assert len(plan.facts.others) == 2


def test_fewer_lays_are_ruled_out_by_counting():
    """10 tops, at most 2 a marker and 2 plies: 4 a lay, so 2 lays reach 8 and 3 are needed."""
    facts = jersey_plan([wanted(10)], Wishes(aim="fewest_lays"), table_length_mm=1600, most_plies=2).facts
    assert (facts.best.lays, facts.fewer, facts.garments) == (3, "counting", 10)
    assert (facts.most_garments, facts.most_layers) == (2, 2)
    # Three of S fit on 2.3 m, but only one is wanted: of 1 S and 9 M the table takes no more than two.
    mixed = jersey_plan([wanted(1, "S"), wanted(9)], table_length_mm=2300, most_plies=2).facts
    assert mixed.most_garments == 2
    assert jersey_plan([wanted(10, "S")], table_length_mm=2300, most_plies=2).facts.most_garments == 3


def test_single_sizes_are_what_the_plan_is_held_against():
    """2 of each of S, M and L: three lays of their own, one lay of two plies together."""
    facts = jersey_plan([wanted(2, s) for s in ("S", "M", "L")], table_length_mm=2500, most_plies=2).facts
    assert (facts.best.lays, facts.single.lays) == (1, 3)
    assert facts.single.minutes - facts.best.minutes == pytest.approx(2 * 10 + 4 * 1)


def test_a_wish_has_its_price():
    """S and M kept apart: two lays where one would do."""
    kinds = frozenset({("1", "S"), ("1", "M")})
    wish = Wishes(apart=(kinds,))
    facts = jersey_plan([wanted(2, "S"), wanted(2, "M")], wish, table_length_mm=2500, most_plies=2).facts
    assert facts.best.lays == 2
    (price,) = facts.prices
    assert (price.wish, price.kinds, price.without.lays) == ("apart", (("1", "M"), ("1", "S")), 1)


def test_without_any_time_a_wish_costs_what_is_known(monkeypatch):
    """S and M apart 3, 5 and 4 cost more: the cheaper plan of before is known still.

    A plan with the wish is one without it too, so where nothing else is known nothing dearer is told either.
    """
    demand = [wanted(n, size) for size, n in (("S", 3), ("M", 5), ("L", 4))]
    room = {"table_length_mm": 3300, "most_plies": 20}
    free = jersey_plan(demand, **room).facts
    monkeypatch.setattr(fabric_planner, "_WITHOUT_SHARE", 0.0)
    monkeypatch.setattr(plan_facts, "MOST_FOR_REASON", 0.0)
    wish = Wishes(apart=(frozenset({("1", "S"), ("1", "M")}),))
    for plans in ((), free.plans):
        facts = jersey_plan(demand, wish, lengths=replace(AT_80, plans={"jersey": plans}), **room).facts
        (price,) = facts.prices
        assert facts.best.cost > free.best.cost
        assert price.without.cost <= facts.best.cost
    assert (price.without.lays, price.without.cost) == (free.best.lays, free.best.cost)
    assert facts.plans[0] != free.plans[0]
    assert free.plans[0] in facts.plans


def test_plans_of_another_demand_are_no_plans_of_this_one():
    one = jersey_plan([wanted(3, "S"), wanted(2, "M")], table_length_mm=1600).facts
    known = replace(AT_80, plans={"jersey": one.plans})
    for demand in ([wanted(4, "S"), wanted(2, "M")], [wanted(5, "M")]):
        facts = jersey_plan(demand, lengths=known, table_length_mm=1600).facts
        assert facts.best == jersey_plan(demand, table_length_mm=1600).facts.best


def test_the_time_of_a_plan_is_shared_out(monkeypatch):
    """Though every search takes all it is given, the plan itself leaves 4 of 10 seconds, and other aims the last one.

    Its estimates are corrected after the first look, and looked at once more.
    """
    clock, given = [0.0], []

    def slow(question, *, seconds, **more):
        given.append(seconds)
        clock[0] += seconds
        return solve(question, seconds=5, **more)

    def jersey(lengths, wish=None):
        plans = plan_fabrics(
            demand, shop, lengths=lengths, only=["jersey"], wishes={"jersey": wish or Wishes()}
        )
        return next(iter(plans))

    shop = make_shop(table_length_mm=2500, most_plies=2)
    demand = [wanted(2, size) for size in ("S", "M", "L")]
    (lay,) = jersey(AT_80).lays
    nested = replace(AT_80, nested={marker_key(lay.job): lay.estimated_length_mm * 0.9})
    monkeypatch.setattr(fabric_planner, "time", SimpleNamespace(monotonic=lambda: clock[0]))
    monkeypatch.setattr(fabric_planner, "solve", slow)
    jersey(nested, Wishes(most_plies=2))
    first, second, *others = given
    assert (first, first + second) == (pytest.approx(3.6, abs=0.1), pytest.approx(4.8, abs=0.1))
    assert len(others) == 2
    assert clock[0] <= 9.0


def test_facts_survive_being_stored():
    facts = jersey_plan([wanted(3, "S"), wanted(2, "M")], Wishes(most_plies=1), table_length_mm=1600).facts
    assert facts.prices
    assert facts_from_json(facts_to_json(facts)) == facts


def test_what_was_nested_beats_the_usual_share():
    learnt = Learnt(((2, 0.8), (2, 0.84), (1, 0.7)), "here")
    assert learnt.at(2) == pytest.approx(0.82)
    assert learnt.at(1) == pytest.approx(0.7)
    # Of six nobody knows: the mean of all, each brought to many garments by the usual loss of small markers.
    assert learnt.at(6) == pytest.approx((0.8 / 0.95 + 0.84 / 0.95 + 0.7 / 0.95) / 3)
    assert Learnt().at(6) == pytest.approx(0.78)


def test_estimates_follow_what_was_nested_so_that_like_is_held_against_like():
    """Thought to come out at 50 % and nested at 80 %: single sizes are then reckoned at 80 % too."""
    at_50 = Lengths(learnt={"jersey": Learnt(tuple((n, 0.5) for n in range(1, 13)))})
    shop = make_shop(table_length_mm=2500, most_plies=2)
    demand = [wanted(2, size) for size in ("S", "M", "L")]

    def jersey(lengths):
        return next(p for p in plan_fabrics(demand, shop, lengths=lengths) if p.fabric == "jersey")

    (lay,) = jersey(AT_80).lays
    nested = {marker_key(lay.job): lay.estimated_length_mm}
    facts = jersey(replace(at_50, nested=nested)).facts
    assert (facts.best.lays, facts.best.nested, facts.single.nested) == (1, 1, 0)
    assert facts.single.cloth_mm == pytest.approx(facts.best.cloth_mm, rel=0.001)


def test_what_was_nested_is_preferred_to_what_promises_a_little_more():
    """Two lays were nested; one of all sizes saves making a lay ready, but nobody has nested it."""
    shop = make_shop(table_length_mm=4000, most_plies=2, times=replace(TIMES, setup=0.5))
    demand = [wanted(2, size) for size in ("S", "M", "L")]

    def plan(lengths, wish=None):
        plans = plan_fabrics(demand, shop, wishes={"jersey": wish or Wishes()}, lengths=lengths)
        return next(p for p in plans if p.fabric == "jersey")

    apart = plan(AT_80, Wishes(apart=(frozenset({("1", "S"), ("1", "M")}),)))
    nested = {marker_key(lay.job): lay.estimated_length_mm for lay in apart.lays}
    assert len(apart.lays) == 2
    assert len(plan(replace(AT_80, nested=nested)).lays) == 1
    found = plan(replace(AT_80, nested=nested, doubt=0.1))
    assert (len(found.lays), found.facts.nested) == (2, 2)
