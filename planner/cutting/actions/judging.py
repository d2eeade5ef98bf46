"""What becomes of the lays of a batch by all lengths that are known: they stay, or others replace them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from planner.core.lays.cut_plans import FabricPlan, Lengths
from planner.core.lays.from_stock import Stock
from planner.core.lays.model import PlannedLay
from planner.core.lays.problems import CannotPlan
from planner.core.lays.wishes import PlanFacts, Wishes
from planner.cutting.actions.situation import Situation, wanted_of
from planner.cutting.actions.turning import turned_by_stock
from planner.cutting.cut_plans import (
    decide,
    facts_of,
    is_same,
    lengths_for,
    single_keys,
    with_own,
    with_plans,
)
from planner.cutting.figures_since import lies_otherwise
from planner.cutting.free_pieces import free_pieces
from planner.cutting.judged_plans import Judged, is_better, is_better_at_all, judge, stays, takes_its_place
from planner.cutting.narrow_cloth import any_wider
from planner.cutting.promised_to_buy import promised_mm, with_promise
from planner.cutting.reading import BatchPlan
from planner.cutting.too_long import too_long

#: The worker may think so long about the choice of lays (s); about what an existing plan comes to, so long.
FULL_SECONDS, RECKON_SECONDS = 10.0, 3.0
#: Real lengths change the choice at most so often; more often only where a lay does not fit the table, or a roll.
MOST_ROUNDS, MOST_ROUNDS_TOO_LONG = 3, 12
#: In the end markers that were not nested are left out: they are taken to be longer by so much that none is chosen.
DOUBT = 3.0


def judge_plans(
    seen: Situation,
    open_plans: Sequence[BatchPlan],
    *,
    is_first: bool,
    may_change: bool = True,
    may_turn: bool = True,
    explain: bool = True,
    seconds: float = FULL_SECONDS,
) -> list[Judged]:
    """What becomes of the lays of each of these plans, thought over for `seconds`. Raises CannotPlan where nothing can
    be planned.

    With `may_turn` plans that would stand may be made from stock by themselves, or no longer. Without `explain` nothing
    is looked for that could not change the plans.
    """
    names = [one.plan.fabric.name for one in open_plans]
    lengths = lengths_now(seen, names)
    wishes = {one.plan.fabric.name: seen.wishes(one) for one in open_plans}
    demand = wanted_of(seen.demand, all_fabrics=len(open_plans) == len(seen.plans))
    stock = _stock(seen, names, wishes.values(), is_first=is_first)
    found = decide(
        demand, seen.shop, wishes=wishes, lengths=lengths, only=names, seconds=seconds, compare=not is_first,
        explain=explain, stock=stock,
    )  # fmt: skip
    by_name: Mapping[str, FabricPlan] = {plan.fabric: plan for plan in found}
    judged = []
    for one in open_plans:
        new = by_name.get(one.plan.fabric.name)
        how = {"is_first": is_first, "may_change": may_change}
        so_far = None if new is None else _judge_one(seen, one, new, lengths, stock, **how)
        if so_far is not None:
            judged.append(so_far)
    if may_change and may_turn and not is_first and not any(one.is_new for one in judged):
        judged, by_name = turned_by_stock(
            open_plans, judged, by_name, wishes,
            lambda asked: decide(
                demand, seen.shop, wishes=asked, lengths=lengths, only=names, seconds=seconds, stock=stock
            ),
        )  # fmt: skip
    if may_change and seen.demand.may_have_extra and any(one.is_new for one in judged):
        # All or none: what one cloth cuts more the others must cut too.
        judged = [replace(one, lays=by_name[one.fabric].lays, is_new=True) for one in judged]
    told = {one.plan.fabric.name: facts_of(one.plan) for one in open_plans}
    return [_with_told(one, told.get(one.fabric), may_change=may_change) for one in judged]


def _judge_one(
    seen: Situation,
    one: BatchPlan,
    new: FabricPlan,
    lengths: Lengths,
    stock: Stock | None,
    *,
    is_first: bool,
    may_change: bool,
) -> Judged | None:
    """What becomes of the lays of a plan where `new` could be had; None where nothing can be said of them."""
    there = seen.lays_of(one.plan)
    long_ones = too_long(there, seen.shop)
    rounds = MOST_ROUNDS_TOO_LONG if long_ones else MOST_ROUNDS
    planned = [lay.planned for lay in there]
    may_stay = not long_ones and not _unlike_cloth(seen, one, planned)
    reckoned = _reckoned(seen, one, planned, stock) if may_stay or not may_change else None
    if may_change and (is_first or one.plan.rounds < rounds):
        so_far = judge(new, planned, reckoned)
    elif reckoned is not None:
        so_far = stays(new, planned, reckoned)
    else:
        return None
    if may_change and not is_first and reckoned is not None and not so_far.is_new:
        return _or_nested(seen, one, lengths, new, reckoned, so_far, stock)
    return so_far


def _unlike_cloth(seen: Situation, one: BatchPlan, planned: Sequence[PlannedLay]) -> bool:
    """Whether a cloth is other than its lays were made for, so that none of them stays where they are planned anew."""
    if lies_otherwise(facts_of(one.plan), one.plan.fabric.name, seen.shop):
        return True
    return any_wider(planned, seen.shop.cloths)


def _stock(
    seen: Situation, names: Sequence[str], wishes: Iterable[Wishes], *, is_first: bool
) -> Stock | None:
    """What lies there of these fabrics, where it is to be told what a plan buys, or one is made from stock."""
    if is_first and not any(wish.from_stock for wish in wishes):
        return None
    return free_pieces(seen.batch, (lay.planned for lay in seen.lays), names, seen.shop)


def _with_told(one: Judged, told: PlanFacts | None, *, may_change: bool) -> Judged:
    """Until the plan stands it is known which stood when it was asked for once more; and for good what one from stock
    was to buy when it was chosen. Lays that may only stay were made with the figures of then."""
    if told is None:
        return one
    promised = promised_mm(told)
    kept = None if one.kept is None else with_promise(one.kept, promised)
    facts = with_promise(one.facts, promised)
    if one.is_new and told.before:
        facts = replace(facts, before=told.before)
    if not may_change:
        facts = replace(facts, made_with=told.made_with)
    return replace(one, facts=facts, kept=kept)


def _or_nested(
    seen: Situation,
    one: BatchPlan,
    lengths: Lengths,
    new: FabricPlan,
    reckoned: FabricPlan,
    so_far: Judged,
    stock: Stock | None,
) -> Judged:
    """`so_far`, by which the present lays stay; or a better plan of markers that were all nested on the way.

    This ends the rounds. A plan that was nested and given up for an estimate that did not hold is taken up again. So is
    the plan that stood before somebody had it planned once more, even if it is better by a cent only.
    """
    there = [lay.planned for lay in seen.lays_of(one.plan)]
    # What one cloth cuts beyond the demand the others must cut too: no plan of one cloth then stands by itself.
    if is_same(new.lays, there) or seen.demand.may_have_extra:
        return so_far
    nested = new if _is_nested(new) else _best_of_nested(seen, one, lengths, stock)
    told = facts_of(one.plan)
    better = is_better_at_all if told is not None and told.before else is_better
    if nested is None or is_same(nested.lays, there) or not better(nested.facts, reckoned.facts):
        return so_far
    return takes_its_place(nested, so_far)


def _is_nested(plan: FabricPlan) -> bool:
    return plan.facts.nested >= plan.facts.best.lays


def _best_of_nested(
    seen: Situation, one: BatchPlan, lengths: Lengths, stock: Stock | None
) -> FabricPlan | None:
    """The best plan found of markers that were all nested; None where none was found."""
    name = one.plan.fabric.name
    try:
        found = decide(
            wanted_of(seen.demand, all_fabrics=False), seen.shop, wishes={name: seen.wishes(one)},
            lengths=replace(lengths, doubt=DOUBT), only=[name], seconds=RECKON_SECONDS, stock=stock,
        )  # fmt: skip
    except CannotPlan:
        return None
    return found[0] if found and _is_nested(found[0]) else None


def lengths_now(seen: Situation, fabrics: Sequence[str]) -> Lengths:
    """All that is known of lengths. Where lays of this batch are nested, others are estimated by what those reached."""
    keys = single_keys(one.plan for one in seen.plans)
    known = lengths_for(fabrics, besides=seen.batch.pk, keys=keys)
    known = with_plans(known, (one.plan for one in seen.plans))
    return with_own(known, [lay for lay in seen.lays if lay.planned.fabric in fabrics], seen.shop)


def _reckoned(
    seen: Situation, one: BatchPlan, there: Sequence[PlannedLay], stock: Stock | None
) -> FabricPlan | None:
    """The present plan with what it comes to by the lengths that are known now; None where it cannot be cut."""
    name = one.plan.fabric.name
    wishes = replace(seen.wishes(one), keep=tuple(there))
    try:
        found = decide(
            wanted_of(seen.demand, all_fabrics=False), seen.shop, wishes={name: wishes},
            lengths=lengths_now(seen, [name]), only=[name], seconds=RECKON_SECONDS, stock=stock,
        )  # fmt: skip
    except CannotPlan:
        return None
    return found[0] if found and is_same(found[0].lays, there) else None
