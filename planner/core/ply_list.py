"""Which ply of a lay is which, and which bundle each garment of it belongs to.

Plies are numbered from 1, the bottom one. A spread is one ply in an open lay, and two where cloth lies face to face or
folded: a garment then takes its pieces from both.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Protocol

from planner.core.lays.model import LAYERS, Mode, Plies
from planner.core.planning import PlannedBundle
from planner.core.rolls.left import still_from
from planner.core.spec import ClothKey, Garment
from planner.core.told_lots import Told, ToldSpreads, lot_of, told_each


class LayOfPlies(Protocol):
    """What is asked of a lay here: its section, its mode and its plies, bottom first."""

    @property
    def section(self) -> int: ...

    @property
    def mode(self) -> Mode: ...

    @property
    def plies(self) -> tuple[Plies, ...]: ...


@dataclass(frozen=True, slots=True)
class RollSpreads:
    """A number of spreads from one roll; `roll` is "" for cloth that is still to be bought.

    `came_later`: it was still to be bought when bundles were given these plies.
    """

    roll: str
    shade_lot: str
    spreads: int
    came_later: bool = False


#: Rolls of each lay by its section: for each of its plies (of one marking) the rolls from the bottom up.
Rolls = Mapping[int, Sequence[Sequence[RollSpreads]]]


@dataclass(frozen=True, slots=True)
class PlyRun:
    """Plies that follow one another and are alike: from `first` to `last`, both included.

    `is_cut` where the table said so. `roll` is the one named at the table, else the one that is still planned for them;
    None where no roll was chosen. `bundles` names the bundle of each garment number of the marker, from 1, "" where
    there is none; `garments` are the garments of the same numbers. `lot` is their shade lot: as told at the table, else
    as planned; "" where it is not known.
    """

    first: int
    last: int
    cloth: ClothKey
    roll: RollSpreads | None
    garments: tuple[Garment, ...]
    bundles: tuple[str, ...]
    lot: str = ""
    is_cut: bool = False


#: The shade lot that plies are planned from, and whether their cloth was to be bought when bundles were given plies:
#: that is a lot of its own, whatever roll has come in for it since.
_Lot = tuple[bool, str]


@dataclass(frozen=True, slots=True)
class _Spread:
    """One spread: the lay's section, its place from the bottom from 0, which plies it is of, its rolls, its lot."""

    section: int
    place: int
    group: int
    cloth: ClothKey
    garments: tuple[Garment, ...]
    planned: RollSpreads | None
    roll: RollSpreads | None
    lot: str
    is_cut: bool

    @property
    def planned_lot(self) -> _Lot:
        if self.planned is None:
            return False, ""
        if self.planned.came_later or not self.planned.roll:
            return True, ""
        return False, self.planned.shade_lot


#: Section, place of the spread, garment number from 0.
_Unit = tuple[int, int, int]


def ply_runs(
    lays: Sequence[LayOfPlies], rolls: Rolls, bundles: Sequence[PlannedBundle], told: Told | None = None
) -> dict[int, tuple[PlyRun, ...]]:
    """The plies of every lay by its section, from the bottom, those that are alike together.

    Bundles are served one after the other. A bundle takes its garments place by place of the marker, and ply by ply in
    each place, so that what lies in one stack stays together. All of them come from one planned lot of its main cloth:
    the first that has enough left. From its other cloths it takes them lay by lay and lot by lot. Neither what was
    `told` at the table nor a roll that came in changes whose the plies are, so that a printed ticket goes on naming the
    same plies.
    """
    by_number = sorted(lays, key=lambda one: one.section)
    spreads = [spread for lay in by_number for spread in _spreads(lay, rolls, told or {})]
    owners = _owners(spreads, bundles)
    modes = {lay.section: lay.mode for lay in lays}
    runs: dict[int, list[PlyRun]] = defaultdict(list)

    def alike(spread: _Spread) -> tuple[object, ...]:
        told = spread.roll, spread.lot, spread.is_cut
        return spread.section, spread.group, *told, _bundles_of(spread, owners)

    for _, together in groupby(spreads, key=alike):
        run = list(together)
        layers = LAYERS[modes[run[0].section]]
        runs[run[0].section].append(
            PlyRun(
                first=run[0].place * layers + 1,
                last=(run[-1].place + 1) * layers,
                cloth=run[0].cloth,
                roll=run[0].roll,
                garments=run[0].garments,
                bundles=_bundles_of(run[0], owners),
                lot=run[0].lot,
                is_cut=run[0].is_cut,
            )
        )
    return {section: tuple(found) for section, found in runs.items()}


def plies_of(bundle: str, runs: Mapping[int, Sequence[PlyRun]]) -> dict[int, tuple[tuple[int, int], ...]]:
    """From which plies of which lays a bundle comes: (first, last) of stretches without a gap, by section."""
    found: dict[int, list[tuple[int, int]]] = {}
    for section, of_lay in sorted(runs.items()):
        for run in of_lay:
            if bundle not in run.bundles:
                continue
            stretches = found.setdefault(section, [])
            if stretches and stretches[-1][1] + 1 == run.first:
                stretches[-1] = (stretches[-1][0], run.last)
            else:
                stretches.append((run.first, run.last))
    return {section: tuple(stretches) for section, stretches in found.items()}


def runs_by_bundle(runs: Mapping[int, Sequence[PlyRun]]) -> dict[str, dict[int, Sequence[PlyRun]]]:
    """The plies of the lays that hold something of a bundle, by section, for each bundle by its number: what is asked
    of each of very many bundles need not look through very many lays.
    """
    found: dict[str, dict[int, Sequence[PlyRun]]] = defaultdict(dict)
    for section, of_lay in runs.items():
        for bundle in dict.fromkeys(bundle for run in of_lay for bundle in run.bundles if bundle):
            found[bundle][section] = of_lay
    return dict(found)


def _spreads(lay: LayOfPlies, rolls: Rolls, told: Told) -> list[_Spread]:
    """The spreads of a lay from the bottom; those that no roll was chosen for come last of their plies."""
    found: list[_Spread] = []
    chosen, facts = rolls.get(lay.section, ()), told.get(lay.section, ())
    for group, plies in enumerate(lay.plies):
        parts = chosen[group] if group < len(chosen) else ()
        each = [part for part in parts for _ in range(part.spreads)]
        each = each[: plies.spreads]
        of_spread: list[RollSpreads | None] = [*each, *[None] * (plies.spreads - len(each))]
        of_fact = told_each(plies.spreads, facts[group] if group < len(facts) else ())
        rolls_now = _rolls_now(of_spread, of_fact)
        for planned, fact, roll in zip(of_spread, of_fact, rolls_now, strict=True):
            lot = lot_of(planned.shade_lot if planned else "", fact)
            place, is_cut = len(found), fact is not None
            found.append(
                _Spread(lay.section, place, group, plies.cloth, plies.slots, planned, roll, lot, is_cut)
            )
    return found


def _rolls_now(
    planned: Sequence[RollSpreads | None], told: Sequence[ToldSpreads | None]
) -> list[RollSpreads | None]:
    """The roll of each spread from the bottom: the one told, else those planned, in their order, that are not used
    up.

    :func:`still_from` says which of the planned ones are still to come. Spreads cut without naming a roll are given
    those planned rolls that are then left over.
    """
    if not any(told):
        return list(planned)
    shares = [(part, len(list(run))) for part, run in groupby(planned)]
    names = [part.roll if part else "" for part, _ in shares]
    named = Counter(fact.roll for fact in told if fact is not None)
    counts = [spreads for _, spreads in shares]
    still = [left for _, left in still_from(list(zip(names, counts, strict=True)), named, told.count(None))]
    to_come: list[RollSpreads | None] = []
    unnamed: list[RollSpreads | None] = []
    for (part, spreads), left in zip(shares, still, strict=True):
        to_come += [part] * left
        own = min(named[part.roll], spreads - left) if part and part.roll else 0
        unnamed += [part] * (spreads - left - own)
        if part and part.roll:
            named[part.roll] -= own
    unnamed.sort(key=lambda part: bool(part and part.roll))
    rolls: list[RollSpreads | None] = []
    for fact in told:
        if fact is not None and fact.roll:
            rolls.append(RollSpreads(fact.roll, fact.shade_lot or "", fact.spreads))
        else:
            rolls.append((to_come if fact is None else unnamed).pop(0))
    return rolls


#: Garments not given to a bundle yet, with the lot they are planned from; by what they are, their cloth, their section.
_Units = list[tuple[_Unit, _Lot]]
_Left = dict[Garment, dict[ClothKey, dict[int, _Units]]]


def _owners(spreads: Sequence[_Spread], bundles: Sequence[PlannedBundle]) -> dict[_Unit, str]:
    """The bundle of each garment of each spread."""
    left: _Left = defaultdict(lambda: defaultdict(lambda: defaultdict(list)))
    for spread in spreads:
        for number, garment in enumerate(spread.garments):
            unit = (spread.section, spread.place, number)
            left[garment][spread.cloth][spread.section].append((unit, spread.planned_lot))
    for of_cloth in left.values():
        for sections in of_cloth.values():
            for section, units in sections.items():
                sections[section] = _in_order(units)
    owners: dict[_Unit, str] = {}
    for bundle in bundles:
        for sections in left[bundle.garment].values():
            taken = _taken(bundle, sections)
            owners |= dict.fromkeys(taken, bundle.number)
    return owners


def _in_order(units: _Units) -> _Units:
    """Lot by lot as they lie, in each place of the marker by place, ply by ply."""
    rank = {lot: n for n, lot in enumerate(dict.fromkeys(lot for _, lot in units))}
    return sorted(units, key=lambda one: (rank[one[1]], one[0][2], one[0][1]))


def _taken(bundle: PlannedBundle, sections: dict[int, _Units]) -> list[_Unit]:
    """What a bundle takes of one cloth: from its main lay those of one lot where there are enough, else lay by lay."""
    is_main = bundle.lay in sections
    taken: list[_Unit] = []
    for section in (bundle.lay,) if is_main else sorted(sections.keys() & set(bundle.lays)):
        there = sections[section]
        if is_main:
            there = _of_one_lot_first(there, bundle.quantity)
        mine = {unit for unit, _ in there[: bundle.quantity - len(taken)]}
        taken += mine
        sections[section] = [one for one in sections[section] if one[0] not in mine]
    return taken


def _of_one_lot_first(units: _Units, quantity: int) -> _Units:
    """Those of the first lot that has so many of them, then the others."""
    counts = Counter(lot for _, lot in units)
    enough = next((lot for lot, there in counts.items() if there >= quantity), None)
    return units if enough is None else sorted(units, key=lambda one: one[1] != enough)


def _bundles_of(spread: _Spread, owners: Mapping[_Unit, str]) -> tuple[str, ...]:
    return tuple(
        owners.get((spread.section, spread.place, number), "") for number in range(len(spread.garments))
    )
