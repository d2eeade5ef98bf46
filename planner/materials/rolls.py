"""Rolls as they stand on the shelf: what is left, where flaws lie, and which lays they are promised to."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.db.models import F, QuerySet

from planner.core.rolls import Placed
from planner.materials.dues import FlawOnRoll
from planner.materials.models import Roll, RollFlaw
from planner.materials.promised import (
    BY_TAPE_M,
    Promise,
    StillPromised,
    longest_m,
    lost_m,
    placed_on,
)
from planner.papers.layers import spreads_in_words, way_of

#: The drawing of a roll is so wide, in its own units (`templates/materials/_roll.html`).
DRAWN_WIDE = 600.0
#: A flaw is drawn at least this wide, or it could not be seen.
DRAWN_FLAW = 3.0


@dataclass(frozen=True)
class FlawThere:
    """A flaw, in metres from the outer end of the roll as it is now, without what of it was cut off already.

    `x` and `width` place it in a drawing :data:`DRAWN_WIDE` across.
    """

    pk: int
    from_m: Decimal
    to_m: Decimal
    note: str
    x: float
    width: float


@dataclass(frozen=True)
class RollOnShelf:
    """A roll with all that is known of it."""

    roll: Roll
    left_m: Decimal
    is_end: bool
    flaws: tuple[FlawThere, ...]
    promises: tuple[Promise, ...]

    @property
    def name(self) -> str:
        """ "Roll R2"."""
        return f"Roll {self.roll.number}"

    @property
    def promised(self) -> tuple[tuple[Promise, str], ...]:
        """What lays are to take from it, each with what is spread: "3 plies", "2 pairs of plies"."""
        is_tube = self.roll.fabric_colour.fabric.is_tube
        return tuple(
            (one, spreads_in_words(one.spreads, way_of(one.mode, is_tube=is_tube))) for one in self.promises
        )

    @property
    def promised_m(self) -> Decimal:
        """Metres that lays are to take from it."""
        return sum((promise.metres for promise in self.promises), Decimal(0))

    @property
    def free_m(self) -> Decimal:
        """Metres that are not promised, and not lost at flaws before promised plies."""
        return max(self.left_m - self.promised_m - self.lost_m, Decimal(0))

    @property
    def lost_m(self) -> Decimal:
        """Metres that are cut off and lost at flaws before promised plies."""
        return lost_m(self._placed)

    @property
    def is_over_promised(self) -> bool:
        """Whether plies are promised from it that fit no stretch, as after a count that found less, or a flaw."""
        return not self._placed.fits

    @property
    def has_too_little(self) -> bool:
        """Whether more is promised than is left at all, wherever flaws lie."""
        return self.promised_m > self.left_m + BY_TAPE_M

    @cached_property
    def _placed(self) -> Placed:
        return placed_on(self.left_m, self._ranges, self.promises)

    @property
    def _ranges(self) -> list[tuple[Decimal, Decimal]]:
        return [(flaw.from_m, flaw.to_m) for flaw in self.flaws]

    @property
    def batches(self) -> tuple[str, ...]:
        """Numbers of the batches whose lays are to take from it."""
        return tuple(dict.fromkeys(promise.batch for promise in self.promises))

    @property
    def longest_m(self) -> Decimal:
        """The longest stretch between flaws: no ply can be longer."""
        return longest_m(self.left_m, self._ranges)


def on_shelf(rolls: QuerySet[Roll]) -> tuple[RollOnShelf, ...]:
    """Rolls with their flaws, and with their promises in the order the lays are cut.

    Three queries however many rolls; one more where several lays of a batch are cut from another roll with flaws.
    """
    rows = list(rolls.with_begun().prefetch_related("flaws"))  # type: ignore[attr-defined]
    flaws = {row.pk: _flaws(row) for row in rows}
    promises = StillPromised(
        {pk: tuple(FlawOnRoll(one.pk, one.from_m, one.to_m) for one in own) for pk, own in flaws.items()}
    ).promises
    return tuple(
        RollOnShelf(row, row.left_m, row.is_begun, flaws[row.pk], promises.get(row.pk, ())) for row in rows
    )


def move_flaws(roll: Roll, by_m: Decimal) -> None:
    """Moves the flaws of a roll away from its outer end, or, with `by_m` below zero, towards it after a cut there.

    A flaw that was cut off lies below zero, so that it is in the cloth again when the cut is taken back.
    """
    RollFlaw.objects.filter(roll=roll).update(from_m=F("from_m") + by_m, to_m=F("to_m") + by_m)


def _flaws(roll: Any) -> tuple[FlawThere, ...]:
    """Flaws that are still in the cloth of a roll, from its outer end."""
    left: Decimal = roll.left_m
    there = []
    for flaw in roll.flaws.all():
        low, high = max(flaw.from_m, Decimal(0)), min(flaw.to_m, left)
        if low < high:
            wide = max(DRAWN_WIDE * float((high - low) / left), DRAWN_FLAW)
            x = min(DRAWN_WIDE * float(low / left), DRAWN_WIDE - wide)
            there.append(FlawThere(flaw.pk, low, high, flaw.note, round(x, 1), round(wide, 1)))
    return tuple(there)
