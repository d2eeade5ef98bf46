"""Planning a batch: from its orders to lays, needs and bundles, and taking the plan back."""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from planner.common.kept_questions import KeptQuestion
from planner.core.lays.cut_plans import FabricPlan
from planner.core.lays.plan import cloths_of
from planner.core.lays.problems import CannotPlan
from planner.core.needs import Laid, Needs, find_missing, work_out_needs
from planner.core.spec import ClothKey, Workshop
from planner.core.too_wide import told_once
from planner.cutting.actions.laying import Ready, drop_lays, lock, nesting_seconds, put_lays, ready_lays
from planner.cutting.actions.notions_out import put_notions_back
from planner.cutting.arrivals import cloth_is_free
from planner.cutting.cut_plans import decide, first_state, lengths_for, store_facts
from planner.cutting.demand import BatchDemand, batch_demand
from planner.cutting.filling import over_in_words
from planner.cutting.laid import is_as_much, laid, laid_as_planned
from planner.cutting.models import Batch, BatchNeed, BatchOperation, CutPlan, LayCloth, StyleSnapshot
from planner.cutting.plans_ahead import plans_ahead
from planner.cutting.stock import free_workshop
from planner.cutting.stored import keep_styles, shop_of, styles_to_keep
from planner.cutting.tasks import queue_settling
from planner.materials.models import Fabric, FabricColour, NotionColour, Workroom
from planner.papers.figures import up
from planner.styles.family import operations_of, option_key
from planner.styles.models import Operation

log = logging.getLogger(__name__)

#: Copied as they are from a style's operation to that of a batch.
OPERATION_COLUMNS = (
    "position",
    "name",
    "machine",
    "stitch_type",
    "standard_minutes",
    "setup_note",
    "stitch_length_mm",
    "differential_feed",
    "tension_note",
    "needle_note",
    "quality_note",
)

#: "Plan this batch" answers at once; the worker thinks longer (s).
QUICK_SECONDS = 1.5
PLANNED_ALREADY = "This batch is planned already."
#: How a need of nothing is told that was more when its notion was taken out.
NO_MORE = "needed no more"
BROKE_DOWN = (
    "The lays could not be reckoned: something went wrong in the program. The log of the server says what."
)


@dataclass(frozen=True)
class Planned:
    """What came of planning. With problems nothing was changed."""

    batch: Batch
    lays: int = 0
    problems: tuple[str, ...] = ()


def plan_batch(
    batch: Batch, now: datetime, *, seconds: float | None = None, think_seconds: float = QUICK_SECONDS
) -> Planned:
    """Decides the lays of a gathered batch, works out what it needs, makes its bundles and asks for the markers.

    Everything is written once, from the styles as they are now; the worker improves the plan and nests the markers
    afterwards, all together in about `seconds` (None for as long as it needs). The first plan is thought about for
    `think_seconds` at most. With anything missing (a size without
    outline, a piece wider than the cloth), or with garments of an order that is not open any more, nothing is changed.
    """
    batch = Batch.objects.get(pk=batch.pk)
    if batch.state != Batch.State.GATHERING:
        return Planned(batch, problems=(PLANNED_ALREADY,))
    demand = batch_demand(batch)
    if not demand.ordered:
        return Planned(batch, problems=("There is nothing in this batch yet. Put orders into it first.",))
    if over := over_in_words(batch):
        return Planned(batch, problems=over)
    shop = free_workshop(demand.style_numbers, batch)
    missing = find_missing(demand.ordered, shop)
    if missing:
        return Planned(batch, problems=told_once(missing, Workroom.the().display))
    fabrics = fabrics_of(demand, shop)
    lengths = replace(lengths_for(fabrics), plans=plans_ahead(fabrics))
    try:
        plans = decide(demand.ordered, shop, wishes={}, lengths=lengths, only=None, seconds=think_seconds)
    except CannotPlan as refusal:
        return Planned(batch, problems=told_once(refusal.problems, Workroom.the().display))
    except Exception:
        # Nothing is written yet: whoever asked keeps the page and is told, the log tells the rest.
        log.exception("the lays of batch %s could not be reckoned", batch.number)
        return Planned(batch, problems=(BROKE_DOWN,))
    return _write_plan(batch, _to_write(batch, demand, shop, plans, seconds), now)


@dataclass(frozen=True)
class _ToWrite:
    """A first plan with all that is written of it, reckoned before anything is locked: meanwhile others can write.

    `needs` is None where it follows from the lays how many garments are cut.
    """

    demand: BatchDemand
    shop: Workshop
    ready: Ready
    cut_plans: Sequence[CutPlan]
    snapshots: Sequence[StyleSnapshot]
    needs: Needs | None


def _to_write(
    batch: Batch, demand: BatchDemand, shop: Workshop, plans: Sequence[FabricPlan], seconds: float | None
) -> _ToWrite:
    seconds = nesting_seconds(0) if seconds is None else seconds
    ready = ready_lays((lay for plan in plans for lay in plan.lays), (), seconds=seconds)
    needs = None
    if not demand.may_have_extra:
        needs = needs_for(demand, shop, laid_as_planned(ready.new)).needs
    cut_plans = _cut_plans(batch, plans, list(dict.fromkeys(lay.fabric for lay in ready.planned)))
    return _ToWrite(demand, shop, ready, cut_plans, styles_to_keep(demand, shop), needs)


@transaction.atomic
def _write_plan(batch: Batch, new: _ToWrite, now: datetime) -> Planned:
    """Writes the first plan, unless somebody planned or filled the batch meanwhile.

    Nobody else can write as long as this takes, so nothing is reckoned here, and the number of queries does not grow
    with that of the lays.
    """
    batch, demand = lock(batch), new.demand
    if batch.state != Batch.State.GATHERING:
        return Planned(batch, problems=(PLANNED_ALREADY,))
    if batch_demand(batch).ordered != demand.ordered:
        return Planned(batch, problems=("Somebody changed its orders just now. Plan it again.",))
    keep_styles(batch, new.snapshots)
    copy_operations(batch, demand)
    laid = put_lays(batch, new.ready, new.shop)
    CutPlan.objects.bulk_create(new.cut_plans)
    queue_settling(batch.pk)
    batch.state = Batch.State.PLANNED
    batch.planned_at = now
    batch.save(update_fields=["state", "planned_at"])
    if new.needs is None:
        refresh_needs(batch)
    else:
        _write_needs(batch, new.needs)
    return Planned(batch, lays=len(laid.lays))


def _cut_plans(batch: Batch, plans: Sequence[FabricPlan], order: Sequence[str]) -> list[CutPlan]:
    """One row for each fabric, in this order of their names; not saved."""
    fabrics = {fabric.name: fabric for fabric in Fabric.objects.filter(name__in=order)}
    facts = {plan.fabric: plan.facts for plan in plans}
    rows = []
    for name in order:
        row = CutPlan(batch=batch, fabric=fabrics[name], state=first_state(facts[name]))
        store_facts(row, facts[name])
        rows.append(row)
    return rows


def fabrics_of(demand: BatchDemand, shop: Workshop) -> set[str]:
    """Names of the fabrics the batch is cut from."""
    return {key.fabric for key in cloths_of({row.garment: 1 for row in demand.ordered}, shop)}


@dataclass(frozen=True)
class PlanDropped:
    """A plan that is no more; so many kinds of `notions` that had been taken out for it are in the stock again."""

    notions: int = 0


@transaction.atomic
def take_plan_back(batch: Batch, person: User | None, now: datetime) -> PlanDropped | None:
    """Back to gathering: lays, needs and bundles are dropped. Refused (None) once a lay is cut."""
    batch = Batch.objects.select_for_update().get(pk=batch.pk)
    if batch.state != Batch.State.PLANNED or batch.lays.begun().exists():
        return None
    dropped = drop_plan(batch, person, now)
    batch.state = Batch.State.GATHERING
    batch.planned_at = None
    batch.save(update_fields=["state", "planned_at"])
    return dropped


def drop_plan(batch: Batch, person: User | None, now: datetime) -> PlanDropped:
    """Removes what planning wrote. Markers that nobody lays any more are told to stop and removed, and the notions
    taken out for it are put back.

    Other batches that are short of its cloth get what it no longer takes. What was nested of a plan that does not stand
    yet may make better ones of other batches known, who are asked for when one does.
    """
    if batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
        from planner.cutting.actions.found_since import ask_those_alike

        ask_those_alike(batch)
    colours = colours_of(batch)
    batch.bundles.all().delete()
    drop_lays(list(batch.lays.all()))
    cloth_is_free(colours, besides=batch.pk)
    batch.cut_plans.all().delete()
    dropped = PlanDropped(put_notions_back(batch, person, now))
    batch.needs.all().delete()
    batch.operations.all().delete()
    batch.snapshots.clear()
    batch.items.update(extra=0)
    return dropped


def colours_of(batch: Batch) -> set[int]:
    """The cloths (FabricColour pk) that its lays are cut from."""
    cloths = LayCloth.objects.filter(lay__batch=batch).order_by()
    return set(cloths.values_list("fabric_colour", flat=True).distinct())


def refresh_needs(batch: Batch) -> Needs:
    """Writes anew what the batch needs, from nested lengths where there are any. What was taken stays taken.

    Where nothing is locked yet it is reckoned before anything is, for a large batch takes seconds; what was changed
    meanwhile is looked at again.
    """
    ready = ready_needs(batch)
    with transaction.atomic():
        # One at a time: of two workers at once, both would write every need.
        if lock(batch).state in {Batch.State.GATHERING, Batch.State.CANCELLED}:
            return ready.needs  # its plan was dropped meanwhile
        if not transaction.get_connection().savepoint_ids:
            return put_needs(batch, ready)
        _write_needs(batch, ready.needs)
    return ready.needs


@dataclass(frozen=True)
class ReadyNeeds:
    """What a batch needs for what was laid on the table when it was reckoned."""

    needs: Needs
    laid: Mapping[ClothKey, Laid]


def ready_needs(batch: Batch) -> ReadyNeeds:
    """What a batch needs as it is now. Nothing is written."""
    demand = batch_demand(batch)
    return needs_for(demand, shop_of(batch, demand), laid(batch.lays.for_sums()))


def needs_for(demand: BatchDemand, shop: Workshop, on_the_table: Mapping[ClothKey, Laid]) -> ReadyNeeds:
    """What a batch needs for lays that were read already, or are not written yet. No query."""
    return ReadyNeeds(
        work_out_needs(demand.demand, shop, laid=on_the_table, orders=demand.orders), on_the_table
    )


def put_needs(batch: Batch, ready: ReadyNeeds) -> Needs:
    """Writes what a batch needs, reckoned again where other lengths lie on the table by now. Call it with the batch
    locked."""
    if not is_as_much(laid(batch.lays.for_sums()), ready.laid):
        ready = ready_needs(batch)
    _write_needs(batch, ready.needs)
    return ready.needs


_FABRIC_COLOURS = KeptQuestion(
    lambda: FabricColour.objects.order_by().values_list("fabric__name", "name", "pk")
)
_NOTION_COLOURS = KeptQuestion(
    lambda: NotionColour.objects.order_by().values_list("notion__name", "name", "pk")
)


def _write_needs(batch: Batch, needs: Needs) -> None:
    """The needs of a batch that is locked, in place of those there were.

    They are kept rounded up, so that packs reckoned from them are never fewer; what is counted is kept whole, for
    nobody takes half a label off the shelf. Of a notion that is needed no more what was taken of it stays noted: it is
    put back where the plan is dropped.
    """
    taken = {(row.fabric_colour_id, row.notion_colour_id): row.taken for row in batch.needs.all()}
    batch.needs.all().delete()
    fabric = {(of, name): pk for of, name, pk in _FABRIC_COLOURS.ask()}
    notion = {(of, name): pk for of, name, pk in _NOTION_COLOURS.ask()}
    rows = []
    for cloth in needs.cloths:
        pk = fabric[cloth.cloth.fabric, cloth.cloth.colour]
        rows.append(
            BatchNeed(
                batch=batch,
                fabric_colour_id=pk,
                need=up(cloth.need_m, 3),
                lay_m=round(cloth.lay_m, 3),
                is_estimate=cloth.is_estimate,
                how=cloth.how,
                taken=taken.get((pk, None), 0),
            )
        )
    for one in needs.notions:
        pk = notion[one.key.notion, one.key.colour]
        rows.append(
            BatchNeed(
                batch=batch,
                notion_colour_id=pk,
                need=up(one.need, 3 if one.unit == "m" else 0),
                least_packs=one.threads_at_once,
                is_estimate=False,
                how=one.how,
                taken=taken.get((None, pk), 0),
            )
        )
    wanted = {row.notion_colour_id for row in rows}
    for (_, left), met in taken.items():
        if left is not None and met and left not in wanted:
            rows.append(
                BatchNeed(
                    batch=batch, notion_colour_id=left, need=0, is_estimate=False, how=NO_MORE, taken=met
                )
            )
    BatchNeed.objects.bulk_create(rows)


def copy_operations(batch: Batch, demand: BatchDemand) -> None:
    """The operations of the batch's styles as they are now, those of options nobody ordered left out.

    Those of a style's base are copied for the style.
    """
    styles = {rows.style.pk: rows.style for rows in demand.rows.values()}
    chosen: dict[int, dict[tuple[str, str], int]] = {pk: {} for pk in styles}
    for rows in demand.rows.values():
        chosen[rows.style.pk].update({(o.detail.name, o.name): o.pk for o in rows.options})
    BatchOperation.objects.bulk_create(
        BatchOperation(
            batch=batch,
            style_id=pk,
            option_id=chosen[pk].get(option_key(one.option)) if one.option else None,
            **as_planned(one),
        )
        for pk, steps in operations_of(styles.values()).items()
        for one in steps
        if one.option is None or option_key(one.option) in chosen[pk]
    )


def as_planned(step: Operation) -> dict[str, Any]:
    """What a batch keeps of an operation besides its option; of an own machine the name, whatever becomes of it."""
    kept = {name: getattr(step, name) for name in OPERATION_COLUMNS}
    return kept | {"own_machine": step.own_machine.name if step.own_machine else ""}
