"""What rules out every plan, found before anything is searched, and whether a plan keeps the rules."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations

from planner.core.cut_plan.model import FixedLay, PlannedSection, PlanQuestion
from planner.core.cut_plan.prepare import TOLERANCE_MM, Prepared, merged, prepare, remaining, step_of
from planner.core.cut_plan.reasons import (
    DoesNotFitAlone,
    KeptBreaks,
    KeptCutsTooMany,
    NothingWanted,
    OddNumber,
    Reason,
    TogetherAndApart,
    TogetherDoesNotFit,
    TooManyPliesInSpread,
)


def faults(question: PlanQuestion) -> tuple[Reason, ...]:
    """Every reason that can be told without a search why there is no plan; empty where none was found.

    Raises ValueError for a question that is none: shapes that do not agree, negative numbers, names used twice.
    """
    _check_shapes(question)
    if not any(any(row) for row in question.demand):
        return (NothingWanted(),)
    if all(w.plies_per_spread > question.most_plies for w in question.ways):
        return (TooManyPliesInSpread(question.most_plies),)
    found: list[Reason] = [*_kept_faults(question)]
    found += _choice_faults(question)
    if not found:
        prepared = prepare(question)
        found += _kind_faults(prepared)
        if not found:
            found += _together_faults(prepared)
    return tuple(found)


def _check_shapes(question: PlanQuestion) -> None:
    _check_grids(question)
    _check_ways(question)
    if any(
        len(lay.counts) != question.kinds or len(lay.spreads) != question.columns for lay in question.keep
    ):
        raise ValueError("a lay kept has the wrong shape")
    _check_figures(question)


def _check_grids(q: PlanQuestion) -> None:
    """Demand and overcut have a row for each kind and an entry for each column, the rolls an entry for each column."""
    for name, grid in (("demand", q.demand), ("overcut", q.overcut), ("overcut_cost", q.overcut_cost)):
        if name != "demand" and not grid:
            continue
        if len(grid) != q.kinds or any(len(row) != q.columns for row in grid):
            raise ValueError(f"{name} is not {q.kinds} × {q.columns}")
        if any(n < 0 for row in grid for n in row):
            raise ValueError(f"{name} has a negative number")
    for name, lengths in (("roll_lengths_mm", q.roll_lengths_mm), ("pair_lengths_mm", q.pair_lengths_mm)):
        if lengths is not None and len(lengths) != q.columns:
            raise ValueError(f"{name} needs one entry a column")


def _check_ways(q: PlanQuestion) -> None:
    """There is a way to lay, each has a name of its own, and what it says of kinds it says of each."""
    names = [way.name for way in q.ways]
    if not names or len(set(names)) != len(names):
        raise ValueError("ways need names of their own")
    if any(len(way.cost_each) not in (0, q.kinds) for way in q.ways):
        raise ValueError("cost_each needs one entry a kind")
    if any(len(way.steps) != q.kinds for way in q.ways):
        raise ValueError("steps need one entry a kind")


def _check_figures(q: PlanQuestion) -> None:
    """No cost is negative, and no limit rules out every plan."""
    of_ways = (each for way in q.ways for each in way.cost_each)
    if min(q.per_length_cost, q.per_lay_cost, q.end_mm, *of_ways, *q.price_per_mm) < 0:
        raise ValueError("costs and allowances may not be negative")
    if q.most_plies < 1 or (q.most_garments is not None and q.most_garments < 1):
        raise ValueError("limits may not be less than 1")


def _kept_faults(q: PlanQuestion) -> Iterator[Reason]:
    for i, lay in enumerate(q.keep):
        for what, kinds in broken_by(q, lay):
            yield KeptBreaks(i, what, kinds)  # type: ignore[arg-type]
    _, high = remaining(q, q.keep)
    for k, row in enumerate(high):
        for c, left in enumerate(row):
            if left < 0:
                over = q.overcut[k][c] if q.overcut else 0
                yield KeptCutsTooMany(k, c, q.demand[k][c] + over - left, q.demand[k][c] + over)


def broken_by(q: PlanQuestion, lay: FixedLay | PlannedSection) -> Iterator[tuple[str, tuple[int, ...]]]:
    """Each limit or choice that one lay breaks, with the kinds it is about."""
    mode = next((w for w in q.ways if w.name == lay.way), None)
    if mode is None:
        yield "way", ()
        return
    if sum(lay.spreads) * mode.plies_per_spread > q.most_plies:
        yield "plies", ()
    if q.most_garments is not None and sum(lay.counts) > q.most_garments:
        yield "garments", ()
    odd = tuple(
        k for k, (n, s) in enumerate(zip(lay.counts, mode.steps, strict=True)) if n and (not s or n % s)
    )
    if odd:
        yield "steps", odd
    with_ends = mode.length_mm(lay.counts) + q.end_mm - TOLERANCE_MM if any(lay.counts) else 0.0
    if with_ends > q.most_length_mm:
        yield "length", ()
    rolls = [q.longest_of_rolls_mm(mode, c) for c in range(q.columns)]
    if any(n and roll is not None and with_ends > roll for n, roll in zip(lay.spreads, rolls, strict=True)):
        yield "roll", ()
    for kinds in q.apart:
        shared = tuple(k for k in sorted(kinds) if lay.counts[k])
        if len(shared) > 1:
            yield "apart", shared
    for kinds in merged(q.together):
        for c in (c for c, n in enumerate(lay.spreads) if n):
            bound = [k for k in sorted(kinds) if _allowed(q, k, c)]
            if 0 < sum(1 for k in bound if lay.counts[k]) < len(bound):
                yield "together", tuple(bound)
                break


def _allowed(q: PlanQuestion, kind: int, column: int) -> int:
    return q.demand[kind][column] + (q.overcut[kind][column] if q.overcut else 0)


def _choice_faults(q: PlanQuestion) -> Iterator[Reason]:
    """Kinds that must share a marker and may not, where a column wants both."""
    together = merged(q.together)
    for first, second in combinations(range(q.kinds), 2):
        both = {first, second}
        if any(both <= s for s in together) and any(both <= s for s in q.apart):  # noqa: SIM102
            if any(q.demand[first][c] and q.demand[second][c] for c in range(q.columns)):
                yield TogetherAndApart((first, second))


def _kind_faults(prepared: Prepared) -> Iterator[Reason]:
    q = prepared.question
    for k in range(q.kinds):
        step = step_of(q, k)
        for c in range(q.columns):
            if not prepared.low[k][c]:
                continue
            if step and prepared.target[k][c] > prepared.high[k][c]:
                yield OddNumber(k, c, q.demand[k][c], step)
            elif (misfit := _misfit(prepared, {k}, c)) is not None:
                yield DoesNotFitAlone(k, c, *misfit)


def _together_faults(prepared: Prepared) -> Iterator[Reason]:
    for kinds in prepared.together:
        for c in range(prepared.columns):
            wanted = {k for k in kinds if prepared.high[k][c] > 0}
            needed = any(prepared.low[k][c] for k in wanted)
            if needed and len(wanted) > 1 and (misfit := _misfit(prepared, wanted, c)) is not None:
                yield TogetherDoesNotFit(tuple(sorted(wanted)), c, misfit[0], misfit[1])


def _misfit(prepared: Prepared, kinds: set[int], column: int) -> tuple[float | None, float, int] | None:
    """(shortest length with ends, longest allowed, lengths of a spread) where the smallest marker of these kinds fits
    in no way; of the way in which it is too long by least."""
    q = prepared.question
    nearest: tuple[float, float, int] | None = None
    for i, mode in enumerate(q.ways):
        counts = tuple(mode.steps[k] if k in kinds else 0 for k in range(q.kinds))
        if not prepared.stack_limit(i) or any(not mode.steps[k] for k in kinds):
            continue
        if q.most_garments is not None and sum(counts) > q.most_garments:
            continue
        if any(counts[k] > prepared.high[k][column] for k in kinds):
            continue
        length, longest = mode.length_mm(counts) + q.end_mm, prepared.longest_mm(i, column)
        if length - TOLERANCE_MM <= longest:
            return None
        if nearest is None or length - longest < nearest[0] - nearest[1]:
            nearest = length, longest, mode.cloth_lengths_per_spread
    return nearest or (None, max(prepared.longest_mm(i, column) for i in range(len(q.ways))), 1)


def broken_rules(question: PlanQuestion, sections: Sequence[PlannedSection]) -> list[str]:
    """Everything a plan breaks, in words for tests and logs; empty where it keeps all rules."""
    out = [
        f"lay {i}: {what} {kinds}" for i, s in enumerate(sections) for what, kinds in broken_by(question, s)
    ]
    out += [
        f"lay {i}: nothing in it" for i, s in enumerate(sections) if not sum(s.spreads) or not sum(s.counts)
    ]
    for k in range(question.kinds):
        for c in range(question.columns):
            cut = sum(s.counts[k] * s.spreads[c] for s in sections)
            want = question.demand[k][c]
            if not want <= cut <= _allowed(question, k, c):
                out.append(f"kind {k} column {c}: {cut} cut, {want} wanted")
    kept = Counter((k.counts, k.way, k.spreads) for k in question.keep)
    kept.subtract((s.counts, s.way, s.spreads) for s in sections)
    return out + [f"lay {lay} not kept" for lay, missing in kept.items() if missing > 0]
