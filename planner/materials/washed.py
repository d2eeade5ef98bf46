"""Cloth that is washed before it is cut: it is shorter on the table than in the books, which count it as bought."""

from __future__ import annotations

from decimal import Decimal

from planner.core.cloth import before_washing
from planner.core.listed import listed
from planner.core.units import plain_number
from planner.materials.models import Fabric


def left_of_a_metre(fabric: Fabric) -> Decimal:
    """What washing leaves of a metre of this cloth, 1 − s; 1 where it is not washed before it is cut."""
    if fabric.shrinkage_handling != Fabric.Shrinkage.WASH_FIRST:
        return Decimal(1)
    return 1 - max(fabric.shrinkage_length_percent, Decimal(0)) / 100


def as_bought_m(on_table_m: Decimal, fabric: Fabric) -> Decimal:
    """Metres in the books for metres on the table, rounded to the centimetre in which the books are kept."""
    share = left_of_a_metre(fabric)
    return on_table_m if share == 1 else round(on_table_m / share, 2)


def mm_as_bought(on_table_mm: float, handling: str, shrinkage_percent: Decimal) -> float:
    """Length on the roll for a length on the table, as planned, not rounded."""
    if handling != Fabric.Shrinkage.WASH_FIRST:
        return on_table_mm
    return before_washing(on_table_mm, max(float(shrinkage_percent) / 100.0, 0.0))


def on_table_m(bought_m: Decimal, fabric: Fabric) -> Decimal:
    """Metres on the table for metres in the books, not rounded."""
    return bought_m * left_of_a_metre(fabric)


def as_bought_in_words(fabric: Fabric) -> str:
    """ "All measures here are as bought. Of cloth that is washed by now divide a length of it by 0.95."

    "" where washing takes nothing from the cloth before it is cut.
    """
    if fabric.shrinkage_handling != Fabric.Shrinkage.WASH_FIRST:
        return ""
    taken = (
        ("a length of it", fabric.shrinkage_length_percent),
        ("a width", fabric.shrinkage_width_percent),
    )
    by = [f"{what} by {plain_number(1 - percent / 100)}" for what, percent in taken if percent > 0]
    if not by:
        return ""
    return f"All measures here are as bought. Of cloth that is washed by now divide {listed(by)}."
