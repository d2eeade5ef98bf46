"""Rolls of plies as they are read: what these are planned from, and what is kept for them besides."""

from __future__ import annotations

from planner.cutting.models import LayCloth, LayRoll


def planned_rolls(cloth: LayCloth) -> list[LayRoll]:
    """The rolls that plies are planned from, from the bottom up; what is kept for them besides is left out. No query
    where they were read with it.
    """
    found, left = [], cloth.spreads
    for one in cloth.rolls.all():
        if left > 0:
            found.append(one)
        left -= one.spreads
    return found


def kept_rolls(cloth: LayCloth) -> list[LayRoll]:
    """The rolls that are kept for plies that are all to be bought: they give a part of them, which must not be cut
    before the others are there of the same shade lot. Nobody else is promised them meanwhile.
    """
    return list(cloth.rolls.all())[len(planned_rolls(cloth)) :]
