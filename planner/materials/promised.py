"""What lays not cut yet are to take of rolls, and which rolls have no stretch for all of it.

A roll with metres enough may still lack what it is to give: no ply is spliced or lies across a flaw. Whoever asks what
a roll can give asks here, so that what is promised, what is bought and which lay waits go by the same stretches.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import ROUND_UP, Decimal
from functools import cached_property
from itertools import groupby
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from planner.common.kept_questions import KeptQuestion
from planner.core.cloth import before_washing
from planner.core.lays.model import LENGTHS
from planner.core.rolls import BY_TAPE_MM, Placed, PliesPromised, free_stretches, place_promised, still_from
from planner.materials.models import Fabric, Roll, RollFlaw
from planner.materials.querysets import summed_moves

_CENTIMETRE = Decimal("0.01")
BY_TAPE_M = Decimal(str(BY_TAPE_MM)) / 1000
#: No difference in the length of a ply (mm).
_NOTHING_MM = 0.1


@dataclass(frozen=True)
class Promise:
    """Cloth of a roll that a lay is to take: `spreads` of it, `metres` as it lies on the roll, and as what plies.

    `mode` is that of the lay, `cloth` are the plies in it (LayCloth pk).
    """

    batch: str
    lay: int
    spreads: int
    metres: Decimal
    plies: PliesPromised
    cloth: int = 0
    mode: str = "open"

    @property
    def exact_mm(self) -> float:
        """How long a ply of it is on the roll; `plies` are a hair shorter, see :func:`_promise`."""
        return self.plies.ply_mm + _NOTHING_MM


def promises_of(rolls: Collection[int], fabric: Fabric) -> dict[int, tuple[Promise, ...]]:
    """What lays not cut yet are to take of rolls, by roll; of lays cut in part only what is still to come."""
    return promises_from(dict.fromkeys(rolls, fabric))


def promises_from(rolls: Mapping[int, Fabric]) -> dict[int, tuple[Promise, ...]]:
    """The same of rolls (pk) of several fabrics. One query."""
    found: dict[int, list[Promise]] = defaultdict(list)
    for due in _dues(_PROMISED.ask()):
        if due.roll is not None and (fabric := rolls.get(due.roll)) is not None:
            found[due.roll].append(_promise(due, fabric.shrinkage_handling, fabric.shrinkage_length_percent))
    return {roll: tuple(own) for roll, own in found.items()}


def short_of(
    left_m: Decimal, flaws: Iterable[tuple[Decimal, Decimal]], promises: Iterable[Promise]
) -> tuple[int, ...]:
    """Of each promise so many plies for which a roll with so much left has no stretch free of these flaws (m)."""
    return placed_on(left_m, flaws, promises).short


def placed_on(
    left_m: Decimal, flaws: Iterable[tuple[Decimal, Decimal]], promises: Iterable[Promise]
) -> Placed:
    """Where the plies of these promises, in the order they are cut, lie on a roll with so much left and such flaws."""
    length_mm = float(max(left_m, Decimal(0)) + BY_TAPE_M) * 1000
    ranges = [(float(low) * 1000, float(high) * 1000) for low, high in flaws]
    return place_promised(length_mm, ranges, [promise.plies for promise in promises])


def lost_m(placed: Placed) -> Decimal:
    """What is cut off and lost at flaws before plies that lie so, to the centimetre."""
    return to_cm(placed.lost_mm)


def to_cm(length_mm: float) -> Decimal:
    """Metres to the nearest centimetre: flaws are measured so, and plies lie a hair closer than they are long."""
    return Decimal(repr(round(length_mm / 1000.0, 6))).quantize(_CENTIMETRE)


def longest_m(left_m: Decimal, flaws: Iterable[tuple[Decimal, Decimal]]) -> Decimal:
    """The longest stretch of a roll with so much left that is free of these flaws (m)."""
    stretches = free_stretches(float(left_m), [(float(low), float(high)) for low, high in flaws])
    longest = max((high - low for low, high in stretches), default=0.0)
    return Decimal(repr(longest)).quantize(_CENTIMETRE)


@dataclass(frozen=True)
class OverPromised:
    """A roll that has not for all plies that are to come from it a stretch without a flaw.

    `short` counts such plies, promise by promise. `flaws` (from, to) are those still in the cloth, `longest_m` is the
    longest stretch beside them.
    """

    number: str
    left_m: Decimal
    promises: tuple[Promise, ...]
    fabric: str = ""
    colour: str = ""
    short: tuple[int, ...] = ()
    flaws: tuple[tuple[Decimal, Decimal], ...] = ()
    longest_m: Decimal = Decimal(0)
    pk: int = 0

    @property
    def lays_short(self) -> tuple[tuple[str, int], ...]:
        """The lays, each with the number of its batch, that have such plies."""
        both = zip(self.promises, self.short, strict=True)
        return tuple(dict.fromkeys((promise.batch, promise.lay) for promise, short in both if short))

    @property
    def has_too_little(self) -> bool:
        """Whether there is less left than is counted on, wherever flaws lie."""
        return sum((promise.metres for promise in self.promises), Decimal(0)) > self.left_m + BY_TAPE_M


@dataclass(frozen=True)
class PliesToBuyFor:
    """Plies of a lay still to be cut that no roll has cloth for: so many `spreads`, each of a marker's `length_mm` and
    `end_mm` at either end. `pk` is that of their row.
    """

    pk: int
    batch_pk: int
    fabric: str
    colour: str
    spreads: int
    mode: str
    length_mm: float
    end_mm: float


class StillPromised:
    """What lays of all batches that are still to be cut are promised, read when it is first asked for: two questions
    of one page are answered by one query.
    """

    @cached_property
    def rows(self) -> list[tuple[Any, ...]]:
        """As :func:`_with_rolls` asks for it."""
        return _PROMISED_WITH_ROLLS.ask()

    def from_rolls(self) -> dict[tuple[str, str], tuple[Promise, ...]]:
        """What is to be taken of rolls, by the names of fabric and colour."""
        of_roll = {row[_ROLL_AT]: row[_SHARE_ENDS:-_OF_PLIES] for row in self.rows if row[_ROLL_AT]}
        found: dict[tuple[str, str], list[Promise]] = defaultdict(list)
        for due in _dues(self.rows):
            if due.roll is not None:
                _, _, fabric, colour, _, *shrinks = of_roll[due.roll]
                found[fabric, colour].append(_promise(due, *shrinks))
        return {key: tuple(own) for key, own in found.items()}

    def to_buy_for(self) -> list[PliesToBuyFor]:
        """Plies that no roll has cloth for, of lays that have been nested, in the order they were written."""
        found = [
            PliesToBuyFor(pk, batch, fabric, colour, spreads, row[_MODE_AT], length_mm, row[_END_AT])
            for row in self.rows
            for roll, spreads in [row[_ROLL_AT : _ROLL_AT + 2]]
            for pk, batch, fabric, colour, length_mm, state, seed in [row[-_OF_PLIES:]]
            # As long as a marker is nested for the first time its plies are given no rolls.
            if roll is None and length_mm is not None and (seed or state not in {"waiting", "nesting"})
        ]
        return sorted(found, key=lambda one: one.pk)


def over_promised(
    rolls: Collection[int] | None, promised: StillPromised | None = None
) -> tuple[OverPromised, ...]:
    """Which of these rolls (pk), of all where None, have not enough for all lays that are to take of them, in the
    stretches that their flaws leave. One query, none where what is `promised` was read already, one more where there
    are flaws, none for no roll.
    """
    if rolls is not None and not rolls:
        return ()
    found: dict[int, list[Promise]] = defaultdict(list)
    there: dict[int, tuple[Any, ...]] = {}
    rows = (promised or StillPromised()).rows
    for row in rows:
        if row[_ROLL_AT] is not None and (rolls is None or row[_ROLL_AT] in rolls):
            there[row[_ROLL_AT]] = row[_SHARE_ENDS:-_OF_PLIES]
    for due in _dues(rows):
        if due.roll is not None and due.roll in there:
            _, _, _, _, _, *shrinks = there[due.roll]
            found[due.roll].append(_promise(due, *shrinks))
    left = {pk: there[pk][_LEFT_M] for pk in found if there[pk][_HAS_FLAWS]}
    flaws = defaultdict(tuple, flaws_of(left))
    return tuple(
        OverPromised(
            number,
            left_m,
            tuple(found[pk]),
            fabric,
            colour,
            short,
            flaws[pk],
            longest_m(left_m, flaws[pk]),
            pk,
        )
        for pk, (number, left_m, fabric, colour, *_) in sorted(there.items())
        if any(short := short_of(left_m, flaws[pk], found[pk]))
    )


def flaws_of(left_m: Mapping[int, Decimal]) -> dict[int, tuple[tuple[Decimal, Decimal], ...]]:
    """The flaws (from, to) still in the cloth of rolls (pk) with so much left. One query, none for none."""
    found: dict[int, list[tuple[Decimal, Decimal]]] = defaultdict(list)
    if left_m:
        rows = RollFlaw.objects.filter(roll__in=list(left_m)).order_by("from_m", "pk")
        for pk, from_m, to_m in rows.values_list("roll", "from_m", "to_m"):
            low, high = max(from_m, Decimal(0)), min(to_m, left_m[pk])
            if low < high:
                found[pk].append((low, high))
    return {pk: tuple(own) for pk, own in found.items()}


def _promise(due: Due, handling: str, shrinkage_percent: Decimal) -> Promise:
    """What is due of a roll, in metres as they lie on it."""
    ply_mm = mm_as_bought(due.plies.ply_mm, handling, shrinkage_percent)
    metres = Decimal(repr(round(ply_mm * due.plies.plies / 1000.0, 6))).quantize(_CENTIMETRE, ROUND_UP)
    # What a tape cannot tell keeps no ply off a stretch just as long.
    plies = replace(due.plies, ply_mm=max(ply_mm - _NOTHING_MM, 0.0))
    return Promise(due.batch, due.lay, due.spreads, metres, plies, due.cloth, due.mode)


def _promised() -> Any:
    """What lays of batches that are still to be cut are promised (LayRoll)."""
    # Lays belong to a room above this one, so they are reached through what points at a roll.
    rows: Any = Roll.promised.rel.related_model.objects  # type: ignore[attr-defined]
    return rows.filter(lay_cloth__lay__batch__state__in=["planned", "cutting"])


#: Where mode, end allowance and roll stand in what :func:`_shares` asks for, and where that ends.
_MODE_AT, _END_AT, _ROLL_AT, _SHARE_ENDS = 3, 5, 8, 11
#: Where what is left, and whether there are flaws, stands in what :func:`_with_rolls` asks for besides.
_LEFT_M, _HAS_FLAWS = 1, 4
#: So many of :func:`_with_rolls` at the end are of the plies.
_OF_PLIES = 7


_FABRIC, _SHRINKS = "roll__fabric_colour__fabric__shrinkage_", ("handling", "length_percent")


def _with_rolls() -> QuerySet[Any]:
    """With what is left of each roll, how its cloth shrinks, and of what cloth the plies are, roll or not."""
    names = ("roll__fabric_colour__fabric__name", "roll__fabric_colour__name")
    flaws = Exists(RollFlaw.objects.filter(roll=OuterRef("roll")))
    shrinks = (f"{_FABRIC}{one}" for one in _SHRINKS)
    colour = "lay_cloth__fabric_colour"
    of_plies = ("pk", "lay_cloth__lay__batch_id", f"{colour}__fabric__name", f"{colour}__name")
    return _shares(
        _promised(),
        *("roll__number", summed_moves("roll", of="roll"), *names, flaws, *shrinks),
        *(*of_plies, *(f"lay_cloth__lay__marker__{one}" for one in ("length_mm", "state", "seed"))),
    )


# Of all rolls: lays still to be cut are few, and so the questions are always worded alike.
_PROMISED = KeptQuestion(lambda: _shares(_promised()))
_PROMISED_WITH_ROLLS = KeptQuestion(_with_rolls)


@dataclass(frozen=True)
class Due:
    """What a lay is still to take of one roll: so many spreads, as plies of cloth as it lies on the table.

    `roll` is None where that cloth is to be bought. `cloth` are the plies in the lay (LayCloth pk), of one `colour`
    (FabricColour pk), `mode` is that of it.
    """

    roll: int | None
    batch: str
    lay: int
    spreads: int
    plies: PliesPromised
    cloth: int = 0
    mode: str = "open"
    colour: int = 0

    @property
    def length_mm(self) -> float:
        """All of it."""
        return self.plies.length_mm


def dues_of(promised: QuerySet[Any]) -> list[Due]:
    """What the lays of these promises (LayRoll), as far as they are not cut, are still to take of rolls, and of cloth
    to be bought. One query.

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
            "lay_cloth__fabric_colour",
            "roll",
            "spreads",
            "cut",
            *more,
        )
    )


def _dues(rows: Iterable[tuple[Any, ...]]) -> list[Due]:
    found = []
    for plies, own in groupby(rows, key=lambda row: row[:_ROLL_AT]):
        cloth, batch, lay, mode, length_mm, ends_mm, left, colour = plies
        shares = [row[_ROLL_AT:_SHARE_ENDS] for row in own]
        cut = {roll: spreads for roll, _, spreads in shares}
        ply_mm, each = length_mm + 2.0 * ends_mm, LENGTHS[mode]
        # What may be told at the end are plies that were dealt to nothing.
        still = still_from([share[:2] for share in shares], cut, max(left, 0))[: len(shares)]
        for roll, spreads in still:
            if spreads:
                promised = PliesPromised(ply_mm, spreads * each, each)
                found.append(Due(roll, batch, lay, spreads, promised, cloth, mode, colour))
    return found


def mm_as_bought(on_table_mm: float, handling: str, shrinkage_percent: Decimal) -> float:
    """Length on the roll for a length on the table; more where cloth is washed first."""
    if handling == Fabric.Shrinkage.WASH_FIRST:
        return before_washing(on_table_mm, max(float(shrinkage_percent) / 100.0, 0.0))
    return on_table_mm
