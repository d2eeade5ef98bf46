"""Figures that can be followed with a pocket calculator.

What is needed is rounded up, what is there is rounded down, both to the last place printed. Whole packs reckoned from
printed figures are then the same as those reckoned from exact ones, as long as packs and stock have no more places than
are printed. A factor is printed with as many places as it takes for the printed result to follow from it.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal

from planner.core.units import PACK_NOISE, THIN_SPACE

#: Said on every paper with sums.
ROUNDING = "Needs are rounded up and stock down to the last place printed; every sum follows from the figures printed."
#: No factor is printed with more places than this.
MOST_PLACES = 6


def exact(value: float | Decimal) -> Decimal:
    """The number by its shortest writing."""
    return value if isinstance(value, Decimal) else Decimal(repr(value))


def up(value: float | Decimal, places: int = 2) -> Decimal:
    """Rounded up to so many places; less than a millionth above counts as noise."""
    return (exact(value) - PACK_NOISE).quantize(_unit(places), ROUND_CEILING) + Decimal(0)


def down(value: float | Decimal, places: int = 2) -> Decimal:
    """Rounded down to so many places."""
    return (exact(value) + PACK_NOISE).quantize(_unit(places), ROUND_FLOOR) + Decimal(0)


def nearest(value: float | Decimal, places: int = 2) -> Decimal:
    """Rounded half up to so many places."""
    return exact(value).quantize(_unit(places), ROUND_HALF_UP) + Decimal(0)


def places_for(follows: Callable[[int], bool], least: int = 0) -> int:
    """The fewest places, from `least` on, with which the result follows; MOST_PLACES where none do."""
    return next((places for places in range(least, MOST_PLACES) if follows(places)), MOST_PLACES)


def places_of(*values: Decimal) -> int:
    """Places after the point that are in use in any of these numbers."""
    return max(max(0, -int(value.normalize().as_tuple().exponent)) for value in values)


def printed_places(value: Decimal) -> int:
    """Places after the point with which a figure is printed, zeros too."""
    return max(0, -int(value.as_tuple().exponent))


def figure(value: Decimal, unit: str = "", *, least: int = 0) -> str:
    """As it is printed: needless zeros left out down to `least` places, thousands with a thin space, unit behind."""
    places = max(least, places_of(value))
    text = f"{value:,.{places}f}".replace(",", THIN_SPACE)
    return f"{text}{THIN_SPACE}{unit}" if unit else text


def percent_factor(share: float) -> Decimal:
    """1.05 for a share of 0.05."""
    return 1 + nearest(share, MOST_PLACES).normalize()


def _unit(places: int) -> Decimal:
    return Decimal(1).scaleb(-places)
