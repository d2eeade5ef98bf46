"""Rolls for plies that bundles have already: lot by lot, whatever is cut or begun left as it is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from planner.core.rolls import RollCut, RollQuestion, RollThere, less_taken
from planner.core.spec import ClothKey, Workshop
from planner.cutting.lot_units import LotUnit
from planner.cutting.models import Batch, Lay, LayRoll
from planner.cutting.plies_dealt import Thought, answer
from planner.cutting.roll_rows import Taken, plies_apart, write_taken, write_to_buy
from planner.cutting.rolls_there import LOOSE, rolls_there
from planner.materials.models import Workroom

#: So much less cloth to buy is worth other rolls for plies whose rolls have enough (mm).
LEAST_LESS_MM = 100.0

#: Rolls by the plies they are for (LotUnit key).
Rolls = dict[str, tuple[Taken, ...]]


@dataclass(frozen=True)
class Dealt:
    """`whole` are plies of which every one has its roll. Of others `kept` is what a lot in stock gives of them: it is
    promised to nobody else, and not to be cut before the others are there of that lot.
    """

    whole: Rolls = field(default_factory=dict)
    kept: Rolls = field(default_factory=dict)

    @property
    def rolls(self) -> set[int]:
        """All rolls that something is to be taken of."""
        both = (*self.whole.values(), *self.kept.values())
        return {one.roll for taken in both for one in taken if one.roll is not None}

    def short_of(self, units: Iterable[LotUnit]) -> int:
        """Spreads of these that have no roll."""
        return sum(unit.spreads for unit in units if unit.key not in self.whole)

    def short_mm(self, units: Iterable[LotUnit]) -> float:
        """The cloth that those take (mm)."""
        wanted = (unit.wanted for unit in units if unit.key not in self.whole)
        return sum(one.plies * one.ply_mm for one in wanted)


def deal(
    batch: Batch, units: Sequence[LotUnit], shop: Workshop, thought: Thought, *, keep_parts: bool = True
) -> Dealt:
    """Which rolls these plies come from, each of one lot. Reckons only; what others of the batch have stays theirs."""
    by_cloth: dict[ClothKey, list[LotUnit]] = defaultdict(list)
    for unit in units:
        by_cloth[unit.cloth].append(unit)
    there = rolls_there(batch, set(by_cloth), shop, {row.pk for unit in units for row in unit.rows})
    keep_mm = float(Workroom.the().keep_remnant_m) * 1000
    found = Dealt()
    for key, own in by_cloth.items():
        one = _OfColour(own, there.get(key, ()), keep_mm, thought)
        one.deal(keep_parts=keep_parts)
        found.whole.update(one.whole)
        found.kept.update(one.kept)
    return found


class _OfColour:
    """The plies of one colour, and what is left of its rolls while they are dealt out."""

    def __init__(
        self, units: Sequence[LotUnit], rolls: Sequence[RollThere], keep_mm: float, thought: Thought
    ) -> None:
        self.units, self.left, self.keep_mm, self.thought = units, tuple(rolls), keep_mm, thought
        self.whole: Rolls = {}
        self.kept: Rolls = {}

    def deal(self, *, keep_parts: bool) -> None:
        """All at once; what does not fit so is tried one after the other, as the lays are numbered."""
        for unit in self.units:
            if unit.lot:
                self._ask([unit], [roll for roll in self.left if roll.shade_lot == unit.lot])
        self._ask([unit for unit in self.units if not unit.lot], self.left)
        for unit in self.units:
            for loose in (False, True):
                if unit.key not in self.whole and not unit.lot:
                    self._ask([unit], [roll for roll in self.left if (roll.key == LOOSE) is loose])
        for unit in self.units:
            if keep_parts and unit.key not in self.whole and not unit.is_begun:
                # More of a lot that nobody noted cannot be asked for.
                cuts = self._cuts([unit], [roll for roll in self.left if roll.shade_lot])[unit.key]
                if cuts:
                    self.kept[unit.key] = as_taken(cuts, unit.lengths)
                    self.left = _less(self.left, cuts)

    def _ask(self, units: Sequence[LotUnit], rolls: Sequence[RollThere]) -> None:
        """Takes over the rolls of those that get all they want."""
        cuts = self._cuts(units, rolls)
        taken: list[RollCut] = []
        for unit in units:
            own = cuts[unit.key]
            if sum(cut.plies for cut in own) == unit.wanted.plies and _keeps_apart(own, unit):
                self.whole[unit.key] = as_taken(own, unit.lengths)
                taken += own
        # All at once, for where they are cut is told of the rolls as they were before any of them.
        self.left = _less(self.left, taken)

    def _cuts(self, units: Sequence[LotUnit], rolls: Sequence[RollThere]) -> dict[str, list[RollCut]]:
        found: dict[str, list[RollCut]] = defaultdict(list)
        if rolls:
            question = RollQuestion(tuple(unit.wanted for unit in units), tuple(rolls), self.keep_mm)
            for cut in answer(question, self.thought).cuts:
                found[cut.wanted].append(cut)
        return found


def _keeps_apart(cuts: Sequence[RollCut], unit: LotUnit) -> bool:
    """Whether plies with these cuts stay told apart from others of their colour: those of no roll cannot be marked."""
    loose = [cut.roll == LOOSE for cut in cuts]
    return not any(loose) or (all(loose) and unit.is_alone)


def as_taken(cuts: Iterable[RollCut], lengths: int) -> tuple[Taken, ...]:
    """The rolls in the order they are cut, each once; a spread takes so many `lengths`, all from one roll."""
    plies: dict[tuple[str, str], int] = defaultdict(int)
    for cut in cuts:
        plies[cut.roll, cut.shade_lot] += cut.plies
    return tuple(
        Taken(None if roll == LOOSE else int(roll), count // lengths, lot, is_loose=roll == LOOSE)
        for (roll, lot), count in plies.items()
    )


def _less(rolls: Sequence[RollThere], cuts: Iterable[RollCut]) -> tuple[RollThere, ...]:
    """What is left of the rolls once these are cut."""
    gone: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for cut in cuts:
        gone[cut.roll].append((cut.from_mm, cut.to_mm))
    left = (less_taken(roll, gone[roll.key]) if roll.key in gone else roll for roll in rolls)
    return tuple(roll for roll in left if roll is not None)


def write_dealt(units: Iterable[LotUnit], dealt: Dealt) -> list[Lay]:
    """Writes the rolls of these plies; the lays of which any have others now. Bundles are not made anew, for their
    tickets are in use. Call it with batch and cloths locked.
    """
    changed: dict[int, Lay] = {}
    for unit in _uppermost_first(units):
        whole, kept = dealt.whole.get(unit.key), dealt.kept.get(unit.key, ())
        if unit.is_part:
            if whole is not None:
                _write_part(unit, whole)
                changed[unit.lay.pk] = unit.lay
            continue
        if _is_so(unit, whole, kept):
            continue
        LayRoll.objects.filter(lay_cloth__in=unit.rows).delete()
        if whole is None:
            write_to_buy(unit.rows, kept)
        else:
            write_taken(unit.rows, whole, came_later=unit.was_to_buy)
        if whole is not None or unit.on_no_roll < unit.spreads or not unit.to_buy:
            # Else they were to be bought and still are, whatever is kept for them: what is printed says the same.
            changed[unit.lay.pk] = unit.lay
    return list(changed.values())


def _write_part(unit: LotUnit, whole: Sequence[Taken]) -> None:
    """Gives the plies left of rows that are begun their rolls; what is cut of these keeps what was told."""
    if all(one.is_loose for one in whole):
        # Cloth on no roll is noted with none of the row's plies, so that they stay of one lot for the bundles.
        LayRoll.objects.filter(lay_cloth__in=unit.rows).delete()
        return
    rows = [plies_apart(row, row.spreads - (row.cut_spreads or 0)) for row in unit.rows]
    write_taken(rows, whole, came_later=unit.was_to_buy)


def _uppermost_first(units: Iterable[LotUnit]) -> list[LotUnit]:
    """So that plies taken apart leave the rows of the others as they were read, see `plies_apart`."""
    return sorted(units, key=lambda unit: -unit.rows[0].pk)


def gets_others(unit: LotUnit, dealt: Dealt) -> bool:
    """Whether all of these plies have rolls, and not the ones that are planned for them already."""
    whole = dealt.whole.get(unit.key)
    return whole is not None and not _is_so(unit, whole, ())


def _is_so(unit: LotUnit, whole: tuple[Taken, ...] | None, kept: tuple[Taken, ...]) -> bool:
    """Whether just this is planned for the plies already."""
    if whole is None:
        there = [(one.roll_id, one.spreads) for one in unit.kept]
        return unit.to_buy == unit.spreads and sorted(there) == sorted(
            (one.roll, one.spreads) for one in kept
        )
    spreads: dict[int | None, int] = defaultdict(int)
    for one in unit.rolls:
        spreads[one.roll_id] += one.spreads
    return spreads == {one.roll: one.spreads for one in whole if not one.is_loose} and not unit.kept
