"""Whether there is a plan of so few lays at all: sooner known than the best plan, for it may be any of them."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence

from planner.core.cut_plan.bounds import counting_floor, one_lay_plans
from planner.core.cut_plan.by_lays import fewest
from planner.core.cut_plan.check import faults
from planner.core.cut_plan.enumerate import every_marker
from planner.core.cut_plan.greedy import greedy_plan
from planner.core.cut_plan.measure import totals_of
from planner.core.cut_plan.model import PlannedSection, PlanQuestion
from planner.core.cut_plan.prepare import Lay, as_sections, prepare
from planner.core.cut_plan.search import meets_demand
from planner.core.cut_plan.solve import MOST_MARKERS, STARTS

#: Greedy starts before plans are gone through, the first without chance; each with this chance of a detour.
_CHANCE = 0.12


def plan_within(
    question: PlanQuestion,
    lays: int,
    *,
    seconds: float,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[PlannedSection, ...] | None:
    """A plan of at most so many lays, those kept among them; None where there is none, or none was found in time."""
    deadline = time.monotonic() + seconds

    def out_of_time() -> bool:
        return time.monotonic() >= deadline or (should_stop is not None and should_stop())

    if faults(question):
        return None
    prepared = prepare(question)
    left = lays - len(prepared.kept)

    def cloth(found: Sequence[Lay]) -> float:
        return totals_of(question, as_sections(prepared, found)).cloth_mm

    if left == 1 and (single := one_lay_plans(prepared)) is not None:
        best = min(([lay] for lay in single), key=cloth, default=None)
        return None if best is None else as_sections(prepared, best)
    markers = every_marker(prepared, most=MOST_MARKERS, should_stop=out_of_time)
    floor = counting_floor(prepared, markers)
    if left < max(1, floor.lays):
        return None

    if markers is not None:
        found = fewest(
            prepared,
            markers,
            floor,
            most_lays=left,
            best_cost=float("inf"),
            deadline=deadline,
            should_stop=should_stop,
        )
        if found is not None:
            return None if found.lays is None else as_sections(prepared, found.lays)
    rng = random.Random(1)
    for start in range(STARTS):
        chance = _CHANCE if start else 0.0
        plan = greedy_plan(prepared, "fewest_lays", rng=rng, chance=chance, should_stop=out_of_time)
        if plan is not None and len(plan) <= left and meets_demand(prepared, plan):
            return as_sections(prepared, plan)
        if out_of_time():
            break
    return None
