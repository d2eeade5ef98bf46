"""Numbers of rolls. Papers, tickets and warnings name a roll by its number alone, so it is given once in a cloth."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

from planner.materials.models import Roll

#: No number is longer: what the column holds.
LONGEST = 40


def is_taken(fabric_id: int, number: str) -> bool:
    """Whether a roll of this cloth bears the number already, in whatever letters and colour."""
    return number.casefold() in _taken(fabric_id)


def number_for(roll: Roll, fabric_id: int) -> str:
    """ "R13" for a roll that came in without one; the next that is free where somebody has typed that for another."""
    return _first_free(fabric_id, (f"R{n}" for n in count(roll.pk)))


def number_of_end(roll: Roll, fabric_id: int) -> str:
    """ "R13-2" for an end cut off roll R13, "R13-3" for the next; a long number is shortened before that."""
    suffixes = (f"-{n}" for n in count(2))
    return _first_free(fabric_id, (roll.number[: LONGEST - len(suffix)] + suffix for suffix in suffixes))


def _first_free(fabric_id: int, numbers: Iterator[str]) -> str:
    taken = _taken(fabric_id)
    return next(number for number in numbers if number.casefold() not in taken)


def _taken(fabric_id: int) -> set[str]:
    named = Roll.objects.filter(fabric_colour__fabric=fabric_id)
    return {number.casefold() for number in named.values_list("number", flat=True)}
