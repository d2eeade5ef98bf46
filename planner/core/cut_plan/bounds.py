"""What no plan can undercut, by counting alone.

Of a column with D garments at least ⌈D / G⌉ spreads are needed where one spread holds at most G, and with P spreads a
lay at least ⌈Σ spreads / P⌉ lays; likewise by length. Kinds kept apart need lays of their own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from planner.core.cut_plan.prepare import Lay, Marker, Prepared, make_marker


@dataclass(frozen=True, slots=True)
class Floor:
    """Lower bounds for the lays that are not kept: spreads of each column, lays, mm of cloth, money."""

    spreads: tuple[int, ...]
    lays: int
    cloth_mm: float
    cost: float
    #: The most garments one spread of each column can hold, whatever the way.
    garments_per_spread: tuple[int, ...]
    #: The most spreads of one lay.
    stack: int


def counting_floor(prepared: Prepared, markers: Sequence[Marker] | None) -> Floor:
    """Lower bounds by counting; sharper where every marker is known (`markers` complete)."""
    q = prepared.question
    most = [_most_in_spread(prepared, markers, c) for c in range(q.columns)]
    wanted = [sum(row[c] for row in prepared.low) for c in range(q.columns)]
    spreads = tuple(-(-n // g) if n else 0 for n, g in zip(wanted, most, strict=True))
    ways = [i for i in range(len(q.ways)) if prepared.stack_limit(i)]
    stack = max((prepared.stack_limit(i) for i in ways), default=1)
    by_stack = -(-sum(spreads) // stack)
    apart = max((sum(1 for k in kinds if any(prepared.low[k])) for kinds in q.apart), default=0)
    lays = max(by_stack, apart)
    lengths = [q.ways[i].cloth_lengths_per_spread for i in ways] or [1]
    cloth = [
        _least_cloth(prepared, markers, c) + min(lengths) * q.end_mm * spreads[c] for c in range(q.columns)
    ]
    cost = (
        sum(price * mm for price, mm in zip(q.price_per_mm, cloth, strict=True))
        + q.per_length_cost * min(lengths) * sum(spreads)
        + q.per_lay_cost * lays
        + sum(-(-sum(row) // stack) * _least_each(prepared, k) for k, row in enumerate(prepared.low))
    )
    return Floor(spreads, lays, sum(cloth), cost, tuple(most), stack)


def _least_each(prepared: Prepared, kind: int) -> float:
    """What a garment of the kind costs in a marker, of the way in which that is least."""
    ways = (way for i, way in enumerate(prepared.question.ways) if prepared.stack_limit(i))
    return min(
        (way.cost_each[kind] if way.cost_each else 0.0 for way in ways if way.steps[kind]), default=0.0
    )


def one_lay_plans(prepared: Prepared) -> list[Lay] | None:
    """Every plan of a single lay; None where overcut is allowed, for then this does not tell them all.

    One lay cuts a[k] · p[c], so the demand must be such a product: with g[c] the common divisor of column c, a = t ·
    demand[c] / g[c], the same for every column, and p = g / t for every t that divides all g.
    """
    if prepared.low != prepared.high:
        return None
    columns = [c for c in range(prepared.columns) if any(row[c] for row in prepared.low)]
    common = {c: math.gcd(*(row[c] for row in prepared.low)) for c in columns}
    shapes = {tuple(row[c] // common[c] for row in prepared.low) for c in columns}
    if len(shapes) != 1:
        return []
    shape = shapes.pop()
    whole = math.gcd(*common.values())
    plans = []
    for t in (t for t in range(1, whole + 1) if whole % t == 0):
        spreads = tuple(common.get(c, 0) // t for c in range(prepared.columns))
        for way in range(len(prepared.question.ways)):
            marker = make_marker(prepared, way, tuple(n * t for n in shape))
            if marker is None or sum(spreads) > prepared.stack_limit(way):
                continue
            if all(most >= n for most, n in zip(marker.most_spreads, spreads, strict=True)):
                plans.append(Lay(marker, spreads))
    return plans


def _most_in_spread(prepared: Prepared, markers: Sequence[Marker] | None, column: int) -> int:
    """No spread of a column holds more garments than this."""
    q = prepared.question
    if markers is not None:
        return max((m.garments for m in markers if m.most_spreads[column]), default=1)
    best = 1
    for i, way in enumerate(q.ways):
        if not prepared.stack_limit(i):
            continue
        most = sum(row[column] for k, row in enumerate(prepared.high) if way.steps[k])
        if q.most_garments is not None:
            most = min(most, q.most_garments)
        if way.least_mm_each is not None:
            room = prepared.longest_mm(i, column) - q.end_mm
            most = min(most, _fill(prepared, way.least_mm_each, way.steps, column, room))
        best = max(best, most)
    return best


def _fill(prepared: Prepared, least: Sequence[float], steps: Sequence[int], column: int, room: float) -> int:
    """The most garments whose least lengths fit: the shortest kinds first."""
    count = 0
    for length, k in sorted((least[k], k) for k in range(prepared.kinds) if steps[k]):
        have = max(0, prepared.high[k][column])
        fit = have if length <= 0 else min(have, math.floor(room / length + 1e-9))
        count += fit
        room -= fit * length
        if fit < have:
            break
    return count


def _least_cloth(prepared: Prepared, markers: Sequence[Marker] | None, column: int) -> float:
    """Mm of cloth the demand of a column takes at least, without end allowances."""
    q = prepared.question
    if markers is not None:
        return _least_by_share(prepared, markers, column)
    total = 0.0
    for k, row in enumerate(prepared.low):
        if not row[column]:
            continue
        each = [
            w.cloth_lengths_per_spread * (w.least_mm_each[k] if w.least_mm_each is not None else 0.0)
            for i, w in enumerate(q.ways)
            if w.steps[k] and prepared.stack_limit(i)
        ]
        total += row[column] * min(each, default=0.0)
    return total


def _least_by_share(prepared: Prepared, markers: Sequence[Marker], column: int) -> float:
    """Shares each marker's length among its garments by the length each kind takes alone.

    With alone[k] > 0 any fixed weights and r the least of q·l(a) / Σ a[k]·alone[k] over all markers, any plan takes
    at least r · Σ demand · alone: a feasible point of the dual of the cloth problem.
    """
    q = prepared.question
    usable = [m for m in markers if m.most_spreads[column]]
    alone = [0.0] * prepared.kinds
    for m in usable:
        if sum(1 for n in m.counts if n) == 1:
            k = next(i for i, n in enumerate(m.counts) if n)
            each = q.ways[m.way].cloth_lengths_per_spread * m.length_mm / m.counts[k]
            alone[k] = max(alone[k], each)
    weights = [w or 1.0 for w in alone]
    rates = [
        q.ways[m.way].cloth_lengths_per_spread
        * m.length_mm
        / sum(n * w for n, w in zip(m.counts, weights, strict=True))
        for m in usable
    ]
    return min(rates, default=0.0) * sum(
        row[column] * w for row, w in zip(prepared.low, weights, strict=True)
    )
