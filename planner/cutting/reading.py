"""A batch, its cut plans and its lays, read in few queries for pages and papers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import F, Manager
from django.http import Http404

from planner.common.shared_rows import read_shared
from planner.cutting.marker_store import places_of_text
from planner.cutting.models import Batch, CutPlan, Lay, LayCloth, LayGarment, LayRoll, PlanChoice
from planner.materials.models import Fabric
from planner.styles.shapes import as_text


@dataclass(frozen=True)
class BatchPlan:
    """The cut plan of one fabric of a batch, with what the maker chose."""

    plan: CutPlan
    choices: tuple[PlanChoice, ...]


_PLAN = ("aim", "most_plies", "state", "is_proven", "gap_share", "method", "rounds", "facts", "fabric_id")


def batch_with_plans(number: str) -> Batch:
    """The batch of this number with its cut plans and choices, in one query; 404 where there is none.

    :func:`plans_of` then needs no query of its own.
    """
    plan = {f"plan_{name}": F(f"cut_plans__{name}") for name in ("id", *_PLAN)}
    choice = {f"choice_{name}": F(f"cut_plans__choices__{name}") for name in ("id", "kind", "kinds")}
    rows = list(
        Batch.objects.filter(number=number)
        .annotate(**plan, **choice, plan_fabric=F("cut_plans__fabric__name"))
        .order_by("plan_id", "choice_id")
    )
    if not rows:
        raise Http404("There is no such batch.")
    batch = rows[0]
    plans: dict[int, CutPlan] = {}
    choices: dict[int, list[PlanChoice]] = defaultdict(list)
    for row in rows:
        if row.plan_id is None:
            continue
        if row.plan_id not in plans:
            fields: dict[str, Any] = {name: getattr(row, f"plan_{name}") for name in _PLAN}
            plans[row.plan_id] = CutPlan(pk=row.plan_id, batch=batch, **fields)
            plans[row.plan_id].fabric = Fabric(pk=row.plan_fabric_id, name=row.plan_fabric)
        if row.choice_id is not None:
            kept = PlanChoice(pk=row.choice_id, kind=row.choice_kind, kinds=row.choice_kinds)
            kept.plan = plans[row.plan_id]
            choices[row.plan_id].append(kept)
    batch.read_plans = tuple(BatchPlan(plan, tuple(choices[pk])) for pk, plan in plans.items())
    return batch


def plans_of(batch: Batch) -> tuple[BatchPlan, ...]:
    """The cut plans of a batch; no query where they were read with it, else two."""
    read: tuple[BatchPlan, ...] | None = getattr(batch, "read_plans", None)
    if read is not None:
        return read
    rows = batch.cut_plans.select_related("fabric").prefetch_related("choices")
    return tuple(BatchPlan(plan, tuple(plan.choices.all())) for plan in rows)


#: As much of garments, their plies and cloths as is shown of a lay: a fabric has many figures, and a lay many garments.
_GARMENT = {
    "style": ("number",),
    "colourway": ("name",),
    "size": ("name", "position"),
    "lay_cloth": ("lay", "spreads", "cut_spreads", "used_m"),
    "lay_cloth__fabric_colour": ("name", "swatch"),
    "lay_cloth__fabric_colour__fabric": ("name",),
}


def lays_of(batch: Batch) -> tuple[Lay, ...]:
    """The lays of a batch with markers (their jobs left out), cloths, garments and rolls, in three queries."""
    rows = (
        batch.lays.select_related("marker", "cut_by").defer("marker__job", "marker__placements").with_turn()
    )
    lays = tuple(rows.annotate(placements_text=as_text("marker__placements")))
    held = LayGarment.objects.filter(lay_cloth__lay__batch=batch).order_by("lay_cloth_id", "pk")
    rolls = LayRoll.objects.filter(lay_cloth__lay__batch=batch).select_related("roll")
    garments_of: dict[int, list[LayGarment]] = defaultdict(list)
    rolls_of: dict[int, list[LayRoll]] = defaultdict(list)
    cloths: dict[int, LayCloth] = {}
    for garment in read_shared(held, _GARMENT, own=("per_marker",)):
        cloth = cloths.setdefault(garment.lay_cloth_id, garment.lay_cloth)
        garments_of[cloth.pk].append(garment)
    for roll in rolls:
        rolls_of[roll.lay_cloth_id].append(roll)
    cloths_of: dict[int, list[LayCloth]] = defaultdict(list)
    for pk, cloth in cloths.items():
        cloths_of[cloth.lay_id].append(cloth)
        _keep(cloth, "garments", garments_of[pk])
        _keep(cloth, "rolls", rolls_of[pk])
    for lay in lays:
        lay.batch = batch
        text = lay.placements_text  # type: ignore[attr-defined]
        lay.marker.placements = None if text is None else places_of_text(text)
        _keep(lay, "cloths", cloths_of[lay.pk])
    return lays


def _keep(row: Any, name: str, found: Iterable[Any]) -> None:
    """Rows read already, as `prefetch_related` would have left them."""
    manager: Manager[Any] = getattr(row, name)
    query = manager.all()
    query._result_cache = list(found)  # type: ignore[attr-defined]
    query._prefetch_done = True  # type: ignore[attr-defined]
    if not hasattr(row, "_prefetched_objects_cache"):
        row._prefetched_objects_cache = {}
    row._prefetched_objects_cache[name] = query
