"""What is known while a plan is looked for: the best so far, and what bounds it."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from planner.core.cut_plan.measure import totals_of
from planner.core.cut_plan.model import Method
from planner.core.cut_plan.prepare import Lay, Prepared, as_sections

#: Lengths and money that differ by less than this share are the same.
SAME = 1e-7


@dataclass(slots=True)
class Search:
    """What is known while a plan is looked for: the best so far, and what bounds it."""

    prepared: Prepared
    deadline: float
    stop: Callable[[], bool]
    rng: random.Random
    best: tuple[Lay, ...] | None = None
    best_goals: tuple[float, ...] = ()
    bounds: tuple[float, float | None] = (0.0, None)
    least_lays: int = 0
    method: Method = "counted"

    def out_of_time(self) -> bool:
        """Whether time is up or somebody asked to stop."""
        return time.monotonic() >= self.deadline or self.stop()

    def share(self, share: float) -> float:
        """The end of a part of the time that is left."""
        now = time.monotonic()
        return now + max(0.0, self.deadline - now) * share

    def meets(self, place: int) -> bool:
        """Whether the best plan is proven best in the goal at this place."""
        bound = self.bounds[place]
        return self.best is not None and (bound is None or meets_bound(self.best_goals[place], bound))

    def raise_bound(self, place: int, bound: float) -> None:
        """Takes note of a bound, where it is better than the one known."""
        known = self.bounds[place]
        if known is None or not bound > known:  # not a number raises nothing
            return
        self.bounds = (bound, self.bounds[1]) if place == 0 else (self.bounds[0], bound)

    def offer(self, lays: Sequence[Lay]) -> bool:
        """Keeps the plan where it is better than the best known."""
        question = self.prepared.question
        if not meets_demand(self.prepared, lays):
            return False
        goals = totals_of(question, as_sections(self.prepared, lays)).goals(question.objective)
        if self.best is None or is_less(goals, self.best_goals):
            self.best, self.best_goals = tuple(lays), goals
            return True
        return False


def is_less(goals: Sequence[float], others: Sequence[float]) -> bool:
    """Whether the first goal that differs by more than rounding is less."""
    for a, b in zip(goals, others, strict=True):
        if abs(a - b) > SAME * max(1.0, abs(a), abs(b)):
            return a < b
    return False


def is_proven(search: Search) -> bool:
    """Whether the best plan meets its bounds in every goal."""
    return search.meets(0) and search.meets(1)


def meets_bound(value: float, bound: float) -> bool:
    return value - bound <= SAME * max(1.0, abs(value))


def meets_demand(prepared: Prepared, lays: Sequence[Lay]) -> bool:
    """Whether the lays cut what they must and no more than they may."""
    for k, (low, high) in enumerate(zip(prepared.low, prepared.high, strict=True)):
        for c in range(prepared.columns):
            cut = sum(lay.marker.counts[k] * lay.spreads[c] for lay in lays)
            if not low[c] <= cut <= high[c]:
                return False
    return True
