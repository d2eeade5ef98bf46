"""What is done to a roll besides counting and cutting: its flaws are noted, and it is cut in two.

Flaws are kept in metres from the outer end of the roll as it is now, so they move with every cut there.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.db import transaction

from planner.materials.actions import StockError, cloth_left
from planner.materials.models import FabricColour, Roll, RollFlaw, StockMove
from planner.materials.roll_numbers import is_taken, number_of_end
from planner.materials.rolls import move_flaws


@dataclass(frozen=True)
class FlawNoted:
    """A flaw that lays are kept away from."""

    flaw: RollFlaw


@dataclass(frozen=True)
class FlawRemoved:
    """A flaw that was none."""

    roll: Roll
    from_m: Decimal
    to_m: Decimal


@dataclass(frozen=True)
class WidthSet:
    """The full width of a roll as it was and is now (mm); None where it is that of its cloth."""

    before: Decimal | None
    after: Decimal | None


@dataclass(frozen=True)
class RollParted:
    """A piece cut off the outer end as an end of its own, and what is left of the roll."""

    end: Roll
    left: Decimal


@transaction.atomic
def note_flaw(roll: Roll, from_m: Decimal, to_m: Decimal, *, note: str = "") -> FlawNoted:
    """Notes a stretch no ply may lie across. Raises StockError where it is none or lies beyond the roll."""
    left = _held(roll)
    if from_m < 0:
        raise StockError("from_m", "The outer end is 0; nothing lies before it.")
    if from_m >= left:
        raise StockError("from_m", f"There are only {cloth_left(left)} on this roll.")
    if to_m <= from_m:
        raise StockError("to_m", "A flaw ends further in than it begins.")
    if to_m > left:
        raise StockError("to_m", f"There are only {cloth_left(left)} on this roll.")
    if roll.flaws.filter(from_m__lte=from_m, to_m__gte=to_m).exists():
        raise StockError("from_m", "A flaw is noted there already.")
    return FlawNoted(RollFlaw.objects.create(roll=roll, from_m=from_m, to_m=to_m, note=note.strip()))


@transaction.atomic
def remove_flaw(flaw: RollFlaw) -> FlawRemoved:
    """Takes a flaw off the books: it was none, or it has been mended."""
    gone = FlawRemoved(flaw.roll, max(flaw.from_m, Decimal(0)), flaw.to_m)
    flaw.delete()
    return gone


@transaction.atomic
def set_width(roll: Roll, full_width_mm: Decimal | None) -> WidthSet:
    """Puts the width of a roll right; None where it is as wide as its cloth."""
    before = Roll.objects.select_for_update().get(pk=roll.pk).full_width_mm
    roll.full_width_mm = full_width_mm
    roll.save(update_fields=["full_width_mm"])
    return WidthSet(before, full_width_mm)


@transaction.atomic
def part_roll(
    roll: Roll, metres: Decimal, *, number: str = "", note: str = "", person: User | None, at: datetime
) -> RollParted:
    """Cuts `metres` off the outer end as an end of its own, in the same shade lot, with the flaws that lie in it.

    Without a number of its own it is called after the roll. Raises StockError where the roll is no longer than that,
    or a roll of this cloth bears the number that was typed.
    """
    left = _held(roll)
    if not 0 < metres < left:
        raise StockError("metres", f"The roll has {cloth_left(left)}; cut off less than that.")
    fabric_id, number = roll.fabric_colour.fabric_id, number.strip()
    if number and is_taken(fabric_id, number):
        raise StockError("number", f"There is a roll {number} of this cloth already.")
    end = Roll.objects.create(
        fabric_colour_id=roll.fabric_colour_id, number=number or number_of_end(roll, fabric_id),
        shade_lot=roll.shade_lot, full_width_mm=roll.full_width_mm, note=note,
    )  # fmt: skip
    # Flaws first: whoever hears of the moves looks at once whether the roll still has a place for all its plies.
    _part_flaws(roll, end, metres)
    for of, quantity, said in (
        (roll, -metres, f"cut off as roll {end.number}"),
        (end, metres, f"cut off roll {roll.number}"),
    ):
        StockMove.objects.create(
            fabric_colour_id=roll.fabric_colour_id, roll=of, quantity=quantity,
            reason=StockMove.Reason.COUNTED, note=said, person=person, moved_at=at,
        )  # fmt: skip
    return RollParted(end, left - metres)


def _part_flaws(roll: Roll, end: Roll, metres: Decimal) -> None:
    """Each piece keeps what lies in it; a flaw across the cut is in both."""
    for flaw in roll.flaws.all():
        if flaw.to_m > 0 and flaw.from_m < metres:
            RollFlaw.objects.create(
                roll=end, from_m=max(flaw.from_m, Decimal(0)), to_m=min(flaw.to_m, metres), note=flaw.note
            )
            if flaw.to_m <= metres:
                flaw.delete()
                continue
            RollFlaw.objects.filter(pk=flaw.pk).update(from_m=metres)
    move_flaws(roll, -metres)


def _held(roll: Roll) -> Decimal:
    """What is left of the roll, nobody else changing it meanwhile."""
    FabricColour.objects.select_for_update().get(pk=roll.fabric_colour_id)
    return StockMove.objects.filter(roll=roll).total()
