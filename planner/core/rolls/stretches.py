"""Rolls as stretches free of flaws, in whole hundredths of a millimetre so that sums are exact."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from planner.core.rolls.model import RollQuestion, RollThere

#: Hundredths of a millimetre in a millimetre.
FINE = 100

#: What a ply short weighs against the same length of waste.
SHORT_WEIGHT = 1000
#: Ends before whole rolls, short before long, the outer stretch before the inner: shares of `opening_mm`
#: small enough to decide only between answers that are equal otherwise.
END_SHARE, LENGTH_SHARE, REACH_SHARE = 0.1, 0.05, 0.05


def fine(length_mm: float) -> int:
    """A length in whole hundredths of a millimetre."""
    return round(length_mm * FINE)


def free_stretches(length_mm: float, flaws: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """The stretches (from, to) of a roll without its flaws, from the outer end inwards.

    A flaw given the wrong way round is turned; what lies outside the roll is ignored. A flaw of no length
    still divides: no ply lies across it.
    """
    free: list[tuple[float, float]] = []
    at = 0.0
    for low, high in sorted((min(flaw), max(flaw)) for flaw in flaws):
        if high < 0.0 or low > length_mm:
            continue
        if low > at:
            free.append((at, low))
        at = max(at, high)
    if at < length_mm:
        free.append((at, length_mm))
    return free


def longest_plies(roll: RollThere, each: int) -> tuple[float, ...]:
    """How long plies may be (mm) so that a roll gives `each` of them, one or the two of a pair; the longest first. For
    one that is each piece between flaws; for a pair half of a piece, or the shorter of two pieces."""
    pieces = sorted((high - low for low, high in free_stretches(roll.length_mm, roll.flaws)), reverse=True)
    if each == 1:
        return tuple(pieces)
    return tuple(sorted((*(piece / 2 for piece in pieces), *pieces[1:]), reverse=True))


@dataclass(frozen=True, slots=True)
class Stretch:
    """A free stretch of a roll, `depth` counted from 0 at the outer end; lengths in hundredths of a mm."""

    roll: int
    depth: int
    start: int
    length: int
    lot: str


@dataclass(frozen=True)
class Puzzle:
    """A question in whole numbers: `most[i][k]` plies of lay i fit stretch k, 0 where it is too narrow."""

    question: RollQuestion
    stretches: tuple[Stretch, ...]
    ply: tuple[int, ...]
    most: tuple[tuple[int, ...], ...]
    keep_from: float
    opening: tuple[float, ...]

    @cached_property
    def of_roll(self) -> dict[int, list[int]]:
        """Stretches of each roll that has any, outer first."""
        found: dict[int, list[int]] = {}
        for k, stretch in enumerate(self.stretches):
            found.setdefault(stretch.roll, []).append(k)
        return found

    @cached_property
    def of_lot(self) -> dict[str, list[int]]:
        """Stretches of each shade lot."""
        found: dict[str, list[int]] = {}
        for k, stretch in enumerate(self.stretches):
            found.setdefault(stretch.lot, []).append(k)
        return found

    @cached_property
    def can_give(self) -> tuple[int, ...]:
        """Plies of each lay that the rolls could give, in whole spreads, if they gave nothing else."""
        return tuple(
            sum(
                sum(most[k] for k in stretches) // wanted.plies_per_spread * wanted.plies_per_spread
                for stretches in self.of_roll.values()
            )
            for wanted, most in zip(self.question.wanted, self.most, strict=True)
        )

    def remnant_waste(self, length: int) -> int:
        """What a remnant of this length wastes."""
        return 0 if length >= self.keep_from else length

    @property
    def reach(self) -> float:
        """What it costs to go on to a further stretch of a roll, in hundredths of a mm."""
        return REACH_SHARE * self.question.opening_mm * FINE

    @property
    def lot_change(self) -> float:
        """What each shade lot of a lay costs, in hundredths of a mm."""
        return self.question.lot_change_mm * FINE


def make_puzzle(question: RollQuestion) -> Puzzle:
    """The question in whole numbers; a roll that no lay can use has no stretch."""
    stretches: list[Stretch] = []
    for j, roll in enumerate(question.rolls):
        own = [(fine(low), fine(high)) for low, high in free_stretches(roll.length_mm, roll.flaws)]
        usable = [Stretch(j, depth, low, high - low, roll.shade_lot) for depth, (low, high) in enumerate(own)]
        # Nothing is cut beyond the last stretch that takes a ply.
        while usable and not any(_fits(question, i, roll, usable[-1]) for i in range(len(question.wanted))):
            usable.pop()
        stretches += usable
    ply = tuple(max(fine(wanted.ply_mm), 1) for wanted in question.wanted)
    longest = max((roll.length_mm for roll in question.rolls), default=1.0) or 1.0
    return Puzzle(
        question=question,
        stretches=tuple(stretches),
        ply=ply,
        most=tuple(
            tuple(_fits(question, i, question.rolls[s.roll], s) for s in stretches)
            for i in range(len(question.wanted))
        ),
        keep_from=question.keep_from_mm * FINE if math.isfinite(question.keep_from_mm) else math.inf,
        opening=tuple(
            question.opening_mm
            * FINE
            * (1.0 - (END_SHARE if roll.is_end else 0.0) + LENGTH_SHARE * max(roll.length_mm, 0.0) / longest)
            for roll in question.rolls
        ),
    )


def _fits(question: RollQuestion, i: int, roll: RollThere, stretch: Stretch) -> int:
    """How many plies of lay i the stretch takes."""
    wanted = question.wanted[i]
    width = roll.usable_width_mm
    if width is not None and fine(width) < fine(wanted.cloth_width_mm):
        return 0
    return min(stretch.length // max(fine(wanted.ply_mm), 1), wanted.plies)
