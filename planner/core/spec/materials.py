"""Cloths and notions. Lengths are float mm, money is Decimal."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

#: How one spread lies: one ply face up; two plies face to face; one length folded lengthwise, or a tube.
Mode = Literal["open", "face_to_face", "folded"]
SoldBy = Literal["metre", "roll", "kg"]
ShrinkageHandling = Literal["in_pattern", "wash_first", "cut_larger"]
NotionKind = Literal["elastic", "tape", "thread", "label", "button", "other"]


@dataclass(frozen=True, slots=True, order=True)
class ClothKey:
    """A fabric in one colour."""

    fabric: str
    colour: str


@dataclass(frozen=True, slots=True)
class Cloth:
    """A fabric in one colour as it lies on the table; `swatch` shows the colour as #rrggbb, nothing depends on it.

    `usable_width_mm` is full width less both selvedges, before any washing. Shrinkages are fractions
    (0.05 = 5 %). `wash_first`: the cloth is washed before cutting, so more is bought and the usable width
    shrinks; `cut_larger`: pieces are cut larger by 1/(1 − s); `in_pattern`: nothing is added.
    `thickness_mm` is of one layer, 0 where nobody measured it.
    `coming_m` of `in_stock_m` lies on no shelf yet: it is left of what is to be bought for others.
    `price` is for a metre, a roll or a kg, as it is sold; `pack_quantity` is the step in metres or kg it is sold in, or
    the metres on a roll; `minimum_quantity` counts metres, rolls or kg. `full_width_mm` holds the selvedges too, which
    are weighed and paid for; 0 where it is not known and the usable width must do.
    `modes` are the ways it may be laid; a tube's width is all the way round. Its pattern comes again every
    `repeat_length_mm` along and `repeat_width_mm` across, 0 where there is none; `is_matched` where it runs on over a
    seam of a style at hand. Where it `shades` its colour is not quite the same all over, and pieces that lie
    `PieceSpec.beside` others do so.
    """

    key: ClothKey
    usable_width_mm: float
    weight_gsm: float
    one_way: bool
    end_allowance_mm: float = 20.0
    shrinkage_length: float = 0.0
    shrinkage_width: float = 0.0
    shrinkage_handling: ShrinkageHandling = "in_pattern"
    damage_share: float = 0.0
    stretch_share: float = 0.0
    sold_by: SoldBy = "metre"
    pack_quantity: Decimal = Decimal("0.1")
    minimum_quantity: Decimal = Decimal("0")
    price: Decimal = Decimal("0")
    in_stock_m: float = 0.0
    coming_m: float = 0.0
    full_width_mm: float = 0.0
    thickness_mm: float = 0.0
    modes: tuple[Mode, ...] = ("open",)
    is_tube: bool = False
    repeat_length_mm: float = 0.0
    repeat_width_mm: float = 0.0
    is_matched: bool = True
    shades: bool = False
    swatch: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, order=True)
class NotionKey:
    """A notion in one colour ("" where colour does not matter)."""

    notion: str
    colour: str = ""


@dataclass(frozen=True, slots=True)
class Notion:
    """Something bought but not cut to a pattern. A pack holds `pack_quantity` of the `unit`; `swatch` as of a cloth.

    `cones` counts those of a thread that are there, started ones too; None where nobody counted. `coming` of `in_stock`
    lies on no shelf yet: it is left of what is to be bought for others.
    """

    key: NotionKey
    kind: NotionKind
    unit: Literal["m", "pcs"]
    pack: str
    pack_quantity: Decimal
    pack_price: Decimal
    waste_share: float = 0.0
    in_stock: Decimal = Decimal("0")
    coming: Decimal = Decimal("0")
    cones: int | None = None
    swatch: str = field(default="", compare=False)
