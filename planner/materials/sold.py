"""How a cloth is sold, in plain words: what its price is for, its steps or rolls, and the least of it."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from planner.core.units import (
    THIN_SPACE,
    Display,
    format_length,
    format_mass,
    format_metres_told,
    kg_in,
    mm_in,
    plain_number,
)
from planner.materials.models import Fabric

#: Steps that have a name of their own, as shares of a metre, a yard, a kilogram or a pound.
_NAMED: Mapping[Decimal, str] = {
    Decimal(1): "whole",
    Decimal("0.5"): "half",
    Decimal("0.25"): "quarter",
}
#: Steps were kept to the hundredth of a metre or kilogram once, so a yard or a pound comes back this near.
_KEPT_WITHIN = Decimal("0.005")
#: Prices are kept to the millionth, of a metre or a kilogram.
_PRICE_KEPT = Decimal("0.000001")


def priced_by(sold_by: str, display: Display = "metric") -> str:
    """What the price of a cloth is for, as the workroom measures: "a metre", "a pound"; "a roll" in any."""
    in_yards = display == "imperial"
    return {
        Fabric.SoldBy.METRE: "a yard" if in_yards else "a metre",
        Fabric.SoldBy.KG: "a pound" if in_yards else "a kilogram",
    }.get(Fabric.SoldBy(sold_by), "a roll")


def price_as_told(price: Decimal, sold_by: str, display: Display = "metric") -> Decimal:
    """The price for what :func:`priced_by` names, of one kept for a metre, a kilogram or a roll; not rounded."""
    return price * _priced_amount(sold_by, display)


def price_as_kept(told: Decimal, sold_by: str, display: Display = "metric") -> Decimal:
    """The price for a metre, a kilogram or a roll, of one for what :func:`priced_by` names."""
    return (told / _priced_amount(sold_by, display)).quantize(_PRICE_KEPT)


def _priced_amount(sold_by: str, display: Display) -> Decimal:
    if display != "imperial" or sold_by == Fabric.SoldBy.ROLL:
        return Decimal(1)
    return kg_in("lb") if sold_by == Fabric.SoldBy.KG else mm_in("yd") / 1000


def sold_in_words(fabric: Fabric, display: Display = "metric") -> str:
    """ "in half metres, at least 3 m", "in whole rolls of 25 m", "in steps of 200 g"."""
    step, least = fabric.pack_quantity, fabric.minimum_quantity
    if fabric.sold_by == Fabric.SoldBy.ROLL:
        words = f"in whole rolls of {_metres(step, display)}"
        least_words = f"{plain_number(least)} {'roll' if least == 1 else 'rolls'}"
    elif fabric.sold_by == Fabric.SoldBy.KG:
        words, least_words = _steps_of_mass(step, display), format_mass(least, display)
    else:
        words, least_words = _steps_of_length(step, display), _metres(least, display)
    return f"{words}, at least {least_words}" if least > 0 else words


def _steps_of_length(step_m: Decimal, display: Display) -> str:
    unit_m, unit = (mm_in("yd") / 1000, "yards") if display == "imperial" else (Decimal(1), "metres")
    name = _name_of(step_m, unit_m)
    if name:
        return f"in {name} {unit}"
    if display == "metric" and step_m < 1:
        return f"in steps of {format_length(step_m * 1000, display, 'small')}"
    return f"in steps of {_metres(step_m, display)}"


def _steps_of_mass(step_kg: Decimal, display: Display) -> str:
    unit_kg, unit = (kg_in("lb"), "pounds") if display == "imperial" else (Decimal(1), "kilograms")
    name = _name_of(step_kg, unit_kg)
    if name:
        return f"in {name} {unit}"
    if display == "metric" and step_kg < 1:
        return f"in steps of {plain_number(step_kg * 1000)}{THIN_SPACE}g"
    return f"in steps of {format_mass(step_kg, display)}"


def _name_of(step: Decimal, unit: Decimal) -> str:
    return next((name for share, name in _NAMED.items() if abs(step - share * unit) < _KEPT_WITHIN), "")


def _metres(metres: Decimal, display: Display) -> str:
    """In yards with as few decimals as give the metres again: a roll of 50 yd is told as one."""
    return format_length(metres * 1000) if display == "metric" else format_metres_told(metres, display)
