"""The best plan of a given small number of lays, by going through them all with nothing left out.

Some lay must cut each wanted cell: at every step the cell that fewest lays can cut is taken, each of them tried, and
what is left is planned with one lay less; a lay once tried is not tried again beside. Where demand is met exactly the
last two lays are found at once, by looking up what the one leaves for the other. Branches end where the bound of the
relaxation over what is left, with the reduced costs of the lays taken, reaches the best plan known, and where so few
lays cannot hold what is left.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from planner.core.cut_plan.options import Floats, Ints, Options, Relaxed, chosen, relaxed
from planner.core.highs import NoSolver

#: What a lay cuts becomes one number, the sum of so many random numbers: equal for equal cuts, and for others but for a
#: chance of 2⁻⁶⁴ a pair. Every plan found is checked in full, so that could at most lose one.
_SEED = 20

#: How far from the bound plans are looked for first, as shares of the way to the best plan known.
NEAR = (0.1, 0.35)

#: From so many lays to choose from, and so many still to take, the relaxation is solved afresh for what is left.
RELAX_FROM_OPTIONS = 50
RELAX_FROM_LAYS = 3


@dataclass(frozen=True, slots=True)
class _Left:
    """A part of the search: `lays` more lays among `inside`, which cut what is left between `low` and `high`.

    Whatever is taken from here, the plan costs at least `base` and the `reduced` costs of the lays, and
    `spread_prices` for every spread more than must be.
    """

    lays: int
    inside: Ints
    reduced: Floats
    base: float
    low: Ints
    high: Ints
    spread_prices: Floats
    taken: tuple[int, ...]


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
    bound: float = field(init=False)
    _prices: Ints = field(init=False)
    _keys: Ints = field(init=False)
    _has_pairs: bool = field(init=False)
    _column: Ints = field(init=False)
    _reach: float = float("inf")

    def __post_init__(self) -> None:
        options = self.options
        rng = np.random.default_rng(_SEED)
        self._prices = rng.integers(-(2**62), 2**62, size=len(options.low), dtype=np.int64)
        self._keys = self._key_of(options.cut)
        self._has_pairs = bool((options.low == options.high).all())
        columns = np.arange(len(options.least_spreads))
        self._column = (options.column_of[:, None] == columns).astype(np.int64)
        self.bound = self.relaxed.bound

    def run(self, lays: int) -> tuple[int, ...] | None:
        """The numbers of the lays of the best plan; None where none is better (as far as `is_complete` says).

        Looks near the bound first and then wider: a plan found near it ends the search much sooner. `bound` tells
        how far plans were ruled out where time ran out.
        """
        root = self.relaxed.bound
        whole = self.best_cost - root
        first = whole if whole < float("inf") else 0.02 * abs(root)
        everything = np.arange(self.options.size)
        for share in (*NEAR, None):
            self._reach = float("inf") if share is None else root + share * first
            inside = everything[self.relaxed.reduced < self._target() - root]
            self._search(
                _Left(
                    lays,
                    inside,
                    self.relaxed.reduced[inside],
                    root,
                    self.options.low,
                    self.options.high,
                    self.relaxed.spread_prices,
                    (),
                )
            )
            if not self.is_complete:
                break
            # A plan may cost more than its reduced costs say: only those within reach have all been seen.
            self.bound = min(self.best_cost, self._reach)
            if self.bound == self.best_cost:
                break
        return self.best

    def _target(self) -> float:
        """What a plan must cost less than; a little less than the best, for equal plans are no better."""
        best = self.best_cost
        return min(self._reach, best - 1e-9 * max(1.0, abs(best)) if best < float("inf") else best)

    def _out_of_time(self) -> bool:
        if time.monotonic() > self.deadline or (self.should_stop is not None and self.should_stop()):
            self.is_complete = False
        return not self.is_complete

    def _search(self, left: _Left) -> None:
        """Goes through all plans from here that cost less than the target."""
        if self._out_of_time() or not len(left.inside):
            return
        if left.lays == 1 or (left.lays == 2 and self._has_pairs):
            self._finish(left)
            return
        if self._is_out_of_room(left):
            return
        if left.taken and left.lays >= RELAX_FROM_LAYS and len(left.inside) >= RELAX_FROM_OPTIONS:
            again = self._relax_again(left)
            if again is None:
                return
            left = again
        self._branch(left)

    def _is_out_of_room(self, left: _Left) -> bool:
        cut = self.options.cut[left.inside]
        if not left.low.any() or int(cut.sum(axis=1).max()) * left.lays < int(left.low.sum()):
            return True
        return bool((cut.max(axis=0) * left.lays < left.low).any())

    def _relax_again(self, left: _Left) -> _Left | None:
        """The same part under prices made for it, and only the lays that may be in a better plan; None for none."""
        part = chosen(self.options, left.inside)
        part = replace(part, low=left.low, high=left.high, least_spreads=self._needed(left.low))
        try:
            again = relaxed(part, left.lays, deadline=self.deadline)
        except NoSolver:
            return left
        if again is None:
            return None
        base = float(self.options.cost[list(left.taken)].sum()) + again.bound
        if base >= self._target():
            return None
        keep = again.reduced < self._target() - base
        return replace(
            left,
            inside=left.inside[keep],
            reduced=again.reduced[keep],
            base=base,
            spread_prices=again.spread_prices,
        )

    def _branch(self, left: _Left) -> None:
        """Tries every lay that cuts the cell which fewest of them can cut."""
        cut = self.options.cut[left.inside]
        if not len(cut):
            return
        most = int(cut.sum(axis=1).max())
        cell = int(np.where(left.low > 0, (cut > 0).sum(axis=0), np.iinfo(np.int64).max).argmin())
        first = np.flatnonzero(cut[:, cell] > 0)
        first = first[np.argsort(left.reduced[first], kind="stable")]
        rest_low = np.maximum(left.low - cut[first], 0)
        beyond = self.options.spreads[left.inside[first]] + self._needed(rest_low) - self._needed(left.low)
        base = left.base + left.reduced[first] + np.maximum(beyond, 0) @ left.spread_prices
        is_roomy = rest_low.sum(axis=1) <= most * (left.lays - 1)
        alive = np.ones(len(left.inside), dtype=bool)
        for j, i in enumerate(first):
            target = self._target()
            if is_roomy[j] and base[j] < target:
                rest_high = left.high - cut[i]
                fits = alive & (left.reduced < target - base[j]) & (cut <= rest_high).all(axis=1)
                self._search(
                    _Left(
                        left.lays - 1,
                        left.inside[fits],
                        left.reduced[fits],
                        float(base[j]),
                        rest_low[j],
                        rest_high,
                        left.spread_prices,
                        (*left.taken, int(left.inside[i])),
                    )
                )
            if not self.is_complete:
                return
            alive[i] = False

    def _needed(self, low: Ints) -> Ints:
        """The least number of spreads of each column for what is left, reckoned as the least numbers of all are: else
        what a lay has more than must be would be counted twice."""
        return np.asarray(-(-(low @ self._column) // self.options.spread_holds))

    def _finish(self, left: _Left) -> None:
        """The cheapest one or two lays that cut exactly what is left."""
        inside, taken = left.inside, left.taken
        cost = self.options.cost[inside]
        if left.lays == 1:
            cut = self.options.cut[inside]
            hits = np.flatnonzero(((cut >= left.low) & (cut <= left.high)).all(axis=1))
            if len(hits):
                self._take_if_better((*taken, int(inside[hits[cost[hits].argmin()]])))
            return
        keys = self._keys[inside]
        with np.errstate(over="ignore"):
            wanted = self._key_of(left.low) - keys
        order = np.argsort(keys)
        place = np.searchsorted(keys[order], wanted)
        place[place == len(keys)] = 0
        other = order[place]
        hits = np.flatnonzero(keys[other] == wanted)
        if len(hits):
            j = hits[int((cost[hits] + cost[other[hits]]).argmin())]
            self._take_if_better((*taken, int(inside[j]), int(inside[other[j]])))

    def _key_of(self, cut: Ints) -> Ints:
        with np.errstate(over="ignore"):
            return np.asarray(cut @ self._prices)

    def _take_if_better(self, plan: tuple[int, ...]) -> None:
        cost = float(self.options.cost[list(plan)].sum()) + self.options.offset
        whole = self.options.cut[list(plan)].sum(axis=0)
        meets = ((whole >= self.options.low) & (whole <= self.options.high)).all()
        if cost < self.best_cost - 1e-9 * max(1.0, abs(cost)) and meets:
            self.best, self.best_cost = plan, cost
