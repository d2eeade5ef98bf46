"""What follows from the measures of a cloth: told beside the form while they are typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from planner.core import cloth as core
from planner.core.spec import Cloth, ClothKey
from planner.core.units import kg_per_m, m_per_kg
from planner.materials.models import Fabric
from planner.materials.specs import share

#: The fields of a fabric that the facts follow from.
FACT_FIELDS = (
    "full_width_mm",
    "selvedge_mm",
    "weight_gsm",
    "shrinkage_length_percent",
    "shrinkage_width_percent",
    "shrinkage_handling",
    "damage_percent",
    "sold_by",
    "pack_quantity",
    "price",
)
#: The metres on the table for which the facts say what is bought.
ON_THE_TABLE_M = 10


@dataclass(frozen=True)
class ClothFacts:
    """Widths mm, weights kg, money in the workroom's currency; None where a measure is missing or wrong.

    `table_width_mm` and `cut_larger` are told only where washing changes something. `cut_larger` is how many
    per cent pieces are cut longer and wider.
    """

    usable_width_mm: float | None = None
    table_width_mm: float | None = None
    kg_per_m: float | None = None
    m_per_kg: float | None = None
    price_per_m: Decimal | None = None
    bought_m: float | None = None
    cut_larger: tuple[float, float] | None = None
    on_the_table_m: int = ON_THE_TABLE_M


def facts_of(fabric: Fabric) -> ClothFacts:
    """The facts of a stored fabric."""
    return cloth_facts({name: getattr(fabric, name) for name in FACT_FIELDS})


def cloth_facts(measures: Mapping[str, Any]) -> ClothFacts:
    """The facts that follow from those of FACT_FIELDS that are there, each as a fabric stores it."""
    width, selvedge, weight = (
        float(measures.get(name) or 0) for name in ("full_width_mm", "selvedge_mm", "weight_gsm")
    )
    usable = width - 2 * selvedge if "selvedge_mm" in measures else 0.0
    weighed = width > 0 and weight > 0
    cloth = _cloth(measures, width, max(usable, 0.0), weight)
    along, across = core.cut_factors(cloth)
    may_price = measures.get("price") and (
        weighed if cloth.sold_by == "kg" else cloth.sold_by == "metre" or measures.get("pack_quantity")
    )
    return ClothFacts(
        usable_width_mm=usable if usable > 0 else None,
        table_width_mm=core.lay_width_mm(cloth) if core.lay_width_mm(cloth) < usable else None,
        kg_per_m=kg_per_m(width, weight) if weighed else None,
        m_per_kg=m_per_kg(width, weight) if weighed else None,
        price_per_m=core.price_per_m(cloth) if may_price else None,
        bought_m=core.need_for_lay_m(ON_THE_TABLE_M, cloth),
        cut_larger=((along - 1) * 100, (across - 1) * 100) if along > 1 or across > 1 else None,
    )


def _cloth(measures: Mapping[str, Any], width: float, usable: float, weight: float) -> Cloth:
    nothing = Decimal(0)
    return Cloth(
        key=ClothKey("", ""),
        usable_width_mm=usable,
        full_width_mm=width,
        weight_gsm=weight,
        one_way=True,
        shrinkage_length=share(measures.get("shrinkage_length_percent") or nothing),
        shrinkage_width=share(measures.get("shrinkage_width_percent") or nothing),
        shrinkage_handling=measures.get("shrinkage_handling") or "in_pattern",
        damage_share=share(measures.get("damage_percent") or nothing),
        sold_by=measures.get("sold_by") or "metre",
        pack_quantity=measures.get("pack_quantity") or Decimal(1),
        price=measures.get("price") or nothing,
    )
