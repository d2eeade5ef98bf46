"""What is said of a plan that stands although another could be had: by how much, and what that leaves open."""

from __future__ import annotations

from dataclasses import replace

from planner.core.cut_plan.known import without_repeats
from planner.core.lays.plan_facts import MOST_PLANS
from planner.core.lays.wishes import FromStock, PlanFacts

#: Two plans whose costs differ by no more than this share cost the same.
NO_LOSS = 1e-6


def as_it_stands(kept: PlanFacts, could: PlanFacts) -> PlanFacts:
    """What the plan that is `kept` says of itself; how good it is follows from the plan that `could` be had."""
    fewer = could.fewer if kept.best.lays == could.best.lays else "one" if kept.best.lays == 1 else "open"
    gap = gap_between(kept, could)
    best = replace(kept.best, is_proven=gap is None)
    return replace(
        could,
        best=best,
        # Without single sizes it is held against itself, that is against nothing.
        single=could.single if could.single_lays else best,
        nested=kept.nested,
        # What separates it from the plan that was not worth the change counts as not known to be better.
        gap_share=gap,
        fewer=fewer,
        least_lays=min(could.least_lays, kept.best.lays),
        plans=without_repeats([*kept.plans[:1], *could.plans], MOST_PLANS),
        stock=_from_stock(kept.stock, could.stock),
    )


def _from_stock(kept: FromStock | None, could: FromStock | None) -> FromStock | None:
    """What the plan kept buys, with the plan from stock that was found for the other where it buys less than this; of
    one made from stock with the plan that was found without looking there."""
    if kept is None or could is None or could.other is None or could.is_aim != kept.is_aim:
        return kept
    if not kept.is_aim and could.other_buys_mm >= kept.buys_mm:
        return replace(kept, is_open=could.is_open)
    return replace(
        kept,
        other=could.other,
        other_buys_mm=could.other_buys_mm,
        other_spends=could.other_spends,
        other_weighs=could.other_weighs,
        is_open=False,
    )


def gap_between(kept: PlanFacts, could: PlanFacts) -> float | None:
    """How far the kept plan may be from the best, as a share of what its aim counts, of its second goal where the first
    is the same; None where it is proven too."""
    goals = {
        "money": [(float(kept.best.weighs), float(could.best.weighs))],
        "fewest_lays": [(kept.best.lays, could.best.lays), (kept.best.cloth_mm, could.best.cloth_mm)],
        "least_cloth": [(kept.best.cloth_mm, could.best.cloth_mm), (kept.best.lays, could.best.lays)],
    }[kept.best.aim]
    shares = ((one - other) / one if one > 0 else 0.0 for one, other in goals)
    lost = next((share for share in shares if abs(share) > NO_LOSS), 0.0)
    gap = max(0.0, lost) + (could.gap_share or 0.0)
    return gap if gap > 0 or could.gap_share is not None else None
