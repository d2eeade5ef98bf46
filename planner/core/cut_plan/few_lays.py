"""The best plan of a given small number of lays, by going through them all with nothing left out.

Some lay must cut each wanted cell: at every step the cell that fewest lays can cut is taken, each of them tried, and
what is left is planned with one lay less; a lay once tried is not tried again beside. Where demand is met exactly the
last two lays are found at once, by looking up what the one leaves for the other. Branches end where the reduced costs
(`options`) sum to more than what separates the best plan known from the bound, and where so few lays cannot hold what
is left.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from planner.core.cut_plan.options import Floats, Ints, Options, Relaxed

#: What a lay cuts becomes one number, the sum of so many random numbers: equal for equal cuts, and for others but for a
#: chance of 2⁻⁶⁴ a pair. Every plan found is checked in full, so that could at most lose one.
_SEED = 20


@dataclass(slots=True)
class FewLays:
    """A search for plans of exactly so many lays that cost less than `best_cost` (with `options.offset` in it)."""

    options: Options
    relaxed: Relaxed
    deadline: float
    best_cost: float = float("inf")
    should_stop: Callable[[], bool] | None = None
    is_complete: bool = True
    best: tuple[int, ...] | None = None
    nodes: int = 0
    _prices: Ints = field(init=False)
    _keys: Ints = field(init=False)
    _has_pairs: bool = field(init=False)

    def __post_init__(self) -> None:
        rng = np.random.default_rng(_SEED)
        self._prices = rng.integers(-(2**62), 2**62, size=len(self.options.low), dtype=np.int64)
        self._keys = self._key_of(self.options.cut)
        is_exact = bool((self.options.low == self.options.high).all())
        self._has_pairs = is_exact and not self.options.drawing.any()

    def _key_of(self, cut: Ints) -> Ints:
        with np.errstate(over="ignore"):
            return np.asarray(cut @ self._prices)

    @property
    def slack(self) -> float:
        """What the reduced costs of a better plan may sum to; a little less, for equal plans are no better."""
        return self.best_cost - self.relaxed.bound - 1e-9 * max(1.0, abs(self.relaxed.bound))

    def run(self, lays: int) -> tuple[int, ...] | None:
        """The numbers of the lays of the best plan; None where none is better (as far as `is_complete` says)."""
        inside = np.flatnonzero(self.relaxed.reduced < self.slack)
        self._search(lays, inside, self.options.low, self.options.high, 0.0, ())
        return self.best

    def _out_of_time(self) -> bool:
        self.nodes += 1
        if time.monotonic() > self.deadline or (self.should_stop is not None and self.should_stop()):
            self.is_complete = False
        return not self.is_complete

    def _search(
        self, lays: int, inside: Ints, low: Ints, high: Ints, spent: float, taken: tuple[int, ...]
    ) -> None:
        """Goes through all plans of `lays` more lays among `inside`, each of which fits into what is left."""
        if self._out_of_time() or not len(inside):
            return
        if lays == 1 or (lays == 2 and self._has_pairs):
            self._finish(lays, inside, low, high, taken)
            return
        cut = self.options.cut[inside]
        if (cut.max(axis=0) * lays < low).any() or int(cut.sum(axis=1).max()) * lays < int(low.sum()):
            return
        if not low.any():
            return
        cell = int(np.where(low > 0, (cut > 0).sum(axis=0), np.iinfo(np.int64).max).argmin())
        first = np.flatnonzero(cut[:, cell] > 0)
        reduced = self.relaxed.reduced[inside]
        alive = np.ones(len(inside), dtype=bool)
        for i in first[np.argsort(reduced[first], kind="stable")]:
            cost = spent + float(reduced[i])
            if cost >= self.slack or not self.is_complete:
                break
            rest_low, rest_high = np.maximum(low - cut[i], 0), high - cut[i]
            plan = (*taken, int(inside[i]))
            beyond = self._spreads_beyond(plan, rest_low) + self._drawn(plan)
            if cost + beyond < self.slack:
                fits = alive & (cut <= rest_high).all(axis=1) & (reduced < self.slack - cost)
                self._search(lays - 1, inside[fits], rest_low, rest_high, cost, plan)
            alive[i] = False

    def _spreads_beyond(self, taken: tuple[int, ...], low: Ints) -> float:
        """What the spreads taken and those the rest needs cost beyond the least number, at the prices of the bound."""
        if not self.relaxed.spread_prices.any():
            return 0.0
        left = np.bincount(self.options.column_of, weights=low, minlength=len(self.options.least_spreads))
        needed = -(-left // self.options.spread_holds)
        beyond = self.options.spreads[list(taken)].sum(axis=0) + needed - self.options.least_spreads
        return float(np.maximum(beyond, 0) @ self.relaxed.spread_prices)

    def _drawn(self, plan: tuple[int, ...]) -> float:
        """What drawing the markers of these lays costs, each once."""
        markers = {int(self.options.marker_of[i]) for i in plan}
        return float(self.options.drawing[list(markers)].sum())

    def _drawing_beside(self, taken: tuple[int, ...], lays: Ints) -> Floats:
        """What drawing the marker of each lay costs where those of the lays taken are drawn."""
        markers = self.options.marker_of[lays]
        new = ~np.isin(markers, self.options.marker_of[list(taken)])
        return np.asarray(np.where(new, self.options.drawing[markers], 0.0))

    def _finish(self, lays: int, inside: Ints, low: Ints, high: Ints, taken: tuple[int, ...]) -> None:
        """The cheapest one or two lays that cut exactly what is left."""
        cost = self.options.cost[inside]
        if lays == 1:
            cut = self.options.cut[inside]
            hits = np.flatnonzero(((cut >= low) & (cut <= high)).all(axis=1))
            if len(hits):
                cost = cost[hits] + self._drawing_beside(taken, inside[hits])
                self._take_if_better((*taken, int(inside[hits[cost.argmin()]])))
            return
        keys = self._keys[inside]
        with np.errstate(over="ignore"):
            wanted = self._key_of(low) - keys
        order = np.argsort(keys)
        place = np.searchsorted(keys[order], wanted)
        place[place == len(keys)] = 0
        other = order[place]
        hits = np.flatnonzero(keys[other] == wanted)
        if len(hits):
            j = hits[int((cost[hits] + cost[other[hits]]).argmin())]
            self._take_if_better((*taken, int(inside[j]), int(inside[other[j]])))

    def _take_if_better(self, plan: tuple[int, ...]) -> None:
        cost = float(self.options.cost[list(plan)].sum()) + self.options.offset + self._drawn(plan)
        whole = self.options.cut[list(plan)].sum(axis=0)
        meets = ((whole >= self.options.low) & (whole <= self.options.high)).all()
        if cost < self.best_cost - 1e-9 * max(1.0, abs(cost)) and meets:
            self.best, self.best_cost = plan, cost
