"""Numbers with their units as they stand on paper. Lengths are printed by `planner.core.units`."""

from __future__ import annotations

from planner.core.units import THIN_SPACE, Display, format_length

THIN = THIN_SPACE
#: From here on a lay is told in metres, not centimetres.
IN_METRES_FROM_MM = 1000.0


def grouped(number: float) -> str:
    """12345.6 -> '12 346' with thin spaces."""
    return f"{number:,.0f}".replace(",", THIN)


def length(mm: float, *, imperial: bool = False) -> str:
    """A length to mark or measure: centimetres to the millimetre, or inches to the sixteenth."""
    return format_length(mm, _display(imperial=imperial), "small")


def lay_length(mm: float, *, imperial: bool = False) -> str:
    """A marker's length, rounded up: metres to the centimetre (below 1 m centimetres), or inches."""
    if imperial or mm < IN_METRES_FROM_MM:
        return format_length(mm, _display(imperial=imperial), "small", at_least=True)
    return format_length(mm, "metric", "cloth", at_least=True)


def spread_length(mm: float, *, imperial: bool = False) -> str:
    """Length to spread, rounded up: metres to the centimetre, or inches to the sixteenth; the same on every page."""
    return format_length(mm, _display(imperial=imperial), "spread", at_least=True)


def cloth(metres: float, *, imperial: bool = False, at_least: bool = False, at_most: bool = False) -> str:
    """Cloth to lay or buy: metres to the centimetre or yards to the eighth.

    Rounded up where `at_least` this much is needed, as everything that is spread, and down where there is `at_most`
    this much.
    """
    display = _display(imperial=imperial)
    return format_length(metres * 1000, display, "cloth", at_least=at_least, at_most=at_most)


def _display(*, imperial: bool) -> Display:
    return "imperial" if imperial else "metric"


def share(fraction: float) -> str:
    """0.842 -> '84.2 %'."""
    return f"{fraction * 100:.1f}{THIN}%"
