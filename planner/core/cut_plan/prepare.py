"""The question made ready: what is still to be cut beside the lays kept, which markers are allowed, and where."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import reduce

from planner.core.cut_plan.model import Counts, FixedLay, PlannedSection, PlanQuestion, WayToLay

#: Lengths may differ by so much from rounding before one is too long.
TOLERANCE_MM = 1e-6

Grid = tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class Marker:
    """Counts laid in one way (its index), the length, and the most spreads of it each column can use."""

    way: int
    counts: Counts
    length_mm: float
    most_spreads: tuple[int, ...]

    @property
    def garments(self) -> int:
        """What one spread cuts."""
        return sum(self.counts)

    @property
    def key(self) -> tuple[int, Counts]:
        """What makes it the same marker."""
        return self.way, self.counts


@dataclass(frozen=True, slots=True)
class Lay:
    """A marker and its spreads in each column."""

    marker: Marker
    spreads: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Prepared:
    """The question without the lays kept: between `low` and `high` of each kind and column are still to be cut.

    `together` are the sets merged where they overlap. `target` is the least number ≥ low that the steps allow.
    `binding` is what all lays that are not kept may cut: a kind binds in a column where that is more than 0, also
    while only a part of the demand is looked at.
    """

    question: PlanQuestion
    low: Grid
    high: Grid
    target: Grid
    binding: Grid
    together: tuple[frozenset[int], ...]
    kept: tuple[PlannedSection, ...] = ()

    @property
    def kinds(self) -> int:
        """Rows of the demand."""
        return self.question.kinds

    @property
    def columns(self) -> int:
        """Columns of the demand."""
        return self.question.columns

    def stack_limit(self, way: int) -> int:
        """The most spreads of one lay in this way."""
        return self.question.most_plies // self.question.ways[way].plies_per_spread

    def longest_mm(self, way: int, column: int) -> float:
        """The longest marker with end allowances that table and rolls of a column allow in this way."""
        roll = self.question.longest_of_rolls_mm(self.question.ways[way], column)
        return self.question.most_length_mm if roll is None else min(self.question.most_length_mm, roll)

    def lay_costs(self, marker: Marker) -> tuple[tuple[float, ...], float]:
        """Money for one spread in each column, and for each lay of this marker."""
        q = self.question
        way = q.ways[marker.way]
        cloth = way.cloth_lengths_per_spread * (marker.length_mm + q.end_mm)
        spreading = way.cloth_lengths_per_spread * q.per_length_cost
        per_spread = tuple(price * cloth + spreading for price in q.price_per_mm)
        return per_spread, q.per_lay_cost + way.garments_cost(marker.counts)

    def cloth_per_spread(self, marker: Marker) -> float:
        """Mm of cloth one spread of the marker takes, end allowances included."""
        q = self.question
        return q.ways[marker.way].cloth_lengths_per_spread * (marker.length_mm + q.end_mm)

    def with_demand(self, low: Sequence[Sequence[int]], high: Sequence[Sequence[int]]) -> Prepared:
        """The same table and choices for a part of the demand."""
        low_grid, high_grid = _grid(low), _grid(high)
        return replace(self, low=low_grid, high=high_grid, target=aligned(self.question, low_grid))


def prepare(question: PlanQuestion) -> Prepared:
    """Takes the lays kept out of the demand. Expects a question without faults (`check.faults`)."""
    kept = tuple(PlannedSection(k.counts, k.way, k.spreads, is_kept=True) for k in question.keep)
    low, high = remaining(question, question.keep)
    return Prepared(
        question=question,
        low=low,
        high=high,
        target=aligned(question, low),
        binding=high,
        together=merged(question.together),
        kept=kept,
    )


def remaining(question: PlanQuestion, keep: Sequence[FixedLay | PlannedSection]) -> tuple[Grid, Grid]:
    """What must and what may still be cut beside these lays; `high` is negative where they cut too many."""
    low, high = [], []
    for k, row in enumerate(question.demand):
        over = question.overcut[k] if question.overcut else (0,) * question.columns
        cut = [sum(lay.counts[k] * lay.spreads[c] for lay in keep) for c in range(question.columns)]
        low.append([max(0, want - have) for want, have in zip(row, cut, strict=True)])
        high.append([want + more - have for want, more, have in zip(row, over, cut, strict=True)])
    return _grid(low), _grid(high)


def step_of(question: PlanQuestion, kind: int) -> int:
    """Every way cuts a multiple of this many of the kind; 0 where no way takes it."""
    steps = (w.steps[kind] for w in question.ways if w.plies_per_spread <= question.most_plies)
    return reduce(math.gcd, steps, 0)


def aligned(question: PlanQuestion, low: Grid) -> Grid:
    """The least numbers ≥ low that are multiples of what the ways cut at a time."""
    rows = []
    for k, row in enumerate(low):
        step = step_of(question, k) or 1
        rows.append([-(-n // step) * step for n in row])
    return _grid(rows)


def merged(sets: Sequence[frozenset[int]]) -> tuple[frozenset[int], ...]:
    """Sets that overlap joined, for what must be together with one of them must be so with all."""
    out: list[frozenset[int]] = []
    for new in sets:
        touching = [s for s in out if s & new]
        out = [s for s in out if not s & new] + [frozenset.union(new, *touching)]
    return tuple(s for s in out if len(s) > 1)


def fits_choices(prepared: Prepared, counts: Counts) -> bool:
    """Whether no two kinds to be kept apart share this marker."""
    return all(sum(1 for k in kinds if counts[k]) <= 1 for kinds in prepared.question.apart)


def make_marker(
    prepared: Prepared, way: int, counts: Counts, length_mm: float | None = None
) -> Marker | None:
    """The marker if any column can use it within every limit and choice, else None."""
    q = prepared.question
    mode: WayToLay = q.ways[way]
    total = sum(counts)
    if not total or (q.most_garments is not None and total > q.most_garments):
        return None
    if any(n and (not s or n % s) for n, s in zip(counts, mode.steps, strict=True)):
        return None
    if not fits_choices(prepared, counts):
        return None
    most = [_most_spreads(prepared, counts, c) for c in range(prepared.columns)]
    if not any(most) or not prepared.stack_limit(way):
        return None
    if length_mm is None:
        length_mm = mode.length_mm(counts)
    with_ends = length_mm + q.end_mm - TOLERANCE_MM
    most = [n if with_ends <= prepared.longest_mm(way, c) else 0 for c, n in enumerate(most)]
    return Marker(way, counts, length_mm, tuple(most)) if any(most) else None


def _most_spreads(prepared: Prepared, counts: Counts, column: int) -> int:
    """How many spreads of these counts the column's demand bears, 0 where `together` forbids them there."""
    for kinds in prepared.together:
        bound = [k for k in kinds if prepared.binding[k][column] > 0]
        on = sum(1 for k in bound if counts[k])
        if 0 < on < len(bound):
            return 0
    return min((prepared.high[k][column] // n for k, n in enumerate(counts) if n), default=0)


def as_sections(prepared: Prepared, lays: Sequence[Lay]) -> tuple[PlannedSection, ...]:
    """The lays as they are told, those kept first, then the fullest first."""
    names = [w.name for w in prepared.question.ways]
    new = [PlannedSection(lay.marker.counts, names[lay.marker.way], lay.spreads) for lay in lays]
    new.sort(key=lambda s: (-s.total_spreads, -s.garments_per_spread, s.way, tuple(-n for n in s.counts)))
    return (*prepared.kept, *new)


def split_into_lays(marker: Marker, spreads: Sequence[int], limit: int) -> list[Lay]:
    """The spreads of one marker as lays of nearly equal height, each column in as few of them as can be."""
    total = sum(spreads)
    count = -(-total // limit)
    left = list(spreads)
    lays = []
    for i in range(count):
        room = total // count + (1 if i < total % count else 0)
        here = []
        for c, n in enumerate(left):
            take = min(n, room)
            left[c] -= take
            room -= take
            here.append(take)
        lays.append(Lay(marker, tuple(here)))
    return lays


def _grid(rows: Sequence[Sequence[int]]) -> Grid:
    return tuple(tuple(row) for row in rows)
