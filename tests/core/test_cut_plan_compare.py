"""What a plan saves, why it has no fewer lays, and what choices cost."""

from dataclasses import replace

import pytest

from planner.core.cut_plan.compare import difference, price_of_choices, size_by_size, why
from planner.core.cut_plan.model import FixedLay
from planner.core.cut_plan.solve import solve
from tests.core.cut_plan_makers import question

BATCH = question(
    [(2, 1), (4, 2), (6, 3)],
    objective="money",
    most_garments=6,
    most_plies=4,
    end_mm=20.0,
    per_lay_cost=100.0,
)


def test_size_by_size_gives_every_kind_lays_of_its_own():
    answer = size_by_size(BATCH)
    assert all(sum(1 for n in s.counts if n) == 1 for s in answer.sections)
    assert answer.lays == 3
    assert answer.is_proven


def test_the_saving_is_the_difference_of_the_two_plans():
    answer, baseline = solve(BATCH), size_by_size(BATCH)
    saving = why(BATCH, answer, baseline).saving
    assert answer.lays == 1
    assert saving.lays == 2
    assert saving.cloth_mm == pytest.approx(baseline.cloth_mm - answer.cloth_mm) == 120
    assert saving.cloth_share == pytest.approx(120 / baseline.cloth_mm)
    assert saving.cost == pytest.approx(120 + 2 * 100)
    assert saving.other_cost == pytest.approx(200)


def test_one_lay_fewer_would_need_more_garments_than_a_marker_takes():
    asked = replace(BATCH, most_garments=3)
    answer = solve(asked)
    fewer = why(asked, answer, size_by_size(asked)).fewer
    assert (answer.lays, fewer.lays, fewer.cause) == (2, 1, "counted")
    assert (fewer.needed_per_spread, fewer.most_per_spread, fewer.most_spreads) == (5, 3, 4)


def test_one_lay_fewer_may_be_ruled_out_only_by_going_through_all():
    asked = question([7, 11, 13], most_garments=4)
    answer = solve(asked)
    fewer = why(asked, answer, size_by_size(asked)).fewer
    assert (answer.lays, fewer.cause) == (3, "gone_through")
    assert fewer.needed_per_spread <= fewer.most_per_spread


def test_one_lay_fewer_may_be_had_but_costs_more():
    asked = question([97], most_garments=4, most_plies=100, per_lay_cost=10.0, objective="money")
    answer = solve(asked)
    fewest = solve(replace(asked, objective="fewest_lays"))
    told = why(asked, answer, size_by_size(asked), [fewest])
    assert (told.fewer.cause, told.fewer.lays) == ("dearer", 1)
    assert told.fewer.dearer.cost == pytest.approx(72 - 10)
    assert told.alternatives == (("fewest_lays", difference(asked, answer, fewest)),)


def test_kinds_apart_and_lays_kept_are_told_as_the_cause():
    apart = replace(BATCH, apart=(frozenset({0, 1}),))
    assert why(apart, solve(apart), size_by_size(apart)).fewer.cause == "apart"
    kept = question([2], keep=(FixedLay((1,), "open", (2,)),))
    assert why(kept, solve(kept), size_by_size(kept)).fewer.cause == "kept"


def test_every_choice_has_its_price():
    keep = FixedLay((1, 0, 0), "open", (1, 0))
    asked = replace(BATCH, apart=(frozenset({1, 2}),), keep=(keep,), most_plies=3)
    answer = solve(asked)
    prices = price_of_choices(asked, answer, plies_without=4)
    assert [p.sort for p in prices] == ["apart", "keep", "most_plies"]
    for price in prices:
        assert price.is_sure
        assert price.saved_without.cost >= 0
    assert prices[0].saved_without.lays > 0
