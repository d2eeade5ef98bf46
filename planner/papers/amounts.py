"""Numbers with their units as they stand on paper: thin space before the unit and between thousands."""

from __future__ import annotations

THIN = "\u2009"


def grouped(number: float, decimals: int = 0) -> str:
    """12345.6 -> '12 346' with thin spaces."""
    return f"{number:,.{decimals}f}".replace(",", THIN)


def length(mm: float, *, imperial: bool = False) -> str:
    """A length to mark or measure: whole millimetres, or inches to two places."""
    if imperial:
        return f"{grouped(mm / 25.4, 2)}{THIN}in"
    return f"{grouped(mm)}{THIN}mm"


def cloth(metres: float, *, imperial: bool = False) -> str:
    """Cloth to lay or buy: metres or yards, two places."""
    if imperial:
        return f"{grouped(metres / 0.9144, 2)}{THIN}yd"
    return f"{grouped(metres, 2)}{THIN}m"


def share(fraction: float) -> str:
    """0.842 -> '84.2 %'."""
    return f"{fraction * 100:.1f}{THIN}%"
