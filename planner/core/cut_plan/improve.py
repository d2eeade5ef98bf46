"""Better plans from a good one: a few lays are taken out and what they cut is planned afresh, as well as can be."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence

from planner.core.cut_plan.bounds import counting_floor
from planner.core.cut_plan.by_lays import cheapest
from planner.core.cut_plan.enumerate import every_marker
from planner.core.cut_plan.exact import Goal, solve_over
from planner.core.cut_plan.greedy import greedy_plan
from planner.core.cut_plan.measure import lays_cost
from planner.core.cut_plan.model import Objective
from planner.core.cut_plan.options import Cost
from planner.core.cut_plan.prepare import Lay, Marker, Prepared
from planner.core.highs import NoSolver, is_there

#: Limits of the small problems, so that one of them is a matter of a moment.
MOST_MARKERS = 1500
MOST_OPTIONS = 12_000
SECONDS_EACH = 0.6

#: Beyond so many markers the solver is too slow for a part.
MOST_FOR_PROGRAMME = 400


def without(prepared: Prepared, lays: Sequence[Lay]) -> Prepared:
    """What is to be cut beside these lays."""
    low = [list(row) for row in prepared.low]
    high = [list(row) for row in prepared.high]
    for lay in lays:
        for k, n in enumerate(lay.marker.counts):
            for c, spreads in enumerate(lay.spreads):
                low[k][c] = max(0, low[k][c] - n * spreads)
                high[k][c] -= n * spreads
    return prepared.with_demand(low, high)


def replan(
    part: Prepared,
    lays: Sequence[Lay],
    objective: Objective,
    *,
    rng: random.Random,
    deadline: float,
    should_stop: Callable[[], bool],
) -> list[tuple[Lay, ...]]:
    """Other lays for what these cut, each better than they are or different; nothing where none was found."""
    deadline = min(deadline, time.monotonic() + SECONDS_EACH)
    markers = every_marker(part, most=MOST_MARKERS)
    if markers is not None:
        found = _gone_through(part, lays, objective, deadline, should_stop, markers)
        if found is None and len(markers) <= MOST_FOR_PROGRAMME and is_there():
            found = _programmed(part, lays, objective, deadline, should_stop, markers)
        if found is not None:
            return found
    out = []
    for chance in (0.0, 0.2):
        plan = greedy_plan(part, objective, rng=rng, chance=chance, should_stop=should_stop)
        if plan is not None:
            out.append(tuple(plan))
    return out


def _gone_through(
    part: Prepared,
    lays: Sequence[Lay],
    objective: Objective,
    deadline: float,
    should_stop: Callable[[], bool],
    markers: Sequence[Marker],
) -> list[tuple[Lay, ...]] | None:
    """The best lays for the part in as many lays or fewer (for money and cloth also one more); None if too many."""
    floor = counting_floor(part, markers)
    money, _, cloth = lays_cost(part, lays)
    cost: Cost = "money" if objective == "money" else "cloth"
    now = money if objective == "money" else cloth
    out: list[tuple[Lay, ...]] = []
    if objective == "fewest_lays" and floor.lays < len(lays):
        fewer = cheapest(
            part,
            markers,
            floor,
            cost,
            best_cost=float("inf"),
            deadline=deadline,
            should_stop=should_stop,
            numbers=range(max(1, floor.lays), len(lays)),
            most_options=MOST_OPTIONS,
        )
        if fewer is None:
            return None
        if fewer.lays is not None:
            return [fewer.lays]
    most = len(lays) + (0 if objective == "fewest_lays" else 1)
    least = len(lays) if objective == "fewest_lays" else max(1, floor.lays)
    same = cheapest(
        part,
        markers,
        floor,
        cost,
        best_cost=now,
        deadline=deadline,
        should_stop=should_stop,
        numbers=range(least, most + 1),
        most_options=MOST_OPTIONS,
    )
    if same is None:
        return None
    return [same.lays] if same.lays is not None else out


def _programmed(
    part: Prepared,
    lays: Sequence[Lay],
    objective: Objective,
    deadline: float,
    should_stop: Callable[[], bool],
    markers: Sequence[Marker],
) -> list[tuple[Lay, ...]]:
    """The best the solver finds in the time for one part, over all its markers: for large demand."""
    goal: Goal = {"money": "money", "fewest_lays": "lays", "least_cloth": "cloth"}[objective]  # type: ignore[assignment]
    floor = counting_floor(part, markers)
    try:
        stage = solve_over(part, markers, floor, goal, deadline=deadline, start=lays, should_stop=should_stop)
    except NoSolver:
        return []
    return [] if stage.lays is None else [stage.lays]


def neighbours(lays: Sequence[Lay], rng: random.Random) -> list[int]:
    """Two to four lays to plan afresh, chosen by chance; lays of few garments more often."""
    size = min(len(lays), rng.choice((2, 2, 3, 3, 4)))
    weights = [1.0 / (lay.marker.garments * sum(lay.spreads)) ** 0.5 for lay in lays]
    chosen: set[int] = set()
    while len(chosen) < size:
        chosen |= set(rng.choices(range(len(lays)), weights=weights, k=1))
    return sorted(chosen)
