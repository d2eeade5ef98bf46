"""Yards as numbers that are reckoned with as they are printed."""

from __future__ import annotations

from decimal import Decimal

from planner.core.units.conversion import factor_of
from planner.core.units.printing import THIN_SPACE, format_length, plain_number

_EIGHTHS = 8


def yards_of(metres: Decimal) -> Decimal:
    """Metres as yards, not rounded."""
    return metres * 1000 / factor_of("yard", "millimetre")


def per_yard(per_metre: Decimal) -> Decimal:
    """What a yard has or costs where a metre has or costs so much."""
    return per_metre * factor_of("yard", "metre")


def pounds_per_yard(kg_per_m: float) -> float:
    """What a yard of a cloth weighs in pounds."""
    return float(per_yard(Decimal(repr(kg_per_m))) / factor_of("pound", "kilogram"))


def yards_as_printed(yards: Decimal) -> str:
    """Eighths as a tape has them ("8 ⅝ yd"), what is none as it is ("8.54 yd")."""
    if yards * _EIGHTHS % 1 == 0:
        return format_length(yards * factor_of("yard", "millimetre"), "imperial", "cloth")
    return f"{plain_number(yards)}{THIN_SPACE}yd"
