"""What lays come to: cloth, minutes at the table, money. The same sum for a plan and for what it is held against."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.core.cloth import need_for_lay_m, price_per_m
from planner.core.lays.cloth_limits import usual_cost
from planner.core.lays.model import LENGTHS, Mode
from planner.core.lays.wishes import Outcome
from planner.core.spec import ClothKey, Workshop


@dataclass(frozen=True, slots=True)
class Laid:
    """A lay as far as it counts: length of its marker without ends (mm), spreads by colour, pieces in the marker."""

    length_mm: float
    mode: Mode
    spreads: Mapping[ClothKey, int]
    pieces: int
    is_nested: bool


def outcome_of(
    aim: str, laid: Sequence[Laid], shop: Workshop, *, end_mm: float, is_proven: bool = False
) -> Outcome:
    """What these lays of one fabric take; `end_mm` is both ends together.

    Cloth is every length on the table with its ends. Money is for cloth as it is bought, with what is lost in washing
    and at flaws, and for the minutes at the workroom's rate.
    """
    times = shop.times
    minutes = 0.0
    cloth_mm: dict[ClothKey, float] = {}
    for lay in laid:
        each_mm = LENGTHS[lay.mode] * (lay.length_mm + end_mm)
        for key, count in lay.spreads.items():
            cloth_mm[key] = cloth_mm.get(key, 0.0) + each_mm * count
        minutes += times.setup + times.spread * LENGTHS[lay.mode] * sum(lay.spreads.values())
        minutes += (times.mark_piece + times.cut_piece) * lay.pieces
    whole_mm = sum(cloth_mm.values())
    minutes += times.spread_metre * whole_mm / 1000
    cost, unpriced = Decimal(repr(minutes)) * times.rate_per_hour / 60, Decimal(0)
    for key, length_mm in cloth_mm.items():
        cloth = shop.cloths[key]
        need_m = need_for_lay_m(length_mm / 1000, cloth)
        cost += price_per_m(cloth) * Decimal(repr(need_m))
        if not price_per_m(cloth):
            unpriced += usual_cost(need_m * 1000)
    spreads = sum(LENGTHS[lay.mode] * sum(lay.spreads.values()) for lay in laid)
    nested = sum(lay.is_nested for lay in laid)
    return Outcome(aim, len(laid), spreads, whole_mm, minutes, cost, is_proven, nested, unpriced)
