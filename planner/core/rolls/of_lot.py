"""Plies that must all be of one shade lot and are short: which lot in stock gives part of them, and what it lacks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from planner.core.rolls.assign import assign_plies
from planner.core.rolls.model import PliesShort, PliesWanted, RollQuestion, RollThere


@dataclass(frozen=True, slots=True)
class MoreOfLot:
    """`given` plies of what is wanted are there in `shade_lot`; with the plies `missing` of that lot all are."""

    wanted: str
    shade_lot: str
    given: int
    missing: PliesShort


def more_of_lots(
    wanted: Sequence[PliesWanted], rolls: Sequence[RollThere], *, seconds: float = 1.0
) -> tuple[MoreOfLot, ...]:
    """For all wanted of which one lot in stock gives some plies and not all: that lot, used as well as it can be.

    Rolls whose lot nobody noted are left out, for more of such a lot cannot be asked for. What no lot gives a ply
    of, or one gives all of, is not told.
    """
    named = tuple(roll for roll in rolls if roll.shade_lot)
    question = RollQuestion(tuple(replace(one, one_lot=True) for one in wanted), named)
    found = assign_plies(question, seconds=seconds)
    more = []
    for short in found.short:
        # Of one lot, so at most one is named here.
        for lot, given in found.plies_by_lot(short.wanted).items():
            more.append(MoreOfLot(short.wanted, lot, given, short))
    return tuple(more)
