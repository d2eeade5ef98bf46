"""Whole fillings of equal rolls, against the whole question asked at once."""

import math
import random

import pytest

from planner.core.rolls import PliesWanted, RollQuestion, RollThere, assign_plies
from planner.core.rolls import assign as assign_module
from planner.core.rolls.exact import solve_exactly
from planner.core.rolls.patterns import solve_by_fillings
from planner.core.rolls.simple import assign_simply
from planner.core.rolls.stretches import make_puzzle
from planner.core.rolls.tally import broken_rules, tally
from tests.core.test_rolls import ask, check


def _equal_rolls(seed):
    """Two or three lengths of rolls, some narrow, and lays of which some are wide; every remnant is thrown away."""
    chance = random.Random(seed)
    wanted = [
        PliesWanted(
            f"lay {n}", chance.randint(7, 30) * 100.0, chance.randint(1, 6), chance.choice((0, 0, 1400.0))
        )
        for n in range(3)
    ]
    lengths = [chance.randint(30, 70) * 100.0 for _ in range(3)]
    rolls = [
        RollThere(f"{n}-{m}", length, usable_width_mm=1300.0 if n == 2 else None)
        for n, length in enumerate(lengths)
        for m in range(chance.randint(1, 3))
    ]
    return RollQuestion(tuple(wanted), tuple(rolls), math.inf)


@pytest.mark.parametrize("seed", range(10))
def test_fillings_find_the_same_optimum_as_the_whole_question(seed):
    puzzle = make_puzzle(_equal_rolls(seed))
    found = solve_by_fillings(puzzle, 20.0)
    assert found.is_optimal
    assert broken_rules(puzzle, found.choice) == []
    whole = solve_exactly(puzzle, 20.0, start=assign_simply(puzzle))
    assert whole.is_optimal
    best = tally(puzzle, whole.choice)
    assert tally(puzzle, found.choice).value == pytest.approx(best.value, abs=5.0)
    assert found.bound <= best.value + 0.5


def test_a_place_for_a_long_ply_takes_a_shorter_one():
    """Three rolls of 2 m for 2 plies of 1 m and 4 of 0.9 m: the only filling is two places of 1 m."""
    question = ask([(1000.0, 2), (900.0, 4)], [2000.0] * 3, math.inf)
    puzzle = make_puzzle(question)
    found = solve_by_fillings(puzzle, 10.0)
    assert tally(puzzle, found.choice).short == (0, 0)
    assert tally(puzzle, found.choice).waste == 40000


def test_many_rolls_are_asked_for_fillings_first():
    question = ask(
        [(2300.0, 20), (1700.0, 20), (900.0, 10)], [12000.0] * 5 + [9000.0] * 5 + [5000.0] * 6, math.inf
    )
    answer = assign_plies(question, seconds=4.0)
    check(question, answer)
    assert not answer.short
    # 89 m are wanted; rolls of 12, 9 and 5 m make up 89 m in several ways, so nothing need be wasted but what
    # no filling avoids; the plain rule wastes metres.
    puzzle = make_puzzle(question)
    assert answer.waste_mm < tally(puzzle, assign_simply(puzzle)).waste / 100
    assert answer.method in {"patterns", "exact", "search"}


def test_fillings_leave_questions_alone_that_are_not_theirs():
    flawed = ask([(1000.0, 2)], [RollThere("r", 5000.0, flaws=((2000.0, 2100.0),))], math.inf)
    assert solve_by_fillings(make_puzzle(flawed), 1.0) is None
    for wanted in (PliesWanted("a", 900.0, 2, plies_per_spread=2), PliesWanted("a", 900.0, 2, one_lot=True)):
        assert solve_by_fillings(make_puzzle(ask([wanted], [5000.0], math.inf)), 1.0) is None
    many = ask([(30.0 + n, 99) for n in range(9)], [90000.0], math.inf)
    assert solve_by_fillings(make_puzzle(many), 1.0) is None


def test_where_remnants_are_kept_fillings_promise_nothing(monkeypatch):
    question = ask([(2300.0, 8), (1700.0, 6)], [9000.0] * 4, 500.0)
    found = solve_by_fillings(make_puzzle(question), 5.0)
    assert found.bound == -math.inf
    monkeypatch.setattr(assign_module, "MOST_ROLLS_EXACT", 0)
    check(question, assign_plies(question, seconds=2.0))
