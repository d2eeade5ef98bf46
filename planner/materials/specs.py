"""Cloths, notions and machines as the core knows them, read from the database.

Here percent becomes a share and Decimal millimetres become floats; nowhere else.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from planner.common.kept_questions import KeptQuestion
from planner.common.shared_rows import KeptShared
from planner.core.spec import Cloth, ClothKey, MachineSpec, Mode, Notion, NotionKey, Position, StitchSetting
from planner.materials.models import Fabric, FabricColour, Machine, NotionColour

#: A fabric has many figures, and several colours: it is made but once.
_CLOTHS = KeptShared(FabricColour.objects.with_stock, {"fabric": None}, noted=["on_hand_m"])
_NOTIONS = KeptShared(NotionColour.objects.with_stock, {"notion": None}, noted=["on_hand"])


def cloths(colours: Iterable[FabricColour] | None = None) -> dict[ClothKey, Cloth]:
    """Every fabric colour (or the given ones) by its key, with what is on hand. One query.

    Given colours are read again, so that stock and fabric are those of this moment.
    """
    if colours is None:
        rows = _CLOTHS.read()
    else:
        rows = FabricColour.objects.with_stock().filter(pk__in=[colour.pk for colour in colours])
    found = (_cloth(row, row.on_hand_m) for row in rows)
    return {cloth.key: cloth for cloth in found}


def cloth_key(colour: FabricColour) -> ClothKey:
    """A colour of a fabric, read with it, in the core's words."""
    return ClothKey(colour.fabric.name, colour.name)


def notions() -> dict[NotionKey, Notion]:
    """Every notion colour by its key, with what is on hand. One query."""
    return {notion.key: notion for notion in map(_notion, _NOTIONS.read())}


#: The column that holds the thread unpicked at each position.
_UNPICKED: Mapping[Position, str] = {"needle": "needle_mm", "looper": "looper_mm", "cover": "cover_mm"}


_SETTING = ("stitch_type", "stitch_length_mm", "width_mm", "unpicked_mm", *_UNPICKED.values())
_MACHINES = KeptQuestion(
    lambda: Machine.objects.order_by("kind", "name", "stitches__stitch_type").values_list(
        "name", "kind", *(f"stitches__{name}" for name in _SETTING)
    )
)


def machines() -> tuple[MachineSpec, ...]:
    """The workroom's own machines by kind and name, with the stitch types they make. One query."""
    found: dict[tuple[str, str], dict[str, StitchSetting]] = defaultdict(dict)
    for name, kind, *values in _MACHINES.ask():
        row = dict(zip(_SETTING, values, strict=True))
        makes = found[name, kind]
        if row["stitch_type"] is not None:
            makes[row["stitch_type"]] = _setting(row)
    return tuple(MachineSpec(name, kind, stitches) for (name, kind), stitches in found.items())


def _setting(row: Mapping[str, Any]) -> StitchSetting:
    """Ratios are thread per length of seam: what came out at a position over the seam that was unpicked."""
    seam = row["unpicked_mm"]
    measured = {
        position: float(row[column] / seam)
        for position, column in _UNPICKED.items()
        if seam and row[column] is not None
    }
    return StitchSetting(row["stitch_type"], _mm(row["stitch_length_mm"]), _mm(row["width_mm"]), measured)


def _mm(length: Decimal | None) -> float | None:
    return None if length is None else float(length)


def cloth_of(colour: FabricColour) -> Cloth:
    """A fabric colour, its fabric read already, as the core knows it with nothing on hand. No query."""
    return _cloth(colour, Decimal(0))


def share(percent: Decimal) -> float:
    """5 (percent) as 0.05."""
    return float(percent / 100)


def _modes(fabric: Fabric) -> tuple[Mode, ...]:
    allowed: tuple[tuple[bool, Mode], ...] = (
        (fabric.lay_open, "open"),
        (fabric.lay_face_to_face, "face_to_face"),
        (fabric.lay_folded, "folded"),
    )
    return tuple(mode for is_allowed, mode in allowed if is_allowed)


def _cloth(row: FabricColour, on_hand_m: Decimal) -> Cloth:
    fabric = row.fabric
    return Cloth(
        key=ClothKey(fabric.name, row.name),
        usable_width_mm=float(fabric.usable_width_mm),
        full_width_mm=float(fabric.full_width_mm),
        weight_gsm=float(fabric.weight_gsm),
        one_way=fabric.one_way,
        end_allowance_mm=float(fabric.end_allowance_mm),
        shrinkage_length=share(fabric.shrinkage_length_percent),
        shrinkage_width=share(fabric.shrinkage_width_percent),
        shrinkage_handling=fabric.shrinkage_handling,
        damage_share=share(fabric.damage_percent),
        stretch_share=share(fabric.stretch_percent),
        sold_by=fabric.sold_by,
        pack_quantity=fabric.pack_quantity,
        minimum_quantity=fabric.minimum_quantity,
        price=fabric.price,
        # A slip in the counting may leave less than nothing; there is never less than nothing to cut.
        in_stock_m=max(0.0, float(on_hand_m)),
        thickness_mm=float(fabric.thickness_mm or 0),
        modes=_modes(fabric),
        is_tube=fabric.is_tube,
        repeat_length_mm=float(fabric.repeat_length_mm or 0),
        repeat_width_mm=float(fabric.repeat_width_mm or 0),
        shades=fabric.shades,
        swatch=row.swatch,
    )


def _notion(row: NotionColour) -> Notion:
    notion = row.notion
    return Notion(
        key=NotionKey(notion.name, row.name),
        kind=notion.kind,
        unit=notion.unit,
        pack=notion.pack,
        pack_quantity=notion.pack_quantity,
        pack_price=notion.pack_price,
        waste_share=share(notion.waste_percent),
        in_stock=max(Decimal("0"), row.on_hand),
        cones=row.cones if notion.kind == "thread" else None,
        swatch=row.swatch,
    )
