"""Where plies promised from one roll lie on it: in its stretches between flaws, never across one. Lengths are mm."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from planner.core.rolls.assign import assign_plies
from planner.core.rolls.model import PliesWanted, RollQuestion, RollThere
from planner.core.rolls.stretches import FINE, fine, free_stretches

#: Time for one roll (s): few plies lie on one.
SECONDS = 1.0
#: A tape is no more exact than this: plies that together are longer than their roll by no more still count as fitting
#: (mm).
BY_TAPE_MM = 50.0
#: A piece of a roll no longer than this counts as nothing (mm).
NOTHING_MM = 1.0


@dataclass(frozen=True, slots=True)
class PliesPromised:
    """Plies of one length that one roll is to give. `plies_per_spread` is 2 where cloth lies face to face."""

    ply_mm: float
    plies: int
    plies_per_spread: int = 1

    @property
    def length_mm(self) -> float:
        """All of them one after the other."""
        return self.ply_mm * self.plies


@dataclass(frozen=True, slots=True)
class RunOnRoll:
    """`plies` of one promise (its place among those asked for) one after the other, from `from_mm` to `to_mm`.

    `lost_mm` of the roll are cut off before them, behind what lies before: a flaw, and what is too short for a ply.
    """

    promise: int
    plies: int
    from_mm: float
    to_mm: float
    lost_mm: float = 0.0


@dataclass(frozen=True)
class Placed:
    """Where they lie: `runs` from the outer end inwards. Of each promise so many plies are `short`, for no stretch of
    the roll is left that takes them."""

    runs: tuple[RunOnRoll, ...]
    short: tuple[int, ...]

    @property
    def taken(self) -> tuple[tuple[float, float], ...]:
        """The stretches (from, to) they lie in."""
        return tuple((run.from_mm, run.to_mm) for run in self.runs)

    @property
    def lost_mm(self) -> float:
        """What is cut off between them and before the first: flaws, and pieces too short for the next ply."""
        return sum(run.lost_mm for run in self.runs)

    @property
    def fits(self) -> bool:
        """Whether every ply has its place."""
        return not any(self.short)


def place_promised(
    length_mm: float, flaws: Sequence[tuple[float, float]], promised: Sequence[PliesPromised]
) -> Placed:
    """Where the plies lie on a roll of this length with these flaws (from, to), so that as few as possible are short.

    They lie in the order given, which is that of cutting: each behind the one before or, where a flaw is in its way,
    behind that. Only where not all fit like that they lie as :func:`assign_plies` places them, no ply spliced or across
    a flaw.
    """
    return _place(length_mm, tuple(flaws), tuple(promised))


def less_promised(roll: RollThere, promised: Sequence[PliesPromised]) -> RollThere | None:
    """What is left of a roll beside plies promised from it, see :func:`less_taken`. The plies may be longer than the
    roll by the error of a tape (:data:`BY_TAPE_MM`)."""
    taken = place_promised(roll.length_mm + BY_TAPE_MM, roll.flaws, promised).taken
    return less_taken(roll, taken) if taken else roll


def less_taken(roll: RollThere, taken: Iterable[tuple[float, float]]) -> RollThere | None:
    """What is left of a roll beside stretches (from, to) that will be cut off; None where that is nothing.

    Stretches at its outer end make it shorter. Those further in, behind a flaw, are of no use to others and are added
    to its flaws.
    """
    taken = list(taken)
    used = _joined([*((max(low, 0.0), high) for low, high in roll.flaws if high > 0.0), *taken])
    is_outer = any(low <= NOTHING_MM for low, _ in taken)
    gone_mm = used[0][1] if is_outer else 0.0
    if roll.length_mm - gone_mm <= NOTHING_MM:
        return None
    flaws = tuple((max(low - gone_mm, 0.0), high - gone_mm) for low, high in used if high > gone_mm)
    return replace(roll, length_mm=roll.length_mm - gone_mm, flaws=flaws, is_end=roll.is_end or bool(taken))


def _joined(ranges: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Ranges that touch or overlap as one, from the outer end."""
    found: list[tuple[float, float]] = []
    for low, high in sorted(ranges):
        if found and low <= found[-1][1] + NOTHING_MM:
            found[-1] = found[-1][0], max(found[-1][1], high)
        else:
            found.append((low, high))
    return found


@lru_cache(maxsize=1024)
def _place(
    length_mm: float, flaws: tuple[tuple[float, float], ...], promised: tuple[PliesPromised, ...]
) -> Placed:
    stretches = free_stretches(length_mm, flaws)
    runs = _in_order(stretches, promised)
    if runs is not None:
        return Placed(runs, (0,) * len(promised))
    wanted = tuple(
        PliesWanted(f"{n}", one.ply_mm, one.plies, plies_per_spread=one.plies_per_spread)
        for n, one in enumerate(promised)
        if one.plies and one.ply_mm > 0
    )
    if not stretches:
        return Placed((), tuple(one.plies for one in promised))
    # Only whether they fit is asked, so nothing counts as waste.
    question = RollQuestion(wanted, (RollThere("roll", length_mm, flaws=flaws),), keep_from_mm=0.0)
    found = assign_plies(question, seconds=SECONDS)
    short = {one.wanted: one.plies for one in found.short}
    at_mm, along = 0.0, []
    for cut in sorted(found.cuts, key=lambda one: one.from_mm):
        along.append(
            RunOnRoll(int(cut.wanted), cut.plies, cut.from_mm, cut.to_mm, max(cut.from_mm - at_mm, 0.0))
        )
        at_mm = cut.to_mm
    return Placed(tuple(along), tuple(short.get(f"{n}", 0) for n in range(len(promised))))


def _in_order(
    stretches: Sequence[tuple[float, float]], promised: Sequence[PliesPromised]
) -> tuple[RunOnRoll, ...] | None:
    """One ply behind the other, none before one that comes first; None where not all find a place so."""
    left = [(fine(low), fine(high)) for low, high in stretches]
    runs: list[RunOnRoll] = []
    at = 0
    for n, one in enumerate(promised):
        found = lie_behind(left, at, one)
        if found is None:
            return None
        for count, end, lost in found:
            runs.append(RunOnRoll(n, count, (end - count * fine(one.ply_mm)) / FINE, end / FINE, lost / FINE))
            at = end
    return tuple(runs)


def lie_behind(
    stretches: Sequence[tuple[int, int]], at: int, promised: PliesPromised
) -> list[tuple[int, int, int]] | None:
    """Where plies lie behind what is cut up to `at`, in the stretches (from, to) of a roll: of those one after the
    other how many they are, up to where, and what is lost before them. None where not all find a place. Lengths are
    hundredths of a mm.
    """
    ply, plies = fine(promised.ply_mm), promised.plies
    found: list[tuple[int, int, int]] = []
    if not plies or ply <= 0:
        return found
    for start, high in stretches:
        low = max(start, at)
        count = min((high - low) // ply, plies)
        if count > 0:
            end = low + count * ply
            found.append((count, end, low - at))
            at, plies = end, plies - count
            if not plies:
                return found
    return None
