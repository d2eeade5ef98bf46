"""What to buy for a plan that is kept nowhere: by the pieces in stock, as for a batch that is planned."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from planner.core.lays.items import width_taken_mm
from planner.core.lays.model import LENGTHS
from planner.core.planning import NestedLay, Plan
from planner.core.rolls import PliesShort
from planner.core.spec import ClothKey, Workshop
from planner.core.units import Display
from planner.cutting.plies_dealt import SpreadsWanted, Thought, deal_spreads
from planner.cutting.rolls_there import rolls_there
from planner.cutting.short_cloth import with_short
from planner.materials.models import Workroom


def bought_by_pieces(plan: Plan, shop: Workshop, display: Display) -> Plan:
    """The plan with as much to buy as its plies take that fit on nothing of what is there after all batches."""
    needs = with_short(plan.needs, shop, _short(plan, shop), display)
    of_cloth = {need.cloth: need for need in needs.cloths}
    cloths = tuple(replace(one, need=of_cloth[one.cloth.key]) for one in plan.cloths)
    return replace(plan, needs=needs, cloths=cloths)


def _short(plan: Plan, shop: Workshop) -> dict[ClothKey, tuple[PliesShort, ...]]:
    there = rolls_there(None, {one.cloth.key for one in plan.cloths}, shop)
    keep_mm = float(Workroom.the().keep_remnant_m) * 1000
    thought: Thought = {}
    found: dict[ClothKey, list[PliesShort]] = defaultdict(list)
    for cloth in plan.cloths:
        key = cloth.cloth.key
        wanted = {f"lay {lay.number}": _wanted(lay, key) for lay in cloth.lays}
        short = deal_spreads(list(wanted.values()), there.get(key, ()), keep_mm, thought).short
        for name, spreads in short.items():
            one = wanted[name]
            found[key].append(PliesShort(name, spreads * one.lengths, one.ply_mm, one.lengths))
    return {key: tuple(plies) for key, plies in found.items()}


def _wanted(lay: NestedLay, key: ClothKey) -> SpreadsWanted:
    planned = lay.planned
    ply_mm = lay.marker.length_mm + 2 * planned.end_allowance_mm
    lengths = LENGTHS[planned.mode]
    wide_mm = width_taken_mm(planned.lay_width_mm, planned.mode)
    return SpreadsWanted(f"lay {lay.number}", ply_mm, planned.spreads_of(key), lengths, wide_mm)
