"""Which lay takes how many plies from which roll: the one way in."""

from __future__ import annotations

import time
from collections.abc import Callable

from planner.core.highs import NoSolver
from planner.core.rolls.exact import Found, solve_exactly
from planner.core.rolls.model import Method, RollAnswer, RollQuestion
from planner.core.rolls.patterns import solve_by_fillings
from planner.core.rolls.search import search
from planner.core.rolls.simple import Choice, assign_simply
from planner.core.rolls.stretches import SHORT_WEIGHT, Puzzle, make_puzzle
from planner.core.rolls.tally import make_answer, tally

#: A value so near the bound (hundredths of a millimetre) counts as proven, for the solver reckons in floats.
SAME = 5.0
#: The whole question is asked at once only where it has at most so many unknowns: counts of plies of a lay on a
#: stretch.
MOST_UNKNOWN = 6000
#: With up to so many rolls the whole question is asked first, with more whole fillings are; and for what share of the
#: time.
MOST_ROLLS_EXACT = 14
EXACT_SHARE, PATTERNS_SHARE = 0.6, 0.8


def assign_plies(
    question: RollQuestion, *, seconds: float = 5.0, should_stop: Callable[[], bool] | None = None
) -> RollAnswer:
    """Plies onto rolls and ends: least short, then least waste, then fewest rolls opened, ends and short rolls first.

    No ply is spliced or lies across a flaw; a roll narrower than the lay gives it nothing; the plies of a
    spread come from one roll. Answers within `seconds`, or soon after `should_stop` says so, with the best found:
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
        except NoSolver:
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
    """Exactly where that can be hoped for, by whole fillings where rolls are many; then the search goes on."""
    best = _Best(puzzle, choice, bound, ends)
    steps: list[tuple[Method, float]]
    if len(puzzle.of_roll) <= MOST_ROLLS_EXACT:
        steps = [("exact", EXACT_SHARE), ("patterns", 0.3)]
    else:
        steps = [("patterns", PATTERNS_SHARE), ("exact", 0.3)]
    for method, share in steps:
        best.take(method, share, should_stop)
        if best.is_proven:
            return best.choice, best.bound, True, best.method
    better = search(puzzle, best.choice, best.left, bound=best.bound, should_stop=should_stop)
    best.offer(better, "search")
    return best.choice, best.bound, best.is_proven, best.method


class _Best:
    """The best choice so far, which way it was found, and the best bound."""

    def __init__(self, puzzle: Puzzle, choice: Choice, bound: float, ends: float) -> None:
        self.puzzle, self.choice, self.bound, self.ends = puzzle, choice, bound, ends
        self.value = tally(puzzle, choice).value
        self.method: Method = "simple"
        self.is_proven = False

    @property
    def left(self) -> float:
        """Seconds that are left."""
        return max(self.ends - time.monotonic(), 0.0)

    def take(self, method: Method, share: float, should_stop: Callable[[], bool] | None) -> None:
        """Asks the solver one way, for a share of the time that is left."""
        found: Found | None = None
        if method == "patterns":
            found = solve_by_fillings(self.puzzle, self.left * share, should_stop=should_stop)
        elif sum(1 for row in self.puzzle.most for most in row if most) <= MOST_UNKNOWN:
            found = solve_exactly(self.puzzle, self.left * share, start=self.choice, should_stop=should_stop)
        if found is None:
            return
        self.bound = max(self.bound, found.bound)
        if found.choice is not None:
            self.offer(found.choice, method)
        # The method that proved the choice is named, even where the plain rule had found it.
        if found.is_optimal and self.is_proven:
            self.method = method

    def offer(self, choice: Choice, method: Method) -> None:
        """Takes a choice over where it is better."""
        value = tally(self.puzzle, choice).value
        if value < self.value:
            self.choice, self.value, self.method = choice, value, method
        self.is_proven = self.value <= self.bound + SAME


def least_value(puzzle: Puzzle) -> float:
    """What no choice can undercut, by counting: plies that fit nowhere or exceed all cloth, and rolls to open."""
    short = 0
    for i, wanted in enumerate(puzzle.question.wanted):
        fit = min(puzzle.can_give[i], wanted.plies)
        short += (wanted.plies - fit) * puzzle.ply[i]
    wanted_length = sum(
        wanted.plies * ply for wanted, ply in zip(puzzle.question.wanted, puzzle.ply, strict=True)
    )
    short = max(short, wanted_length - sum(stretch.length for stretch in puzzle.stretches))
    gets = [i for i, wanted in enumerate(puzzle.question.wanted) if wanted.plies and puzzle.can_give[i]]
    lots = puzzle.lot_change * len(gets) if short == 0 else 0.0
    return SHORT_WEIGHT * short + _least_opening(puzzle, wanted_length - short) + lots


def _least_opening(puzzle: Puzzle, length: int) -> float:
    """What opening costs at least for plies of this length: as many rolls as the longest of them would be."""
    holds = [sum(puzzle.stretches[k].length for k in stretches) for stretches in puzzle.of_roll.values()]
    rolls = 0
    for held in sorted(holds, reverse=True):
        if length <= 0:
            break
        length -= held
        rolls += 1
    return sum(sorted(puzzle.opening[roll] for roll in puzzle.of_roll)[:rolls])
