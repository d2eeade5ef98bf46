"""Plans made from what lies in stock by themselves, where the maker chose no aim; and back where it did not pay.

Looked at when the plans of a batch would stand, so that the plan without looking there is a nested one. It happens
once: a plan given up for the other is not made from stock again before somebody has it planned anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from planner.core.lays.cut_plans import FabricPlan
from planner.core.lays.problems import CannotPlan
from planner.core.lays.stock_first import is_worth_it, is_worth_no_more
from planner.core.lays.wishes import PlanFacts, Wishes
from planner.cutting.cut_plans import is_from_stock
from planner.cutting.judged_plans import Judged
from planner.cutting.models import CutPlan
from planner.cutting.promised_to_buy import with_promise
from planner.cutting.reading import BatchPlan

MONEY, FROM_STOCK = CutPlan.Aim.MONEY.value, CutPlan.Aim.FROM_STOCK.value


def turned_by_stock(
    open_plans: Iterable[BatchPlan],
    judged: Sequence[Judged],
    found: Mapping[str, FabricPlan],
    wishes: Mapping[str, Wishes],
    decide: Callable[[Mapping[str, Wishes]], Iterable[FabricPlan]],
) -> tuple[list[Judged], Mapping[str, FabricPlan]]:
    """What was judged, with the plans in the place of others that what lies in stock decides for, and what was found by
    then. `decide` plans all of them once more."""
    facts = {one.fabric: one.facts for one in judged}
    aims = {
        name: aim
        for one in open_plans
        if (name := one.plan.fabric.name) in facts and (aim := aim_by_stock(one.plan, facts[name]))
    }
    if not aims:
        return list(judged), found
    turned = {name: replace(wishes[name], from_stock=aim == FROM_STOCK) for name, aim in aims.items()}
    try:
        again = {plan.fabric: plan for plan in decide({**wishes, **turned})}
    except CannotPlan:
        return list(judged), found
    return [_turned(one, aims.get(one.fabric, ""), again) for one in judged], {**found, **again}


def aim_by_stock(plan: CutPlan, facts: PlanFacts) -> str:
    """The aim that what lies in stock decides for in place of the plan's own; "" where that stays."""
    if (plan.aim, plan.aim_by) == (MONEY, CutPlan.AimBy.NOBODY) and is_worth_it(facts):
        return FROM_STOCK
    if (plan.aim, plan.aim_by) == (FROM_STOCK, CutPlan.AimBy.STOCK) and is_worth_no_more(facts):
        return MONEY
    return ""


def _turned(one: Judged, aim: str, again: Mapping[str, FabricPlan]) -> Judged:
    new = again.get(one.fabric)
    if not aim or new is None or is_from_stock(new.facts) != (aim == FROM_STOCK):
        return one
    stock = new.facts.stock
    facts = with_promise(new.facts, stock.buys_mm if stock else None)
    return Judged(one.fabric, new.lays, facts, is_new=True, kept=one.facts, aim=aim)
