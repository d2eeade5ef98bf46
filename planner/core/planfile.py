"""The plan file (notchbook-plan/1): a whole plan as plain data that others can check.

Lengths in mm, areas in mm², metres where the name says so. Outlines are in lay coordinates: x along the
cloth from 0, y across it from 0.
"""

from __future__ import annotations

from typing import Any

from planner.core.lays.model import LayGarments, Placement, Plies
from planner.core.needs import CuttingCount, NotionNeed
from planner.core.planning import NestedLay, Plan, PlannedBundle, PlannedCloth
from planner.core.spec import ClothKey, Garment

SCHEMA = "notchbook-plan/1"


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """The plan as data for `json.dump`; lengths are rounded to 0.001 mm, metres to 0.001 m."""
    return {
        "schema": SCHEMA,
        "batch": plan.batch,
        "demand": [{**_garment(row.garment), "quantity": row.quantity} for row in plan.demand],
        "cloths": [_cloth(cloth) for cloth in plan.cloths],
        "notions": [_notion(need) for need in plan.needs.notions],
        "cutting_counts": [_cutting_count(count) for count in plan.needs.cutting_counts],
        "bundles": [_bundle(bundle) for bundle in plan.bundles],
    }


def _garment(garment: Garment) -> dict[str, Any]:
    return {
        "style": garment.style,
        "options": dict(garment.options),
        "colourway": garment.colourway,
        "size": garment.size,
    }


def _cloth(planned: PlannedCloth) -> dict[str, Any]:
    return {
        "fabric": planned.cloth.key.fabric,
        "colour": planned.cloth.key.colour,
        "usable_width_mm": round(planned.usable_width_mm, 3),
        "one_way": planned.cloth.one_way,
        "lays": [_lay(lay, plies) for lay in planned.lays for plies in _plies_of(lay, planned.cloth.key)],
        "lay_m": round(planned.lay_m, 3),
        "need_m": round(planned.need.need_m, 3),
        "in_stock_m": round(planned.need.in_stock_m, 3),
        "to_buy_m": round(planned.need.to_buy_m, 3),
    }


def _plies_of(lay: NestedLay, cloth: ClothKey) -> list[Plies]:
    """The plies of one colour; a lay stacked from several stands under each with that colour's own."""
    return [plies for plies in lay.planned.plies if plies.cloth == cloth]


def _lay(lay: NestedLay, plies: Plies) -> dict[str, Any]:
    return {
        "section": lay.number,
        "mode": lay.planned.mode,
        "spreads": plies.spreads,
        "lay_width_mm": round(lay.planned.lay_width_mm, 3),
        "marker_length_mm": round(lay.marker.length_mm, 3),
        "end_allowance_mm": round(lay.planned.end_allowance_mm, 3),
        "efficiency": round(lay.marker.efficiency, 4),
        "garments": [_lay_garments(held) for held in plies.garments],
        "placements": [_placement(placement) for placement in lay.marker.placements],
    }


def _lay_garments(held: LayGarments) -> dict[str, Any]:
    return {**_garment(held.garment), "per_marker": held.per_marker}


def _placement(placement: Placement) -> dict[str, Any]:
    return {
        "style": placement.style,
        "piece": placement.piece,
        "size": placement.size,
        "garment": placement.garment_no,
        "mirrored": placement.mirrored,
        "rotation_deg": placement.rotation_deg,
        "outline": [[round(x, 3), round(y, 3)] for x, y in placement.outline],
    }


def _notion(need: NotionNeed) -> dict[str, Any]:
    return {
        "notion": need.key.notion,
        "colour": need.key.colour,
        "unit": need.unit,
        "need": round(need.need, 3),
        "to_buy": need.to_buy_packs,
        "pack": need.pack,
    }


def _cutting_count(count: CuttingCount) -> dict[str, Any]:
    garment = _garment(count.garment)
    size = garment.pop("size")
    return {
        **garment,
        "piece": count.piece,
        "fabric": count.cloth.fabric,
        "colour": count.cloth.colour,
        "size": size,
        "count": count.count,
    }


def _bundle(bundle: PlannedBundle) -> dict[str, Any]:
    return {
        "number": bundle.number,
        **_garment(bundle.garment),
        "quantity": bundle.quantity,
        "lay": bundle.lay,
    }
