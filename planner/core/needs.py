"""From demand to metres of cloth, notions and cutting counts."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

from planner.core.cloth import (
    buy_cloth,
    cut_factors,
    end_of_ply_mm,
    is_beyond_allowance,
    lay_width_mm,
    need_for_lay_m,
    price_per_m,
)
from planner.core.listed import listed
from planner.core.missing import Missing as Missing
from planner.core.missing import find_missing as find_missing
from planner.core.notions.lines import NeedLine, Taken, collect_uses, lines_of
from planner.core.notions.needs import NotionNeed as NotionNeed
from planner.core.notions.needs import notion_need, percent_in_words
from planner.core.spec import Cloth, ClothKey, Demand, Garment, NotionKey, PieceSpec, Workshop

#: Used where no lay of this style and cloth has been nested yet.
DEFAULT_EFFICIENCY = 0.78
#: Interpolated sizes that are named; of more only the number is told.
MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Usage:
    """How well a fabric is used: area of the pieces ÷ area of the marker, and in plain words where that comes from."""

    efficiency: float = DEFAULT_EFFICIENCY
    how: str = ""

    @property
    def in_words(self) -> str:
        """How metres are reckoned with it."""
        words = f"from piece areas at {self.efficiency * 100:.0f} % efficiency"
        return f"{words} ({self.how})" if self.how else words


@dataclass(frozen=True, slots=True)
class CuttingCount:
    """How many of one piece are cut for one garment row, from which cloth."""

    garment: Garment
    piece: str
    cloth: ClothKey
    count: int


@dataclass(frozen=True, slots=True)
class ClothNeed:
    """Metres of one cloth: `lay_m` on the table, `need_m` as bought for it. `how` tells the reckoning in words.

    `to_buy_packs` is in the unit that the cloth is sold in (metres, rolls or kg), `to_buy_m` the metres that gives, and
    `cost` what it costs, not rounded. `short_m` is above 0 where stock has the metres, but in pieces too short for the
    plies: at least so much is bought. `cut_m` is the part of `need_m` that was used already, for what is cut.
    `by_lays`: reckoned from lays, not from areas. `lost_m` of `need_m` is lost at flaws noted on the rolls; 0 where the
    allowance for flaws covers it. `coming_m` of `in_stock_m` is not there yet: it will be left of cloth that is to be
    bought for others.
    """

    cloth: ClothKey
    area_mm2: float
    lay_m: float
    need_m: float
    in_stock_m: float
    to_buy_m: float
    to_buy_packs: Decimal
    cost: Decimal
    is_estimate: bool
    how: str
    price_per_m: Decimal = Decimal(0)
    short_m: float = 0.0
    cut_m: float = 0.0
    by_lays: bool = False
    lost_m: float = 0.0
    coming_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Laid:
    """Metres on the table of a cloth by its lays, `nested` of them as nested, the others as the plan estimates them."""

    lay_m: float
    lays: int = 1
    nested: int = 1

    @property
    def is_nested(self) -> bool:
        """Whether all of them are nested."""
        return self.nested >= self.lays

    @property
    def how(self) -> str:
        """Where the metres come from, in words."""
        if self.is_nested:
            return "from the nested lays"
        if not self.nested:
            return (
                "from its lay as estimated" if self.lays == 1 else f"from its {self.lays} lays as estimated"
            )
        return (
            f"from its {self.lays} lays, {self.nested} as nested and {self.lays - self.nested} as estimated"
        )


@dataclass(frozen=True, slots=True)
class CutLength:
    """Elastic or tape to cut: `count` lengths of `length_mm` for one size of a style."""

    key: NotionKey
    style: str
    size: str
    seam: str
    length_mm: float
    count: int


@dataclass(frozen=True)
class Needs:
    """Everything a batch or an order line needs; `taken` is what its garments take of notions, waste left out."""

    cloths: tuple[ClothNeed, ...]
    notions: tuple[NotionNeed, ...]
    cutting_counts: tuple[CuttingCount, ...]
    cut_lengths: tuple[CutLength, ...]
    taken: tuple[Taken, ...] = ()

    @cached_property
    def lines(self) -> tuple[NeedLine, ...]:
        """Where the needs of notions come from, waste left out; summed up once somebody asks."""
        return lines_of(self.taken)


class CannotPlanError(ValueError):
    """Demand with gaps; `missing` holds them."""

    def __init__(self, missing: Sequence[Missing]) -> None:
        self.missing = tuple(missing)
        super().__init__("; ".join(m.text for m in self.missing))


def work_out_needs(
    demand: Sequence[Demand],
    shop: Workshop,
    *,
    nested_lay_m: Mapping[ClothKey, float] | None = None,
    laid: Mapping[ClothKey, Laid] | None = None,
    orders: Mapping[str, int] | None = None,
    lost_m: Mapping[ClothKey, float] | None = None,
    usage: Mapping[str, Usage] | None = None,
) -> Needs:
    """What the demand needs.

    `nested_lay_m` gives the metres on the table of cloths whose lays are nested, `laid` those of cloths that are
    planned already: an estimate as long as some lays are not nested. Others are estimated from piece areas,
    see :func:`estimate_lay_m`, at the efficiency that `usage` tells by the fabric's name; at the usual 78 % where it
    tells none.
    `orders` says by style number how many orders hold it, one where it does not say. `lost_m` are metres of planned
    cloths that are lost at flaws noted on their rolls.
    Everything but whole packs, waste of what is counted and what an order takes is linear in the quantities. Raises
    CannotPlanError where `find_missing` finds something.
    """
    missing = find_missing(demand, shop)
    if missing:
        raise CannotPlanError(missing)
    planned = {key: Laid(lay_m) for key, lay_m in (nested_lay_m or {}).items()}
    planned |= laid or {}
    made = interpolated_sizes(demand, shop)
    cloths = []
    for key, area in sorted(cut_areas_mm2(demand, shop).items()):
        cloth = shop.cloths[key]
        if key in planned:
            one = planned[key]
            how = one.how + _made_in_words(made.get(key, ()))
            lost = (lost_m or {}).get(key, 0.0)
            need = _cloth_need(cloth, area, one.lay_m, how, is_estimate=not one.is_nested, lost_m=lost)
            cloths.append(replace(need, by_lays=True))
            continue
        used = (usage or {}).get(key.fabric, Usage())
        how = used.in_words + _made_in_words(made.get(key, ()))
        lay_m = estimate_lay_m(area, cloth, used.efficiency, shop.table_length_mm)
        cloths.append(_cloth_need(cloth, area, lay_m, how, is_estimate=True))
    uses = collect_uses(demand, shop, orders)
    return Needs(
        tuple(cloths),
        tuple(notion_need(shop.notions[key], uses) for key in sorted(uses.wanted)),
        count_pieces(demand, shop),
        tuple(
            CutLength(key, style, size, seam, length_mm, count)
            for (key, style, size, seam, length_mm), count in sorted(
                uses.cuts.items(), key=lambda item: _cut_order(item[0], shop)
            )
        ),
        tuple(uses.taken),
    )


def interpolated_sizes(demand: Sequence[Demand], shop: Workshop) -> dict[ClothKey, tuple[str, ...]]:
    """Style and size ("110 M") of garments of which a piece was made from the sizes beside it, by its cloth."""
    found: dict[ClothKey, dict[str, None]] = defaultdict(dict)
    for line, piece, cloth in _pieces_cut(demand, shop):
        if line.garment.size in piece.interpolated:
            found[cloth][f"{line.garment.style} {line.garment.size}"] = None
    return {cloth: tuple(sizes) for cloth, sizes in found.items()}


def _made_in_words(sizes: Sequence[str]) -> str:
    if not sizes:
        return ""
    more = len(sizes) - MOST_NAMED
    named = [*sizes[:MOST_NAMED], f"{more} more"] if more > 0 else sizes
    return f", {' and '.join(named)} interpolated"


def count_pieces(demand: Sequence[Demand], shop: Workshop) -> tuple[CuttingCount, ...]:
    """How many of each piece are cut, garments in the order of the demand, equal garments added up."""
    counts: dict[tuple[Garment, str, ClothKey], int] = defaultdict(int)
    for line, piece, cloth in _pieces_cut(demand, shop):
        counts[line.garment, piece.name, cloth] += line.quantity * piece.count
    return tuple(CuttingCount(*key, count) for key, count in counts.items())


def cut_areas_mm2(demand: Sequence[Demand], shop: Workshop) -> dict[ClothKey, float]:
    """Area of all pieces by cloth in mm², as they are cut (larger where shrinkage asks for it)."""
    areas: dict[ClothKey, float] = defaultdict(float)
    for line, piece, cloth in _pieces_cut(demand, shop):
        areas[cloth] += line.quantity * piece.count * piece.cut_outline(line.garment.size, cloth).area_mm2
    return {cloth: area * math.prod(cut_factors(shop.cloths[cloth])) for cloth, area in areas.items()}


def _pieces_cut(demand: Sequence[Demand], shop: Workshop) -> Iterator[tuple[Demand, PieceSpec, ClothKey]]:
    """Every line with every piece it takes and the cloth that is cut from."""
    for line in demand:
        style = shop.styles[line.garment.style]
        cloths = style.colourways[line.garment.colourway].cloths
        for piece in style.pieces_for(line.garment.options):
            yield line, piece, cloths[piece.role]


def estimate_lay_m(area_mm2: float, cloth: Cloth, efficiency: float, table_length_mm: float) -> float:
    """Metres on the table for pieces of this area: area / (lay width × efficiency), and the end allowances.

    Assumed: one ply at a time, the table laid full each time. A table T long with e lost at either end takes
    T − 2e of marker, so a marker of length m costs m · T / (T − 2e) of cloth. Plies are thereby counted in
    fractions: the estimate stays linear in the quantity (twice the order is twice the cloth) and never falls
    below the area bound; against a single short lay it is at most 2e too little. Raises ValueError for an
    efficiency outside 0 to 1, or a table that the end allowances use up.
    """
    if not 0.0 < efficiency <= 1.0:
        raise ValueError("efficiency must be more than 0 and at most 1")
    room_mm = table_length_mm - 2.0 * end_of_ply_mm(cloth)
    if not room_mm > 0:
        raise ValueError("the table is no longer than the end allowances")
    marker_mm = area_mm2 / (lay_width_mm(cloth) * efficiency)
    return marker_mm * table_length_mm / room_mm / 1000.0


def _cloth_need(
    cloth: Cloth, area_mm2: float, lay_m: float, how: str, *, is_estimate: bool, lost_m: float = 0.0
) -> ClothNeed:
    lost_m = lost_m if is_beyond_allowance(lost_m, lay_m, cloth) else 0.0
    need_m = need_for_lay_m(lay_m, cloth, lost_m)
    buy = buy_cloth(need_m - cloth.in_stock_m, cloth)
    return ClothNeed(
        cloth=cloth.key,
        area_mm2=area_mm2,
        lay_m=lay_m,
        need_m=need_m,
        in_stock_m=cloth.in_stock_m,
        to_buy_m=buy.length_m,
        to_buy_packs=buy.sold,
        cost=buy.cost,
        is_estimate=is_estimate,
        how=how + allowances_in_words(cloth, lost_m),
        price_per_m=price_per_m(cloth),
        lost_m=lost_m,
        coming_m=cloth.coming_m,
    )


def allowances_in_words(cloth: Cloth, lost_m: float = 0.0) -> str:
    """ ", with 5 % shrinkage before cutting and 2 % for flaws": what is reckoned beyond markers and ends; "" for
    nothing. Where `lost_m` are lost at flaws that are noted, these stand in place of the percentage.
    """
    extras = (
        ["one repeat of its stripes for every ply"] if cloth.is_matched and cloth.repeat_length_mm else []
    )
    if cloth.shrinkage_handling == "wash_first" and cloth.shrinkage_length > 0:
        extras.append(f"{percent_in_words(cloth.shrinkage_length)} shrinkage before cutting")
    if cloth.damage_share > 0 and not lost_m:
        extras.append(f"{percent_in_words(cloth.damage_share)} for flaws")
    return f", with {listed(extras)}" if extras else ""


def _cut_order(
    cut: tuple[NotionKey, str, str, str, float], shop: Workshop
) -> tuple[NotionKey, float, str, str, int]:
    """By notion and length, so that equal lengths are cut together; among them by style, seam and size."""
    key, style, size, seam, length_mm = cut
    return key, length_mm, style, seam, shop.styles[style].sizes.index(size)
