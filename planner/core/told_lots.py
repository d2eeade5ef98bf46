"""Which spreads of a lay are cut, and of which shade lot: as told at the table, else as planned.

Spreads count from 0, the bottom one, within plies of a lay that are marked alike and planned from one choice of rolls.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import count, islice


@dataclass(frozen=True, slots=True)
class ToldSpreads:
    """Spreads told at the table in one go, and when that was taken back, if it was.

    `shade_lot` is that of the `roll` they came from, "" where the roll's was not noted; None where no roll was named,
    so that they are taken to be as planned.
    """

    spreads: int
    shade_lot: str | None
    told_at: datetime
    back_at: datetime | None = None
    roll: str = ""


#: What was told of each lay by its section: for each of its plies (of one marking) in the order told.
Told = Mapping[int, Sequence[Sequence[ToldSpreads]]]


def told_places(told: Sequence[ToldSpreads]) -> dict[int, ToldSpreads]:
    """What the table told of spreads, by their places from the bottom; places of which nothing told still holds are
    left out.

    Plies are numbered in the order they are spread, so what is told first lies lowest: each telling takes the lowest
    places that are free when it comes. What is taken back leaves its places free, and what is told after that, mostly
    the same put right, takes them. `told` is in the order told.
    """
    placed: list[tuple[ToldSpreads, tuple[int, ...]]] = []
    for one in told:
        held = {
            place
            for other, places in placed
            if other.back_at is None or other.back_at > one.told_at
            for place in places
        }
        free = (place for place in count() if place not in held)
        placed.append((one, tuple(islice(free, one.spreads))))
    return {place: one for one, places in placed if one.back_at is None for place in places}


def told_each(count: int, told: Sequence[ToldSpreads]) -> list[ToldSpreads | None]:
    """What the table told of each of `count` spreads from the bottom; None for those that are not cut.

    Where a lay was ended after some of its spreads were cut, only those are left of it.
    """
    places = told_places(told)
    if len(places) == count:
        places = dict(enumerate(one for _, one in sorted(places.items())))
    return [places.get(place) for place in range(count)]


def lot_of(planned: str, told: ToldSpreads | None) -> str:
    """The shade lot of a spread, "" where it is not known: what is told stands before the plan."""
    return planned if told is None or told.shade_lot is None else told.shade_lot
