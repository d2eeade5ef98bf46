"""Cloth as it is bought, washed and laid: widths, shrinkage, and what a length of it costs."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from decimal import Decimal

from planner.core.outline import Outline
from planner.core.spec import Cloth, Workshop
from planner.core.units import kg_per_m, round_up_to_pack


@dataclass(frozen=True, slots=True)
class ClothBuy:
    """Cloth to buy: `sold` counts what the price is for (metres, rolls, kg), `length_m` what that gives."""

    sold: Decimal
    length_m: float
    cost: Decimal


def shrunk(length_mm: float, shrinkage: float) -> float:
    """A length after washing: length × (1 − s)."""
    return length_mm * (1.0 - shrinkage)


def before_washing(finished_mm: float, shrinkage: float) -> float:
    """The length that washes down to `finished_mm`: finished / (1 − s), s a fraction as in ISO 5077.

    Raises ValueError where nothing would be left.
    """
    if not shrinkage < 1.0:
        raise ValueError("cloth that shrinks by 100 % is gone")
    return finished_mm / (1.0 - shrinkage)


def shrinks_first(cloth: Cloth) -> tuple[float, float] | None:
    """The shares of its length and width that washing takes before it is cut; None where it is cut as bought."""
    if cloth.shrinkage_handling != "wash_first":
        return None
    return cloth.shrinkage_length, cloth.shrinkage_width


def lay_width_mm(cloth: Cloth) -> float:
    """Usable width as the cloth lies on the table: less the shrinkage across where it is washed first."""
    if cloth.shrinkage_handling == "wash_first":
        return shrunk(cloth.usable_width_mm, cloth.shrinkage_width)
    return cloth.usable_width_mm


def repeats_mm(cloth: Cloth) -> tuple[float, float]:
    """The repeat of the pattern along and across the cloth as it lies on the table, less what washing takes."""
    along, across = cloth.repeat_length_mm, cloth.repeat_width_mm
    if cloth.shrinkage_handling == "wash_first":
        return shrunk(along, cloth.shrinkage_length), shrunk(across, cloth.shrinkage_width)
    return along, across


def end_of_ply_mm(cloth: Cloth) -> float:
    """How much longer a ply is than its marker at each end (mm): the allowance, and half a repeat of the pattern along
    the cloth where that is matched, rounded up to a tenth.

    What is cut next from the roll must begin at the same stripe, so with every length up to a repeat is lost. One
    repeat more for each length that is cut is common practice.
    """
    repeat_mm = repeats_mm(cloth)[0] if cloth.is_matched else 0.0
    return math.ceil(10 * (cloth.end_allowance_mm + repeat_mm / 2) - 1e-6) / 10


def with_matched(shop: Workshop) -> Workshop:
    """The workshop whose cloths know whether their pattern runs on over a seam of one of its styles.

    All colours of a fabric alike, for they lie in one stack.
    """
    patterned = {key.fabric for key, cloth in shop.cloths.items() if cloth.repeat_length_mm}
    if not patterned:
        return shop
    matched = {
        key.fabric
        for style in shop.styles.values()
        for seam in style.seams
        if seam.match
        for piece in style.pieces
        if any(ref.piece == piece.name for ref in seam.edges)
        for colourway in style.colourways.values()
        if (key := colourway.cloths.get(piece.role)) is not None
    }
    return replace(
        shop,
        cloths={
            key: replace(cloth, is_matched=not cloth.repeat_length_mm or key.fabric in matched)
            for key, cloth in shop.cloths.items()
        },
    )


def cut_factors(cloth: Cloth) -> tuple[float, float]:
    """How much larger pieces are cut, along and across the grain: 1 / (1 − s) where they are cut larger."""
    if cloth.shrinkage_handling != "cut_larger":
        return 1.0, 1.0
    return before_washing(1.0, cloth.shrinkage_length), before_washing(1.0, cloth.shrinkage_width)


def as_cut(outline: Outline, cloth: Cloth) -> Outline:
    """The outline as it is cut from this cloth."""
    along, across = cut_factors(cloth)
    return outline if along == across == 1.0 else outline.scaled(along, across)


def need_for_lay_m(lay_m: float, cloth: Cloth, lost_m: float = 0.0) -> float:
    """Metres of cloth as bought for `lay_m` on the table.

    lay / (1 − s_length) where the cloth is washed first, × (1 + allowance for flaws). Cloth that grows in the wash is
    not counted on: the need is never less than the lay. `lost_m` is what is lost at flaws noted on the rolls, as
    bought. The allowance covers these too, so the larger of the two counts.
    """
    return max(_as_bought_m(lay_m, cloth) * (1.0 + cloth.damage_share), _as_bought_m(lay_m, cloth) + lost_m)


def roll_on_table_mm(cloth: Cloth) -> float:
    """What a roll of cloth that is sold by the roll gives on the table: its length as bought / need for one metre, so
    less what washing takes and what is kept for flaws."""
    return float(cloth.pack_quantity) * 1000.0 / need_for_lay_m(1.0, cloth)


def is_beyond_allowance(lost_m: float, lay_m: float, cloth: Cloth) -> bool:
    """Whether the flaws noted on the rolls lose more (`lost_m`, as bought) than the cloth's allowance for flaws."""
    return lost_m > _as_bought_m(lay_m, cloth) * cloth.damage_share


def _as_bought_m(lay_m: float, cloth: Cloth) -> float:
    if cloth.shrinkage_handling == "wash_first":
        return before_washing(lay_m, max(cloth.shrinkage_length, 0.0))
    return lay_m


def bought_width_mm(cloth: Cloth) -> float:
    """The width that is weighed and paid for: the full one, or the usable where that is all that is known."""
    return cloth.full_width_mm or cloth.usable_width_mm


def price_per_m(cloth: Cloth) -> Decimal:
    """Price of a running metre, not rounded, whatever way the cloth is sold."""
    if cloth.sold_by == "roll":
        return cloth.price / cloth.pack_quantity
    if cloth.sold_by == "kg":
        return cloth.price * Decimal(repr(kg_per_m(bought_width_mm(cloth), cloth.weight_gsm)))
    return cloth.price


def buy_cloth(shortfall_m: float, cloth: Cloth) -> ClothBuy:
    """What to buy so that `shortfall_m` metres are there; nothing for a shortfall of nothing.

    By length and by weight in steps of `pack_quantity`, by the roll in whole rolls; never less than the
    minimum. Cost = quantity sold × price, not rounded. Raises ValueError where cloth sold by weight has none.
    """
    if shortfall_m <= 0:
        return ClothBuy(Decimal(0), 0.0, Decimal(0))
    if cloth.sold_by == "roll":
        rolls = round_up_to_pack(Decimal(repr(shortfall_m)) / cloth.pack_quantity, 1, cloth.minimum_quantity)
        return ClothBuy(rolls, float(rolls * cloth.pack_quantity), rolls * cloth.price)
    if cloth.sold_by == "metre":
        metres = round_up_to_pack(shortfall_m, cloth.pack_quantity, cloth.minimum_quantity)
        return ClothBuy(metres, float(metres), metres * cloth.price)
    weight = kg_per_m(bought_width_mm(cloth), cloth.weight_gsm)
    if not weight > 0:
        raise ValueError("cloth sold by weight needs its width and weight")
    kilograms = round_up_to_pack(shortfall_m * weight, cloth.pack_quantity, cloth.minimum_quantity)
    return ClothBuy(kilograms, float(kilograms) / weight, kilograms * cloth.price)
