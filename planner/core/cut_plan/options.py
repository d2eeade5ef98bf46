"""Whole lays as columns: every marker with every stack of spreads, and the relaxation over them.

With x the garments lay i cuts, p its spreads and c its cost, any plan of K lays is K columns whose x sum to the
demand (or to something between it and what may be cut). For prices π of each garment, σ ≥ 0 of a spread in each column
and μ of a lay with reduced costs r[i] = c[i] − π·x[i] − σ·p[i] − μ ≥ 0 for all lays, a plan of K lays costs at least
B = π·demand + σ·(least spreads) + μ·K, and at least r[i] more for each lay in it, so a lay with r[i] above (best known
− B) is in no better plan. (Reduced-cost fixing of linear programming; the prices come from the relaxation, and any
others would be as valid.)
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from planner.core.cut_plan.bounds import Floor
from planner.core.cut_plan.prepare import Lay, Marker, Prepared
from planner.core.highs import relax

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Cost = Literal["money", "cloth"]


@dataclass(frozen=True, slots=True)
class Options:
    """The lays that may be in a plan: `cut[i]` garments in each cell, `spreads[i]` in each column.

    A cell is a kind in a column of which something may be cut: at least `low`, at most `high` in all. `offset` is to
    be added to the costs of the lays of a plan: what overcut is priced for garments that are no overcut.
    """

    markers: tuple[Marker, ...]
    marker_of: Ints
    spreads: Ints
    cut: Ints
    cost: Floats
    low: Ints
    high: Ints
    column_of: Ints
    #: For each column, the least number of spreads, and the most garments that one of them holds.
    least_spreads: Ints
    spread_holds: Ints
    offset: float = 0.0

    @property
    def size(self) -> int:
        """How many lays there are."""
        return len(self.cost)

    def lay(self, i: int) -> Lay:
        """The lay behind a number."""
        return Lay(self.markers[int(self.marker_of[i])], tuple(int(n) for n in self.spreads[i]))


def list_options(
    prepared: Prepared, markers: Sequence[Marker], floor: Floor, cost: Cost, *, most: int, deadline: float
) -> Options | None:
    """Every lay that cuts something different, each in its cheapest shape; None where there are more than `most`."""
    cells = [
        (k, c) for k in range(prepared.kinds) for c in range(prepared.columns) if prepared.high[k][c] > 0
    ]
    spreads: list[Ints] = []
    costs: list[Floats] = []
    cuts: list[Ints] = []
    # Many markers bear the same stacks: these are listed once, with what lies of them over each cell.
    known: dict[tuple[tuple[int, ...], int], tuple[Ints, Ints] | None] = {}
    total = 0
    kinds = np.array([k for k, _ in cells], dtype=np.int64)
    columns = np.array([c for _, c in cells], dtype=np.int64)
    for marker in markers:
        bears = marker.most_spreads, prepared.stack_limit(marker.way)
        if bears not in known:
            listed = _stacks(*bears, most - total)
            known[bears] = None if listed is None else (listed, listed[:, columns])
        found = known[bears]
        if found is None or len(found[0]) > most - total or time.monotonic() > deadline:
            return None
        stacks, over_cells = found
        total += len(stacks)
        spreads.append(stacks)
        cuts.append(np.array(marker.counts, dtype=np.int64)[kinds] * over_cells)
        per_spread, per_lay = prepared.lay_costs(marker)
        if cost == "money":
            costs.append(per_lay + stacks @ np.array(per_spread))
        else:
            costs.append(prepared.cloth_per_spread(marker) * stacks.sum(axis=1))
    if not total:
        return None
    over = prepared.question.overcut_cost
    over_prices = np.array([over[k][c] if over and cost == "money" else 0.0 for k, c in cells])
    low = np.array([prepared.low[k][c] for k, c in cells], dtype=np.int64)
    cut = np.concatenate(cuts)
    options = Options(
        markers=tuple(markers),
        marker_of=np.repeat(np.arange(len(markers)), [len(stacks) for stacks in spreads]),
        spreads=np.concatenate(spreads),
        cut=cut,
        cost=np.concatenate(costs).astype(np.float64) + cut @ over_prices,
        low=low,
        high=np.array([prepared.high[k][c] for k, c in cells], dtype=np.int64),
        column_of=columns,
        least_spreads=np.array(floor.spreads, dtype=np.int64),
        spread_holds=np.array(floor.garments_per_spread, dtype=np.int64),
        offset=-float(low @ over_prices),
    )
    return _cheapest(options)


def chosen(options: Options, keep: npt.NDArray[Any]) -> Options:
    """Only some of the lays, by number or by mask."""
    return replace(
        options,
        marker_of=options.marker_of[keep],
        spreads=options.spreads[keep],
        cut=options.cut[keep],
        cost=options.cost[keep],
    )


def _stacks(most: Sequence[int], limit: int, allowed: int) -> Ints | None:
    """Every stack of at least one spread with at most most[c] of column c and `limit` in all."""
    rows = np.zeros((1, 0), dtype=np.int64)
    for n in most:
        top = min(n, limit)
        grown = np.repeat(rows, top + 1, axis=0)
        added = np.tile(np.arange(top + 1), len(rows))[:, None]
        rows = np.hstack([grown, added])
        rows = rows[rows.sum(axis=1) <= limit]
        if len(rows) > allowed + 1:
            return None
    return rows[1:]


def _cheapest(options: Options) -> Options:
    """Only the cheapest of lays that cut the same."""
    order = np.lexsort((options.cost, *options.cut.T))
    cut = options.cut[order]
    fresh = np.ones(len(order), dtype=bool)
    fresh[1:] = (cut[1:] != cut[:-1]).any(axis=1)
    return chosen(options, order[fresh])


@dataclass(frozen=True, slots=True)
class Relaxed:
    """A bound for the plans of a number of lays, and the prices that prove it: reduced costs, and of a spread."""

    bound: float
    reduced: Floats
    spread_prices: Floats


def relaxed(options: Options, lays: int | None, *, deadline: float) -> Relaxed | None:
    """The bound for exactly so many lays (None: for any number); None where no fractions of lays make a plan.

    The prices are taken as the solver tells them; reduced costs and bound are computed afresh and the least mistake
    put right in the price of a lay, so that rounding in the solver cannot spoil the proof. Raises NoSolver.
    """
    cells, columns = len(options.low), len(options.least_spreads)
    rows = np.hstack([options.cut, options.spreads, np.ones((options.size, 1))])
    most = float(options.low.sum()) + 1.0 if lays is None else float(lays)
    lower = np.concatenate([options.low, options.least_spreads, [0.0 if lays is None else lays]]).astype(
        float
    )
    upper = np.concatenate([options.high, np.full(columns, np.inf), [most]]).astype(float)
    prices = relax(options.cost, rows, lower, upper, deadline=deadline)
    if prices is None:
        return None
    prices[cells : cells + columns] = np.maximum(prices[cells : cells + columns], 0.0)
    reduced = options.cost - rows @ prices
    slip = min(0.0, float(reduced.min()))
    prices[-1] += slip
    bound = float(np.where(prices > 0, np.where(prices > 0, lower, 0) * prices, 0.0).sum())
    bound += float(np.where(prices < 0, np.where(np.isfinite(upper), upper, 0) * prices, 0.0).sum())
    return Relaxed(bound + options.offset, reduced - slip, prices[cells : cells + columns])
