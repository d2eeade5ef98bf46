"""From a question to the best plan that can be had in the time given, and how good it certainly is."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from planner.core.cut_plan.bounds import Floor, counting_floor, one_lay_plans
from planner.core.cut_plan.by_lays import cheapest, fewest
from planner.core.cut_plan.check import faults
from planner.core.cut_plan.enumerate import every_marker
from planner.core.cut_plan.exact import Goal, Stage, solve_over
from planner.core.cut_plan.greedy import even_plan, greedy_plan
from planner.core.cut_plan.improve import neighbours, replan, without
from planner.core.cut_plan.known import as_lays
from planner.core.cut_plan.measure import Totals, totals_of
from planner.core.cut_plan.model import Answer, PlannedSection, PlanQuestion
from planner.core.cut_plan.prepare import Lay, Marker, Prepared, as_sections, prepare
from planner.core.cut_plan.reasons import NoCombination, NoPlan, NotFoundInTime
from planner.core.cut_plan.search import Search, is_proven, meets_bound
from planner.core.highs import NoSolver, is_there

#: Up to so many markers are all searched; of more, only some are.
MOST_MARKERS = 3000

#: Beyond so many, the programme over markers gains nothing after the lays have been gone through.
MOST_FOR_PROGRAMME = 400

#: Listing them takes at most this share of the time: the search round the best plan needs the rest. On a machine that
#: is busy elsewhere it would take all of it, and every size would be a lay of its own.
MARKERS_SHARE = 0.4

#: A first improvement, for a plan to measure by when all are gone through.
QUICK_SECONDS = 0.4

#: Greedy starts, the first without chance.
STARTS = 6


def solve(
    question: PlanQuestion,
    *,
    seconds: float = 20.0,
    should_stop: Callable[[], bool] | None = None,
    known: Sequence[Sequence[PlannedSection]] = (),
    least_lays: int = 0,
) -> Answer:
    """The best plan found within `seconds`, with its proven bound; raises NoPlan with the reasons where there is none.

    It is never worse than those of the `known` plans that keep the rules of this question, however little time there
    is. `least_lays`: it was proven before that no plan has fewer lays, those that are kept among them.

    Order of attack: reasons against any plan; the counting bound and all plans of one lay (`_first_bounds`); the known
    plans and greedy ones, which often meet the bound; a few lays of the best taken out and planned afresh, for a short
    while; every marker gone through number of lays by number of lays (`_go_through`), and in one integer programme
    where that left something open and they are few (`_programme`); where there are too many markers or time is short,
    search round the best plan. Stops early where the plan is proven best, or when `should_stop` says so, with the best
    known.
    """
    begin = time.monotonic()
    found = faults(question)
    if found:
        raise NoPlan(found)
    prepared = prepare(question)
    search = Search(prepared, begin + seconds, should_stop or (lambda: False), random.Random(1))
    until = search.share(MARKERS_SHARE)
    markers = every_marker(
        prepared, most=MOST_MARKERS, should_stop=lambda: time.monotonic() >= until or search.stop()
    )
    floor = _with_lays(counting_floor(prepared, markers), prepared, least_lays - len(prepared.kept))
    floor = _first_bounds(search, floor)
    if any(any(row) for row in prepared.low):
        for plan in known:
            if (lays := as_lays(prepared, plan)) is not None:
                search.offer(lays)
        _greedy_starts(search)
        _attack(search, markers, floor)
    else:
        search.offer(())
    if search.best is None:
        raise NoPlan([NotFoundInTime()])
    return _answer(search, floor, time.monotonic() - begin)


def _greedy_starts(search: Search) -> None:
    objective = search.prepared.question.objective
    end = search.share(0.3)

    def is_over() -> bool:
        return time.monotonic() >= end or search.stop()

    for i in range(STARTS):
        if i and is_over():
            break
        lays = greedy_plan(
            search.prepared,
            objective,
            rng=search.rng,
            chance=0.12 if i else 0.0,
            should_stop=search.out_of_time,
        )
        if lays is not None:
            search.offer(lays)
    if not is_over():
        _kind_by_kind(search, is_over)
    if search.best is None and (even := even_plan(search.prepared)) is not None:
        search.offer(even)


def _kind_by_kind(search: Search, is_over: Callable[[], bool]) -> None:
    """Every kind by itself, for the plan should not be worse than what a maker does without one."""
    prepared = search.prepared
    lays: list[Lay] = []
    for k in range(prepared.kinds):
        alone = [row if i == k else (0,) * prepared.columns for i, row in enumerate(prepared.target)]
        part = prepared.with_demand(alone, alone)
        plan = greedy_plan(part, prepared.question.objective, rng=search.rng, chance=0.0, should_stop=is_over)
        if plan is None:
            return
        lays += plan
    search.offer(lays)


def _attack(search: Search, markers: list[Marker] | None, floor: Floor) -> None:
    """Improves and proves, from what is quick to what takes all the time there is."""
    if is_proven(search):
        search.method = "counted"
        return
    has_solver = is_there()
    search.method = "search" if has_solver else "without_solver"
    quick = min(search.share(0.06), time.monotonic() + QUICK_SECONDS) if has_solver else search.share(0.5)
    _improve(search, quick, patience=12)
    if not has_solver or is_proven(search):
        return
    if markers is not None:
        try:
            went_through = _go_through(search, markers, floor)
            is_open = not went_through or len(markers) <= MOST_FOR_PROGRAMME or search.best is None
            if is_open and not is_proven(search):
                _programme(search, markers, floor)
        except NoSolver:
            search.method = "without_solver"
    if not is_proven(search):
        _improve(search, search.deadline, patience=80)


def _kept_totals(prepared: Prepared) -> Totals:
    """What the lays kept cost by themselves; their overcut is what they cut beyond the demand."""
    q = prepared.question
    totals = totals_of(replace(q, overcut_cost=()), prepared.kept)
    cost = totals.cost
    for k, row in enumerate(q.overcut_cost):
        for c, price in enumerate(row):
            cut = sum(s.counts[k] * s.spreads[c] for s in prepared.kept)
            cost += price * max(0, cut - q.demand[k][c])
    return replace(totals, cost=cost)


def _goals_of(prepared: Prepared) -> tuple[Goal, Goal | None]:
    objective = prepared.question.objective
    if objective == "money":
        return "money", None
    return ("lays", "cloth") if objective == "fewest_lays" else ("cloth", "lays")


def _kept_value(prepared: Prepared, goal: Goal) -> float:
    kept = _kept_totals(prepared)
    return {"money": kept.cost, "lays": float(kept.lays), "cloth": kept.cloth_mm}[goal]


def _with_lays(floor: Floor, prepared: Prepared, least: int) -> Floor:
    """The bounds of plans of at least so many lays."""
    more = max(0, least - floor.lays)
    return replace(floor, lays=floor.lays + more, cost=floor.cost + prepared.question.per_lay_cost * more)


def _first_bounds(search: Search, floor: Floor) -> Floor:
    """Bounds by counting; where no plan of one lay is as good as two lays must cost, those of two."""
    first, second = _goals_of(search.prepared)
    if floor.lays == 1 and (single := one_lay_plans(search.prepared)) is not None:
        for lay in single:
            search.offer([lay])
        two = replace(floor, lays=2, cost=floor.cost + search.prepared.question.per_lay_cost)
        if not single:
            floor = two
        elif first == "money":
            best = search.best_goals[0] - _kept_value(search.prepared, first)
            floor = replace(floor, cost=max(floor.cost, min(best, two.cost)))
    by_goal = {"money": floor.cost, "lays": float(floor.lays), "cloth": floor.cloth_mm}
    search.bounds = (
        by_goal[first] + _kept_value(search.prepared, first),
        None if second is None else by_goal[second] + _kept_value(search.prepared, second),
    )
    return floor


def _go_through(search: Search, markers: list[Marker], floor: Floor) -> bool:
    """Number of lays by number of lays; False where there are too many lays to go through."""
    prepared = search.prepared
    objective = prepared.question.objective
    first, _ = _goals_of(prepared)
    kept = _kept_value(prepared, first)
    deadline = search.share(0.75)
    if objective == "fewest_lays":
        kept_cloth = _kept_value(prepared, "cloth")
        known = search.best is not None
        found = fewest(
            prepared,
            markers,
            floor,
            most_lays=round(search.best_goals[0] - kept) if known else None,
            best_cost=search.best_goals[1] - kept_cloth if known else float("inf"),
            deadline=deadline,
            should_stop=search.stop,
        )
    else:
        found = cheapest(
            prepared,
            markers,
            floor,
            "money" if objective == "money" else "cloth",
            best_cost=search.best_goals[0] - kept if search.best is not None else float("inf"),
            deadline=deadline,
            should_stop=search.stop,
        )
    if found is None:
        return False
    search.method = "enumerated"
    search.least_lays = found.least_lays
    if found.lays is not None:
        search.offer(found.lays)
    if objective == "fewest_lays":
        search.raise_bound(0, found.least_lays + kept)
        if search.best is not None and meets_bound(search.best_goals[0], search.bounds[0]):
            search.raise_bound(1, found.bound + kept_cloth)
    else:
        search.raise_bound(0, found.bound + kept)
    return True


def _programme(search: Search, markers: list[Marker], floor: Floor) -> None:
    """One stage for each goal over every marker; raises NoPlan where it is proven that there is none."""
    prepared = search.prepared
    first, second = _goals_of(prepared)
    if not search.meets(0):
        stage = solve_over(
            prepared,
            markers,
            floor,
            first,
            deadline=search.share(0.7),
            start=search.best,
            should_stop=search.stop,
        )
        _take_stage(search, stage, 0, first)
    if second is None or search.best is None or not search.meets(0) or search.meets(1):
        return
    limit = search.best_goals[0] - _kept_value(prepared, first)
    stage = solve_over(
        prepared,
        markers,
        floor,
        second,
        deadline=search.share(0.7),
        start=search.best,
        should_stop=search.stop,
        most_lays=round(limit) if first == "lays" else None,
        most_cloth_mm=limit if first == "cloth" else None,
    )
    _take_stage(search, stage, 1, second)


def _improve(search: Search, deadline: float, patience: int) -> None:
    """Plans a few lays afresh, again and again, until `patience` trials in a row brought nothing."""
    prepared = search.prepared
    objective = prepared.question.objective
    idle = 0
    while search.best is not None and len(search.best) > 1 and idle < patience and not is_proven(search):
        if time.monotonic() >= deadline or search.stop():
            return
        lays = search.best
        out = set(neighbours(lays, search.rng))
        rest = [lay for i, lay in enumerate(lays) if i not in out]
        part = without(prepared, rest)
        taken = [lays[i] for i in sorted(out)]
        plans = replan(part, taken, objective, rng=search.rng, deadline=deadline, should_stop=search.stop)
        gains = [search.offer([*rest, *plan]) for plan in plans]
        idle = 0 if any(gains) else idle + 1


def _take_stage(search: Search, stage: Stage, place: int, goal: Goal) -> None:
    if stage.is_infeasible and search.best is None:
        wanted = tuple(k for k, row in enumerate(search.prepared.low) if any(row))
        raise NoPlan([NoCombination(wanted)])
    if stage.lays is not None:
        search.offer(stage.lays)
    search.method = "enumerated"
    bound = stage.bound + _kept_value(search.prepared, goal)
    if goal == "lays":
        bound = -(-(bound - 1e-6) // 1)
    if stage.is_proven and search.best is not None:
        bound = search.best_goals[place]
    search.raise_bound(place, bound)


def _answer(search: Search, floor: Floor, seconds: float) -> Answer:
    assert search.best is not None
    prepared = search.prepared
    q = prepared.question
    sections = as_sections(prepared, search.best)
    totals = totals_of(q, sections)
    value, *others = totals.goals(q.objective)
    first, second = search.bounds
    first = min(first, value)
    second = None if second is None else min(second, others[0])
    proven = is_proven(search)
    gap = 0.0
    if not proven:
        gap = _gap(value, first) or (_gap(others[0], second) if second is not None else 0.0)
    lays_bound = max(floor.lays, search.least_lays) + len(prepared.kept)
    if q.objective == "fewest_lays":
        lays_bound = max(lays_bound, round(first))
    return Answer(
        sections=sections,
        objective=q.objective,
        value=value,
        bound=value if proven else first,
        second_value=None if second is None else others[0],
        **totals.as_fields(),
        lays_bound=min(lays_bound, totals.lays),
        is_proven=proven,
        gap_share=gap,
        method=search.method,
        seconds=seconds,
    )


def _gap(value: float, bound: float) -> float:
    return 0.0 if meets_bound(value, bound) or value <= 0 else (value - bound) / value
