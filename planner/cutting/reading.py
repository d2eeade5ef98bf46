"""A batch, its cut plans and its lays, read in few queries for pages and papers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import CharField, F, QuerySet
from django.http import Http404

from planner.common.kept_questions import Given, KeptQuestion
from planner.common.shared_rows import KeptShared, keep_related
from planner.cutting.marker_store import places_of_text
from planner.cutting.models import (
    Batch,
    Bundle,
    CutPlan,
    Lay,
    LayCloth,
    LayGarment,
    LayRoll,
    Marker,
    PlanChoice,
)
from planner.cutting.querysets import lost_at_flaws
from planner.materials.models import Fabric
from planner.styles.shapes import as_text


@dataclass(frozen=True)
class BatchPlan:
    """The cut plan of one fabric of a batch, with what the maker chose."""

    plan: CutPlan
    choices: tuple[PlanChoice, ...]


_PLAN = (
    "aim",
    "aim_by",
    "most_plies",
    "state",
    "is_proven",
    "gap_share",
    "method",
    "rounds",
    "facts",
    "fabric_id",
)


def _with_plans() -> QuerySet[Batch]:
    plan = {f"plan_{name}": F(f"cut_plans__{name}") for name in ("id", *_PLAN)}
    choice = {f"choice_{name}": F(f"cut_plans__choices__{name}") for name in _CHOICE}
    rows = Batch.objects.filter(number=Given("number", CharField()))
    styles = {f"style_{name}": F(f"snapshots__{path}") for name, path in _STYLE.items()}
    rows = rows.annotate(**plan, **choice, **styles, plan_fabric=F("cut_plans__fabric__name"))
    return rows.order_by("plan_id", "choice_id")


_CHOICE = ("id", "kind", "kinds")
_STYLE = {"kept": "key", "changed": "changed", "parts": "changed_parts", "number": "style__number"}
_WITH_PLANS = KeptShared(
    _with_plans,
    {},
    noted=[
        *(f"plan_{name}" for name in ("id", *_PLAN, "fabric")),
        *(f"choice_{name}" for name in _CHOICE),
        *(f"style_{name}" for name in _STYLE),
    ],
)


def batch_with_plans(number: str) -> Batch:
    """The batch of this number with its cut plans and choices, and the keys of its styles as they were planned
    (`styles_kept`) with what has become of those (`styles_changed` and `parts_changed`, by number), in one query; 404
    where there is none.

    :func:`plans_of` then needs no query of its own.
    """
    rows = _WITH_PLANS.read(number=number)
    if not rows:
        raise Http404("There is no such batch.")
    batch = rows[0]
    plans: dict[int, CutPlan] = {}
    choices: dict[int, dict[int, PlanChoice]] = defaultdict(dict)
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
            choices[row.plan_id].setdefault(kept.pk, kept)
    batch.read_plans = tuple(BatchPlan(plan, tuple(choices[pk].values())) for pk, plan in plans.items())
    batch.styles_kept = tuple(dict.fromkeys(row.style_kept for row in rows if row.style_kept is not None))
    batch.styles_changed = {row.style_number: row.style_changed for row in rows if row.style_changed}
    batch.parts_changed = {row.style_number: row.style_parts for row in rows if row.style_parts}
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
    "size": ("name", "position", "size_range"),
    "lay_cloth": ("lay", "spreads", "cut_spreads", "used_m"),
    "lay_cloth__fabric_colour": ("name", "swatch"),
    "lay_cloth__fabric_colour__fabric": (
        "name", "is_tube", "repeat_length_mm", "repeat_width_mm", "shrinkage_handling", "shrinkage_length_percent",
        "shrinkage_width_percent",
    ),
}  # fmt: skip


#: Of whoever cut a lay no more than the name.
_LAYS = KeptShared(
    lambda: Lay.objects.filter(batch=Given("batch")).annotate(placements_text=as_text("marker__placements")),
    {
        "marker": [f.name for f in Marker._meta.concrete_fields if f.name not in {"job", "placements"}],
        "cut_by": ("username", "first_name", "last_name"),
    },
    noted=["placements_text"],
)
_GARMENTS = KeptShared(
    lambda: (
        LayGarment.objects.filter(lay_cloth__lay__batch=Given("batch"))
        .annotate(lost_m=lost_at_flaws("lay_cloth"))
        .order_by("lay_cloth_id", "pk")
    ),
    _GARMENT,
    own=("per_marker",),
    noted=["lost_m"],
)
_ROLLS = KeptShared(
    lambda: LayRoll.objects.with_flaws_told().filter(lay_cloth__lay__batch=Given("batch")),
    {"roll": None},
    noted=["has_flaws"],
)


def lays_of(batch: Batch) -> tuple[Lay, ...]:
    """The lays of a batch with markers (their jobs left out), cloths (with what was lost at flaws, `lost_m`), garments
    and rolls, in three queries."""
    lays = tuple(_LAYS.read(batch=batch.pk))
    garments_of: dict[int, list[LayGarment]] = defaultdict(list)
    rolls_of: dict[int, list[LayRoll]] = defaultdict(list)
    cloths: dict[int, LayCloth] = {}
    for garment in _GARMENTS.read(batch=batch.pk):
        cloth = cloths.setdefault(garment.lay_cloth_id, garment.lay_cloth)
        cloth.lost_m = garment.lost_m
        garments_of[cloth.pk].append(garment)
    for roll in _ROLLS.read(batch=batch.pk):
        rolls_of[roll.lay_cloth_id].append(roll)
    cloths_of: dict[int, list[LayCloth]] = defaultdict(list)
    for pk, cloth in cloths.items():
        cloths_of[cloth.lay_id].append(cloth)
        keep_related(cloth, "garments", garments_of[pk])
        keep_related(cloth, "rolls", rolls_of[pk])
    told: set[int] = set()
    for lay in lays:
        lay.batch = batch
        text = lay.placements_text
        if lay.marker_id not in told:  # lays that ask the very same share one marker
            told.add(lay.marker_id)
            lay.marker.placements = None if text is None else places_of_text(text)
        keep_related(lay, "cloths", cloths_of[lay.pk])
    return lays


@dataclass(frozen=True)
class BundleThere:
    """A bundle as lists show it: what it is in words, with the lays its pieces come from and its options by key.

    `lay_awaited` is the number of the first of them that is still to be cut, 0 for none.
    """

    number: str
    token: str
    quantity: int
    shade_lot: str
    style: str
    colourway: str
    size: str
    lays: tuple[Lay, ...]
    named_options: Mapping[int, tuple[str, str]] = field(default_factory=dict)

    @property
    def options(self) -> tuple[tuple[str, str], ...]:
        """Its options, each with its detail."""
        return tuple(self.named_options.values())

    @property
    def lay_awaited(self) -> int:
        return next((lay.number for lay in self.lays if lay.cut_at is None), 0)

    @property
    def lays_by_cloth(self) -> list[tuple[str, list[int]]]:
        """The numbers of its lays by what they are cut from; the lays must have been read with their cloths."""
        found: dict[str, list[int]] = defaultdict(list)
        for lay in self.lays:
            found[lay.cloths.all()[0].fabric_colour.fabric.name].append(lay.number)
        return list(found.items())

    @property
    def any_cut(self) -> bool:
        """Some lay that its pieces come from has been cut."""
        return any(lay.cut_at is not None for lay in self.lays)

    def is_of(self, cloth: LayCloth) -> bool:
        """Whether garments like those of the bundle, options aside, are cut from these plies, read with their
        garments."""
        return any(self._is_like(one) for one in cloth.garments.all())

    def is_just_of(self, cloth: LayCloth) -> bool:
        """The same with their options, read with them."""
        wanted = set(self.named_options)
        own = (one for one in cloth.garments.all() if self._is_like(one))
        return any({option.pk for option in one.options.all()} == wanted for one in own)

    def _is_like(self, garment: LayGarment) -> bool:
        told = (garment.style.number, garment.colourway.name, garment.size.name)
        return told == (self.style, self.colourway, self.size)

    @property
    def is_cut(self) -> bool:
        """Every lay that its pieces come from has been cut."""
        return bool(self.lays) and not self.lay_awaited


#: What a :class:`BundleThere` is made from.
_BUNDLE = (
    "number", "token", "quantity", "shade_lot", "style__number", "colourway__name", "size__name"
)  # fmt: skip


_BUNDLES = KeptQuestion(
    lambda: (
        Bundle.objects.filter(batch=Given("batch"))
        .order_by("pk", "lays__number", "options__detail__position", "options")
        .values_list(
            *_BUNDLE, "line__order__due_on", "lays", "options", "options__detail__name", "options__name"
        )
    )
)


def bundles_of(batch: Batch, lays: Sequence[Lay]) -> list[BundleThere]:
    """The bundles of a batch in their order, with those of its lays that they come from, in one query.

    The lays, read with their rolls, are given what `with_turn` notes of them.
    """
    by_pk = {lay.pk: lay for lay in lays}
    own: dict[tuple[Any, ...], tuple[dict[int, Lay], dict[int, tuple[str, str]]]] = {}
    days: dict[int, set[date]] = defaultdict(set)
    # Each of its lays comes with each of its options.
    for *values, order_due_on, pk, option, detail, name in _BUNDLES.ask(batch=batch.pk):
        found, options = own.setdefault(tuple(values), ({}, {}))
        if option:
            options[option] = (detail, name)
        if pk in by_pk and pk not in found:
            found[pk] = by_pk[pk]
            # A bundle for several orders is due with the batch, as its ticket says.
            due_on = order_due_on or batch.due_on
            days[pk] |= {due_on} if due_on else set()
    for lay in lays:
        cloths = lay.cloths.all()
        lay.first_due = min(days[lay.pk], default=None)
        lay.some_cut = any(cloth.cut_spreads for cloth in cloths)
        lay.waits = lay.marker.is_laid and any(
            roll.roll_id is None for cloth in cloths for roll in cloth.rolls.all()
        )
    return [BundleThere(*values, tuple(found.values()), options) for values, (found, options) in own.items()]
