"""The best plan by going through the numbers of lays one by one, each excluded or searched to its end.

For every number K of lays the relaxation over whole lays (`options`) bounds the plans of K lays; it is convex in K, so
once it is above the best plan known and rising no larger K need be looked at.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from planner.core.cut_plan.bounds import Floor
from planner.core.cut_plan.few_lays import FewLays
from planner.core.cut_plan.options import Cost, Options, Relaxed, list_options, relaxed
from planner.core.cut_plan.prepare import Lay, Marker, Prepared
from planner.core.highs import NoSolver

#: At most so many different lays are gone through.
MOST_OPTIONS = 60_000

#: So many numbers of lays are looked at, from the least on.
MOST_NUMBERS = 24


@dataclass(slots=True)
class ByLays:
    """What came out: the best plan found (None where none is better than `best_cost`), and the bounds.

    `bound`: no plan costs less. `least_lays`: none has fewer lays. Both for the lays that are not kept.
    """

    lays: tuple[Lay, ...] | None = None
    best_cost: float = float("inf")
    bound: float = 0.0
    least_lays: int = 0
    bounds: dict[int, float] = field(default_factory=dict)


def cheapest(
    prepared: Prepared,
    markers: Sequence[Marker],
    floor: Floor,
    cost: Cost,
    *,
    best_cost: float,
    deadline: float,
    should_stop: Callable[[], bool] | None = None,
    numbers: range | None = None,
    most_options: int = MOST_OPTIONS,
) -> ByLays | None:
    """The plan that costs least, whatever its number of lays; None where there are too many lays to go through.

    `numbers` limits the numbers of lays looked at (the bound is then one of those alone).
    """
    options = list_options(prepared, markers, floor, cost, most=most_options, deadline=deadline)
    if options is None:
        return None
    out = ByLays(best_cost=best_cost, least_lays=floor.lays)
    # The relaxation is convex in the number of lays: once it rises it never falls again, but it must be seen to rise.
    before = float("inf")
    is_whole = False
    wanted = numbers or range(max(1, floor.lays), max(1, floor.lays) + MOST_NUMBERS)
    for lays in wanted:
        if time.monotonic() > deadline:
            break
        relaxation = relaxed_or_plain(options, lays, deadline=deadline)
        if relaxation is None:
            out.least_lays = lays + 1 if lays == max(1, out.least_lays) else out.least_lays
            continue
        is_hopeless = _at_least(relaxation.bound, out.best_cost)
        if is_hopeless and relaxation.bound >= before:
            is_whole = True
            break
        before = relaxation.bound
        if not is_hopeless:
            _search(out, options, relaxation, lays, _share(deadline), should_stop)
    unfinished = list(out.bounds.values())
    if numbers is None and not is_whole:
        unfinished.append(_bound_of_any(options, floor, cost, deadline))
    out.bound = min([out.best_cost, *unfinished])
    return out


def fewest(
    prepared: Prepared,
    markers: Sequence[Marker],
    floor: Floor,
    *,
    most_lays: int | None,
    best_cost: float,
    deadline: float,
    should_stop: Callable[[], bool] | None = None,
) -> ByLays | None:
    """The fewest lays, and of those plans the one with least cloth; None where there are too many to go through.

    `most_lays` lays are known to do (None: unknown), with `best_cost` mm of cloth.
    """
    options = list_options(prepared, markers, floor, "cloth", most=MOST_OPTIONS, deadline=deadline)
    if options is None:
        return None
    out = ByLays(least_lays=max(1, floor.lays), bound=floor.cloth_mm)
    last = most_lays if most_lays is not None else out.least_lays + MOST_NUMBERS
    is_sure = True
    for lays in range(out.least_lays, last + 1):
        if time.monotonic() > deadline:
            break
        relaxation = relaxed_or_plain(options, lays, deadline=deadline)
        out.best_cost = best_cost if lays == most_lays else float("inf")
        if relaxation is not None:
            out.bounds.pop(lays, None)
            _search(out, options, relaxation, lays, _share(deadline, 0.6), should_stop)
        if out.lays is not None or lays == most_lays:
            if is_sure:
                out.bound = out.bounds.get(lays, out.best_cost)
            break
        is_sure = is_sure and lays not in out.bounds
        if is_sure:
            out.least_lays = lays + 1
    return out


def relaxed_or_plain(options: Options, lays: int, *, deadline: float) -> Relaxed | None:
    """The relaxation, or without a solver the bound that nothing costs less than nothing."""
    try:
        return relaxed(options, lays, deadline=deadline)
    except NoSolver:
        return Relaxed(options.offset, options.cost, np.zeros(len(options.least_spreads)))


def _search(
    out: ByLays,
    options: Options,
    relaxation: Relaxed,
    lays: int,
    deadline: float,
    should_stop: Callable[[], bool] | None,
) -> None:
    """Goes through the plans of so many lays; notes the bound where it was cut off."""
    search = FewLays(options, relaxation, deadline, best_cost=out.best_cost, should_stop=should_stop)
    plan = search.run(lays)
    if plan is not None:
        out.lays = tuple(options.lay(i) for i in plan)
        out.best_cost = search.best_cost
    if not search.is_complete:
        out.bounds[lays] = search.bound


def _bound_of_any(options: Options, floor: Floor, cost: Cost, deadline: float) -> float:
    try:
        relaxation = relaxed(options, None, deadline=max(deadline, time.monotonic() + 0.2))
    except NoSolver:
        relaxation = None
    counted = floor.cost if cost == "money" else floor.cloth_mm
    return counted if relaxation is None else max(relaxation.bound, counted)


def _share(deadline: float, share: float = 0.5) -> float:
    """A part of the time that is left."""
    now = time.monotonic()
    return now + (deadline - now) * share


def _at_least(bound: float, value: float) -> bool:
    return bound >= value - 1e-9 * max(1.0, abs(value)) if value < float("inf") else False
