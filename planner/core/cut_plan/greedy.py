"""Plans without a solver: lay by lay the marker and spreads that clear most for their cost, many times over.

The markers are made for the demand that is left: for spreads that use up some kind exactly (demand / m for m on the
marker), as many of every other kind as the demand bears, until the table is full. Starts differ by chance, seeded.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence

from planner.core.cut_plan.model import Objective
from planner.core.cut_plan.prepare import Lay, Marker, Prepared, make_marker, split_into_lays, step_of

#: How many ways to choose the spreads of one lay are tried at most.
MOST_STACKS = 48


def greedy_plan(
    prepared: Prepared,
    objective: Objective,
    *,
    rng: random.Random,
    chance: float,
    should_stop: Callable[[], bool] | None = None,
) -> list[Lay] | None:
    """A plan that meets `target` exactly, or None where this start ran into a dead end. What is left when it is
    stopped is cut in single spreads.

    `chance`: how far, as a share of the best, a choice may fall short and still be taken; 0 for the plain greedy.
    """
    left = [list(row) for row in prepared.target]
    weights = [_weight(prepared, k) for k in range(prepared.kinds)]
    lays: list[Lay] = []
    while any(any(row) for row in left):
        rest = prepared.with_demand(left, left)
        if should_stop is not None and should_stop():
            singles = even_plan(rest)
            return None if singles is None else lays + singles
        ranked = sorted(
            ((_rate(prepared, objective, lay, weights), i, lay) for i, lay in enumerate(_offers(rest, rng))),
            key=lambda item: (-item[0], item[1]),
        )
        if not ranked:
            return None
        good = [lay for rate, _, lay in ranked if rate >= ranked[0][0] * (1.0 - chance)]
        lay = good[0] if chance <= 0 else rng.choice(good[:4])
        times = _times(lay, left)
        lays += [lay] * times
        for k, n in enumerate(lay.marker.counts):
            for c, spreads in enumerate(lay.spreads):
                left[k][c] -= n * spreads * times
    return lays


def _times(lay: Lay, left: Sequence[Sequence[int]]) -> int:
    """How often the same lay is to be cut at once: half as often as the demand bears, for large demand."""
    bears = min(
        left[k][c] // (n * spreads)
        for k, n in enumerate(lay.marker.counts)
        for c, spreads in enumerate(lay.spreads)
        if n and spreads
    )
    return max(1, bears // 2)


def _weight(prepared: Prepared, kind: int) -> float:
    """Mm of cloth one garment of a kind takes, roughly: to compare what lays clear."""
    lengths = [
        w.cloth_lengths_per_spread * w.length_mm(counts) / step
        for w in prepared.question.ways
        if (step := w.steps[kind]) and w.plies_per_spread <= prepared.question.most_plies
        for counts in [tuple(step if k == kind else 0 for k in range(prepared.kinds))]
    ]
    return min(lengths, default=1.0)


def _rate(prepared: Prepared, objective: Objective, lay: Lay, weights: Sequence[float]) -> float:
    """What the lay clears (in mm of garments) for each unit of what is to be least."""
    spreads = sum(lay.spreads)
    cleared = sum(n * weights[k] for k, n in enumerate(lay.marker.counts)) * spreads
    cloth = prepared.cloth_per_spread(lay.marker) * spreads
    if objective == "least_cloth":
        return cleared / cloth * (1 + 1e-6 * cleared)
    if objective == "fewest_lays":
        return cleared
    per_spread, per_lay = prepared.lay_costs(lay.marker)
    return cleared / (per_lay + sum(a * n for a, n in zip(per_spread, lay.spreads, strict=True)) or 1e-9)


def _offers(rest: Prepared, rng: random.Random) -> Iterator[Lay]:
    """Lays that may come next, made for the demand that is left."""
    for way in range(len(rest.question.ways)):
        if not rest.stack_limit(way):
            continue
        stacks = sorted(_stacks(rest, way))
        most = max(8, min(MOST_STACKS, MOST_STACKS * 12 // rest.kinds))
        if len(stacks) > most:
            stacks = rng.sample(stacks, most)
        for spreads in stacks:
            marker = fill_marker(rest, way, spreads, rng)
            if marker is not None:
                yield Lay(marker, spreads)


def _stacks(rest: Prepared, way: int) -> set[tuple[int, ...]]:
    """Spreads of every column worth a trial: those that use up a kind with m of it on the marker."""
    limit = rest.stack_limit(way)
    step = rest.question.ways[way].steps
    top = rest.question.most_garments or 64
    out: set[tuple[int, ...]] = set()
    for k in range(rest.kinds):
        row = [max(0, n) for n in rest.low[k]]
        if not step[k] or not any(row):
            continue
        for m in range(step[k], min(top, max(row)) + 1, step[k]):
            whole = [n // m for n in row]
            out |= set(_within(whole, limit))
            for c, n in enumerate(whole):
                if n:
                    out.add(tuple(min(n, limit) if i == c else 0 for i in range(rest.columns)))
    return {s for s in out if any(s)}


def _within(whole: Sequence[int], limit: int) -> Iterator[tuple[int, ...]]:
    """The stack if it is low enough, else the columns in turn until it is full, and all cut down alike."""
    total = sum(whole)
    if total <= limit:
        yield tuple(whole)
        return
    room = limit
    filled = []
    for n in whole:
        filled.append(min(n, room))
        room -= filled[-1]
    yield tuple(filled)
    yield tuple(n * limit // total for n in whole)


def fill_marker(rest: Prepared, way: int, spreads: Sequence[int], rng: random.Random) -> Marker | None:
    """A marker for these spreads, as full as table and demand allow; None where nothing fits.

    Whole sets to be kept together come first, then kinds that would use up their demand, then the rest by chance.
    """
    mode = rest.question.ways[way]
    used = [c for c, n in enumerate(spreads) if n]
    bears = [min(rest.low[k][c] // spreads[c] for c in used) for k in range(rest.kinds)]
    bears = [n // s * s if s else 0 for n, s in zip(bears, mode.steps, strict=True)]
    whole = make_marker(rest, way, tuple(bears))
    if whole is not None and all(whole.most_spreads[c] >= n for c, n in enumerate(spreads)):
        return whole
    counts = [0] * rest.kinds
    best: Marker | None = None
    groups = _groups(rest, used, bears)
    rng.shuffle(groups)
    groups.sort(key=lambda g: -sum(rest.low[k][c] for k in g for c in used) / (1 + rng.random()))
    for group in groups:
        best, counts = _grow(rest, way, spreads, group, counts, bears, best)
    return best


def _groups(rest: Prepared, used: Sequence[int], bears: Sequence[int]) -> list[tuple[int, ...]]:
    """Kinds that come on a marker together, each else by itself; none of which the demand bears no full set."""
    out: list[tuple[int, ...]] = []
    bound: set[int] = set()
    for kinds in rest.together:
        members = {k for k in kinds if any(rest.binding[k][c] > 0 for c in used)}
        if len(members) > 1:
            bound |= members
            if all(bears[k] for k in members):
                out.append(tuple(sorted(members)))
    return out + [(k,) for k in range(rest.kinds) if bears[k] and k not in bound]


def _grow(
    rest: Prepared,
    way: int,
    spreads: Sequence[int],
    group: Sequence[int],
    counts: list[int],
    bears: Sequence[int],
    best: Marker | None,
) -> tuple[Marker | None, list[int]]:
    """Puts the group on the marker as often as it goes: all of it once, then its kinds one by one."""
    steps = rest.question.ways[way].steps

    def attempt(more: Sequence[int]) -> Marker | None:
        trial = list(counts)
        for k in more:
            trial[k] += steps[k]
            if trial[k] > bears[k]:
                return None
        marker = make_marker(rest, way, tuple(trial))
        if marker is None or any(marker.most_spreads[c] < n for c, n in enumerate(spreads)):
            return None
        return marker

    first = attempt(group)
    if first is None:
        return best, counts
    best, counts = first, list(first.counts)
    for k in group:
        while (marker := attempt([k])) is not None:
            best, counts = marker, list(marker.counts)
    return best, counts


def even_plan(prepared: Prepared) -> list[Lay] | None:
    """A plan of single spreads that shares sets to be kept together as evenly as can be; None where that fails.

    The last resort where the greedy choice runs into dead ends or out of time: each column by itself, each set over as
    many spreads as its scarcest kind has garments, every other kind by itself, as often as the table takes it.
    """
    plies: dict[tuple[int, tuple[int, ...]], tuple[Marker, list[int]]] = {}
    for c in range(prepared.columns):
        for counts in _even_counts(prepared, c):
            marker = next(
                (m for w in range(len(prepared.question.ways)) if (m := _fits(prepared, w, counts, c))), None
            )
            if marker is None:
                return None
            plies.setdefault(marker.key, (marker, [0] * prepared.columns))[1][c] += 1
    return [
        lay
        for marker, spreads in plies.values()
        for lay in split_into_lays(marker, spreads, prepared.stack_limit(marker.way))
    ]


def _fits(prepared: Prepared, way: int, counts: tuple[int, ...], column: int) -> Marker | None:
    marker = make_marker(prepared, way, counts)
    return marker if marker is not None and marker.most_spreads[column] else None


def _even_counts(prepared: Prepared, column: int) -> Iterator[tuple[int, ...]]:
    """The counts of each single spread of a column."""
    steps = [step_of(prepared.question, k) or 1 for k in range(prepared.kinds)]
    left = [prepared.target[k][column] // steps[k] for k in range(prepared.kinds)]
    done: set[int] = set()
    for kinds in prepared.together:
        members = sorted(k for k in kinds if prepared.binding[k][column] > 0)
        if len(members) < 2:
            continue
        done |= set(members)
        spreads = min(left[k] for k in members)
        offset = 0
        rows = [[0] * prepared.kinds for _ in range(spreads)]
        for k in members if spreads else []:
            each, more = divmod(left[k], spreads)
            for i in range(spreads):
                rows[(i + offset) % spreads][k] = (each + (1 if i < more else 0)) * steps[k]
            offset += more
        yield from (tuple(row) for row in rows)
    for k in range(prepared.kinds):
        if k not in done and left[k]:
            yield from _full_markers(prepared, column, k, left[k], steps[k])


def _full_markers(
    prepared: Prepared, column: int, kind: int, units: int, step: int
) -> Iterator[tuple[int, ...]]:
    """The counts of single spreads that cut so many units of one kind, as many on each marker as the table takes."""

    def counts(n: int) -> tuple[int, ...]:
        return tuple(n * step if i == kind else 0 for i in range(prepared.kinds))

    most = 1
    while most < units and any(
        _fits(prepared, w, counts(most + 1), column) for w in range(len(prepared.question.ways))
    ):
        most += 1
    yield from [counts(most)] * (units // most)
    if units % most:
        yield counts(units % most)
