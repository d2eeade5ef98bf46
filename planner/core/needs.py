"""From demand to metres of cloth, notions and cutting counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.core.spec import ClothKey, Demand, Garment, NotionKey, Workshop

#: Used where no lay of this style and cloth has been nested yet.
DEFAULT_EFFICIENCY = 0.78


@dataclass(frozen=True, slots=True)
class Missing:
    """Why a garment cannot be planned: which piece, cloth or notion lacks what."""

    garment: Garment
    text: str


@dataclass(frozen=True, slots=True)
class CuttingCount:
    """How many of one piece are cut for one garment row, from which cloth."""

    garment: Garment
    piece: str
    cloth: ClothKey
    count: int


@dataclass(frozen=True, slots=True)
class ClothNeed:
    """Metres of one cloth. `lay_m` lies on the table, `need_m` is bought for it; `how` tells the reckoning.

    `least_m` is the area bound: no lay can be shorter in all.
    """

    cloth: ClothKey
    area_mm2: float
    lay_m: float
    need_m: float
    least_m: float
    in_stock_m: float
    to_buy_m: float
    to_buy_packs: Decimal
    cost: Decimal
    is_estimate: bool
    how: str


@dataclass(frozen=True, slots=True)
class NotionNeed:
    """What is needed of one notion in its own unit, waste included, and the whole packs to buy."""

    key: NotionKey
    unit: str
    need: float
    in_stock: Decimal
    to_buy_packs: int
    least_packs: int
    pack: str
    cost: Decimal
    how: str


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
    """Everything a batch or an order line needs."""

    cloths: tuple[ClothNeed, ...]
    notions: tuple[NotionNeed, ...]
    cutting_counts: tuple[CuttingCount, ...]
    cut_lengths: tuple[CutLength, ...]


def find_missing(demand: Sequence[Demand], shop: Workshop) -> tuple[Missing, ...]:
    """Everything that keeps the demand from being planned; empty where all is there."""
    raise NotImplementedError


def work_out_needs(
    demand: Sequence[Demand],
    shop: Workshop,
    *,
    nested_lay_m: Mapping[ClothKey, float] | None = None,
    efficiency: Mapping[ClothKey, float] | None = None,
    learnt_from: str = "",
) -> Needs:
    """What the demand needs.

    `nested_lay_m` gives the metres on the table of cloths whose lays are nested; the others are estimated from
    piece areas at `efficiency` (default 78 %), and say so in `how` (with `learnt_from` where it was learnt).
    """
    raise NotImplementedError
