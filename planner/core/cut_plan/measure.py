"""What a plan costs, and in what order the goals count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from planner.core.cut_plan.model import Objective, PlannedSection, PlanQuestion
from planner.core.cut_plan.prepare import Lay, Prepared


@dataclass(frozen=True, slots=True)
class Totals:
    """The sums of a plan. Cloth in mm of one length, both end allowances in it."""

    cost: float
    lays: int
    cloth_mm: float
    spreads: int
    overcut: int

    def as_fields(self) -> dict[str, Any]:
        """The sums by their names, which are those of an `Answer` too."""
        return asdict(self)

    def goals(self, objective: Objective) -> tuple[float, ...]:
        """What is to be least, the first first."""
        if objective == "money":
            return self.cost, float(self.lays), self.cloth_mm
        if objective == "fewest_lays":
            return float(self.lays), self.cloth_mm, self.cost
        return self.cloth_mm, float(self.lays), self.cost


def totals_of(question: PlanQuestion, sections: Sequence[PlannedSection]) -> Totals:
    """Sums the plan up from its sections alone, as the model in `model` says."""
    q = question
    ways = {w.name: w for w in q.ways}
    cloth = [0.0] * q.columns
    cost = 0.0
    for s in sections:
        mode = ways[s.way]
        one = mode.cloth_lengths_per_spread * (mode.length_mm(s.counts) + q.end_mm)
        for c, n in enumerate(s.spreads):
            cloth[c] += one * n
        cost += q.per_length_cost * mode.cloth_lengths_per_spread * s.total_spreads
        cost += q.per_lay_cost + mode.garments_cost(s.counts)
    cost += sum(price * mm for price, mm in zip(q.price_per_mm, cloth, strict=True))
    over = 0
    for k, row in enumerate(q.demand):
        for c, wanted in enumerate(row):
            extra = sum(s.counts[k] * s.spreads[c] for s in sections) - wanted
            over += extra
            cost += extra * (q.overcut_cost[k][c] if q.overcut_cost else 0.0)
    return Totals(cost, len(sections), sum(cloth), sum(s.total_spreads for s in sections), over)


def lays_cost(prepared: Prepared, lays: Sequence[Lay]) -> tuple[float, int, float]:
    """(money, lays, mm of cloth) of these lays where they meet the demand of `prepared`, without the lays kept."""
    q = prepared.question
    cost = cloth = 0.0
    for lay in lays:
        per_spread, per_lay = prepared.lay_costs(lay.marker)
        cost += per_lay + sum(a * n for a, n in zip(per_spread, lay.spreads, strict=True))
        cloth += prepared.cloth_per_spread(lay.marker) * sum(lay.spreads)
    for k, prices in enumerate(q.overcut_cost):
        for c, price in enumerate(prices):
            cut = sum(lay.marker.counts[k] * lay.spreads[c] for lay in lays)
            cost += price * (cut - prepared.low[k][c])
    return cost, len(lays), cloth
