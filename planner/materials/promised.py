"""What lays not cut yet are to take from rolls, and which rolls have no stretch for all of it.

A roll with enough metres may still be unable to give them: no ply is spliced or lies across a flaw. Everything that
asks what a roll can give asks here, so that promises, purchases and lays that wait all go by the same stretches.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import ROUND_UP, Decimal
from functools import cached_property
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from planner.common.kept_questions import KeptQuestion
from planner.core.lays.order import LayState, cutting_order
from planner.core.rolls import BY_TAPE_MM, FlawedRoll, Placed, PliesPromised, free_stretches, place_promised
from planner.materials.dues import (
    END_AT,
    LEFT_AT,
    MODE_AT,
    ROLL_AT,
    SHARE_ENDS,
    Due,
    FlawOnRoll,
    PliesToBuyFor,
    RollPromised,
    dues_in,
    shares,
)
from planner.materials.models import Roll, RollFlaw
from planner.materials.querysets import summed_moves
from planner.materials.turns import BatchTurn, LayName, lays_in, turns_at_flaws
from planner.materials.washed import mm_as_bought

_CENTIMETRE = Decimal("0.01")
BY_TAPE_M = Decimal(str(BY_TAPE_MM)) / 1000
#: No difference in the length of a ply (mm).
_NOTHING_MM = 0.1


@dataclass(frozen=True)
class Promise:
    """Cloth that a lay is to take from a roll: how many `spreads`, how many `metres` as it lies on the roll, and as
    which `plies`.

    `mode` is that of the lay; `cloth` is its row for the colour (LayCloth pk).
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
        """The length of a ply on the roll; in `plies` it is a hair shorter, see :func:`_promise`."""
        return self.plies.ply_mm + _NOTHING_MM


def short_of(
    left_m: Decimal, flaws: Iterable[tuple[Decimal, Decimal]], promises: Iterable[Promise]
) -> tuple[int, ...]:
    """For each promise the number of plies for which the roll has no stretch free of `flaws` (from, to in m)."""
    return placed_on(left_m, flaws, promises).short


def placed_on(
    left_m: Decimal, flaws: Iterable[tuple[Decimal, Decimal]], promises: Iterable[Promise]
) -> Placed:
    """Where the plies of these promises, given in the order they are cut, lie on a roll with `left_m` and `flaws`."""
    roll = _as_reckoned(left_m, flaws)
    return place_promised(roll.length_mm, roll.flaws, [promise.plies for promise in promises])


def _as_reckoned(left_m: Decimal, flaws: Iterable[tuple[Decimal, Decimal]]) -> FlawedRoll:
    length_mm = float(max(left_m, Decimal(0)) + BY_TAPE_M) * 1000
    return FlawedRoll(length_mm, tuple((float(low) * 1000, float(high) * 1000) for low, high in flaws))


def lost_m(placed: Placed) -> Decimal:
    """What is cut off and lost at flaws before plies that lie so, to the centimetre."""
    return to_cm(placed.lost_mm)


def to_cm(length_mm: float) -> Decimal:
    """Metres to the nearest centimetre: flaws are measured so, and plies lie a hair closer than they are long."""
    return Decimal(repr(round(length_mm / 1000.0, 6))).quantize(_CENTIMETRE)


def longest_m(left_m: Decimal, flaws: Iterable[tuple[Decimal, Decimal]]) -> Decimal:
    """The longest stretch free of `flaws` (m) on a roll with `left_m`."""
    stretches = free_stretches(float(left_m), [(float(low), float(high)) for low, high in flaws])
    longest = max((high - low for low, high in stretches), default=0.0)
    return Decimal(repr(longest)).quantize(_CENTIMETRE)


@dataclass(frozen=True)
class OverPromised:
    """A roll that has no stretch without a flaw for some of the plies promised from it.

    `short` counts such plies, promise by promise. `flaws` (from, to in m) are those still in the cloth, `longest_m` is
    the longest stretch between them.
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
        """The lays that have such plies, as (batch number, lay number)."""
        both = zip(self.promises, self.short, strict=True)
        return tuple(dict.fromkeys((promise.batch, promise.lay) for promise, short in both if short))

    @property
    def has_too_little(self) -> bool:
        """Whether less is left than is promised, wherever the flaws lie."""
        return sum((promise.metres for promise in self.promises), Decimal(0)) > self.left_m + BY_TAPE_M


class StillPromised:
    """What is promised to the lays of all batches that are still to be cut.

    It is read when it is first asked for, so that several questions of one page take one query. What comes from a roll
    is listed in the order in which its lays are cut, so that everybody who asks where plies lie on it gets the same
    answer. `flaws` are those of rolls (by pk) that have been read already, all that are left on each.
    """

    def __init__(self, flaws: Mapping[int, tuple[FlawOnRoll, ...]] | None = None) -> None:
        self._known = flaws or {}

    @cached_property
    def rows(self) -> list[tuple[Any, ...]]:
        """As :func:`_with_rolls` asks for it."""
        return _PROMISED_WITH_ROLLS.ask()

    @cached_property
    def rolls(self) -> dict[int, RollPromised]:
        """The rolls that anything is still to come from, by pk."""
        return {
            pk: RollPromised(pk, *row[SHARE_ENDS:-_OF_PLIES])
            for row in self.rows
            if (pk := row[ROLL_AT]) is not None
        }

    @cached_property
    def dues(self) -> tuple[Due, ...]:
        """What is still due, from rolls and from cloth to be bought, in the order in which the lays are cut."""
        turns = {
            (batch, number): (at, turn)
            for at, ((_, _, batch), states) in enumerate(self._lays.items())
            for turn, number in enumerate(
                cutting_order(
                    [replace(one, at_flaws=self.at_flaws.get((batch, one.number))) for one in states]
                )
            )
        }
        return tuple(sorted(self._dues, key=lambda due: turns[due.name]))

    @cached_property
    def at_flaws(self) -> dict[LayName, int]:
        """The turn of each lay among those of its batch that take from rolls with flaws.

        Empty where no such roll serves several lays of one batch. Where one does, this takes one more query, unless all
        flaws are known.
        """
        if not self._any_shared([pk for pk, roll in self.rolls.items() if roll.has_flaws]):
            return {}
        rolls = {
            pk: _as_reckoned(self.rolls[pk].left_m, [(one.from_m, one.to_m) for one in flaws])
            for pk, flaws in sorted(self.flaws.items())
            if flaws and pk in self.rolls
        }
        if not self._any_shared(rolls):
            return {}
        plies: dict[LayName, dict[int, list[PliesPromised]]] = defaultdict(lambda: defaultdict(list))
        for due in self._dues:
            if due.roll in rolls:
                plies[due.name][due.roll].append(self._promise(due).plies)
        return turns_at_flaws(self._lays, plies, rolls)

    def _any_shared(self, rolls: Collection[int]) -> bool:
        """Whether several lays of one batch take from one of these rolls."""
        takes = {(due.roll, due.name) for due in self._dues if due.roll in rolls}
        return len({(roll, batch) for roll, (batch, _) in takes}) < len(takes)

    @cached_property
    def flaws(self) -> dict[int, tuple[FlawOnRoll, ...]]:
        """The flaws left in these rolls, by pk; rolls without any are left out. One query, none where all are known."""
        asked = [pk for pk, roll in self.rolls.items() if roll.has_flaws and pk not in self._known]
        found: dict[int, tuple[FlawOnRoll, ...]] = dict(self._known)
        if asked:
            rows = RollFlaw.objects.filter(roll__in=asked, to_m__gt=0).order_by("from_m", "pk")
            for roll, *flaw in rows.values_list("roll", "pk", "from_m", "to_m"):
                one = FlawOnRoll(*flaw)
                if one.from_m < self.rolls[roll].left_m:
                    found[roll] = (*found.get(roll, ()), replace(one, from_m=max(one.from_m, Decimal(0))))
        return found

    @cached_property
    def promises(self) -> dict[int, tuple[Promise, ...]]:
        """What is to be taken from each roll (pk), in the order in which the lays are cut. Of lays cut in part it is
        only what is still to come.
        """
        return self._promises(self.dues)

    def from_rolls(self) -> dict[tuple[str, str], tuple[Promise, ...]]:
        """What is to be taken from rolls, by the names of fabric and colour."""
        found: dict[tuple[str, str], tuple[Promise, ...]] = defaultdict(tuple)
        for pk, own in self.by_number.items():
            found[self.rolls[pk].fabric, self.rolls[pk].colour] += own
        return dict(found)

    def to_buy_for(self) -> list[PliesToBuyFor]:
        """Plies still to be cut that no roll has cloth for, of lays that have been nested, in the order of their pk."""
        found = []
        left: dict[int, int] = {}
        for row in self.rows:
            roll, spreads = row[ROLL_AT : ROLL_AT + 2]
            pk, batch, fabric, colour, length_mm, state, seed, _ = row[-_OF_PLIES:]
            # While a marker is nested for the first time its plies have no rolls yet.
            if roll is not None or length_mm is None or (state in {"waiting", "nesting"} and not seed):
                continue
            # What was cut of them came from cloth that was there after all.
            there = left.setdefault(row[0], max(row[LEFT_AT], 0))
            left[row[0]] = there - min(spreads, there)
            if there:
                of = fabric, colour, min(spreads, there), row[MODE_AT], length_mm, row[END_AT]
                found.append(PliesToBuyFor(pk, batch, *of))
        return sorted(found, key=lambda one: one.pk)

    @cached_property
    def by_number(self) -> dict[int, tuple[Promise, ...]]:
        """What is to be taken from each roll (pk), in the order in which the lays are numbered."""
        return self._promises(self._dues)

    @cached_property
    def _dues(self) -> list[Due]:
        return dues_in(self.rows)

    @cached_property
    def _lays(self) -> dict[BatchTurn, list[LayState]]:
        return lays_in(self.rows, _DUE_AT)

    def _promises(self, dues: Iterable[Due]) -> dict[int, tuple[Promise, ...]]:
        found: dict[int, list[Promise]] = defaultdict(list)
        for due in dues:
            if due.roll is not None:
                found[due.roll].append(self._promise(due))
        return {roll: tuple(own) for roll, own in found.items()}

    def _promise(self, due: Due) -> Promise:
        assert due.roll is not None
        roll = self.rolls[due.roll]
        return _promise(due, roll.handling, roll.shrinkage_percent)


def over_promised(
    rolls: Collection[int] | None, promised: StillPromised | None = None
) -> tuple[OverPromised, ...]:
    """Those of these rolls (pk; None for all) whose stretches between flaws do not hold all plies promised from them.

    One query, none where `promised` was read already; one more where there are flaws; none for no rolls.
    """
    if rolls is not None and not rolls:
        return ()
    promised = promised or StillPromised()
    found = {pk: own for pk, own in promised.by_number.items() if rolls is None or pk in rolls}
    there = {pk: promised.rolls[pk] for pk in found}
    flaws = defaultdict(tuple, flaws_of({pk: roll.left_m for pk, roll in there.items() if roll.has_flaws}))
    return tuple(
        OverPromised(
            roll.number,
            roll.left_m,
            found[pk],
            roll.fabric,
            roll.colour,
            short,
            flaws[pk],
            longest_m(roll.left_m, flaws[pk]),
            pk,
        )
        for pk, roll in sorted(there.items())
        if any(short := short_of(roll.left_m, flaws[pk], found[pk]))
    )


def flaws_of(left_m: Mapping[int, Decimal]) -> dict[int, tuple[tuple[Decimal, Decimal], ...]]:
    """The flaws (from, to in m) still in the cloth of rolls, which are given by pk with what is left of each (m).

    One query, none for no rolls.
    """
    found: dict[int, list[tuple[Decimal, Decimal]]] = defaultdict(list)
    if left_m:
        rows = RollFlaw.objects.filter(roll__in=list(left_m)).order_by("from_m", "pk")
        for pk, from_m, to_m in rows.values_list("roll", "from_m", "to_m"):
            low, high = max(from_m, Decimal(0)), min(to_m, left_m[pk])
            if low < high:
                found[pk].append((low, high))
    return {pk: tuple(own) for pk, own in found.items()}


def _promise(due: Due, handling: str, shrinkage_percent: Decimal) -> Promise:
    """What is due from a roll, in metres as they lie on it."""
    ply_mm = mm_as_bought(due.plies.ply_mm, handling, shrinkage_percent)
    metres = Decimal(repr(round(ply_mm * due.plies.plies / 1000.0, 6))).quantize(_CENTIMETRE, ROUND_UP)
    # A ply fits a stretch of its own length: what no tape can measure must not keep it off.
    plies = replace(due.plies, ply_mm=max(ply_mm - _NOTHING_MM, 0.0))
    return Promise(due.batch, due.lay, due.spreads, metres, plies, due.cloth, due.mode)


def _promised() -> Any:
    """The promises (LayRoll) of lays in batches that are planned or being cut."""
    # Lays belong to a room above this one, so they are reached through what points at a roll.
    rows: Any = Roll.promised.rel.related_model.objects  # type: ignore[attr-defined]
    return rows.filter(lay_cloth__lay__batch__state__in=["planned", "cutting"])


#: How many columns at the end of :func:`_with_rolls` are about the plies, and where the day they are due stands.
_OF_PLIES, _DUE_AT = 8, -1


_FABRIC, _SHRINKS = "roll__fabric_colour__fabric__shrinkage_", ("handling", "length_percent")


def _with_rolls() -> QuerySet[Any]:
    """The promises, each with what is left of its roll, how that cloth shrinks, and the cloth of its plies, which have
    one even where no roll holds them."""
    names = ("roll__fabric_colour__fabric__name", "roll__fabric_colour__name")
    flaws = Exists(RollFlaw.objects.filter(roll=OuterRef("roll")))
    shrinks = (f"{_FABRIC}{one}" for one in _SHRINKS)
    colour = "lay_cloth__fabric_colour"
    of_plies = ("pk", "lay_cloth__lay__batch_id", f"{colour}__fabric__name", f"{colour}__name")
    return shares(
        _promised(),
        *("roll__number", summed_moves("roll", of="roll"), *names, flaws, *shrinks),
        *(*of_plies, *(f"lay_cloth__lay__marker__{one}" for one in ("length_mm", "state", "seed"))),
        _promised().first_due_at_flaws(),
    )


# It asks for all rolls, as lays still to be cut are few: so the question can be kept, for it never changes.
_PROMISED_WITH_ROLLS = KeptQuestion(_with_rolls)
