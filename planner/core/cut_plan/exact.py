"""The cut plan over given markers as an integer programme.

With n lays and p[c] spreads of each marker a:

    least   Σ price·q·(l + e)·p + per length·q·p + (per lay + Σ_k each[k]·a[k])·n + overcut
    with    demand ≤ Σ_a a[k]·p[a,c] ≤ demand + overcut,   Σ_c p[a,c] ≤ stack·n[a],   p[a,c] ≤ U[a,c]·n[a]

and the counts that no plan can undercut as rows of their own, which the relaxation does not see: spreads of a column,
of a kind in a column, lays. Overcut is priced through p, so it needs no variables.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from planner.core.cut_plan.bounds import Floor
from planner.core.cut_plan.prepare import Lay, Marker, Prepared, split_into_lays
from planner.core.highs import Programme, Solved, solve

Goal = Literal["money", "lays", "cloth"]

#: Cloth is measured in metres inside the programme, for numbers of like size suit the solver.
MM = 1000.0


@dataclass(frozen=True, slots=True)
class Stage:
    """What one solve gave: lays (None where none were found), the bound of its goal, and what is known of it."""

    lays: tuple[Lay, ...] | None
    bound: float
    is_proven: bool
    is_infeasible: bool


@dataclass(slots=True)
class _Columns:
    """The variables of one marker."""

    marker: Marker
    lays: int
    spreads: dict[int, int]


def solve_over(
    prepared: Prepared,
    markers: Sequence[Marker],
    floor: Floor,
    goal: Goal,
    *,
    deadline: float,
    most_lays: int | None = None,
    most_cloth_mm: float | None = None,
    start: Sequence[Lay] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Stage:
    """The best plan over these markers for one goal. The bound is one of all plans only if all markers are given."""
    programme = Programme()
    columns = [_add_marker(prepared, programme, m, goal) for m in markers]
    _demand_rows(prepared, programme, columns)
    _counting_rows(prepared, programme, columns, floor, most_lays)
    if most_cloth_mm is not None:
        terms = [
            (i, prepared.cloth_per_spread(col.marker) / MM) for col in columns for i in col.spreads.values()
        ]
        programme.row(terms, high=(most_cloth_mm + 0.01) / MM)
    first = _as_start(prepared, columns, start) if start is not None else None
    solved = solve(programme, deadline=deadline, should_stop=should_stop, start=first)
    return _as_stage(prepared, columns, goal, solved)


def _add_marker(prepared: Prepared, programme: Programme, marker: Marker, goal: Goal) -> _Columns:
    q = prepared.question
    per_spread, per_lay = prepared.lay_costs(marker)
    stack = prepared.stack_limit(marker.way)
    usable = [c for c, most in enumerate(marker.most_spreads) if most]
    most_lays = -(-sum(marker.most_spreads) // stack)
    lay_cost = {"money": per_lay, "lays": 1.0, "cloth": 0.0}[goal]
    n = programme.column(lay_cost, most_lays)
    spreads = {}
    for c in usable:
        cost = 0.0
        if goal == "money":
            cost = per_spread[c] + sum(
                count * price[c] for count, price in zip(marker.counts, q.overcut_cost, strict=False)
            )
        elif goal == "cloth":
            cost = prepared.cloth_per_spread(marker) / MM
        spreads[c] = programme.column(cost, marker.most_spreads[c])
    programme.row([*((i, 1.0) for i in spreads.values()), (n, -float(stack))], high=0)
    for c, i in spreads.items():
        if marker.most_spreads[c] < stack:
            programme.row([(i, 1.0), (n, -float(marker.most_spreads[c]))], high=0)
    return _Columns(marker, n, spreads)


def _demand_rows(prepared: Prepared, programme: Programme, columns: Sequence[_Columns]) -> None:
    for k in range(prepared.kinds):
        for c in range(prepared.columns):
            high = prepared.high[k][c]
            if high <= 0:
                continue
            terms = [
                (col.spreads[c], float(col.marker.counts[k]))
                for col in columns
                if c in col.spreads and col.marker.counts[k]
            ]
            programme.row(terms, low=prepared.low[k][c], high=high)
            most = max((f for _, f in terms), default=1.0)
            least = -(-prepared.low[k][c] // int(most))
            if least and most > 1:
                programme.row([(i, 1.0) for i, _ in terms], low=least)


def _counting_rows(
    prepared: Prepared,
    programme: Programme,
    columns: Sequence[_Columns],
    floor: Floor,
    most_lays: int | None,
) -> None:
    for c in range(prepared.columns):
        if floor.spreads[c]:
            terms = [(col.spreads[c], 1.0) for col in columns if c in col.spreads]
            programme.row(terms, low=floor.spreads[c])
    upper = float("inf") if most_lays is None else float(most_lays)
    programme.row([(col.lays, 1.0) for col in columns], low=floor.lays, high=upper)


def _as_start(
    prepared: Prepared, columns: Sequence[_Columns], lays: Sequence[Lay]
) -> dict[int, float] | None:
    """The plan known as values of the variables; None where one of its markers is not among the columns."""
    values: dict[int, float] = defaultdict(float)
    by_key = {col.marker.key: col for col in columns}
    for lay in lays:
        col = by_key.get(lay.marker.key)
        if col is None:
            return None
        for c, n in enumerate(lay.spreads):
            if n:
                values[col.spreads[c]] += n
    for col in columns:
        total = sum(values[i] for i in col.spreads.values())
        if total:
            values[col.lays] = -(-total // prepared.stack_limit(col.marker.way))
    return values


def _as_stage(prepared: Prepared, columns: Sequence[_Columns], goal: Goal, solved: Solved) -> Stage:
    offset = 0.0
    if goal == "money" and prepared.question.overcut_cost:
        offset = -sum(
            price * n
            for prices, row in zip(prepared.question.overcut_cost, prepared.low, strict=True)
            for price, n in zip(prices, row, strict=True)
        )
    bound = solved.bound * MM if goal == "cloth" else solved.bound + offset
    if solved.values is None:
        return Stage(None, bound, is_proven=False, is_infeasible=solved.is_infeasible)
    lays: list[Lay] = []
    for col in columns:
        spreads = [0] * prepared.columns
        for c, i in col.spreads.items():
            spreads[c] = round(solved.values[i])
        if any(spreads):
            lays += split_into_lays(col.marker, spreads, prepared.stack_limit(col.marker.way))
    return Stage(tuple(lays), bound, is_proven=solved.is_optimal, is_infeasible=False)
