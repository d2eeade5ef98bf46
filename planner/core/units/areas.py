"""Areas of pieces as they are read."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from planner.core.units.conversion import MM_PER_INCH, Number, factor_of, finite
from planner.core.units.printing import THIN_SPACE, Display


def area_unit(display: Display = "metric") -> str:
    """What areas are told in: "cm²" or "in²"."""
    return "in²" if display == "imperial" else "cm²"


def cm2_in_area_unit(display: Display = "metric") -> Decimal:
    """Square centimetres in one of them: 1, or 6.4516, exactly."""
    return (Decimal(str(MM_PER_INCH)) / 10) ** 2 if display == "imperial" else Decimal(1)


def area_as_told(mm2: Number, display: Display = "metric", *, places: int = 0) -> str:
    """An area for reading, without its unit and with its sign: "2 960", with a thin space.

    With `places` decimals in cm², and one more in square inches, each of which is six and a half cm².
    """
    unit, exact = ("inch ** 2", places + 1) if display == "imperial" else ("centimetre ** 2", places)
    value = finite(mm2) / factor_of(unit, "millimetre ** 2")
    # Adding nought takes the sign from a rounded −0.
    return f"{value.quantize(Decimal(1).scaleb(-exact), ROUND_HALF_UP) + 0:,f}".replace(",", THIN_SPACE)


def format_area(mm2: Number, display: Display = "metric") -> str:
    """The same with its unit: "2 960 cm²", "458.8 in²"."""
    return f"{area_as_told(mm2, display)}{THIN_SPACE}{area_unit(display)}"
