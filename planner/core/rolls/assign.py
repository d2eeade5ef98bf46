"""Which lay takes how many plies from which roll: the one way in."""

from __future__ import annotations

import time
from collections.abc import Callable

from planner.core.rolls.exact import solve_exactly
from planner.core.rolls.model import Method, RollAnswer, RollQuestion
from planner.core.rolls.search import search
from planner.core.rolls.simple import Choice, assign_simply
from planner.core.rolls.solver import NoSolverError
from planner.core.rolls.stretches import SHORT_WEIGHT, Puzzle, make_puzzle
from planner.core.rolls.tally import make_answer, tally

#: A value so near the bound (hundredths of a millimetre) counts as proven, for the solver reckons in floats.
SAME = 5.0
#: Most unknown plies the whole question is asked with at once.
MOST_UNKNOWN = 6000
#: Share of the time that is tried exactly before the search begins.
EXACT_SHARE = 0.5


def assign_plies(
    question: RollQuestion, *, seconds: float = 5.0, should_stop: Callable[[], bool] | None = None
) -> RollAnswer:
    """Plies onto rolls and ends: least short, then least waste, then fewest rolls opened, ends and short rolls first.

    No ply is spliced or lies across a flaw; a roll narrower than the lay gives it nothing; the plies of a
    spread share a shade lot. Answers within `seconds`, or soon after `should_stop` says so, with the best found:
    `is_proven` says that no answer is better, else `gap_mm` how much better one could be. Without a solver a
    plain rule answers (`method` "simple"). Model and checks: plies onto rolls as a cutting-stock programme with
    rolls of several lengths, remnants and flaws.
    """
    began = time.monotonic()
    puzzle = make_puzzle(question)
    choice = assign_simply(puzzle)
    bound, is_proven = least_value(puzzle), False
    method: Method = "simple"
    if tally(puzzle, choice).value <= bound + 0.001:
        is_proven = True
    else:
        try:
            choice, bound, is_proven, method = _improve(puzzle, choice, bound, began + seconds, should_stop)
        except NoSolverError:
            method = "simple"
    return make_answer(
        puzzle,
        choice,
        bound=bound,
        is_proven=is_proven,
        method=method,
        seconds=time.monotonic() - began,
    )


def _improve(
    puzzle: Puzzle, choice: Choice, bound: float, ends: float, should_stop: Callable[[], bool] | None
) -> tuple[Choice, float, bool, Method]:
    """Exactly first; what that does not prove is searched on."""
    method: Method = "exact"
    unknown = sum(1 for row in puzzle.most for most in row if most)
    if unknown <= MOST_UNKNOWN:
        left = ends - time.monotonic()
        found = solve_exactly(puzzle, left * EXACT_SHARE, start=choice, should_stop=should_stop)
        bound = max(bound, found.bound)
        if found.choice is not None and tally(puzzle, found.choice).value <= tally(puzzle, choice).value:
            choice = found.choice
        if found.is_optimal and tally(puzzle, choice).value <= bound + SAME:
            return choice, bound, True, method
    left = ends - time.monotonic()
    better = search(puzzle, choice, left, bound=bound, should_stop=should_stop)
    if tally(puzzle, better).value < tally(puzzle, choice).value:
        choice, method = better, "search"
    return choice, bound, tally(puzzle, choice).value <= bound + SAME, method


def least_value(puzzle: Puzzle) -> float:
    """What no choice can undercut, by counting: plies that fit nowhere or exceed all cloth, and one roll opened."""
    short = 0
    for i, wanted in enumerate(puzzle.question.wanted):
        fit = min(puzzle.can_give[i], wanted.plies) // wanted.plies_per_spread * wanted.plies_per_spread
        short += (wanted.plies - fit) * puzzle.ply[i]
    wanted_length = sum(
        wanted.plies * ply for wanted, ply in zip(puzzle.question.wanted, puzzle.ply, strict=True)
    )
    short = max(short, wanted_length - sum(stretch.length for stretch in puzzle.stretches))
    gets = [i for i, wanted in enumerate(puzzle.question.wanted) if wanted.plies and puzzle.can_give[i]]
    opening = 0.0
    if gets and short < wanted_length:
        opening = min(puzzle.opening[stretch.roll] for stretch in puzzle.stretches)
    lots = puzzle.lot_change * len(gets) if short == 0 else 0.0
    return SHORT_WEIGHT * short + opening + lots
