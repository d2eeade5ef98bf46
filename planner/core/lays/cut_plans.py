"""The cut plan of each fabric of a batch: from garments to markers, plies and lays, with the reasons."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace

from planner.core.lays.fabric_planner import FabricPlan as FabricPlan
from planner.core.lays.fabric_planner import FabricPlanner
from planner.core.lays.from_stock import Stock
from planner.core.lays.in_twos import rounded_up
from planner.core.lays.kinds import FabricTable, main_cloth, tables_of
from planner.core.lays.marker_lengths import Lengths as Lengths
from planner.core.lays.problems import CannotPlan, PlanProblem
from planner.core.lays.wishes import Wishes
from planner.core.spec import ClothKey, Demand, Garment, Workshop


def plan_fabrics(
    demand: Sequence[Demand],
    shop: Workshop,
    *,
    wishes: Mapping[str, Wishes] | None = None,
    lengths: Lengths | None = None,
    only: Collection[str] | None = None,
    stock: Stock | None = None,
    compare: bool = True,
    explain: bool = True,
    seconds: float = 10.0,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[FabricPlan, ...]:
    """The best cut plan found for every fabric (or those in `only`), within `seconds` for all of them together.

    All garments of a fabric are planned together: across styles, options, sizes and colours. The demand is met exactly,
    or with as many more as `Demand.extra_allowed` and the plan of the garment's main cloth say; its other cloths then
    follow. Where one of those gives garments in twos only, the number is made even first (`in_twos`). Sections are
    numbered through from 1. Expects demand without gaps (`needs.find_missing`). Without `compare` nothing is said of
    other aims and of what wishes cost, without `explain` only as far as the choice may rest on it. With the `stock` of
    the cloths it is told too what a plan buys for want of long pieces there.

    Raises CannotPlan where a piece fits no way of laying, a garment no table, a wish no plan.
    """
    totals = totals_by_garment(demand, shop)
    allowed: Counter[Garment] = Counter()
    for row in demand:
        allowed[row.garment] += row.extra_allowed
    mains = {garment: main_cloth(garment, shop) for garment in totals}
    all_tables = tables_of(totals, shop, allowed)
    twos = rounded_up(all_tables, totals, allowed, mains, shop)
    tables = [t for t in all_tables if only is None or t.fabric in only]
    until = time.monotonic() + seconds
    extra: Counter[Garment] = Counter(twos.more)
    settled: set[Garment] = set(twos.bound)
    told: set[Garment] = set()
    plans: list[FabricPlan] = []
    problems: list[PlanProblem] = []
    # Where most garments have their main cloth comes first: there it is decided how many more are cut.
    for n, table in enumerate(sorted(tables, key=lambda t: -_garments(t, mains))):
        share = max(0.2, (until - time.monotonic()) / (len(tables) - n))
        wish = (wishes or {}).get(table.fabric, Wishes())
        own = _with_extra(table, extra, settled, mains)
        planner = FabricPlanner(own, shop, wish, lengths or Lengths(), stock)
        try:
            plan = planner.plan(share, should_stop, compare=compare, explain=explain)
        except CannotPlan as refusal:
            problems += refusal.problems
            continue
        extra.update(plan.extra)
        here = {garment for row in table.wanted for cell in row for garment in cell}
        rounded = {garment: n for garment, n in twos.more.items() if garment in here - told}
        settled |= here
        told |= here
        plans.append(replace(plan, extra=Counter(plan.extra) + Counter(rounded)))
    if problems:
        raise CannotPlan(problems)
    order = [table.fabric for table in tables]
    return numbered(sorted(plans, key=lambda plan: order.index(plan.fabric)))


def _garments(table: FabricTable, mains: Mapping[Garment, ClothKey]) -> int:
    """How many garments have their main cloth in this table."""
    return sum(
        count
        for row in table.wanted
        for cloth, cell in zip(table.columns, row, strict=True)
        for garment, count in cell.items()
        if mains[garment] == cloth.key
    )


def _with_extra(
    table: FabricTable, extra: Mapping[Garment, int], settled: set[Garment], mains: Mapping[Garment, ClothKey]
) -> FabricTable:
    """The table with what was decided to be cut beyond the demand; only main cloths of new garments decide more."""
    wanted = tuple(
        tuple(cell + Counter({g: extra.get(g, 0) for g in cell}) for cell in row) for row in table.wanted
    )
    more = tuple(
        tuple(
            Counter({g: n for g, n in cell.items() if g not in settled and mains[g] == cloth.key})
            for cloth, cell in zip(table.columns, row, strict=True)
        )
        for row in table.extra
    )
    return replace(table, wanted=wanted, extra=more)


def numbered(plans: Sequence[FabricPlan]) -> tuple[FabricPlan, ...]:
    """The plans with the sections of all lays numbered through."""
    numbered, first = [], 1
    for plan in plans:
        lays = tuple(replace(lay, section=n) for n, lay in enumerate(plan.lays, first))
        numbered.append(replace(plan, lays=lays))
        first += len(lays)
    return tuple(numbered)


def totals_by_garment(demand: Sequence[Demand], shop: Workshop) -> dict[Garment, int]:
    """Quantities by garment, in the order of style, size and then the rest."""
    totals: Counter[Garment] = Counter()
    for row in demand:
        totals[row.garment] += row.quantity

    def place(garment: Garment) -> tuple[str, int, str, tuple[tuple[str, str], ...]]:
        size_no = shop.styles[garment.style].sizes.index(garment.size)
        return (garment.style, size_no, garment.colourway, garment.options)

    return {g: totals[g] for g in sorted(totals, key=place) if totals[g] > 0}
