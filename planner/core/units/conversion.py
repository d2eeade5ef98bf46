"""Units by all their names, what one is in another, and what follows from that: weights of cloth, packs.

Factors come from pint (NIST SP 811: 1 in = 25.4 mm exactly, 1 yd = 914.4 mm exactly) as Decimals. The
registry is slow to build (some 0.4 s) and is built once, at the first conversion; :func:`warm_up` does it
ahead of time.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_CEILING, Decimal
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pint

Number = Decimal | float | int

#: A need above a pack by less than this is float noise, not a need (in the pack's own unit).
PACK_NOISE = Decimal("0.000001")

#: An inch (NIST SP 811: exactly), for what is too early or too often asked for the registry.
MM_PER_INCH = 25.4

LENGTHS: Mapping[str, str] = {
    **dict.fromkeys(["mm", "millimetre", "millimetres", "millimeter", "millimeters"], "millimetre"),
    **dict.fromkeys(["cm", "centimetre", "centimetres", "centimeter", "centimeters"], "centimetre"),
    **dict.fromkeys(["m", "metre", "metres", "meter", "meters"], "metre"),
    **dict.fromkeys(["in", "inch", "inches", '"', "''"], "inch"),
    **dict.fromkeys(["ft", "foot", "feet", "'"], "foot"),
    **dict.fromkeys(["yd", "yds", "yard", "yards"], "yard"),
}
# A fabric "ounce" alone is an ounce a square yard, as cloth merchants say it.
AREAL_WEIGHTS: Mapping[str, str] = {
    **dict.fromkeys(["gsm", "g/m2", "g/m²", "g/sqm", "g/sq m", "g/m^2", "g"], "gram / metre ** 2"),
    **dict.fromkeys(["oz", "oz/yd2", "oz/yd²", "oz/sqyd", "oz/sq yd", "oz/yd^2"], "ounce / yard ** 2"),
}
MASSES: Mapping[str, str] = {
    **dict.fromkeys(["kg", "kilo", "kilos", "kilogram", "kilograms"], "kilogram"),
    **dict.fromkeys(["g", "gram", "grams"], "gram"),
    **dict.fromkeys(["lb", "lbs", "pound", "pounds"], "pound"),
    **dict.fromkeys(["oz", "ounce", "ounces"], "ounce"),
}


def warm_up() -> None:
    """Builds the unit registry now instead of at the first conversion."""
    _registry()


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint  # imported here because it is slow and many commands never need it

    return pint.UnitRegistry(non_int_type=Decimal)


@cache
def factor_of(unit: str, base: str) -> Decimal:
    """How many `base` one `unit` is."""
    magnitude = _registry().Quantity(Decimal(1), unit).to(base).magnitude
    return Decimal(magnitude)


def mm_in(unit: str) -> Decimal:
    """Millimetres in one of a unit of length, by any of its names: 25.4 for "in". KeyError for one that is none."""
    return factor_of(LENGTHS[unit], "millimetre")


def kg_in(unit: str) -> Decimal:
    """Kilograms in one of a unit of weight, by any of its names: 0.45359237 for "lb". KeyError for one that is none."""
    return factor_of(MASSES[unit], "kilogram")


def kg_per_m(full_width_mm: float, weight_gsm: float) -> float:
    """Weight in kg of one running metre: full width [m] × areal weight [g/m²] / 1000."""
    return full_width_mm / 1000.0 * weight_gsm / 1000.0


def round_up_to_pack(need: Number, pack: Number, minimum: Number = 0) -> Decimal:
    """The least quantity sold that covers `need`: a multiple of `pack` and at least `minimum`; 0 for no need.

    All in one unit. A need above a pack by less than a millionth is taken as float noise. A minimum that is
    no multiple of the pack is rounded up to one.
    """
    step = finite(pack)
    if step <= 0:
        raise ValueError("a pack must hold more than nothing")
    wanted = finite(need) - PACK_NOISE
    if wanted <= 0:
        return Decimal(0)
    packs = (max(wanted, finite(minimum)) / step).to_integral_value(ROUND_CEILING)
    return packs * step


def finite(number: Number) -> Decimal:
    """The number as a Decimal by its shortest writing. Raises ValueError for NaN and infinity."""
    value = number if isinstance(number, Decimal) else Decimal(repr(number))
    if not value.is_finite():
        raise ValueError(f"{number} is no quantity")
    return value
