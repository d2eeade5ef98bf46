"""The whole question as one whole-number programme, or the part of it that a few rolls are about.

Minimise 1000 × length short + waste + what rolls, reaching further and lots cost, as `tally` counts them:
x plies of a lay from a stretch, z whether a stretch is reached, k whether its remnant is kept, w its waste,
s spreads short, v whether a lay uses a lot, m its spreads from a roll.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

from planner.core.highs import MARGIN_SECONDS, Programme, Solved, Ways, solve
from planner.core.rolls.simple import Choice
from planner.core.rolls.stretches import FINE, SHORT_WEIGHT, Puzzle
from planner.core.rolls.tally import used_by_stretch

#: Lengths go to the solver in metres, costs in millimetres: both near 1, as it likes them.
METRE = 1000 * FINE


#: Lengths are in metres, costs in millimetres of waste, so the gap is 2 µm of it. Presolve pays, except where there are
#: few rows and many columns.
WITH_PRESOLVE = Ways(absolute_gap=0.002, presolve=True, feasibility=None)
AT_ONCE = replace(WITH_PRESOLVE, presolve=False, symmetry=False)
#: The solver is asked for no less (s).
LEAST_SECONDS = 0.05


@dataclass(frozen=True, slots=True)
class Found:
    """A choice, None where nothing was found in time, and the bound in hundredths of a millimetre."""

    choice: Choice | None
    bound: float
    is_optimal: bool


def solve_exactly(
    puzzle: Puzzle,
    seconds: float,
    *,
    start: Choice,
    should_stop: Callable[[], bool] | None = None,
    free_rolls: Collection[int] | None = None,
) -> Found:
    """The best choice within `seconds`, not worse than `start`, and the bound that was reached.

    `free_rolls`: only plies on these rolls may change, the others stay as in `start`; the bound then holds
    for that question only. Raises NoSolver.
    """
    model = _Model(puzzle, start, free_rolls)
    found = solve_for(
        seconds, model.programme, WITH_PRESOLVE, should_stop=should_stop, start=model.values_of(start)
    )
    choice = None
    if found.values is not None:
        counts = {place: round(found.values[column]) for place, column in model.plies.items()}
        choice = {place: count for place, count in counts.items() if count}
    return Found(choice, found.bound * FINE, found.is_optimal)


def solve_for(
    seconds: float,
    programme: Programme,
    ways: Ways,
    *,
    should_stop: Callable[[], bool] | None = None,
    start: Mapping[int, float] | None = None,
) -> Solved:
    """The best within `seconds`, for which it is asked at least for a moment. Raises NoSolver."""
    deadline = time.monotonic() + max(seconds, LEAST_SECONDS) + MARGIN_SECONDS
    return solve(programme, deadline=deadline, should_stop=should_stop, start=start, ways=ways)


class _Model:
    """The programme and which column is what."""

    def __init__(self, puzzle: Puzzle, start: Choice, free_rolls: Collection[int] | None) -> None:
        self.puzzle = puzzle
        self.programme = Programme()
        self.plies: dict[tuple[int, int], int] = {}
        self.reached: dict[int, int] = {}
        self.kept: dict[int, int] = {}
        self.wasted: dict[int, int] = {}
        self.short: dict[int, int] = {}
        self.lots: dict[tuple[int, str], int] = {}
        self.spreads: dict[tuple[int, int], int] = {}
        self._add_plies(start, free_rolls)
        self._add_stretches()
        self._add_demand()
        self._add_lots()
        self._add_whole_spreads()
        self.is_ordered = free_rolls is None
        if self.is_ordered:
            self._order_equal_rolls()

    def _add_plies(self, start: Choice, free_rolls: Collection[int] | None) -> None:
        for i, row in enumerate(self.puzzle.most):
            for k, most in enumerate(row):
                if not most:
                    continue
                is_free = free_rolls is None or self.puzzle.stretches[k].roll in free_rolls
                there = start.get((i, k), 0)
                if is_free or there:
                    low, high = (0, most) if is_free else (there, there)
                    self.plies[i, k] = self.programme.column(0.0, high, low=low)

    def _add_stretches(self) -> None:
        """Reached stretches follow one another inwards; a remnant is kept whole, or wasted."""
        puzzle, add = self.puzzle, self.programme
        on_stretch: dict[int, list[tuple[int, float]]] = {}
        for (i, k), column in self.plies.items():
            on_stretch.setdefault(k, []).append((column, puzzle.ply[i] / METRE))
        for roll, stretches in puzzle.of_roll.items():
            if not any(k in on_stretch for k in stretches):
                continue
            for n, k in enumerate(stretches):
                length = puzzle.stretches[k].length / METRE
                cost = puzzle.reach if n else puzzle.opening[roll]
                z = self.reached[k] = add.column(cost / FINE, 1)
                w = self.wasted[k] = add.column(1000.0, min(length, puzzle.keep_from / METRE), whole=False)
                used = on_stretch.get(k, [])
                if n:
                    add.row([(z, 1.0), (self.reached[stretches[n - 1]], -1.0)], high=0.0)
                add.row([*used, (z, -length)], high=0.0)
                for column, _ in used:
                    add.row([(column, 1.0), (z, -add.high[column])], high=0.0)
                wasted = [*used, (w, 1.0), (z, -length)]
                if puzzle.stretches[k].length >= puzzle.keep_from:
                    kept = self.kept[k] = add.column(0.0, 1)
                    add.row([*used, (kept, puzzle.keep_from / METRE), (z, -length)], high=0.0)
                    wasted.append((kept, length))
                add.row(wasted, low=0.0)

    def _add_demand(self) -> None:
        for i, wanted in enumerate(self.puzzle.question.wanted):
            each = wanted.plies_per_spread
            cost = SHORT_WEIGHT * each * self.puzzle.ply[i] / FINE
            s = self.short[i] = self.programme.column(cost, wanted.plies // each)
            terms = [(column, 1.0) for (lay, _), column in self.plies.items() if lay == i]
            self.programme.row([*terms, (s, float(each))], low=wanted.plies, high=wanted.plies)

    def _add_lots(self) -> None:
        """What another lot in a lay costs."""
        puzzle, add = self.puzzle, self.programme
        by_lot: dict[tuple[int, str], list[int]] = {}
        for (i, k), column in self.plies.items():
            by_lot.setdefault((i, puzzle.stretches[k].lot), []).append(column)
        for (i, lot), columns in by_lot.items():
            wanted = puzzle.question.wanted[i]
            terms = [(column, 1.0) for column in columns]
            v = self.lots[i, lot] = add.column(puzzle.lot_change / FINE, 1)
            add.row([*terms, (v, -float(wanted.plies))], high=0.0)
        for i, wanted in enumerate(puzzle.question.wanted):
            if wanted.one_lot:
                add.row([(v, 1.0) for (lay, _), v in self.lots.items() if lay == i], high=1.0)

    def _add_whole_spreads(self) -> None:
        """From each roll whole spreads."""
        by_roll: dict[tuple[int, int], list[int]] = {}
        for (i, k), column in self.plies.items():
            if self.puzzle.question.wanted[i].plies_per_spread > 1:
                by_roll.setdefault((i, self.puzzle.stretches[k].roll), []).append(column)
        for (i, roll), columns in by_roll.items():
            wanted = self.puzzle.question.wanted[i]
            each = wanted.plies_per_spread
            m = self.spreads[i, roll] = self.programme.column(0.0, wanted.plies // each)
            self.programme.row([*((column, 1.0) for column in columns), (m, -float(each))], low=0.0, high=0.0)

    def _order_equal_rolls(self) -> None:
        """Among equal rolls, each gives at least as much as the next, so that only one order of them is searched."""
        pairs = [pair for equal in equal_stretches(self.puzzle) for pair in pairwise(equal)]
        for one, other in pairs:
            if one not in self.reached or other not in self.reached:
                continue
            self.programme.row(
                [(column, self.puzzle.ply[i] / METRE) for (i, k), column in self.plies.items() if k == other]
                + [
                    (column, -self.puzzle.ply[i] / METRE) for (i, k), column in self.plies.items() if k == one
                ],
                high=0.0,
            )
            self.programme.row([(self.reached[other], 1.0), (self.reached[one], -1.0)], high=0.0)

    def values_of(self, choice: Choice) -> Mapping[int, float]:
        """The columns of a choice, which is complete: a start for the solver."""
        puzzle = self.puzzle
        choice = in_order(puzzle, choice) if self.is_ordered else choice
        values: dict[int, float] = {}
        used = [0] * len(puzzle.stretches)
        given = [0] * len(puzzle.ply)
        for (i, k), count in choice.items():
            values[self.plies[i, k]] = count
            used[k] += count * puzzle.ply[i]
            given[i] += count
            stretch = puzzle.stretches[k]
            values[self.lots[i, stretch.lot]] = 1.0
            if (i, stretch.roll) in self.spreads:
                column = self.spreads[i, stretch.roll]
                values[column] = values.get(column, 0.0) + count / puzzle.question.wanted[i].plies_per_spread
        for i, wanted in enumerate(puzzle.question.wanted):
            values[self.short[i]] = (wanted.plies - given[i]) / wanted.plies_per_spread
        for stretches in puzzle.of_roll.values():
            last = max((n for n, k in enumerate(stretches) if used[k]), default=-1)
            for k in stretches[: last + 1]:
                left = puzzle.stretches[k].length - used[k]
                values[self.reached[k]] = 1.0
                if left >= puzzle.keep_from:
                    values[self.kept[k]] = 1.0
                else:
                    values[self.wasted[k]] = left / METRE
        return values


def equal_stretches(puzzle: Puzzle) -> list[list[int]]:
    """Stretches that are whole rolls, grouped by what they can do: which of a group gives what is all one."""
    groups: dict[tuple[object, ...], list[int]] = {}
    for roll, stretches in puzzle.of_roll.items():
        if len(stretches) == 1:
            k = stretches[0]
            stretch = puzzle.stretches[k]
            most = tuple(row[k] for row in puzzle.most)
            groups.setdefault((stretch.length, stretch.lot, puzzle.opening[roll], most), []).append(k)
    return list(groups.values())


def in_order(puzzle: Puzzle, choice: Choice) -> Choice:
    """The same choice with equal rolls exchanged so that the first gives most."""
    used = used_by_stretch(puzzle, choice)
    place = {k: k for k in range(len(puzzle.stretches))}
    for group in equal_stretches(puzzle):
        for k, target in zip(sorted(group, key=lambda k: -used[k]), group, strict=True):
            place[k] = target
    return {(i, place[k]): count for (i, k), count in choice.items()}
