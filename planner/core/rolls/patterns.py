"""Whole fillings of equal rolls, for many rolls of few lengths.

A filling counts the plies of every lay on one roll; how often each is used is the unknown, so that equal rolls are
never told apart. Two facts keep them few. A filling that could take one ply more is left out: what is filled
beyond demand is simply not cut. And a place for a long ply may be given a shorter one of a lay that fits
wherever the longer does, so a filling with room for the longer is left out too. That is exact where every remnant is
thrown away, for then waste is the length of rolls opened less that of plies; where remnants are kept
it is a good start and its bound says nothing.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from planner.core.highs import Programme
from planner.core.rolls.exact import AT_ONCE, WITH_PRESOLVE, Found, equal_stretches, solve_for
from planner.core.rolls.simple import Choice
from planner.core.rolls.stretches import FINE, SHORT_WEIGHT, Puzzle
from planner.core.rolls.tally import tally

#: Beyond so many fillings, or steps to find them, the question is none for this method.
MOST_FILLINGS, MOST_STEPS = 6000, 100_000
#: Share of the time for the first answer; the rest is for rolls of less length.
FIRST_SHARE = 0.15


class _TooManyError(Exception):
    """More fillings than are worth asking about."""


@dataclass(frozen=True)
class _Group:
    """Equal rolls, and the fillings of one of them by lay."""

    stretches: tuple[int, ...]
    length: int
    opening: float
    fillings: tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class _Lays:
    """The lays by length, and for each the lay whose places it may take: a longer one, or none."""

    puzzle: Puzzle

    @cached_property
    def order(self) -> tuple[int, ...]:
        """Long plies first."""
        return tuple(sorted(range(len(self.puzzle.ply)), key=lambda i: (-self.puzzle.ply[i], i)))

    @cached_property
    def longer(self) -> dict[int, int]:
        """For each lay the next longer one that fits only where this one fits too."""
        found: dict[int, int] = {}
        for at, j in enumerate(self.order):
            for i in reversed(self.order[:at]):
                if all(b or not a for a, b in zip(self.puzzle.most[i], self.puzzle.most[j], strict=True)):
                    found[j] = i
                    break
        return found

    @cached_property
    def useful(self) -> tuple[int, ...]:
        """Most places of each lay that anybody can use: its own plies and those that may take its places."""
        counts = [wanted.plies for wanted in self.puzzle.question.wanted]
        for j in reversed(self.order):
            if j in self.longer:
                counts[self.longer[j]] += counts[j]
        return tuple(counts)


def solve_by_fillings(
    puzzle: Puzzle, seconds: float, *, should_stop: Callable[[], bool] | None = None
) -> Found | None:
    """A choice of whole fillings; None where the question is not one of whole rolls and free plies, or too large.

    Once nothing is short, rolls of less length in all are asked for until there are none. The bound holds where no
    remnant is kept, else it is minus infinity. Raises NoSolver.
    """
    wanted = puzzle.question.wanted
    if any(w.plies_per_spread > 1 or w.one_lot for w in wanted):
        return None
    if any(len(stretches) > 1 for stretches in puzzle.of_roll.values()):
        return None
    ends = time.monotonic() + seconds
    try:
        model = _Model(puzzle)
    except _TooManyError:
        return None
    found = model.solve((ends - time.monotonic()) * FIRST_SHARE, should_stop)
    while (
        found.choice is not None
        and math.isfinite(found.bound)
        and not found.is_optimal
        and not any(tally(puzzle, found.choice).short)
        and (left := ends - time.monotonic()) > 0.05
        and not (should_stop is not None and should_stop())
    ):
        total = model.length_opened(found.choice)
        less = model.solve(left, should_stop, below=total)
        if less.choice is None or any(tally(puzzle, less.choice).short):
            bound = max(found.bound, min(less.bound, model.least_for(total)))
            return Found(found.choice, bound, is_optimal=less.is_optimal)
        found = Found(less.choice, max(found.bound, less.bound if less.is_optimal else 0.0), is_optimal=False)
    return found


class _Model:
    """The programme: how often each filling is used, and how many places of a lay a shorter one takes."""

    def __init__(self, puzzle: Puzzle) -> None:
        self.puzzle = puzzle
        self.lays = _Lays(puzzle)
        self.groups = _groups(puzzle, self.lays)
        self.unit = math.gcd(*(group.length for group in self.groups)) or 1
        self.keeps_none = all(stretch.length < puzzle.keep_from for stretch in puzzle.stretches)

    def solve(
        self, seconds: float, should_stop: Callable[[], bool] | None, *, below: int | None = None
    ) -> Found:
        """The best choice, of rolls of less length in all than `below` if given; that ends where nothing is short."""
        programme, times, given_on = self._programme()
        enough = None
        if below is not None:
            terms = [(y, group.length / self.unit) for y, (group, _) in times.items()]
            programme.row(terms, high=below // self.unit - 1)
            enough = SHORT_WEIGHT * min(self.puzzle.ply) / FINE
        found = solve_for(seconds, programme, replace(AT_ONCE, good_enough=enough), should_stop=should_stop)
        choice = None
        if found.values is not None:
            counts = [round(value) for value in found.values]
            used = [(*times[y], counts[y]) for y in times if counts[y]]
            given = {j: counts[t] for j, t in given_on.items()}
            choice = _choice_of(self.puzzle, self.lays, used, given)
        return Found(choice, self._bound(found.bound * FINE), found.is_optimal)

    def _programme(self) -> tuple[Programme, dict[int, tuple[_Group, tuple[int, ...]]], dict[int, int]]:
        """With it which column is which filling, and which is what a lay takes of the next longer one's places."""
        programme, wanted = Programme(), self.puzzle.question.wanted
        times: dict[int, tuple[_Group, tuple[int, ...]]] = {}
        terms: list[list[tuple[int, float]]] = [[] for _ in wanted]
        for group in self.groups:
            own = []
            for filling in group.fillings:
                y = programme.column((group.length + group.opening) / FINE, len(group.stretches))
                times[y] = group, filling
                own.append((y, 1.0))
                for i, count in enumerate(filling):
                    terms[i].append((y, float(count)))
            programme.row(own, high=len(group.stretches))
        given_on: dict[int, int] = {}
        for j, i in self.lays.longer.items():
            t = given_on[j] = programme.column(0.0, self.lays.useful[j])
            terms[i].append((t, -1.0))
            terms[j].append((t, 1.0))
        for i, w in enumerate(wanted):
            short = programme.column((SHORT_WEIGHT + 1) * self.puzzle.ply[i] / FINE, w.plies)
            programme.row([*terms[i], (short, 1.0)], low=w.plies)
        return programme, times, given_on

    def length_opened(self, choice: Choice) -> int:
        """Length of all rolls that are cut from."""
        return sum(self.puzzle.stretches[k].length for k in {k for _, k in choice})

    def least_for(self, total: int) -> float:
        """What rolls of at least this length in all come to, plies left out of account but for their length."""
        programme = Programme()
        columns = [
            (programme.column((group.length + group.opening) / FINE, len(group.stretches)), group)
            for group in self.groups
        ]
        programme.row([(y, group.length / self.unit) for y, group in columns], low=total // self.unit)
        return self._bound(solve_for(5.0, programme, WITH_PRESOLVE).bound * FINE)

    def _bound(self, cost: float) -> float:
        """From the length of rolls opened to what is minimised; lots cost at least one a lay where none is short."""
        if not self.keeps_none:
            return -math.inf
        wanted = self.puzzle.question.wanted
        value = cost - sum(w.plies * ply for w, ply in zip(wanted, self.puzzle.ply, strict=True))
        if value >= SHORT_WEIGHT * min(self.puzzle.ply):
            return value
        return value + self.puzzle.lot_change * sum(1 for w in wanted if w.plies)


def _groups(puzzle: Puzzle, lays: _Lays) -> list[_Group]:
    """Equal rolls with all their fillings. Raises _TooManyError."""
    groups, total, steps = [], 0, [0]
    for equal in equal_stretches(puzzle):
        fillings = []
        for filling in _fillings(puzzle, lays, equal[0], steps):
            fillings.append(filling)
            total += 1
            if total > MOST_FILLINGS:
                raise _TooManyError
        stretch = puzzle.stretches[equal[0]]
        groups.append(_Group(tuple(equal), stretch.length, puzzle.opening[stretch.roll], tuple(fillings)))
    return groups


def _fillings(puzzle: Puzzle, lays: _Lays, k: int, steps: list[int]) -> Iterator[tuple[int, ...]]:
    """Fillings of a stretch that leave no room for a ply more, nor for a longer ply in place of another."""
    fitting = [i for i in lays.order if puzzle.most[i][k] and lays.useful[i]]
    counts = [0] * len(puzzle.ply)

    def deal(at: int, room: int) -> Iterator[tuple[int, ...]]:
        steps[0] += 1
        if steps[0] > MOST_STEPS:
            raise _TooManyError
        i = fitting[at]
        most = min(room // puzzle.ply[i], lays.useful[i])
        is_last = at == len(fitting) - 1
        for count in range(most, most - 1 if is_last else -1, -1):
            counts[i] = count
            left = room - count * puzzle.ply[i]
            if not is_last:
                yield from deal(at + 1, left)
            elif not _takes_more(puzzle, lays, fitting, counts, left):
                yield tuple(counts)
        counts[i] = 0

    if fitting:
        yield from deal(0, puzzle.stretches[k].length)


def _takes_more(puzzle: Puzzle, lays: _Lays, fitting: list[int], counts: list[int], left: int) -> bool:
    """Whether a ply fits in what is left, or a longer one in place of another."""
    for j in fitting:
        if counts[j] < lays.useful[j] and puzzle.ply[j] <= left:
            return True
        i = lays.longer.get(j)
        if (
            i is not None
            and counts[j]
            and counts[i] < lays.useful[i]
            and i in fitting
            and puzzle.ply[i] - puzzle.ply[j] <= left
        ):
            return True
    return False


def _choice_of(
    puzzle: Puzzle,
    lays: _Lays,
    used: list[tuple[_Group, tuple[int, ...], int]],
    given_on: dict[int, int],
) -> Choice:
    """Fillings onto the rolls of their group, and plies into their places; places beyond demand stay empty."""
    places: dict[int, list[int]] = {i: [] for i in lays.order}
    next_of = {group.stretches[0]: iter(group.stretches) for group, _, _ in used}
    for group, filling, times in used:
        for _ in range(times):
            k = next(next_of[group.stretches[0]])
            for i, count in enumerate(filling):
                places[i] += [k] * count
    choice: Counter[tuple[int, int]] = Counter()
    for i in lays.order:
        plies = puzzle.question.wanted[i].plies
        choice.update((i, k) for k in places[i][:plies])
        spare = places[i][plies:]
        for j in lays.order:
            if lays.longer.get(j) == i:
                places[j] += spare[: given_on[j]]
                spare = spare[given_on[j] :]
    return dict(choice)
