"""Between the rows of a batch and the core: lays as planned, styles as they were, the plan as a whole."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from django.db.models import Case, QuerySet, When

from planner.core.cloth import lay_width_mm, with_matched
from planner.core.lays import model as core
from planner.core.lays.stored import job_from_json
from planner.core.needs import Needs, find_missing, work_out_needs
from planner.core.outline import Outline
from planner.core.planning import NestedLay, Plan, PlannedBundle, PlannedCloth
from planner.core.spec import ClothKey, Garment, StyleSpec, Workshop, make_options
from planner.core.stored_spec import style_from_json, style_key, style_to_json
from planner.cutting.claims import Claims, claims
from planner.cutting.demand import BatchDemand, GarmentRows, batch_demand
from planner.cutting.laid import laid, valid_spreads
from planner.cutting.lot_units import kept_units_of
from planner.cutting.marker_store import read_marker
from planner.cutting.models import Batch, Bundle, CutPlan, Lay, LayCloth, LayGarment, Marker, StyleSnapshot
from planner.cutting.reading import BatchPlan, lays_of, plans_of
from planner.cutting.short_cloth import short_plies, with_short
from planner.cutting.short_lots import lots_that_do, with_lots
from planner.cutting.stock import free_workshop
from planner.cutting.used_so_far import with_used, without_settled
from planner.cutting.wording import not_settled_in_words
from planner.materials.models import FabricColour, Workroom
from planner.materials.specs import cloth_key
from planner.styles.shapes import as_text
from planner.styles.specs import style_specs


@dataclass(frozen=True)
class StoredLay:
    """A lay of a batch: the row, and what the core knows of it. `marker` is None until something was nested."""

    row: Lay
    planned: core.PlannedLay
    marker: core.Marker | None


@dataclass(frozen=True)
class PlannedBatch:
    """What pages and papers show of a planned batch. `lays` are rows without their nesting jobs."""

    batch: Batch
    demand: BatchDemand
    shop: Workshop
    lays: tuple[Lay, ...]
    needs: Needs
    claims: Claims = field(default_factory=Claims)
    plans: tuple[BatchPlan, ...] = ()

    @property
    def is_nested(self) -> bool:
        """Whether every lay has a nested marker and no plan is being improved: it can be printed and cut.

        A lay may be nested for longer meanwhile: it is printed as it stands, and a paper that is old then says so.
        """
        return bool(self.lays) and all(lay.marker.is_laid for lay in self.lays) and self.is_settled

    @property
    def is_settled(self) -> bool:
        """Whether the choice of lays stands, whatever lengths come of them."""
        return all(one.plan.state == CutPlan.State.SETTLED for one in self.plans)

    @property
    def not_settled(self) -> dict[ClothKey, str]:
        """Cloths whose metres may still change, with the words that say so. No query."""
        moving = {one.plan.fabric.name for one in self.plans if one.plan.state != CutPlan.State.SETTLED}
        found = {
            need.cloth: not_settled_in_words(
                is_nested=not need.is_estimate,
                is_settled=need.cloth.fabric not in moving,
                has_rolls=not moving,
            )
            for need in self.needs.cloths
            if not self.claims.own_of(need.cloth).is_settled
        }
        return {cloth: words for cloth, words in found.items() if words}


def styles_to_keep(demand: BatchDemand, shop: Workshop) -> list[StyleSnapshot]:
    """Snapshots of the styles of a batch as they are now, each once; not saved. No query."""
    pks = {garment.style: rows.style.pk for garment, rows in demand.rows.items()}
    specs = [(pk, shop.styles[number]) for number, pk in pks.items()]
    return [StyleSnapshot(key=style_key(spec), style_id=pk, data=style_to_json(spec)) for pk, spec in specs]


def keep_styles(batch: Batch, snapshots: Iterable[StyleSnapshot]) -> None:
    """Gives a batch the styles it was planned with; an unchanged style is kept once for all batches."""
    batch.snapshots.set(map(_kept_once, snapshots))


def keep_style(style_id: int, spec: StyleSpec) -> StyleSnapshot:
    """The snapshot of a style as it is now; an unchanged style is kept once."""
    return _kept_once(StyleSnapshot(key=style_key(spec), style_id=style_id, data=style_to_json(spec)))


def _kept_once(one: StyleSnapshot) -> StyleSnapshot:
    defaults = {"style_id": one.style_id, "data": one.data}
    kept = StyleSnapshot.objects.get_or_create(key=one.key, defaults=defaults)[0]
    if kept.changed or kept.changed_parts:
        # It was another meanwhile, and is as it was again.
        kept.changed, kept.changed_parts = [], []
        kept.save(update_fields=["changed", "changed_parts"])
    return kept


def shop_of(batch: Batch, demand: BatchDemand, known: Claims | None = None) -> Workshop:
    """The workshop for a planned batch: styles as they were then, stock as far as it is there for it.

    A style of which no snapshot was kept is taken as it is now. So are all where a snapshot no longer fits:
    a cloth, a colour, an option has got another name since, and the styles of now know it.
    """
    numbers = demand.style_numbers
    kept = {style.number: style for style in _styles_of(batch)}
    shop = free_workshop(numbers - set(kept), batch, known)
    shop = with_matched(replace(shop, styles={**shop.styles, **kept}))
    return free_workshop(numbers, batch, known) if kept and find_missing(demand.demand, shop) else shop


#: Styles that were read from snapshots by the key of their contents, which never change under it; the oldest go.
_KEPT: dict[str, StyleSpec] = {}
STYLES_KEPT = 256


def kept_styles(snapshots: QuerySet[StyleSnapshot]) -> list[StyleSpec]:
    """The styles of snapshots, in one query; what this process has read before is not fetched again."""
    known = dict(_KEPT)  # a copy: meanwhile another request may let the oldest go
    unknown = Case(When(key__in=list(known), then=None), default=as_text("data"))
    found = []
    for key, data in snapshots.values_list("key", unknown):
        style = style_from_json(json.loads(data)) if data is not None else known[key]
        _KEPT[key] = style
        found.append(style)
    for key in list(_KEPT)[:-STYLES_KEPT]:
        _KEPT.pop(key, None)
    return found


def _styles_of(batch: Batch) -> list[StyleSpec]:
    """The kept styles of a batch; no query where it was read with their keys and this process knows them all."""
    keys = getattr(batch, "styles_kept", None)
    known = [_KEPT.get(key) for key in keys or ()]
    found = [style for style in known if style is not None]
    return found if keys is not None and len(found) == len(keys) else kept_styles(batch.snapshots.all())


def style_of(bundle: Bundle) -> StyleSpec:
    """The style of a bundle as it was planned; as it is now where names have changed since. Mostly one query."""
    garment = garment_of(bundle)
    for kept in kept_styles(bundle.batch.snapshots.filter(style=bundle.style)[:1]):
        known = all(option in kept.details.get(detail, ()) for detail, option in garment.options)
        if known and garment.colourway in kept.colourways:
            return kept
    return style_specs([bundle.style])[bundle.style.number]


def planned_batch(batch: Batch) -> PlannedBatch:
    """Reads a planned batch, in a fixed number of queries.

    Raises CannotPlanError where something its styles need is gone from styles and materials.
    """
    demand = batch_demand(batch)
    known = claims(batch)
    shop = shop_of(batch, demand, known)
    lays = lays_of(batch)
    lost_m = {key: float(metres) for key, metres in known.lost_m.items()}
    needs = work_out_needs(demand.demand, shop, laid=laid(lays), orders=demand.orders, lost_m=lost_m)
    needs = with_used(needs, shop, known)
    short = short_plies(lays)
    display = Workroom.the().display if short else "metric"
    needs = without_settled(with_short(needs, shop, short, display), known)
    if short and batch.state == Batch.State.CUTTING:
        needs = with_lots(needs, lots_that_do(shop, kept_units_of(lays), display))
    return PlannedBatch(batch, demand, shop, lays, needs, known, plans_of(batch))


def plan_of(read: PlannedBatch) -> Plan:
    """The batch as a core plan, for the plan file and the papers. ValueError while a lay is not nested."""
    if not read.is_nested:
        raise ValueError("a lay of this batch is not nested yet")
    jobs = Marker.objects.defer("job", "placements").annotate(job_text=as_text("job"))
    known = {lay.marker_id: read_marker(lay.marker) for lay in read.lays}
    stored = stored_lays(read.batch.lays.with_everything(jobs), known)
    nested = [NestedLay(lay.planned, lay.marker) for lay in stored if lay.marker is not None]
    cloths = []
    for need in read.needs.cloths:
        cloth = read.shop.cloths[need.cloth]
        own = tuple(lay for lay in nested if need.cloth in lay.planned.cloths)
        cloths.append(PlannedCloth(cloth, lay_width_mm(cloth), own, need))
    bundles = planned_bundles(read.batch.bundles.in_full())
    return Plan(read.batch.number, read.demand.demand, tuple(cloths), read.needs, bundles)


def planned_bundles(rows: Iterable[Bundle]) -> tuple[PlannedBundle, ...]:
    """Bundles read in full, in the core's words."""
    return tuple(
        PlannedBundle(
            number=row.number,
            garment=garment_of(row),
            quantity=row.quantity,
            lay=row.lay.number if row.lay else 0,
            lays=tuple(lay.number for lay in row.lays.all()),
            shade_lot=row.shade_lot,
        )
        for row in rows
    )


def garment_of(row: Bundle | LayGarment) -> Garment:
    """The garment a row names, in the core's words."""
    options = make_options((option.detail.name, option.name) for option in row.options.all())
    return Garment(row.style.number, options, row.colourway.name, row.size.name)


def stored_lays(
    rows: Iterable[Lay], markers: Mapping[int, core.Marker | None] | None = None
) -> list[StoredLay]:
    """Lays read with all they hold (`Lay.objects.with_everything`); a marker of several lays is made out once.

    `markers` are arrangements that are read already, by the key of their row. A row read with its job as text
    (`job_text`) is made out from that, one after the other: as text very many take a tenth of the memory.
    """
    known: dict[int, tuple[core.MarkerJob, core.Marker | None]] = {}
    outlines: dict[Outline, Outline] = {}
    found = []
    for row in rows:
        pk = row.marker_id
        if pk not in known:
            text = row.marker.__dict__.get("job_text")
            job = job_from_json(row.marker.job if text is None else json.loads(text), outlines)
            known[pk] = (job, markers[pk] if markers and pk in markers else read_marker(row.marker))
        found.append(_stored(row, *known[pk]))
    return found


def stored_lay(row: Lay) -> StoredLay:
    """A lay read with its marker, cloths and garments (`Lay.objects.with_everything`)."""
    return _stored(row, job_from_json(row.marker.job), read_marker(row.marker))


def _stored(row: Lay, job: core.MarkerJob, marker: core.Marker | None) -> StoredLay:
    planned = core.PlannedLay(
        section=row.number,
        plies=plies_of(row),
        mode=row.mode,  # type: ignore[arg-type]
        lay_width_mm=row.lay_width_mm,
        end_allowance_mm=row.end_allowance_mm,
        job=job,
        estimated_length_mm=row.estimated_length_mm,
    )
    return StoredLay(row, planned, marker)


def plies_of(row: Lay) -> tuple[core.Plies, ...]:
    """The plies of a lay; garments stand in the order of the marker's garment numbers. Of none spread, nothing."""
    plies = []
    for cloth in row.cloths.all():
        key = cloth_key(cloth.fabric_colour)
        plies.append(core.Plies(key, valid_spreads(row, cloth), slots_of(cloth)))
    return tuple(one for one in plies if one.spreads) or tuple(plies)


def slots_of(cloth: LayCloth) -> tuple[Garment, ...]:
    """The garments that plies hold, in the order of the marker's."""
    return tuple(slot for held in cloth.garments.all() for slot in [garment_of(held)] * held.per_marker)


def write_lays(
    batch: Batch, lays: Sequence[tuple[core.PlannedLay, Marker]], rows: dict[Garment, GarmentRows]
) -> list[Lay]:
    """Writes lays of a batch, numbered as planned, in as many queries however many they are."""
    colours = {cloth_key(colour): colour for colour in FabricColour.objects.select_related("fabric")}
    written = Lay.objects.bulk_create(
        Lay(
            batch=batch,
            number=planned.section,
            mode=planned.mode,
            lay_width_mm=planned.lay_width_mm,
            one_way=planned.job.one_way,
            end_allowance_mm=planned.end_allowance_mm,
            estimated_length_mm=planned.estimated_length_mm,
            marker=marker,
        )
        for planned, marker in lays
    )
    plies = [(lay, one) for lay, (planned, _) in zip(written, lays, strict=True) for one in planned.plies]
    cloths = LayCloth.objects.bulk_create(
        LayCloth(lay=lay, fabric_colour=colours[one.cloth], spreads=one.spreads) for lay, one in plies
    )
    _write_garments([(cloth, one) for cloth, (_, one) in zip(cloths, plies, strict=True)], rows)
    return written


def _write_garments(plies: Sequence[tuple[LayCloth, core.Plies]], rows: dict[Garment, GarmentRows]) -> None:
    """What plies that are marked alike hold, their garments in the order of the marker's."""
    runs = [
        (cloth, rows[garment], len(list(run))) for cloth, one in plies for garment, run in groupby(one.slots)
    ]
    held = LayGarment.objects.bulk_create(
        LayGarment(lay_cloth=cloth, style=row.style, colourway=row.colourway, size=row.size, per_marker=count)
        for cloth, row, count in runs
    )
    chosen = LayGarment.options.through
    chosen.objects.bulk_create(
        chosen(laygarment=one, option=option)
        for one, (_, row, _) in zip(held, runs, strict=True)
        for option in row.options
    )
