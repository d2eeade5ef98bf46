"""In which order lays are cut from rolls with flaws, so that least of these is lost. Lengths are mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from planner.core.rolls.promised import PliesPromised, lie_behind
from planner.core.rolls.stretches import fine, free_stretches

#: Of up to so many lays every order is looked through.
MOST_EXACT = 7
#: With more lays, so many are tried as the next one.
MOST_TRIED = 12
#: The loss counted for plies that find no place behind those before them (hundredths of a mm): more than can ever be
#: lost.
_NO_PLACE = 10**12
#: Stands for where a roll is cut to once plies have no place on it.
_OUT = -1


@dataclass(frozen=True, slots=True)
class LayOnRolls:
    """A lay: by roll (its place among those asked about) the plies that it is to give, in the order they are cut.

    Lays of a lower `rank` are cut first, whatever is lost so.
    """

    plies: tuple[tuple[int, tuple[PliesPromised, ...]], ...]
    rank: int = 0


@dataclass(frozen=True, slots=True)
class FlawedRoll:
    """A roll with flaws (from, to), as :func:`planner.core.rolls.place_promised` takes them."""

    length_mm: float
    flaws: tuple[tuple[float, float], ...]


@lru_cache(maxsize=256)
def orders_losing_least(
    rolls: tuple[FlawedRoll, ...], batches: tuple[tuple[LayOnRolls, ...], ...]
) -> tuple[tuple[int, ...], ...]:
    """For each batch, the order in which its lays (by their places in it) lose least at the flaws of the rolls.

    Batches are cut one after the other. The lays of a batch are given in the order in which they would be cut
    otherwise, and that order stands wherever no other loses less. A lay is cut as a whole, and its plies lie as
    `place_promised` says, each behind the one before. Up to :data:`MOST_EXACT` lays that share rolls are put into the
    best order there is. Of more, the next lay is always the one that loses least if all others then follow as given; so
    no batch loses more than as given. Lays that are cut already may be left out: the others keep the order they have
    here.
    """
    found, state = [], (0,) * len(rolls)
    cutting = _Cutting(rolls)
    for lays in batches:
        order = list(range(len(lays)))
        for own in _sharing_rolls(lays):
            # Each group keeps the turns it has among the others.
            best = _Batch(cutting, [lays[n] for n in own]).order(state)
            for turn, n in zip(own, best, strict=True):
                order[turn] = own[n]
        for n in order:
            state, _ = cutting.cut(state, lays[n])
        found.append(tuple(order))
    return tuple(found)


#: Up to where each roll is cut, in hundredths of a mm.
_State = tuple[int, ...]


class _Cutting:
    """Rolls that lays are cut from one after the other."""

    def __init__(self, rolls: Sequence[FlawedRoll]) -> None:
        self.stretches = [
            [(fine(low), fine(high)) for low, high in free_stretches(roll.length_mm, roll.flaws)]
            for roll in rolls
        ]

    def cut(self, state: _State, lay: LayOnRolls) -> tuple[_State, int]:
        """Up to where the rolls are cut once this lay is, and what is lost before its plies."""
        after, lost = list(state), 0
        for roll, plies in lay.plies:
            for one in plies:
                at = after[roll]
                runs = None if at == _OUT else lie_behind(self.stretches[roll], at, one)
                if runs is None:
                    lost += _NO_PLACE if at != _OUT else 0
                    after[roll] = _OUT
                    break
                lost += sum(run_lost for _, _, run_lost in runs)
                after[roll] = max([at, *(end for _, end, _ in runs)])
        return tuple(after), lost

    def is_behind_flaws(self, state: _State, rolls: Sequence[int]) -> bool:
        """Whether no flaw is left on these rolls, so that the order of lays no longer matters there."""
        return all(
            state[roll] == _OUT or not self.stretches[roll] or state[roll] >= self.stretches[roll][-1][0]
            for roll in rolls
        )


class _Batch:
    """Lays of a batch that share rolls."""

    def __init__(self, cutting: _Cutting, lays: Sequence[LayOnRolls]) -> None:
        self.cutting, self.lays = cutting, lays
        self.rolls = sorted({roll for lay in lays for roll, _ in lay.plies})
        self.least = cache(self._least)

    def order(self, state: _State) -> list[int]:
        """Which lay is cut after which."""
        left, order = tuple(range(len(self.lays))), []
        while left:
            n = self.least(left, state)[1] if len(left) <= MOST_EXACT else self._next_of_many(left, state)
            order.append(n)
            left = tuple(one for one in left if one != n)
            state, _ = self.cutting.cut(state, self.lays[n])
        return order

    def _next_of_many(self, left: tuple[int, ...], state: _State) -> int:
        """The next one with which least is lost where all others follow as given."""
        lost = {
            n: self._lost_as_given([n, *(one for one in left if one != n)], state)
            for n in self._may_be_next(left)[:MOST_TRIED]
        }
        return min(lost, key=lambda n: lost[n])

    def _may_be_next(self, left: Sequence[int]) -> list[int]:
        """Which of these may come next: of those alike the first."""
        rank = min(self.lays[n].rank for n in left)
        found: dict[LayOnRolls, int] = {}
        for n in left:
            if self.lays[n].rank == rank:
                found.setdefault(self.lays[n], n)
        return list(found.values())

    def _least(self, left: tuple[int, ...], state: _State) -> tuple[int, int]:
        """What these lose at least, and the first of those that may come next for it."""
        tried = self._may_be_next(left)
        if len(left) == 1 or self.cutting.is_behind_flaws(state, self.rolls):
            return self._lost_as_given(left, state), tried[0]
        best: tuple[int, int] | None = None
        for n in tried:
            after, lost = self.cutting.cut(state, self.lays[n])
            lost += self.least(tuple(one for one in left if one != n), after)[0]
            if best is None or lost < best[0]:
                best = lost, n
        assert best is not None
        return best

    def _lost_as_given(self, order: Sequence[int], state: _State) -> int:
        lost = 0
        for n in order:
            state, more = self.cutting.cut(state, self.lays[n])
            lost += more
        return lost


def _sharing_rolls(lays: Sequence[LayOnRolls]) -> list[list[int]]:
    """The lays (by their places) in groups that have no roll in common."""
    groups: list[tuple[set[int], list[int]]] = []
    for n, lay in enumerate(lays):
        rolls, own = {roll for roll, _ in lay.plies}, [n]
        apart = []
        for other, members in groups:
            if other & rolls:
                rolls |= other
                own += members
            else:
                apart.append((other, members))
        groups = [*apart, (rolls, sorted(own))]
    return [members for _, members in groups]
