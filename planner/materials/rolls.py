"""Rolls as they stand on the shelf: what is left, where flaws lie, and which lays they are promised to."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import ROUND_UP, Decimal
from itertools import groupby
from typing import Any

from django.db.models import F, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from planner.common.kept_questions import KeptQuestion
from planner.core.cloth import before_washing
from planner.core.lays.model import LENGTHS
from planner.core.rolls import free_stretches, still_from
from planner.materials.models import Fabric, Roll, RollFlaw
from planner.materials.querysets import summed_moves

#: The drawing of a roll is so wide, in its own units (`templates/materials/_roll.html`).
DRAWN_WIDE = 600.0
#: A flaw is drawn no narrower, or it could not be seen.
DRAWN_FLAW = 3.0
_CENTIMETRE = Decimal("0.01")
#: Metres are measured with a tape: so little that is missing of a roll is nothing to speak of.
_BY_TAPE_M = Decimal("0.05")


@dataclass(frozen=True)
class Promise:
    """Cloth of a roll that a lay is to take: `spreads` of it, `metres` as it lies on the roll."""

    batch: str
    lay: int
    spreads: int
    metres: Decimal


@dataclass(frozen=True)
class FlawThere:
    """A flaw from the outer end as the roll is now; what of it was cut off with other cloth is left out.

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
    def promised_m(self) -> Decimal:
        """What lays are to take of it."""
        return sum((promise.metres for promise in self.promises), Decimal(0))

    @property
    def free_m(self) -> Decimal:
        """What nobody has spoken for."""
        return max(self.left_m - self.promised_m, Decimal(0))

    @property
    def is_over_promised(self) -> bool:
        """Whether lays are to take more than there is, as after a count that found less."""
        return self.promised_m > self.left_m + _BY_TAPE_M

    @property
    def batches(self) -> tuple[str, ...]:
        """The batches whose lays are to take of it."""
        return tuple(dict.fromkeys(promise.batch for promise in self.promises))

    @property
    def longest_m(self) -> Decimal:
        """The longest stretch between flaws: no ply can be longer."""
        flaws = [(float(flaw.from_m), float(flaw.to_m)) for flaw in self.flaws]
        stretches = free_stretches(float(self.left_m), flaws)
        longest = max((high - low for low, high in stretches), default=0.0)
        return Decimal(repr(longest)).quantize(_CENTIMETRE)


def on_shelf(rolls: QuerySet[Roll], fabric: Fabric) -> tuple[RollOnShelf, ...]:
    """Rolls of one fabric with flaws and promises, in three queries however many they are."""
    rows = list(rolls.with_begun().prefetch_related("flaws"))  # type: ignore[attr-defined]
    promises = promises_of([row.pk for row in rows], fabric)
    return tuple(
        RollOnShelf(row, row.left_m, row.is_begun, _flaws(row), promises.get(row.pk, ())) for row in rows
    )


def promises_of(rolls: Collection[int], fabric: Fabric) -> dict[int, tuple[Promise, ...]]:
    """What lays not cut yet are to take of rolls, by roll; of lays cut in part only what is still to come."""
    found: dict[int, list[Promise]] = defaultdict(list)
    wanted = set(rolls)
    for due in _dues(_PROMISED.ask()):
        if due.roll in wanted:
            found[due.roll].append(
                Promise(due.batch, due.lay, due.spreads, _as_bought(due.length_mm, fabric))
            )
    return {roll: tuple(own) for roll, own in found.items()}


@dataclass(frozen=True)
class OverPromised:
    """A roll with less left than the lays not cut yet are to take of it."""

    number: str
    left_m: Decimal
    promises: tuple[Promise, ...]
    fabric: str = ""
    colour: str = ""


def over_promised(rolls: Collection[int] | None) -> tuple[OverPromised, ...]:
    """Which of these rolls (pk), of all where None, have not enough for all lays that are to take of them. One query,
    none for none.
    """
    if rolls is not None and not rolls:
        return ()
    found: dict[int, list[Promise]] = defaultdict(list)
    there: dict[int, tuple[Any, ...]] = {}
    rows = _PROMISED_WITH_ROLLS.ask()
    for row in rows:
        if row[_ROLL_AT] is not None and (rolls is None or row[_ROLL_AT] in rolls):
            there[row[_ROLL_AT]] = row[_SHARE_ENDS:]
    for due in _dues(rows):
        if due.roll in there:
            *_, washed, shrinkage = there[due.roll]
            metres = _metres_as_bought(due.length_mm, washed, shrinkage)
            found[due.roll].append(Promise(due.batch, due.lay, due.spreads, metres))
    return tuple(
        OverPromised(number, left_m, tuple(found[pk]), fabric, colour)
        for pk, (number, left_m, fabric, colour, *_) in sorted(there.items())
        if sum((promise.metres for promise in found[pk]), Decimal(0)) > max(left_m, 0) + _BY_TAPE_M
    )


def _promised() -> Any:
    """What lays of batches that are still to be cut are promised (LayRoll)."""
    # Lays belong to a room above this one, so they are reached through what points at a roll.
    rows: Any = Roll.promised.rel.related_model.objects  # type: ignore[attr-defined]
    return rows.filter(lay_cloth__lay__batch__state__in=["planned", "cutting"])


#: Where the roll stands in what :func:`_shares` asks for, and where that ends.
_ROLL_AT, _SHARE_ENDS = 7, 10


_FABRIC, _SHRINKS = "roll__fabric_colour__fabric__shrinkage_", ("handling", "length_percent")


def _with_rolls() -> QuerySet[Any]:
    """With what is left of each roll, and how its cloth shrinks."""
    names = ("roll__fabric_colour__fabric__name", "roll__fabric_colour__name")
    more = ("roll__number", summed_moves("roll", of="roll"), *names, *(f"{_FABRIC}{one}" for one in _SHRINKS))
    return _shares(_promised(), *more)


# Of all rolls: lays still to be cut are few, and so the questions are always worded alike.
_PROMISED = KeptQuestion(lambda: _shares(_promised()))
_PROMISED_WITH_ROLLS = KeptQuestion(_with_rolls)


@dataclass(frozen=True)
class Due:
    """What a lay is still to take of one roll: so many spreads, `length_mm` of cloth as it lies on the table."""

    roll: int
    batch: str
    lay: int
    spreads: int
    length_mm: float


def dues_of(promised: QuerySet[Any]) -> list[Due]:
    """What the lays of these promises (LayRoll), as far as they are not cut, are still to take of rolls. One query.

    Told besides are the other rolls of the same plies: what was cut from another roll than planned stands for what was
    planned first.
    """
    return _dues(_shares(promised))


def _shares(promised: QuerySet[Any], *more: Any) -> QuerySet[Any]:
    facts = Q(lay_cloth__facts__roll=F("roll"), lay_cloth__facts__taken_back_at=None)
    of_plies = promised.filter(lay_cloth__lay__cut_at=None).order_by().values("lay_cloth")
    return (
        promised.model._default_manager.filter(lay_cloth__in=of_plies)
        .annotate(cut=Coalesce(Sum("lay_cloth__facts__spreads", filter=facts), 0))
        .order_by("lay_cloth__lay__batch_id", "lay_cloth__lay__number", "lay_cloth_id", "position", "pk")
        .values_list(
            "lay_cloth",
            "lay_cloth__lay__batch__number",
            "lay_cloth__lay__number",
            "lay_cloth__lay__mode",
            Coalesce("lay_cloth__lay__marker__length_mm", "lay_cloth__lay__estimated_length_mm"),
            "lay_cloth__lay__end_allowance_mm",
            F("lay_cloth__spreads") - Coalesce("lay_cloth__cut_spreads", 0),
            "roll",
            "spreads",
            "cut",
            *more,
        )
    )


def _dues(rows: Iterable[tuple[Any, ...]]) -> list[Due]:
    found = []
    for plies, own in groupby(rows, key=lambda row: row[:7]):
        _, batch, lay, mode, length_mm, ends_mm, left = plies
        shares = [row[_ROLL_AT:_SHARE_ENDS] for row in own]
        cut = {roll: spreads for roll, _, spreads in shares}
        each_mm = LENGTHS[mode] * (length_mm + 2.0 * ends_mm)
        for roll, spreads in still_from([share[:2] for share in shares], cut, max(left, 0)):
            if roll is not None and spreads:
                found.append(Due(roll, batch, lay, spreads, spreads * each_mm))
    return found


def move_flaws(roll: Roll, by_m: Decimal) -> None:
    """Moves the flaws of a roll away from its outer end, or, by less than nothing, towards it with a cut there.

    What was cut off lies below nought: it is in the cloth again when the cut is taken back.
    """
    RollFlaw.objects.filter(roll=roll).update(from_m=F("from_m") + by_m, to_m=F("to_m") + by_m)


def _as_bought(on_table_mm: float, fabric: Fabric) -> Decimal:
    return _metres_as_bought(on_table_mm, fabric.shrinkage_handling, fabric.shrinkage_length_percent)


def _metres_as_bought(on_table_mm: float, handling: str, shrinkage_percent: Decimal) -> Decimal:
    """Metres on the roll for a length on the table; more where cloth is washed first."""
    if handling == Fabric.Shrinkage.WASH_FIRST:
        on_table_mm = before_washing(on_table_mm, max(float(shrinkage_percent) / 100.0, 0.0))
    return Decimal(repr(round(on_table_mm / 1000.0, 6))).quantize(_CENTIMETRE, ROUND_UP)


def _flaws(roll: Any) -> tuple[FlawThere, ...]:
    """Flaws that are still in the cloth, from the outer end."""
    left: Decimal = roll.left_m
    there = []
    for flaw in roll.flaws.all():
        low, high = max(flaw.from_m, Decimal(0)), min(flaw.to_m, left)
        if low < high:
            wide = max(DRAWN_WIDE * float((high - low) / left), DRAWN_FLAW)
            x = min(DRAWN_WIDE * float(low / left), DRAWN_WIDE - wide)
            there.append(FlawThere(flaw.pk, low, high, flaw.note, round(x, 1), round(wide, 1)))
    return tuple(there)
