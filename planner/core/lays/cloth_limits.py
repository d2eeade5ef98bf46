"""What a cloth allows and costs where its lays are planned: layers, the longest ply, the price of a length."""

from __future__ import annotations

import math
from collections.abc import Iterable
from decimal import Decimal

from planner.core.cloth import need_for_lay_m, price_per_m, roll_on_table_mm
from planner.core.lays.model import LENGTHS, Mode
from planner.core.spec import Cloth, Workshop

#: Cloth nobody has put a price to is reckoned at so much a metre where plans are compared.
_USUAL_PRICE_PER_M = Decimal(8)


def layers_allowed(cloth: Cloth, shop: Workshop, most_plies: int | None = None) -> int:
    """The most layers of this cloth in a lay: what the tool cuts by number and by thickness, and the maker's limit."""
    limits = [shop.most_plies]
    if shop.cut_thickness_mm and cloth.thickness_mm:
        limits.append(math.floor(shop.cut_thickness_mm / cloth.thickness_mm + 1e-9))
    if most_plies:
        limits.append(most_plies)
    return max(1, min(limits))


def price_per_mm(cloth: Cloth) -> float:
    """What a mm of cloth on the table costs, with what is bought besides for shrinkage and flaws."""
    price = price_per_m(cloth) or _USUAL_PRICE_PER_M
    return float(price) * need_for_lay_m(1.0, cloth) / 1000


def usual_cost(bought_mm: float) -> Decimal:
    """What so much cloth that nobody has put a price to counts where plans are compared."""
    return _USUAL_PRICE_PER_M * Decimal(repr(bought_mm)) / 1000


def longest_ply_mm(cloth: Cloth) -> float | None:
    """Cloth sold by the roll comes in no longer lengths (mm on the table); None where it comes in any."""
    return roll_on_table_mm(cloth) if cloth.sold_by == "roll" else None


def longest_spread_mm(cloths: Iterable[Cloth], mode: Mode, shop: Workshop) -> float:
    """How long a ply of any of these cloths may be, laid so, with its ends (mm): as the table, or as a roll gives. Face
    to face both plies of a spread come from one roll."""
    rolls = (longest_ply_mm(cloth) for cloth in cloths)
    return min([shop.table_length_mm, *(mm / LENGTHS[mode] for mm in rolls if mm is not None)])
