"""Flaws on the rolls of a lay that are in the way of its plies: which ply begins behind which, and what is lost.

:func:`planner.core.rolls.place_promised` says where plies lie on their roll, here as for what is promised and what is
free, with the lays in the order in which they are cut. The lay's page, its cut ticket and the cut sheet all tell it in
the words of :func:`ahead_in_words`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from planner.core.listed import lays_listed, listed, ordinal
from planner.core.rolls import Placed, RunOnRoll
from planner.core.spec import ClothKey
from planner.core.units import THIN_SPACE, Display, format_length
from planner.cutting.kept_rolls import planned_rolls
from planner.cutting.models import Batch, Lay, LayFact
from planner.materials.dues import FlawOnRoll, RollPromised
from planner.materials.promised import Promise, StillPromised, placed_on, to_cm
from planner.materials.washed import left_of_a_metre

#: A shorter piece counts as nothing (mm).
NOTHING_MM = 1.0


@dataclass(frozen=True)
class RollAhead:
    """A roll with flaws that some plies of a lay have to begin behind.

    Lengths are mm from the end of the roll as it is once the lays `after` (batch, number) are cut from it. `plies` are
    still to come from it for this lay. `begins` names those that begin behind a flaw, counted from 1, and where they
    begin; it is empty where plies of other lays lie between them, and then only the flaws themselves are told. `passed`
    has the flaws (pk) before each such ply. `takes_m` is what comes off the roll in all, 0 where it has not enough for
    all plies. `keep_mm` is the longest good piece that is cut off with a flaw.
    """

    pk: int
    number: str
    after: tuple[tuple[str, int], ...]
    flaws: tuple[tuple[float, float], ...]
    begins: tuple[tuple[int, float], ...]
    plies: int
    takes_m: Decimal
    passed: tuple[tuple[int, tuple[int, ...]], ...]
    keep_mm: float = 0.0


@dataclass(frozen=True)
class TurnAtRoll:
    """Which lays (batch, number) are cut from a roll with flaws before a given lay, or were cut already.

    Cutting some of them changes nothing here. `is_by_number`: those of the lay's own batch are just the ones with lower
    numbers.
    """

    roll: str
    after: tuple[tuple[str, int], ...]
    is_by_number: bool


@dataclass(frozen=True)
class FlawsAhead:
    """Flaws in the way of the plies of several lays.

    `of_lay`: by lay (pk) the rolls whose flaws are in the way of its plies. `lost_m`: by LayCloth and roll (pk both)
    the metres lost before the first ply, before the first two, and so on. `turns`: see `StillPromised.at_flaws`.
    `at_rolls`: by lay (pk) when its turn is at each of its rolls with flaws.
    """

    of_lay: Mapping[int, tuple[RollAhead, ...]] = field(default_factory=dict)
    lost_m: Mapping[tuple[int, int], tuple[Decimal, ...]] = field(default_factory=dict)
    turns: Mapping[tuple[str, int], int] = field(default_factory=dict)

    at_rolls: Mapping[int, tuple[TurnAtRoll, ...]] = field(default_factory=dict)

    def facts(self, lay: int) -> str:
        """What a cut ticket says of this and what stays so as long as lays are cut as planned; "" for nothing.

        These are the flaws its plies begin behind, and the lays it comes after, where that matters or is not the order
        of their numbers.
        """
        passed = {one.number: one.passed for one in self.of_lay.get(lay, ())}
        found = [
            (turn.roll, passed.get(turn.roll, ()), turn.after)
            for turn in self.at_rolls.get(lay, ())
            if turn.roll in passed or not turn.is_by_number
        ]
        return repr(found) if found else ""

    def turns_of(self, batch: Batch) -> dict[int, int]:
        """The turn of each lay of a batch (by number) among those that share rolls with flaws."""
        return {number: turn for (own, number), turn in self.turns.items() if own == batch.number}


def flaws_ahead(lays: Iterable[Lay], promised: StillPromised | None = None) -> FlawsAhead:
    """The flaws before the plies of these lays, which must be read with their rolls.

    No query where the rolls have no flaws, else three; one less where `promised` was read already.
    """
    own: dict[tuple[str, int], int] = {}
    rolls: dict[int, set[int]] = defaultdict(set)
    for lay in lays:
        if lay.cut_at is None:
            for cloth in lay.cloths.all():
                rolls[lay.pk] |= {row.roll_id for row in planned_rolls(cloth) if _may_have_flaws(row)}
            own[lay.batch.number, lay.number] = lay.pk
    pks = set().union(*rolls.values())
    if not pks:
        return FlawsAhead()
    promised = promised or StillPromised()
    of_lay: dict[int, list[RollAhead]] = defaultdict(list)
    at_rolls: dict[int, list[TurnAtRoll]] = defaultdict(list)
    lost: dict[tuple[int, int], tuple[Decimal, ...]] = {}
    cut = _cut_from(pks)
    for roll in _on_rolls(promised, pks):
        names = list(dict.fromkeys((one.batch, one.lay) for one in roll.due))
        for turn, name in enumerate(names):
            if name in own and roll.there.pk in rolls[own[name]]:
                ahead = _ahead(roll, name)
                of_lay[own[name]] += [ahead] if ahead else []
                at_rolls[own[name]].append(_turn_at(roll, name, names[:turn], cut[roll.there.pk]))
        each = {roll.due[n].cloth: lost_m for n, lost_m in _lost(roll.placed).items() if any(lost_m)}
        lost |= {(cloth, roll.there.pk): lost_m for cloth, lost_m in each.items()}
    return FlawsAhead(
        {pk: tuple(found) for pk, found in of_lay.items() if found},
        lost,
        promised.at_flaws,
        {pk: tuple(found) for pk, found in at_rolls.items()},
    )


def lost_at_flaws(promised: StillPromised | None = None) -> dict[tuple[str, ClothKey], Decimal]:
    """Metres that all plies still to be cut lose at flaws, by batch (number) and cloth.

    No more of a roll is lost than it has besides its plies: these may lie beyond its end by the error of a tape, and
    nothing has to be bought for that. At most two queries, one less where `promised` was read already.
    """
    promised = promised or StillPromised()
    found: dict[tuple[str, ClothKey], Decimal] = defaultdict(Decimal)
    for roll in _on_rolls(promised, promised.flaws):
        key, spare_m = ClothKey(roll.there.fabric, roll.there.colour), _spare_m(roll)
        for n, lost_m in _lost(roll.placed).items():
            lost_here_m = min(lost_m[-1], spare_m)
            if lost_here_m > 0:
                found[roll.due[n].batch, key] += lost_here_m
                spare_m -= lost_here_m
    return dict(found)


def _spare_m(roll: _OnRoll) -> Decimal:
    """Metres that a roll has besides the plies that lie on it."""
    plies: dict[int, int] = defaultdict(int)
    for run in roll.placed.runs:
        plies[run.promise] += run.plies
    taken_mm = sum(count * roll.due[n].exact_mm for n, count in plies.items())
    return roll.there.left_m - Decimal(repr(round(taken_mm / 1000, 6)))


@dataclass(frozen=True)
class _OnRoll:
    """A roll with its flaws, what is promised of it in the order it is cut, and where that lies."""

    there: RollPromised
    flaws: Sequence[FlawOnRoll]
    due: Sequence[Promise]
    placed: Placed


def _on_rolls(promised: StillPromised, pks: Iterable[int]) -> Iterator[_OnRoll]:
    """These rolls (pk) with what is promised from them; those from which nothing is are left out."""
    for pk in sorted(set(pks) & set(promised.promises)):
        there, flaws, due = promised.rolls[pk], promised.flaws.get(pk, ()), promised.promises[pk]
        placed = placed_on(there.left_m, [(flaw.from_m, flaw.to_m) for flaw in flaws], due)
        yield _OnRoll(there, flaws, due, placed)


def _may_have_flaws(row: object) -> bool:
    return getattr(row, "roll_id", None) is not None and bool(getattr(row, "has_flaws", True))


def _cut_from(rolls: Collection[int]) -> dict[int, set[tuple[str, int]]]:
    """By roll (pk) the lays (batch, number) that were cut from it already. One query."""
    cut: dict[int, set[tuple[str, int]]] = defaultdict(set)
    told = LayFact.objects.filter(roll__in=rolls, taken_back_at=None, spreads__gt=0).order_by()
    lay = ("lay_cloth__lay__batch__number", "lay_cloth__lay__number")
    for roll, batch, number in told.values_list("roll", *lay):
        cut[roll].add((batch, number))
    return cut


def _turn_at(
    roll: _OnRoll, lay: tuple[str, int], before: Iterable[tuple[str, int]], cut: Collection[tuple[str, int]]
) -> TurnAtRoll:
    """When the turn of a lay is at a roll, given the lays to be cut `before` it and those that were `cut` from it."""
    first = {*before, *cut} - {lay}
    batch, number = lay
    all_of = {(one.batch, one.lay) for one in roll.due} | first
    by_number = {one for one in all_of if one[0] == batch and one[1] < number}
    return TurnAtRoll(
        roll.there.number, tuple(sorted(first)), {one for one in first if one[0] == batch} == by_number
    )


def _ahead(roll: _OnRoll, lay: tuple[str, int]) -> RollAhead | None:
    """What is in the way of the plies of one lay (batch, number) on a roll; None where no flaw is."""
    flaws, due, placed = roll.flaws, roll.due, roll.placed
    own = {n for n, one in enumerate(due) if (one.batch, one.lay) == lay}
    at = [k for k, run in enumerate(placed.runs) if run.promise in own]
    runs = [placed.runs[k] for k in at]
    if not any(run.lost_mm > NOTHING_MM for run in runs):
        return None
    before = [due[run.promise] for run in placed.runs[: at[0]]]
    is_together = at[-1] - at[0] == len(at) - 1
    start_mm = _end_mm(placed.runs[: at[0]], due) if is_together else 0.0
    begins, passed, count, keep_mm = [], [], 0, 0.0
    shown: dict[int, FlawOnRoll] = {}
    for run in runs:
        if run.lost_mm > NOTHING_MM:
            here = _between(flaws, run.from_mm - run.lost_mm, run.from_mm)
            shown |= {flaw.pk: flaw for flaw in here}
            begins.append((count + 1, run.from_mm - start_mm))
            passed.append((count + 1, tuple(flaw.pk for flaw in here)))
            keep_mm = max(keep_mm, _mm(here[0].from_m) - (run.from_mm - run.lost_mm) if here else 0.0)
        count += run.plies
    plies = sum(due[n].plies.plies for n in own)
    exact_mm = sum(run.plies * due[run.promise].exact_mm for run in runs) if count == plies else 0.0
    takes_m = Decimal(repr(exact_mm)) / 1000 + to_cm(sum(run.lost_mm for run in runs))
    return RollAhead(
        pk=roll.there.pk,
        number=roll.there.number,
        after=tuple(dict.fromkeys((one.batch, one.lay) for one in before)) if is_together else (),
        flaws=tuple((_mm(f.from_m) - start_mm, _mm(f.to_m) - start_mm) for f in shown.values()),
        begins=tuple(begins) if is_together else (),
        plies=plies,
        takes_m=takes_m if exact_mm else Decimal(0),
        passed=tuple(passed),
        keep_mm=keep_mm,
    )


def _end_mm(runs: Sequence[RunOnRoll], due: Sequence[Promise]) -> float:
    """Where the roll ends once these plies are cut (mm); they are a hair longer than the length they are placed by."""
    longer_mm = 0.0
    for run in runs:
        each_mm = due[run.promise].exact_mm - due[run.promise].plies.ply_mm
        longer_mm = run.plies * each_mm + (0.0 if run.lost_mm > NOTHING_MM else longer_mm)
    return runs[-1].to_mm + longer_mm if runs else 0.0


def _between(flaws: Iterable[FlawOnRoll], low_mm: float, high_mm: float) -> list[FlawOnRoll]:
    """The flaws that lie between two places on the roll, in the order they are given."""
    return [f for f in flaws if _mm(f.to_m) > low_mm + NOTHING_MM and _mm(f.from_m) < high_mm - NOTHING_MM]


def _mm(metres: Decimal) -> float:
    return float(metres) * 1000


def _lost(placed: Placed) -> dict[int, tuple[Decimal, ...]]:
    """What is lost before the first ply of each promise, before the first two, and so on (m)."""
    runs: dict[int, list[RunOnRoll]] = defaultdict(list)
    for run in placed.runs:
        runs[run.promise].append(run)
    found = {}
    for n, own in runs.items():
        lost_mm, each = 0.0, []
        for run in own:
            lost_mm += run.lost_mm
            each += [to_cm(lost_mm)] * run.plies
        found[n] = tuple(each)
    return found


def ahead_in_words(one: RollAhead, lay: Lay, display: Display) -> str:
    """ "R-101: flaw 0.5–0.8 m from its end; begin the ply at 0.8 m, so that 3.23 m come off the roll".

    Lengths of cloth that is washed first are told as it lies on the table, where they are measured; its flaws are told
    as bought too.
    """
    left_m = left_of_a_metre(lay.cloths.all()[0].fabric_colour.fabric)
    left = float(left_m)
    noun = "flaw" if len(one.flaws) == 1 else "flaws"
    lie = [range_in_words(low * left, high * left, display) for low, high in one.flaws]
    where = f"{noun} {listed(lie)} from its end"
    if left != 1:
        bought = listed([range_in_words(*flaw, display) for flaw in one.flaws])
        where = f"{where}, washed ({bought} as bought)"
    if one.after:
        of_own = [number for batch, number in one.after if batch == lay.batch.number]
        others = [f"lay {number} of {batch}" for batch, number in one.after if batch != lay.batch.number]
        lays = listed([*([lays_listed(of_own)] if of_own else []), *others])
        where = f"once {lays} {'is' if len(one.after) == 1 else 'are'} cut from it, {where}"
    if not one.begins:
        return f"{one.number}: {where}; no ply may lie across {'it' if len(one.flaws) == 1 else 'them'}"
    ply = "length" if lay.mode == Lay.Mode.FOLDED else "ply"
    still = " still to come" if any(cloth.cut_spreads for cloth in lay.cloths.all()) else ""
    begins = []
    for number, at_mm in one.begins:
        which = f"{ply}" if one.plies == 1 else f"{ordinal(number)} {ply}{still}"
        begins.append(f"the {which} at {format_length(at_mm * left, display, 'cloth', at_least=True)}")
    words = f"{one.number}: {where}; begin {listed(begins)}"
    if not one.takes_m:
        return words
    takes = format_length(one.takes_m * 1000 * left_m, display, "cloth", at_least=True)
    return f"{words}, so that {takes} come off the roll"


def range_in_words(low_mm: float, high_mm: float, display: Display) -> str:
    """ "0.5–0.8 m"."""
    low, high = (format_length(max(mm, 0.0), display, "cloth") for mm in (low_mm, high_mm))
    number, _, unit = low.rpartition(THIN_SPACE)
    return f"{number}–{high}" if high.endswith(f"{THIN_SPACE}{unit}") else f"{low}–{high}"
