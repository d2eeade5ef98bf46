"""What a choice of plies comes to: waste, rolls opened, remnants, and the answer made of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.core.rolls.model import Method, PliesShort, Remnant, RollAnswer, RollCut
from planner.core.rolls.stretches import FINE, SHORT_WEIGHT, Puzzle, fine, free_stretches

#: Plies of lay i from stretch k, none that are 0.
Plies = Mapping[tuple[int, int], int]


@dataclass(frozen=True, slots=True)
class Tally:
    """What a choice comes to, lengths in hundredths of a millimetre; `short` counts plies by lay."""

    value: float
    waste: int
    opened: int
    short: tuple[int, ...]


def used_by_stretch(puzzle: Puzzle, plies: Plies) -> list[int]:
    """Length that is cut from each stretch."""
    used = [0] * len(puzzle.stretches)
    for (i, k), count in plies.items():
        used[k] += count * puzzle.ply[i]
    return used


def tally(puzzle: Puzzle, plies: Plies) -> Tally:
    """What the choice comes to, by the same rules for every method."""
    used = used_by_stretch(puzzle, plies)
    given = [0] * len(puzzle.ply)
    lots: set[tuple[int, str]] = set()
    for (i, k), count in plies.items():
        given[i] += count
        lots.add((i, puzzle.stretches[k].lot))
    waste, opened, extras = 0, 0, 0.0
    for roll, stretches in puzzle.of_roll.items():
        reached = [n for n, k in enumerate(stretches) if used[k]]
        if not reached:
            continue
        opened += 1
        extras += puzzle.opening[roll] + puzzle.reach * reached[-1]
        for k in stretches[: reached[-1] + 1]:
            waste += puzzle.remnant_waste(puzzle.stretches[k].length - used[k])
    short = tuple(w.plies - got for w, got in zip(puzzle.question.wanted, given, strict=True))
    short_length = sum(count * ply for count, ply in zip(short, puzzle.ply, strict=True))
    value = SHORT_WEIGHT * short_length + waste + extras + puzzle.lot_change * len(lots)
    return Tally(value, waste, opened, short)


def broken_rules(puzzle: Puzzle, plies: Plies) -> list[str]:
    """What is wrong with a choice: rolls overused, too many plies, a spread of two rolls, lots mixed within a lay."""
    wrong = [
        f"roll {puzzle.question.rolls[stretch.roll].key} gives more than it has"
        for stretch, used in zip(puzzle.stretches, used_by_stretch(puzzle, plies), strict=True)
        if used > stretch.length
    ]
    lots: set[tuple[int, str]] = set()
    by_roll: dict[tuple[int, int], int] = {}
    for (i, k), count in plies.items():
        if not 0 < count <= puzzle.most[i][k]:
            wrong.append(f"lay {puzzle.question.wanted[i].key} does not fit its roll")
        stretch = puzzle.stretches[k]
        lots.add((i, stretch.lot))
        by_roll[i, stretch.roll] = by_roll.get((i, stretch.roll), 0) + count
    for i, wanted in enumerate(puzzle.question.wanted):
        counts = [count for (lay, _), count in by_roll.items() if lay == i]
        if sum(counts) > wanted.plies:
            wrong.append(f"lay {wanted.key} gets too many plies")
        if any(count % wanted.plies_per_spread for count in counts):
            wrong.append(f"a spread of lay {wanted.key} comes from two rolls")
        if wanted.one_lot and sum(lay == i for lay, _ in lots) > 1:
            wrong.append(f"lay {wanted.key} mixes shade lots")
    return wrong


def make_answer(
    puzzle: Puzzle, plies: Plies, *, bound: float, is_proven: bool, method: Method, seconds: float
) -> RollAnswer:
    """The answer of a choice. Raises ValueError where the choice breaks a rule: nobody is to cut by it."""
    wrong = broken_rules(puzzle, plies)
    if wrong:
        raise ValueError("; ".join(wrong))
    found = tally(puzzle, plies)
    cuts = _cuts(puzzle, plies)
    remnants, flawed = _remnants(puzzle, plies)
    return RollAnswer(
        cuts=cuts,
        short=tuple(
            PliesShort(wanted.key, count, wanted.ply_mm, wanted.plies_per_spread)
            for wanted, count in zip(puzzle.question.wanted, found.short, strict=True)
            if count
        ),
        waste_mm=found.waste / FINE,
        flawed_mm=flawed / FINE,
        rolls_opened=found.opened,
        remnants=remnants,
        value_mm=found.value / FINE,
        bound_mm=min(bound, found.value) / FINE,
        is_proven=is_proven,
        method=method,
        seconds=seconds,
    )


def _cuts(puzzle: Puzzle, plies: Plies) -> tuple[RollCut, ...]:
    """Lay by lay, in each the lots one after the other, the largest first, and in a lot ends and short rolls first.

    In a stretch the lays follow one another in the order they are cut, from its outer end.
    """
    rolls = puzzle.question.rolls
    by_lot: dict[tuple[int, str], int] = {}
    for (i, k), count in plies.items():
        lot = (i, puzzle.stretches[k].lot)
        by_lot[lot] = by_lot.get(lot, 0) + count

    def rank(place: tuple[int, int]) -> tuple[object, ...]:
        i, k = place
        stretch = puzzle.stretches[k]
        roll = rolls[stretch.roll]
        largest = (-by_lot[i, stretch.lot], stretch.lot)
        return i, *largest, not roll.is_end, roll.length_mm, stretch.roll, stretch.depth

    at = [stretch.start for stretch in puzzle.stretches]
    cuts = []
    for i, k in sorted(plies, key=rank):
        stretch, count = puzzle.stretches[k], plies[i, k]
        start = at[k]
        at[k] += count * puzzle.ply[i]
        cuts.append(
            RollCut(
                wanted=puzzle.question.wanted[i].key,
                roll=rolls[stretch.roll].key,
                plies=count,
                from_mm=start / FINE,
                to_mm=at[k] / FINE,
                shade_lot=stretch.lot,
            )
        )
    return tuple(cuts)


def _remnants(puzzle: Puzzle, plies: Plies) -> tuple[tuple[Remnant, ...], int]:
    """What is left of every roll that was cut from, outer pieces first, and the length of flaws passed."""
    used = used_by_stretch(puzzle, plies)
    remnants: list[Remnant] = []
    flawed = 0
    for roll, stretches in puzzle.of_roll.items():
        reached = [n for n, k in enumerate(stretches) if used[k]]
        if not reached:
            continue
        passed = [puzzle.stretches[k] for k in stretches[: reached[-1] + 1]]
        flawed += passed[-1].start - sum(stretch.length for stretch in passed[:-1])
        for n, stretch in enumerate(passed):
            start, end = stretch.start + used[stretches[n]], stretch.start + stretch.length
            is_kept = end - start >= puzzle.keep_from
            if n == reached[-1]:
                remnants += _rest(puzzle, roll, start, end, is_kept=is_kept)
            elif end > start:
                remnants.append(_piece(puzzle, roll, start, end, is_kept=is_kept))
    return tuple(remnants), flawed


def _rest(puzzle: Puzzle, roll: int, start: int, end: int, *, is_kept: bool) -> list[Remnant]:
    """What is left behind the last ply of a roll: one piece, or what is too short to keep cut off before it."""
    there = puzzle.question.rolls[roll]
    whole = fine(there.length_mm)
    beyond = [
        high - low
        for low, high in _fine_stretches(puzzle, roll)
        if low >= end and high - low >= puzzle.keep_from
    ]
    if not beyond:
        # Nothing worth keeping lies behind: the piece ends where the good cloth does.
        return [_piece(puzzle, roll, start, end, is_kept=is_kept)] if end > start else []
    if is_kept:
        return [_piece(puzzle, roll, start, whole, is_kept=True)]
    rest = [_piece(puzzle, roll, end, whole, is_kept=True)]
    return [_piece(puzzle, roll, start, end, is_kept=False), *rest] if end > start else rest


def _fine_stretches(puzzle: Puzzle, roll: int) -> list[tuple[int, int]]:
    there = puzzle.question.rolls[roll]
    return [(fine(low), fine(high)) for low, high in free_stretches(there.length_mm, there.flaws)]


def _piece(puzzle: Puzzle, roll: int, start: int, end: int, *, is_kept: bool) -> Remnant:
    there = puzzle.question.rolls[roll]
    flaws = []
    for flaw in there.flaws:
        low, high = max(fine(min(flaw)), start), min(fine(max(flaw)), end)
        if low <= high and (low < end) and (high > start):
            flaws.append(((low - start) / FINE, (high - start) / FINE))
    return Remnant(there.key, start / FINE, (end - start) / FINE, is_kept, tuple(sorted(flaws)))
