"""What follows from the measures of a cloth: told beside the form while they are typed."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from planner.core.units import kg_per_m, m_per_kg
from planner.materials.models import Fabric


@dataclass(frozen=True)
class ClothFacts:
    """Each is None where a measure it needs is missing or wrong. Widths mm, prices in the workroom's currency."""

    usable_width_mm: Decimal | None = None
    washed_width_mm: Decimal | None = None
    kg_per_m: float | None = None
    m_per_kg: float | None = None
    price_per_m: Decimal | None = None
    bought_for_ten_m: float | None = None


def cloth_facts(
    *,
    full_width_mm: Decimal | None = None,
    selvedge_mm: Decimal | None = None,
    weight_gsm: Decimal | None = None,
    shrinkage_length_percent: Decimal | None = None,
    shrinkage_width_percent: Decimal | None = None,
    shrinkage_handling: str = "",
    sold_by: str = "",
    pack_quantity: Decimal | None = None,
    price: Decimal | None = None,
) -> ClothFacts:
    """The facts that can be told from the measures given; all of them as a fabric stores them."""
    washed = shrinkage_handling == Fabric.Shrinkage.WASH_FIRST
    usable = None
    if full_width_mm is not None and selvedge_mm is not None and full_width_mm > 2 * selvedge_mm:
        usable = full_width_mm - 2 * selvedge_mm
    weighed = bool(full_width_mm and weight_gsm)
    per_m = kg_per_m(float(full_width_mm or 0), float(weight_gsm or 0)) if weighed else None
    return ClothFacts(
        usable_width_mm=usable,
        washed_width_mm=(
            usable * (1 - shrinkage_width_percent / 100)
            if washed and usable is not None and shrinkage_width_percent
            else None
        ),
        kg_per_m=per_m,
        m_per_kg=m_per_kg(float(full_width_mm or 0), float(weight_gsm or 0)) if weighed else None,
        price_per_m=_price_per_m(sold_by, price, pack_quantity, per_m),
        # Bought length = needed length / (1 - s), as in a lay that needs ten metres.
        bought_for_ten_m=(
            10 / (1 - float(shrinkage_length_percent) / 100) if washed and shrinkage_length_percent else None
        ),
    )


def facts_of(fabric: Fabric) -> ClothFacts:
    """The facts of a stored fabric."""
    return cloth_facts(**{name: getattr(fabric, name) for name in FACT_FIELDS})


#: The fields of a fabric that the facts follow from.
FACT_FIELDS = (
    "full_width_mm",
    "selvedge_mm",
    "weight_gsm",
    "shrinkage_length_percent",
    "shrinkage_width_percent",
    "shrinkage_handling",
    "sold_by",
    "pack_quantity",
    "price",
)


def _price_per_m(
    sold_by: str, price: Decimal | None, pack_quantity: Decimal | None, kg_a_metre: float | None
) -> Decimal | None:
    """What a metre costs; nothing where cloth is sold by the metre anyway."""
    if not price:
        return None
    if sold_by == Fabric.SoldBy.KG and kg_a_metre is not None:
        return price * Decimal(str(kg_a_metre))
    if sold_by == Fabric.SoldBy.ROLL and pack_quantity:
        return price / pack_quantity
    return None
