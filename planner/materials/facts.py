"""What follows from the measures of a cloth: told beside the form while they are typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from planner.core import cloth as core
from planner.core.spec import Cloth, ClothKey
from planner.core.units import Display, kg_per_m, per_yard, pounds_per_yard
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
#: So many metres, or yards, on the table the facts say for what is bought.
ON_THE_TABLE = 10


@dataclass(frozen=True)
class ClothFacts:
    """Widths mm, weights kg, money in the workroom's currency; None where a measure is missing or wrong.

    `weight_along` is what a metre or a yard weighs and how long a kilogram or a pound is, in words, and `price_along`
    the price of such a `length`, a metre or a yard, as the workroom measures.

    `table_width_mm` and `cut_larger` are told only where washing changes something. `cut_larger` is how many
    per cent pieces are cut longer and wider.
    """

    usable_width_mm: float | None = None
    table_width_mm: float | None = None
    price_per_m: Decimal | None = None
    weight_along: tuple[str, ...] = ()
    price_along: Decimal | None = None
    length: str = "metre"
    bought_m: float | None = None
    cut_larger: tuple[float, float] | None = None
    on_the_table_m: float = ON_THE_TABLE


def facts_of(fabric: Fabric, display: Display = "metric") -> ClothFacts:
    """The facts of a stored fabric."""
    return cloth_facts({name: getattr(fabric, name) for name in FACT_FIELDS}, display)


def cloth_facts(measures: Mapping[str, Any], display: Display = "metric") -> ClothFacts:
    """The facts that follow from those of FACT_FIELDS that are there, each as a fabric stores it."""
    in_yards = display == "imperial"
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
    price_per_m = core.price_per_m(cloth) if may_price else None
    on_the_table_m = float(per_yard(Decimal(ON_THE_TABLE))) if in_yards else ON_THE_TABLE
    return ClothFacts(
        usable_width_mm=usable if usable > 0 else None,
        table_width_mm=core.lay_width_mm(cloth) if core.lay_width_mm(cloth) < usable else None,
        price_per_m=price_per_m,
        weight_along=_weight_in_words(kg_per_m(width, weight), in_yards=in_yards) if weighed else (),
        price_along=per_yard(price_per_m) if price_per_m is not None and in_yards else price_per_m,
        length="yard" if in_yards else "metre",
        bought_m=core.need_for_lay_m(on_the_table_m, cloth),
        on_the_table_m=on_the_table_m,
        cut_larger=((along - 1) * 100, (across - 1) * 100) if along > 1 or across > 1 else None,
    )


def _weight_in_words(kilograms_a_metre: float, *, in_yards: bool) -> tuple[str, str]:
    """ "0.270 kg a metre", "3.704 m a kilogram"."""
    if in_yards:
        pounds = pounds_per_yard(kilograms_a_metre)
        return f"{pounds:.3f} lb a yard", f"{1 / pounds:.3f} yd a pound"
    return f"{kilograms_a_metre:.3f} kg a metre", f"{1 / kilograms_a_metre:.3f} m a kilogram"


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
