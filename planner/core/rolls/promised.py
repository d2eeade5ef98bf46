"""Where plies promised from one roll lie on it: in its stretches between flaws, never across one. Lengths are mm."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from planner.core.rolls.assign import assign_plies
from planner.core.rolls.model import PliesWanted, RollQuestion, RollThere
from planner.core.rolls.stretches import free_stretches

#: Time for one roll (s): few plies lie on one.
SECONDS = 1.0
#: Metres are measured with a tape: so little that is missing of a roll is nothing to speak of (mm).
BY_TAPE_MM = 50.0
#: So short a piece of a roll is nothing (mm).
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


@dataclass(frozen=True)
class Placed:
    """Where they lie: `taken` are stretches (from, to) from the outer end. Of each promise so many plies are `short`,
    for no stretch of the roll is left that takes them."""

    taken: tuple[tuple[float, float], ...]
    short: tuple[int, ...]

    @property
    def fits(self) -> bool:
        """Whether every ply has its place."""
        return not any(self.short)


def place_promised(
    length_mm: float, flaws: Sequence[tuple[float, float]], promised: Sequence[PliesPromised]
) -> Placed:
    """The plies on a roll so long with flaws there (from, to), so that as little as possible of them is short.

    Without flaws they lie one after the other from the outer end; with flaws as :func:`assign_plies` places them, no
    ply spliced or across one.
    """
    return _place(length_mm, tuple(flaws), tuple(promised))


def less_promised(roll: RollThere, promised: Sequence[PliesPromised]) -> RollThere | None:
    """What of a roll is there beside plies promised from it, see :func:`less_taken`; they may be short by what a tape
    is out."""
    taken = place_promised(roll.length_mm + BY_TAPE_MM, roll.flaws, promised).taken
    return less_taken(roll, taken) if taken else roll


def less_taken(roll: RollThere, taken: Iterable[tuple[float, float]]) -> RollThere | None:
    """What of a roll is there beside stretches (from, to) that are cut off; None where that is nothing.

    At its outer end it is shorter by them. Further in, behind a flaw, they are of as little use to others as that is,
    and stand among its flaws.
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
    total_mm = sum(one.length_mm for one in promised)
    stretches = free_stretches(length_mm, flaws)
    if stretches == [(0.0, length_mm)] and total_mm <= length_mm:
        return Placed(((0.0, total_mm),) if total_mm else (), (0,) * len(promised))
    wanted = tuple(
        PliesWanted(f"{n}", one.ply_mm, one.plies, plies_per_spread=one.plies_per_spread)
        for n, one in enumerate(promised)
        if one.plies and one.ply_mm > 0
    )
    if not wanted or not stretches:
        return Placed((), tuple(one.plies for one in promised))
    # Only whether they fit is asked, so nothing counts as waste.
    question = RollQuestion(wanted, (RollThere("roll", length_mm, flaws=flaws),), keep_from_mm=0.0)
    found = assign_plies(question, seconds=SECONDS)
    short = {one.wanted: one.plies for one in found.short}
    return Placed(
        tuple((cut.from_mm, cut.to_mm) for cut in found.cuts),
        tuple(short.get(f"{n}", 0) for n in range(len(promised))),
    )
