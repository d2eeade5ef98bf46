"""Keeping a plan that was made outside the browser as a batch of the workroom."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db import transaction

from planner.core.lays.stored import family_of, job_to_json, marker_key
from planner.core.planning import Plan
from planner.core.spec import Garment, Workshop
from planner.cutting.actions.laying import write_lays_and_bundles
from planner.cutting.actions.planning import copy_operations, refresh_needs
from planner.cutting.actions.rolling import assign_rolls
from planner.cutting.cut_plans import is_from_stock, store_facts
from planner.cutting.demand import batch_demand
from planner.cutting.marker_store import marker_fields
from planner.cutting.models import Batch, BatchItem, CutPlan, Marker
from planner.cutting.numbers import next_batch_number
from planner.cutting.stored import keep_styles, styles_to_keep
from planner.cutting.tasks import queue_singles
from planner.materials.models import Fabric, Workroom
from planner.orders.actions import next_number as next_order_number
from planner.orders.models import LineQuantity, Order, OrderLine
from planner.styles.family import options_of
from planner.styles.models import Colourway, Size, Style


def save_plan(plan: Plan, shop: Workshop, today: date, now: datetime) -> Batch:
    """Writes the plan as a planned batch for a stock make due after the workroom's lead days, and chooses its rolls.

    As after settling, the worker nests what the plan is held against, once it runs.
    """
    batch = _write(plan, shop, today, now)
    assign_rolls(batch)
    queue_singles(batch.pk)
    return batch


@transaction.atomic
def _write(plan: Plan, shop: Workshop, today: date, now: datetime) -> Batch:
    due_on = today + timedelta(days=Workroom.the().lead_days)
    order = Order.objects.create(
        number=next_order_number(), due_on=due_on, entered_on=today, note=f"From a demand file, {plan.batch}"
    )
    batch = Batch.objects.create(number=next_batch_number(), made_on=today, due_on=due_on)
    for position, (kind, sizes) in enumerate(_by_kind(plan).items()):
        style = Style.objects.get(number=kind.style)
        line = OrderLine.objects.create(
            order=order,
            style=style,
            colourway=Colourway.objects.get(style=style, name=kind.colourway),
            position=position,
        )
        line.options.set(
            option for option in options_of(style) if (option.detail.name, option.name) in kind.options
        )
        for size_name, quantity in sizes.items():
            size = Size.objects.get(size_range=style.size_range_id, name=size_name)
            LineQuantity.objects.create(line=line, size=size, quantity=quantity)
            BatchItem.objects.create(batch=batch, line=line, size=size, quantity=quantity)
    demand = batch_demand(batch)
    keep_styles(batch, styles_to_keep(demand, shop))
    copy_operations(batch, demand)
    pairs = [
        (
            lay.planned,
            Marker.objects.create(
                key=marker_key(lay.planned.job),
                family=family_of(lay.planned.job),
                job=job_to_json(lay.planned.job),
                state=Marker.State.READY,
                **marker_fields(lay.marker),
            ),
        )
        for lay in sorted(plan.lays, key=lambda one: one.number)
    ]
    write_lays_and_bundles(batch, demand, shop, pairs)
    for name in dict.fromkeys(lay.planned.fabric for lay in plan.lays):
        cut_plan = CutPlan(batch=batch, fabric=Fabric.objects.get(name=name), state=CutPlan.State.SETTLED)
        if name in plan.facts:
            store_facts(cut_plan, plan.facts[name])
            if is_from_stock(plan.facts[name]):
                cut_plan.aim, cut_plan.aim_by = CutPlan.Aim.FROM_STOCK, CutPlan.AimBy.STOCK
        cut_plan.save()
    batch.state = Batch.State.PLANNED
    batch.planned_at = now
    batch.save(update_fields=["state", "planned_at"])
    refresh_needs(batch)
    return batch


def _by_kind(plan: Plan) -> dict[Garment, dict[str, int]]:
    """Quantities by size under each garment without its size."""
    kinds: dict[Garment, dict[str, int]] = {}
    for row in plan.demand:
        one = row.garment
        kind = Garment(one.style, one.options, one.colourway, "")
        sizes = kinds.setdefault(kind, {})
        sizes[one.size] = sizes.get(one.size, 0) + row.quantity
    return kinds
