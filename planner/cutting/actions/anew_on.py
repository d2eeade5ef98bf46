"""Lays planned anew while others of their batch are being cut, once they are nested: again where they came out longer
than the table, or than a roll of their cloth gives."""

from __future__ import annotations

from planner.core.spec import Workshop
from planner.cutting.actions.anew import plan_uncut_anew
from planner.cutting.cut_plans import facts_of
from planner.cutting.demand import batch_demand
from planner.cutting.models import Batch, CutPlan, Lay
from planner.cutting.plan_now import are_others, may_be_planned_anew
from planner.cutting.stored import shop_of
from planner.cutting.too_long import (
    NOISE_MM,
    NOTHING_SHORTER,
    cloths_of,
    is_said,
    is_too_long,
    most_mm,
    say_why,
)


def long_ones_again(batch: Batch) -> tuple[int, ...]:
    """Plans lays again that were planned anew while others are being cut, and came out longer than the table, or than a
    roll gives.

    Lays whose table, or rolls, were made shorter since wait for the maker. Harmless when asked twice; the numbers of
    the new lays.
    """
    plans = list(batch.cut_plans.select_related("fabric").order_by("pk"))
    known = [facts_of(plan) for plan in plans]
    lays = [lay for lay in batch.lays.order_by("number").with_everything() if are_others([lay], known)]
    lays = [lay for lay in lays if may_be_planned_anew(lay)]
    if not any(map(_is_open, lays)):
        return ()
    shop = shop_of(batch, batch_demand(batch))
    found: list[int] = []
    for plan in plans:
        own = [lay for lay in lays if _is_of(lay, plan) and _is_open(lay) and _came_out_long(lay, shop)]
        if not own:
            continue
        done = plan_uncut_anew(batch, plan.pk, only_in_need=True)
        found += done.lays
        if not done.lays:
            say_why(own, shop, NOTHING_SHORTER)
    return tuple(found)


def _is_open(lay: Lay) -> bool:
    """Nested, and nobody looked yet whether it can be planned shorter."""
    return lay.marker.is_final and not is_said(lay.marker)


def _is_of(lay: Lay, plan: CutPlan) -> bool:
    return any(cloth.fabric_colour.fabric_id == plan.fabric_id for cloth in lay.cloths.all())


def _came_out_long(lay: Lay, shop: Workshop) -> bool:
    """Whether it was planned short enough, and nested is too long."""
    planned_mm = lay.estimated_length_mm + 2 * lay.end_allowance_mm
    return planned_mm <= most_mm(cloths_of(lay), lay.mode, shop) + NOISE_MM and is_too_long(lay, shop)
