"""The cut plan of each fabric of a batch: from garments to markers, plies and lays, with the reasons."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace

from planner.core.lays.fabric_planner import FabricPlan as FabricPlan
from planner.core.lays.fabric_planner import FabricPlanner
from planner.core.lays.from_stock import Stock
from planner.core.lays.in_twos import InTwos, rounded_up
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
    numbered through from 1. Expects demand without gaps (`needs.find_missing`).

    Without `compare` the facts say nothing of other aims and of what wishes cost; without `explain` they say only as
    much of them as may change the choice. With the `stock` of the cloths the facts also say what a plan has to buy
    because no piece there is long enough.

    Raises CannotPlan where a piece fits no way of laying, a garment no table, a wish no plan.
    """
    totals = totals_by_garment(demand, shop)
    allowed: Counter[Garment] = Counter()
    for row in demand:
        allowed[row.garment] += row.extra_allowed
    mains = {garment: main_cloth(garment, shop) for garment in totals}
    all_tables = tables_of(totals, shop, allowed)
    beyond = _BeyondDemand(mains, rounded_up(all_tables, totals, allowed, mains, shop))
    tables = [t for t in all_tables if only is None or t.fabric in only]
    until = time.monotonic() + seconds
    plans: list[FabricPlan] = []
    problems: list[PlanProblem] = []
    # Where most garments have their main cloth comes first: there it is decided how many more are cut.
    for n, table in enumerate(sorted(tables, key=lambda t: -_garments(t, mains))):
        share = max(0.2, (until - time.monotonic()) / (len(tables) - n))
        wish = (wishes or {}).get(table.fabric, Wishes())
        try:
            planner = FabricPlanner(beyond.added_to(table), shop, wish, lengths or Lengths(), stock)
            plan = planner.plan(share, should_stop, compare=compare, explain=explain)
        except CannotPlan as refusal:
            problems += refusal.problems
        else:
            plans.append(beyond.decided_by(plan, table))
    if problems:
        raise CannotPlan(problems)
    order = [table.fabric for table in tables]
    return numbered(sorted(plans, key=lambda plan: order.index(plan.fabric)))


class _BeyondDemand:
    """How many garments are cut beyond the demand, decided fabric by fabric: the first plan that holds a garment's main
    cloth decides, all later ones follow."""

    def __init__(self, mains: Mapping[Garment, ClothKey], twos: InTwos) -> None:
        self.mains, self.rounded = mains, twos.more
        self.extra: Counter[Garment] = Counter(twos.more)
        #: No plan may decide any more about these, and of these it was told by how many they were rounded up.
        self.settled, self.told = set(twos.bound), set[Garment]()

    def added_to(self, table: FabricTable) -> FabricTable:
        """The table with what is decided by now; it may decide more for new garments whose main cloth it holds."""
        wanted = tuple(
            tuple(cell + Counter({g: self.extra.get(g, 0) for g in cell}) for cell in row)
            for row in table.wanted
        )
        more = tuple(
            tuple(self._open(cell, cloth.key) for cloth, cell in zip(table.columns, row, strict=True))
            for row in table.extra
        )
        return replace(table, wanted=wanted, extra=more)

    def _open(self, cell: Counter[Garment], cloth: ClothKey) -> Counter[Garment]:
        """Of the garments of a cell those for which more may be cut, with how many."""
        return Counter({g: n for g, n in cell.items() if g not in self.settled and self.mains[g] == cloth})

    def decided_by(self, plan: FabricPlan, table: FabricTable) -> FabricPlan:
        """Takes over what the plan of a table decided; the plan with what was rounded up before among its extra, told
        with the first fabric of each garment."""
        self.extra.update(plan.extra)
        here = {garment for row in table.wanted for cell in row for garment in cell}
        rounded = {garment: n for garment, n in self.rounded.items() if garment in here - self.told}
        self.settled |= here
        self.told |= here
        return replace(plan, extra=Counter(plan.extra) + Counter(rounded))


def _garments(table: FabricTable, mains: Mapping[Garment, ClothKey]) -> int:
    """How many garments have their main cloth in this table."""
    return sum(
        count
        for row in table.wanted
        for cloth, cell in zip(table.columns, row, strict=True)
        for garment, count in cell.items()
        if mains[garment] == cloth.key
    )


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
