"""Planning a batch: from its orders to lays, needs and bundles, and taking the plan back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from planner.core.lays.model import PlannedLay
from planner.core.lays.nest import seconds_for
from planner.core.lays.plan import CannotPlan, numbered, plan_lays, resplit
from planner.core.needs import Needs, find_missing, work_out_needs
from planner.core.planning import MOST_SECONDS
from planner.core.spec import Workshop
from planner.cutting.bundling import write_bundles
from planner.cutting.demand import BatchDemand, batch_demand
from planner.cutting.models import Batch, BatchNeed, BatchOperation, Lay, Marker
from planner.cutting.stock import free_workshop
from planner.cutting.stored import (
    keep_style,
    make_marker,
    nested_lay_m,
    shop_of,
    stored_lay,
    write_lays,
)
from planner.cutting.tasks import nest_marker
from planner.materials.models import FabricColour, NotionColour
from planner.papers.figures import up
from planner.styles.family import operations_of, option_key
from planner.styles.models import Operation

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


@dataclass(frozen=True)
class Planned:
    """What came of planning. With problems nothing was changed."""

    batch: Batch
    lays: int = 0
    problems: tuple[str, ...] = ()


@transaction.atomic
def plan_batch(batch: Batch, now: datetime, *, seconds: float | None = None) -> Planned:
    """Decides the lays of a gathered batch, works out what it needs, makes its bundles and asks for the markers.

    Everything is written once, from the styles as they are now; the worker nests the markers afterwards. With
    anything missing (a size without outline, a piece wider than the cloth) nothing is changed.
    """
    batch = Batch.objects.select_for_update().get(pk=batch.pk)
    if batch.state != Batch.State.GATHERING:
        return Planned(batch, problems=("This batch is planned already.",))
    demand = batch_demand(batch)
    if not demand.demand:
        return Planned(batch, problems=("There is nothing in this batch yet. Put orders into it first.",))
    shop = free_workshop(demand.style_numbers, batch)
    missing = find_missing(demand.demand, shop)
    if missing:
        return Planned(batch, problems=tuple(dict.fromkeys(one.text for one in missing)))
    try:
        planned = plan_lays(demand.demand, shop, efficiency=None)
    except CannotPlan as refusal:
        return Planned(batch, problems=tuple(problem.text for problem in refusal.problems))
    batch.snapshots.set(
        {keep_style(rows.style.pk, shop.styles[garment.style]) for garment, rows in demand.rows.items()}
    )
    copy_operations(batch, demand)
    markers = [
        make_marker(lay.job, share) for lay, share in zip(planned, _shares(planned, seconds), strict=True)
    ]
    write_lays_and_bundles(batch, demand, shop, list(zip(planned, markers, strict=True)))
    batch.state = Batch.State.PLANNED
    batch.planned_at = now
    batch.save(update_fields=["state", "planned_at"])
    refresh_needs(batch)
    return Planned(batch, lays=len(planned))


@transaction.atomic
def take_plan_back(batch: Batch) -> bool:
    """Back to gathering: lays, needs and bundles are dropped. Refused (False) once a lay is cut."""
    batch = Batch.objects.select_for_update().get(pk=batch.pk)
    if batch.state != Batch.State.PLANNED or batch.lays.filter(cut_at__isnull=False).exists():
        return False
    drop_plan(batch)
    batch.state = Batch.State.GATHERING
    batch.planned_at = None
    batch.save(update_fields=["state", "planned_at"])
    return True


def drop_plan(batch: Batch) -> None:
    """Removes what planning wrote. Markers that nobody lays any more are told to stop and removed."""
    markers = list(batch.lays.values_list("marker_id", flat=True))
    batch.bundles.all().delete()
    batch.lays.all().delete()
    batch.needs.all().delete()
    batch.operations.all().delete()
    batch.snapshots.clear()
    orphans = Marker.objects.filter(pk__in=markers, lays__isnull=True)
    orphans.filter(state=Marker.State.NESTING).update(stop_wanted=True)
    orphans.filter(state=Marker.State.WAITING).delete()


@transaction.atomic
def split_lay(lay: Lay) -> int:
    """Divides a lay whose marker came out longer than the table; the number of lays it became.

    Lays are numbered and bundles made anew. A single garment that is too long stays one lay, and so does
    every lay of a batch of which something is cut; the marker says so.
    """
    batch = Batch.objects.select_for_update().get(pk=lay.batch_id)
    if batch.lays.filter(cut_at__isnull=False).exists():
        message = "longer than the table, and not divided because a lay of this batch is cut already"
        Marker.objects.filter(pk=lay.marker_id).update(message=message)
        return 1
    demand = batch_demand(batch)
    shop = shop_of(batch, demand)
    kept: list[tuple[PlannedLay, Marker | None]] = []
    parts = 0
    for row in batch.lays.with_everything():
        stored = stored_lay(row)
        if row.marker_id != lay.marker_id or stored.marker is None:
            kept.append((stored.planned, row.marker))
            continue
        try:
            found = resplit(stored.planned, shop, marker=stored.marker)
        except CannotPlan as refusal:
            Marker.objects.filter(pk=row.marker_id).update(message=str(refusal)[:300])
            return 1
        kept += [(part, None) for part in found]
        parts = len(found)
    planned = numbered([part for part, _ in kept])
    batch.bundles.all().delete()
    batch.lays.all().delete()
    pairs = [
        (part, marker or make_marker(part.job, seconds_for(len(part.job.items))))
        for part, (_, marker) in zip(planned, kept, strict=True)
    ]
    write_lays_and_bundles(batch, demand, shop, pairs)
    refresh_needs(batch)
    return parts


@transaction.atomic
def refresh_needs(batch: Batch) -> Needs:
    """Writes anew what the batch needs, from nested lengths where there are any. What was taken stays taken.

    Needs are kept rounded up, so that packs reckoned from them are never fewer; what is counted is kept whole, for
    nobody takes half a label off the shelf.
    """
    # One at a time: of two workers at once, both would write every need.
    Batch.objects.select_for_update().get(pk=batch.pk)
    demand = batch_demand(batch)
    shop = shop_of(batch, demand)
    lays = batch.lays.for_page()
    needs = work_out_needs(demand.demand, shop, nested_lay_m=nested_lay_m(lays), orders=demand.orders)
    taken = {(row.fabric_colour_id, row.notion_colour_id): row.taken for row in batch.needs.all()}
    batch.needs.all().delete()
    fabric = {(c.fabric.name, c.name): c.pk for c in FabricColour.objects.select_related("fabric")}
    notion = {(c.notion.name, c.name): c.pk for c in NotionColour.objects.select_related("notion")}
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
    BatchNeed.objects.bulk_create(rows)
    return needs


def _shares(planned: Sequence[PlannedLay], seconds: float | None) -> list[float]:
    """Nesting seconds for each lay; together no longer than a batch may take, unless so many are asked for."""
    wanted = [seconds_for(len(lay.job.items)) for lay in planned]
    together = sum(wanted)
    whole = min(together, MOST_SECONDS) if seconds is None else seconds
    return [max(1.0, whole * one / together) for one in wanted]


def write_lays_and_bundles(
    batch: Batch, demand: BatchDemand, shop: Workshop, pairs: Sequence[tuple[PlannedLay, Marker]]
) -> None:
    """Lays and bundles as rows; markers still to be nested go to the worker once all is committed."""
    lays = write_lays(batch, pairs, demand.rows)
    write_bundles(batch, demand, shop, [planned for planned, _ in pairs], lays)
    for _, marker in pairs:
        if marker.state == Marker.State.WAITING:
            transaction.on_commit(lambda pk=marker.pk: nest_marker.enqueue(pk))


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
