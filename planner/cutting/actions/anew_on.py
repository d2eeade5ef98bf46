"""Lays planned anew while others of their batch are being cut, once they are nested: again where they came out longer
than the table."""

from __future__ import annotations

from planner.cutting.actions.anew import plan_uncut_anew
from planner.cutting.cut_plans import facts_of
from planner.cutting.demand import batch_demand
from planner.cutting.models import Batch, CutPlan, Lay, Marker
from planner.cutting.plan_now import are_others, is_too_long, may_be_planned_anew
from planner.cutting.stored import shop_of

#: Said of a lay for which nothing shorter was found.
TOO_LONG = "longer than the table, and nothing shorter was found"


def long_ones_again(batch: Batch) -> tuple[int, ...]:
    """Plans lays again that were planned anew while others are being cut, and came out longer than the table.

    Lays whose table was made shorter since wait for the maker. Harmless when asked twice; the numbers of the new lays.
    """
    plans = list(batch.cut_plans.select_related("fabric").order_by("pk"))
    known = [facts_of(plan) for plan in plans]
    lays = [lay for lay in batch.lays.order_by("number").with_everything() if are_others([lay], known)]
    lays = [lay for lay in lays if may_be_planned_anew(lay)]
    if not any(map(_is_open, lays)):
        return ()
    table_mm = shop_of(batch, batch_demand(batch)).table_length_mm
    found: list[int] = []
    for plan in plans:
        own = [lay for lay in lays if _is_of(lay, plan) and _is_open(lay) and _came_out_long(lay, table_mm)]
        if not own:
            continue
        done = plan_uncut_anew(batch, plan.pk, only_in_need=True)
        found += done.lays
        if not done.lays:
            Marker.objects.filter(lays__in=own).update(message=TOO_LONG)
    return tuple(found)


def _is_open(lay: Lay) -> bool:
    """Nested, and nobody looked yet whether it can be planned shorter."""
    return lay.marker.is_final and lay.marker.message != TOO_LONG


def _is_of(lay: Lay, plan: CutPlan) -> bool:
    return any(cloth.fabric_colour.fabric_id == plan.fabric_id for cloth in lay.cloths.all())


def _came_out_long(lay: Lay, table_mm: float) -> bool:
    """Whether it was planned to lie on the table, and nested does not."""
    planned_mm = lay.estimated_length_mm + 2 * lay.end_allowance_mm
    return planned_mm <= table_mm + 1e-6 and is_too_long(lay, table_mm)
