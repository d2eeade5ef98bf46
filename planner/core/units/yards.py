"""Yards as numbers that are reckoned with as they are printed."""

from __future__ import annotations

from decimal import Decimal

from planner.core.units.conversion import factor_of
from planner.core.units.printing import THIN_SPACE, format_length, plain_number

_EIGHTHS = 8


def yards_of(metres: Decimal) -> Decimal:
    """Metres as yards, not rounded."""
    return metres * 1000 / factor_of("yard", "millimetre")


def yards_as_printed(yards: Decimal) -> str:
    """Eighths as a tape has them ("8 ⅝ yd"), what is none as it is ("8.54 yd")."""
    if yards * _EIGHTHS % 1 == 0:
        return format_length(yards * factor_of("yard", "millimetre"), "imperial", "cloth")
    return f"{plain_number(yards)}{THIN_SPACE}yd"
