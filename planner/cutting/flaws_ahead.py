"""Flaws on the rolls of a lay that are in the way of its plies: which ply begins behind which, and what is lost so.

Where the plies that are planned from a roll lie on it :func:`planner.core.rolls.place_promised` says, for what is
promised and what is free as for this. They are reckoned in the order in which their lays are cut. The lay's page, its
cut ticket and the cut sheet all say it in the words of :func:`ahead_in_words`.
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
from planner.cutting.models import Batch, Lay, LayCloth, LayRoll
from planner.cutting.turns import in_turn
from planner.materials.models import Roll, RollFlaw
from planner.materials.promised import Promise, placed_on, promises_from, to_cm
from planner.materials.specs import cloth_key

#: So short a piece is nothing (mm).
NOTHING_MM = 1.0


@dataclass(frozen=True)
class RollAhead:
    """A roll with flaws that plies of a lay are to begin behind.

    Lengths are mm from the end of the roll as it is once the lays `after` (batch, number) are cut from it. `begins` are
    those plies, counted from 1 among the `plies` that are still to come from it, and where they begin; none where
    others lie between them: then it is only told where the flaws are. `passed` names the flaws (pk) before each.
    `takes_m` come off the roll, nothing where it has not enough for all. `keep_mm` is the longest good piece that is
    cut off with a flaw.
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
class FlawsAhead:
    """By lay (pk) the rolls whose flaws are in the way of its plies; what is lost of them by plies and roll (pk both):
    the metres before the first ply, before the first two, and so on.
    """

    of_lay: Mapping[int, tuple[RollAhead, ...]] = field(default_factory=dict)
    lost_m: Mapping[tuple[int, int], tuple[Decimal, ...]] = field(default_factory=dict)

    def facts(self, lay: int) -> tuple[object, ...]:
        """What of this a cut ticket says that does not change as long as the lays are cut as planned."""
        return tuple((one.number, one.passed) for one in self.of_lay.get(lay, ()))


def flaws_ahead(lays: Iterable[Lay]) -> FlawsAhead:
    """The flaws before the plies of lays read with their rolls. No query where these have none, else four."""
    own: dict[int, set[int]] = defaultdict(set)
    for lay in lays:
        if lay.cut_at is None:
            for cloth in lay.cloths.all():
                own[lay.pk] |= {row.roll_id for row in planned_rolls(cloth) if _may_have_flaws(row)}
    pks = set().union(*own.values())
    if not pks:
        return FlawsAhead()
    turns = _turns(pks)
    of_lay: dict[int, list[RollAhead]] = defaultdict(list)
    lost: dict[tuple[int, int], tuple[Decimal, ...]] = {}
    for roll in _on_rolls(pks, turns):
        for name in dict.fromkeys((one.batch, one.lay) for one in roll.due):
            lay_pk = turns[name][1]
            if lay_pk in own and roll.row.pk in own[lay_pk]:
                ahead = _ahead(roll.row, roll.flaws, roll.due, roll.placed, name)
                of_lay[lay_pk] += [ahead] if ahead else []
        each = {roll.due[n].cloth: lost_m for n, lost_m in _lost(roll.placed).items() if any(lost_m)}
        lost |= {(cloth, roll.row.pk): lost_m for cloth, lost_m in each.items()}
    return FlawsAhead({pk: tuple(found) for pk, found in of_lay.items()}, lost)


def lost_at_flaws() -> dict[tuple[str, ClothKey], Decimal]:
    """Metres that all plies still to be cut lose at flaws, by batch (number) and cloth. No more than five queries.

    No more of a roll is lost than it has besides its plies: they may lie beyond its end by what a tape is out, and
    nothing has to be bought for that.
    """
    pks = set(LayRoll.objects.from_flawed().values_list("roll", flat=True).order_by())
    found: dict[tuple[str, ClothKey], Decimal] = defaultdict(Decimal)
    for roll in _on_rolls(pks, _turns(pks)) if pks else ():
        key, spare_m = cloth_key(roll.row.fabric_colour), _spare_m(roll)
        for n, lost_m in _lost(roll.placed).items():
            lost_here_m = min(lost_m[-1], spare_m)
            if lost_here_m > 0:
                found[roll.due[n].batch, key] += lost_here_m
                spare_m -= lost_here_m
    return dict(found)


def _spare_m(roll: _OnRoll) -> Decimal:
    """What a roll has besides the plies that lie on it."""
    plies: dict[int, int] = defaultdict(int)
    for run in roll.placed.runs:
        plies[run.promise] += run.plies
    taken_mm = sum(count * roll.due[n].exact_mm for n, count in plies.items())
    return roll.row.left_m - Decimal(repr(round(taken_mm / 1000, 6)))


#: When the turn of each lay is, and its pk, by its batch and number.
Turns = Mapping[tuple[str, int], tuple[tuple[int, int, int], int]]


@dataclass(frozen=True)
class _OnRoll:
    """A roll with its flaws, what is promised of it in the order it is cut, and where that lies."""

    row: Roll
    flaws: Sequence[RollFlaw]
    due: Sequence[Promise]
    placed: Placed


def _on_rolls(pks: Collection[int], turns: Turns) -> Iterator[_OnRoll]:
    """What lies on these rolls. Three queries."""
    rows = Roll.objects.with_left().filter(pk__in=pks).select_related("fabric_colour__fabric")
    rolls = {row.pk: row for row in rows.prefetch_related("flaws")}
    promises = promises_from({pk: row.fabric_colour.fabric for pk, row in rolls.items()})
    for pk, row in sorted(rolls.items()):
        there = [flaw for flaw in row.flaws.all() if flaw.to_m > 0 and flaw.from_m < row.left_m]
        due = sorted(
            (one for one in promises.get(pk, ()) if (one.batch, one.lay) in turns),
            key=lambda one: turns[one.batch, one.lay][0],
        )
        placed = placed_on(row.left_m, [(max(f.from_m, Decimal(0)), f.to_m) for f in there], due)
        yield _OnRoll(row, there, due, placed)


def _may_have_flaws(row: object) -> bool:
    return getattr(row, "roll_id", None) is not None and bool(getattr(row, "has_flaws", True))


def _turns(rolls: Iterable[int]) -> Turns:
    """Of each lay still to be cut from these rolls, by its batch and number, when its turn is, and its pk: what is on
    the table comes first, then batch by batch.
    """
    plies = LayCloth.objects.filter(rolls__roll__in=list(rolls))
    rows = Lay.objects.to_cut().filter(cloths__in=plies).with_turn().without_drawing().select_related("batch")
    of_batch: dict[int, dict[int, Lay]] = defaultdict(dict)
    for row in rows:
        of_batch[row.batch_id][row.pk] = row
    found = {}
    for pk, lays in of_batch.items():
        for turn, lay in enumerate(in_turn(list(lays.values()))):
            is_later = lay.batch.state != Batch.State.CUTTING
            found[lay.batch.number, lay.number] = ((int(is_later), pk, turn), lay.pk)
    return found


def _ahead(
    roll: Roll, flaws: Sequence[RollFlaw], due: Sequence[Promise], placed: Placed, lay: tuple[str, int]
) -> RollAhead | None:
    """What of a roll is before the plies of one lay (batch, number); None where no flaw is in their way."""
    own = {n for n, one in enumerate(due) if (one.batch, one.lay) == lay}
    at = [k for k, run in enumerate(placed.runs) if run.promise in own]
    runs = [placed.runs[k] for k in at]
    if not any(run.lost_mm > NOTHING_MM for run in runs):
        return None
    before = [due[run.promise] for run in placed.runs[: at[0]]]
    is_together = at[-1] - at[0] == len(at) - 1
    start_mm = _end_mm(placed.runs[: at[0]], due) if is_together else 0.0
    begins, passed, count, keep_mm = [], [], 0, 0.0
    shown: dict[int, RollFlaw] = {}
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
        pk=roll.pk,
        number=roll.number,
        after=tuple(dict.fromkeys((one.batch, one.lay) for one in before)) if is_together else (),
        flaws=tuple((_mm(f.from_m) - start_mm, _mm(f.to_m) - start_mm) for f in shown.values()),
        begins=tuple(begins) if is_together else (),
        plies=plies,
        takes_m=takes_m if exact_mm else Decimal(0),
        passed=tuple(passed),
        keep_mm=keep_mm,
    )


def _end_mm(runs: Sequence[RunOnRoll], due: Sequence[Promise]) -> float:
    """Where the roll ends once these plies are cut, which are a hair longer than they are reckoned with."""
    longer_mm = 0.0
    for run in runs:
        each_mm = due[run.promise].exact_mm - due[run.promise].plies.ply_mm
        longer_mm = run.plies * each_mm + (0.0 if run.lost_mm > NOTHING_MM else longer_mm)
    return runs[-1].to_mm + longer_mm if runs else 0.0


def _between(flaws: Iterable[RollFlaw], low_mm: float, high_mm: float) -> list[RollFlaw]:
    """Flaws that lie in a piece of the roll, from its outer end."""
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
    """ "R-101: flaw 0.5–0.8 m from its end; begin the ply at 0.8 m, so that 3.23 m come off the roll"."""
    noun = "flaw" if len(one.flaws) == 1 else "flaws"
    where = f"{noun} {listed([range_in_words(*flaw, display) for flaw in one.flaws])} from its end"
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
        begins.append(f"the {which} at {format_length(at_mm, display, 'cloth', at_least=True)}")
    words = f"{one.number}: {where}; begin {listed(begins)}"
    if not one.takes_m:
        return words
    takes = format_length(one.takes_m * 1000, display, "cloth", at_least=True)
    return f"{words}, so that {takes} come off the roll"


def range_in_words(low_mm: float, high_mm: float, display: Display) -> str:
    """ "0.5–0.8 m"."""
    low, high = (format_length(max(mm, 0.0), display, "cloth") for mm in (low_mm, high_mm))
    number, _, unit = low.rpartition(THIN_SPACE)
    return f"{number}–{high}" if high.endswith(f"{THIN_SPACE}{unit}") else f"{low}–{high}"
