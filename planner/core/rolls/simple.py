"""Plies onto rolls by plain rules: the start of every search, and the answer where no solver can be asked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import product

from planner.core.rolls.stretches import Puzzle
from planner.core.rolls.tally import tally

Choice = dict[tuple[int, int], int]


def assign_simply(puzzle: Puzzle) -> Choice:
    """The best of a few plain rules: long plies first, from rolls begun or short, or where least is left."""
    lays = range(len(puzzle.ply))
    orders = (
        sorted(lays, key=lambda i: -puzzle.ply[i]),
        sorted(lays, key=lambda i: -puzzle.ply[i] * puzzle.question.wanted[i].plies),
        sorted(lays, key=lambda i: sum(1 for most in puzzle.most[i] if most)),
    )
    rules = (_begun_first, _least_left, _long_first, _short_first)
    choices = [_Filling(puzzle).fill(order, rule) for order, rule in product(orders, rules)]
    return min(choices, key=lambda choice: tally(puzzle, choice).value)


class _Filling:
    """Rolls while they are being filled, lay by lay."""

    def __init__(self, puzzle: Puzzle) -> None:
        self.puzzle = puzzle
        self.free = [stretch.length for stretch in puzzle.stretches]
        self.opened: set[int] = set()
        self.choice: Choice = {}

    def fill(
        self, order: Sequence[int], rule: Callable[[_Filling, int, int, int], tuple[float, ...]]
    ) -> Choice:
        """Plies for every lay in the order given, as many as the rolls give."""
        for i in order:
            self._fill_lay(i, rule)
        return self.choice

    def _fill_lay(self, i: int, rule: Callable[[_Filling, int, int, int], tuple[float, ...]]) -> None:
        wanted = self.puzzle.question.wanted[i]
        missing = wanted.plies
        for lot in self._lots(i):
            take = min(missing, self._lot_room(i, lot))
            missing -= take
            while take:
                places = [k for k in self.puzzle.of_lot[lot] if self._room(i, k) and self._roll_room(i, k)]
                k = min(places, key=lambda k: rule(self, i, k, take))
                take -= self._cut_spreads(i, k, take)
            if wanted.one_lot and missing < wanted.plies:
                return

    def _lots(self, i: int) -> list[str]:
        """Shade lots, the one that gives most plies of the lay first."""
        wanted = self.puzzle.question.wanted[i].plies
        rooms = {lot: min(self._lot_room(i, lot), wanted) for lot in self.puzzle.of_lot}
        return sorted(rooms, key=lambda lot: (-rooms[lot], lot))

    def _room(self, i: int, k: int) -> int:
        return min(self.free[k] // self.puzzle.ply[i], self.puzzle.most[i][k])

    def _roll_room(self, i: int, k: int) -> int:
        """Plies of the lay, in whole spreads, that the roll of this stretch still gives."""
        each = self.puzzle.question.wanted[i].plies_per_spread
        stretches = self.puzzle.of_roll[self.puzzle.stretches[k].roll]
        return sum(self._room(i, own) for own in stretches) // each * each

    def _lot_room(self, i: int, lot: str) -> int:
        one_of_each = {self.puzzle.stretches[k].roll: k for k in self.puzzle.of_lot[lot]}
        return sum(self._roll_room(i, k) for k in one_of_each.values())

    def _cut_spreads(self, i: int, k: int, take: int) -> int:
        """Cuts up to `take` plies, whole spreads, from a stretch; what is missing of the last spread from the others of
        its roll. How many were cut."""
        each = self.puzzle.question.wanted[i].plies_per_spread
        most = min(take, self._roll_room(i, k))
        count = min(most, -(-self._room(i, k) // each) * each)
        left = count
        for own in (k, *self.puzzle.of_roll[self.puzzle.stretches[k].roll]):
            here = min(left, self._room(i, own))
            if here:
                self._cut(i, own, here)
                left -= here
        return count

    def _cut(self, i: int, k: int, count: int) -> None:
        self.free[k] -= count * self.puzzle.ply[i]
        self.choice[i, k] = self.choice.get((i, k), 0) + count
        self.opened.add(self.puzzle.stretches[k].roll)

    def is_begun(self, k: int) -> bool:
        """Whether the roll is an end, or has been cut from."""
        roll = self.puzzle.stretches[k].roll
        return roll in self.opened or self.puzzle.question.rolls[roll].is_end


def _begun_first(filling: _Filling, i: int, k: int, take: int) -> tuple[float, ...]:
    return not filling.is_begun(k), filling.free[k], k


def _least_left(filling: _Filling, i: int, k: int, take: int) -> tuple[float, ...]:
    puzzle = filling.puzzle
    left = filling.free[k] - min(take, filling._room(i, k)) * puzzle.ply[i]
    return puzzle.remnant_waste(left), not filling.is_begun(k), left, k


def _long_first(filling: _Filling, i: int, k: int, take: int) -> tuple[float, ...]:
    return not filling.is_begun(k), -filling.free[k], k


def _short_first(filling: _Filling, i: int, k: int, take: int) -> tuple[float, ...]:
    return filling.free[k], k
