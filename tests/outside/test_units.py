"""Conversions against NIST SP 811 and against pint used on its own."""

from decimal import Decimal
from functools import cache

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core import units


@cache
def registry() -> pint.UnitRegistry[float]:
    """One of its own, in plain floats: not the one the program converts with. To make it takes half a second."""
    return pint.UnitRegistry()


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        # NIST SP 811, appendix B: 1 in = 25.4 mm, 1 ft = 304.8 mm, 1 yd = 914.4 mm, all exact.
        ("1 in", "25.4"),
        ("1 ft", "304.8"),
        ("1 yd", "914.4"),
        # Worked with those by hand.
        ("60 in", "1524"),
        ('5/8"', "15.875"),
        ("1 5/8 yd", "1485.9"),
    ],
)
def test_lengths_are_exact(typed: str, mm: str) -> None:
    assert units.parse_length_mm(typed) == Decimal(mm)


def test_ounces_a_square_yard() -> None:
    # NIST SP 811, appendix B: 1 oz/yd² (avoirdupois) = 33.906 g/m², to five digits.
    assert float(units.parse_areal_weight_gsm("1 oz/yd2")) == pytest.approx(33.906, abs=0.0005)
    # By hand from the exact pound and yard: 28.349523125 g / 0.83612736 m².
    assert float(units.parse_areal_weight_gsm("1 oz/yd2")) == pytest.approx(
        28.349523125 / 0.83612736, rel=1e-7
    )


def test_pounds() -> None:
    # NIST SP 811, appendix B: 1 lb = 0.453 592 37 kg, exact; kept to a millionth of a kg.
    assert units.parse_mass_kg("100 lb") == Decimal("45.359237")


@given(
    number=st.decimals(0, 1000, places=3),
    unit=st.sampled_from(
        [
            ("mm", "millimeter"),
            ("cm", "centimeter"),
            ("m", "meter"),
            ("in", "inch"),
            ("ft", "foot"),
            ("yd", "yard"),
        ]
    ),
)
def test_lengths_agree_with_pint(number: Decimal, unit: tuple[str, str]) -> None:
    # pint, whose definitions of the international inch, foot and yard are those of NIST SP 811.
    ours = units.parse_length_mm(f"{number:f} {unit[0]}")
    theirs = registry().Quantity(float(number), unit[1]).to("millimeter").magnitude
    assert float(ours) == pytest.approx(theirs, rel=1e-12, abs=1e-6)


@given(number=st.decimals(0, 1000, places=2))
def test_weights_agree_with_pint(number: Decimal) -> None:
    # pint: 1 oz/yd² = 28.349523125 g / 0.83612736 m² (NIST SP 811).
    theirs = registry().Quantity(float(number), "oz/yd**2").to("g/m**2").magnitude
    assert float(units.parse_areal_weight_gsm(f"{number:f} oz")) == pytest.approx(theirs, rel=1e-12, abs=1e-6)


def test_one_page_of_inches_in_print() -> None:
    # An inch ruler: 4 7/8 in = 123.825 mm, and the yard's eighths are 114.3 mm (NIST SP 811 factors by hand).
    assert units.format_length(123.825, "imperial", "small") == "4\u00a07/8\u2009in"
    assert units.format_length(8 * 914.4 + 5 * 114.3, "imperial", "cloth") == "8\u2009⅝\u2009yd"
