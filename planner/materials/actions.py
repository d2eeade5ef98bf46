"""What is done to materials: stock comes in, is counted again, goes out; what is unused is thrown away.

One function, one transaction, one result. Who does it and when are passed in. Metres and quantities are
Decimals to the hundredth.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import TypeVar

from django.contrib.auth.models import User
from django.db import models, transaction
from django.db.models import ProtectedError

from planner.core.units import format_length, plain_number
from planner.materials.cones import keep_in_step
from planner.materials.models import (
    Fabric,
    FabricColour,
    Notion,
    NotionColour,
    Roll,
    StockMove,
    Supplier,
    Workroom,
)
from planner.materials.roll_numbers import is_taken, number_for
from planner.materials.rolls import move_flaws

Row = TypeVar("Row", bound=models.Model)

#: What the rows that hold a material fast are called in the shop; others are called by their model.
_HELD_BY = {
    "roll": "rolls received",
    "stockmove": "recorded stock",
    "fabric": "cloth",
    "notion": "notions",
    "colourwaycloth": "styles",
    "colourway": "styles",
    "stylenotion": "styles",
    "batchneed": "batches",
    "laycloth": "batches",
    "cutplan": "batches",
}
#: Where a row that holds on says what it belongs to, one after the other.
_OWNERS = ("colourway", "style", "lay", "batch")


class StockError(Exception):
    """A move of stock that cannot be; `field` is the figure that is wrong."""

    def __init__(self, field: str, text: str) -> None:
        super().__init__(text)
        self.field = field


class StillUsedError(Exception):
    """Something that cannot be thrown away because other things hold on to it."""


@dataclass(frozen=True)
class ClothReceived:
    """A roll that came in."""

    roll: Roll
    move: StockMove


@dataclass(frozen=True)
class NotionReceived:
    """A notion that came in. So much the books `lacked` before, for more was taken out than they had; it went there
    first."""

    move: StockMove
    lacked: Decimal = Decimal(0)


@dataclass(frozen=True)
class Counted:
    """What the books said, what is really there, and the move that mends the difference (0 where none).

    `are_flaws_in_doubt`: a roll has flaws, and nobody knows at which end the difference is.
    """

    before: Decimal
    after: Decimal
    move: StockMove
    are_flaws_in_doubt: bool = False

    @property
    def difference(self) -> Decimal:
        """More (+) or less (−) than the books said."""
        return self.after - self.before


@dataclass(frozen=True)
class TakenOut:
    """Stock that left, and what is left of it."""

    move: StockMove
    left: Decimal


@dataclass(frozen=True)
class Deleted:
    """What was thrown away, by its name."""

    name: str


@transaction.atomic
def receive_cloth(
    colour: FabricColour,
    metres: Decimal,
    *,
    number: str = "",
    shade_lot: str = "",
    full_width_mm: Decimal | None = None,
    note: str = "",
    person: User | None,
    at: datetime,
) -> ClothReceived:
    """Puts a roll on the shelf. Without a number of its own it is called R and a number no roll of the cloth bears.

    Raises StockError where a roll of this cloth bears the number that was typed.
    """
    _refuse_nothing("metres", metres)
    number = number.strip()
    if number and is_taken(colour.fabric_id, number):
        raise StockError("number", f"There is a roll {number} of this cloth already.")
    roll = Roll.objects.create(
        fabric_colour=colour, number=number, shade_lot=shade_lot, full_width_mm=full_width_mm, note=note
    )
    if not number:
        roll.number = number_for(roll, colour.fabric_id)
        roll.save(update_fields=["number"])
    move = _move(metres, "bought", note, person, at, fabric_colour=colour, roll=roll)
    return ClothReceived(roll, move)


@transaction.atomic
def count_cloth(roll: Roll, metres: Decimal, *, note: str = "", person: User | None, at: datetime) -> Counted:
    """Sets what is left of a roll to what was measured, by a move of the difference."""
    _refuse_less_than_nothing("metres", metres)
    colour = _locked(FabricColour, roll.fabric_colour_id)
    counted = _set_to(metres, _sum(roll=roll), note, person, at, fabric_colour=colour, roll=roll)
    in_doubt = bool(counted.difference) and roll.flaws.filter(to_m__gt=0).exists()
    return replace(counted, are_flaws_in_doubt=in_doubt)


@transaction.atomic
def count_loose_cloth(
    colour: FabricColour, metres: Decimal, *, note: str = "", person: User | None, at: datetime
) -> Counted:
    """Sets the cloth of a colour that is on no named roll to what was measured."""
    _refuse_less_than_nothing("metres", metres)
    _locked(FabricColour, colour.pk)
    before = _sum(fabric_colour=colour, roll=None)
    return _set_to(metres, before, note, person, at, fabric_colour=colour)


@transaction.atomic
def take_out_cloth(
    roll: Roll,
    metres: Decimal,
    *,
    reason: str = StockMove.Reason.DAMAGED,
    note: str = "",
    person: User | None,
    at: datetime,
) -> TakenOut:
    """Takes cloth off the outer end of a roll, flaws with it. Raises StockError where the roll has not so much."""
    _refuse_nothing("metres", metres)
    colour = _locked(FabricColour, roll.fabric_colour_id)
    left = _sum(roll=roll)
    _refuse_too_much("metres", metres, left, f"{cloth_left(left)} on roll {roll.number}")
    # Flaws first: whoever hears of the move looks at once whether the roll still has a place for all its plies.
    move_flaws(roll, -metres)
    move = _move(-metres, reason, note, person, at, fabric_colour=colour, roll=roll)
    return TakenOut(move, left - metres)


@transaction.atomic
def receive_notion(
    colour: NotionColour, quantity: Decimal, *, note: str = "", person: User | None, at: datetime
) -> NotionReceived:
    """Puts a notion on the shelf, `quantity` in its own unit; where cones are counted, with the cones it came on."""
    _refuse_nothing("quantity", quantity)
    _locked(NotionColour, colour.pk)
    lacked = max(round(-_sum(notion_colour=colour), 2), Decimal(0))
    if colour.cones is not None:
        came = math.ceil(quantity / colour.notion.pack_quantity)
        NotionColour.objects.filter(pk=colour.pk).update(cones=models.F("cones") + came)
    return NotionReceived(_move(quantity, "bought", note, person, at, notion_colour=colour), lacked)


@transaction.atomic
def count_notion(
    colour: NotionColour,
    quantity: Decimal,
    *,
    cones: int | None = None,
    note: str = "",
    person: User | None,
    at: datetime,
) -> Counted:
    """Sets what is there of a notion to what was counted, by a move of the difference; of thread the cones too."""
    _refuse_less_than_nothing("quantity", quantity)
    _locked(NotionColour, colour.pk)
    if colour.notion.kind == Notion.Kind.THREAD:
        NotionColour.objects.filter(pk=colour.pk).update(cones=cones)
    return _set_to(quantity, _sum(notion_colour=colour), note, person, at, notion_colour=colour)


@transaction.atomic
def take_out_notion(
    colour: NotionColour,
    quantity: Decimal,
    *,
    reason: str = StockMove.Reason.DAMAGED,
    note: str = "",
    person: User | None,
    at: datetime,
) -> TakenOut:
    """Takes a notion out. Raises StockError where there is not so much."""
    _refuse_nothing("quantity", quantity)
    _locked(NotionColour, colour.pk)
    left = _sum(notion_colour=colour)
    there = f"{plain_number(left)} {colour.notion.get_unit_display()}"
    if colour.notion.unit == Notion.Unit.METRE:
        there = cloth_left(left, "metres")
    _refuse_too_much("quantity", quantity, left, there)
    move = _move(-quantity, reason, note, person, at, notion_colour=colour)
    keep_in_step([colour.pk])
    return TakenOut(move, left - quantity)


def delete_unused(thing: Fabric | FabricColour | Notion | NotionColour | Supplier) -> Deleted:
    """Throws away what nothing holds on to. Raises StillUsedError with what does."""
    name = str(thing)
    try:
        with transaction.atomic():
            thing.delete()
    except ProtectedError as held:
        raise StillUsedError(f"{name} cannot be deleted: {_holders(held)}.") from held
    return Deleted(name)


def _holders(held: ProtectedError) -> str:
    """ "used by styles (110 box top), recorded stock" from the rows that hold on."""
    groups: dict[str, set[str]] = {}
    for row in held.protected_objects:
        word = _HELD_BY.get(row._meta.model_name or "", str(row._meta.verbose_name))
        groups.setdefault(word, set()).update(_owner(row))
    told = []
    for word, names in sorted(groups.items()):
        some = sorted(names)[:3]
        told.append(f"{word} ({', '.join(some)}{', …' if len(names) > 3 else ''})" if some else word)
    return "it is held by " + ", ".join(told)


def _owner(row: models.Model) -> set[str]:
    """The name of what a row belongs to; nothing for a bare stock record, which has no name worth telling."""
    if isinstance(row, StockMove):
        return set()
    thing: object = row
    for attribute in _OWNERS:
        thing = getattr(thing, attribute, thing)
    return {str(thing)}


def _move(
    quantity: Decimal, reason: str, note: str, person: User | None, at: datetime, **of: object
) -> StockMove:
    return StockMove.objects.create(
        quantity=quantity, reason=reason, note=note, person=person, moved_at=at, **of
    )


def _set_to(
    counted: Decimal, before: Decimal, note: str, person: User | None, at: datetime, **of: object
) -> Counted:
    """What was counted is what there is: the books, which said `before`, are moved by the difference."""
    return Counted(before, counted, _move(counted - before, "counted", note, person, at, **of))


def _sum(**of: object) -> Decimal:
    return StockMove.objects.filter(**of).total()


def _locked(model: type[Row], pk: int) -> Row:
    """The row, held for this transaction: two people who count at once do not both mend the same slip."""
    return model._default_manager.select_for_update().get(pk=pk)


def _refuse_nothing(field: str, amount: Decimal) -> None:
    if amount <= 0:
        raise StockError(field, "This must be more than nothing.")


def _refuse_less_than_nothing(field: str, amount: Decimal) -> None:
    if amount < 0:
        raise StockError(field, "This cannot be less than nothing.")


def cloth_left(metres: Decimal, metric: str = "m") -> str:
    """How much there is, as precisely as it is booked; in yards where the workroom measures in them."""
    display = Workroom.the().display
    if display == "imperial":
        return format_length(metres * 1000, display, "cloth")
    return f"{plain_number(metres)} {metric}"


def _refuse_too_much(field: str, amount: Decimal, left: Decimal, there: str) -> None:
    if amount > left:
        raise StockError(field, f"There are only {there}. Count again first if there is more.")
