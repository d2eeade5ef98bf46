"""Lengths, weights, percentages and money as they are read."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from typing import Literal

from planner.core.units.conversion import (
    AREAL_WEIGHTS,
    LENGTHS,
    MASSES,
    PACK_NOISE,
    Number,
    factor_of,
    finite,
)

Display = Literal["metric", "imperial"]
LengthKind = Literal["cloth", "small", "spread"]

#: Stands between a number and its unit.
THIN_SPACE = "\u2009"
#: Stands between a whole number and a fraction written with a slash: "4 7/8" must not read as "47/8".
NO_BREAK_SPACE = "\u00a0"

#: Cloth is booked to the centimetre.
CENTIMETRE_MM = Decimal(10)
#: A tape in inches is read to the sixteenth.
SIXTEENTHS = 16

_MORE_THAN_NOTHING = "123456789⅛¼⅜½⅝¾⅞"
_EIGHTHS = ("", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞")
#: ISO 4217 minor units that are not two digits (from memory; the common ones).
_MINOR_DIGITS: Mapping[str, int] = {
    **dict.fromkeys(["CLP", "ISK", "JPY", "KRW", "PYG", "UGX", "VND", "XAF", "XOF", "XPF"], 0),
    **dict.fromkeys(["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"], 3),
}


def format_length(
    mm: Number,
    display: Display = "metric",
    kind: LengthKind = "cloth",
    *,
    at_least: bool = False,
    at_most: bool = False,
) -> str:
    """A length for reading, with a thin space before the unit.

    Cloth: metres to the centimetre with at least one decimal ("7.8 m", "7.81 m"), or yards to the eighth
    ("8 ⅝ yd"). Small: below 10 mm in mm ("6.5 mm"), else cm to the millimetre ("12.5 cm"), or inches to the
    sixteenth ("4 7/8 in"). Spread, the length of a ply on the table: metres with both decimals, as it stands beside
    others ("2.80 m"), or inches. Rounded half away from zero; with `at_least` up, so that what is bought suffices, with
    `at_most` down, so that what is told is there.
    """
    value = finite(mm)
    if value < 0:
        told = format_length(-value, display, kind, at_least=at_least or at_most)
        # What rounds to nothing is not less than nothing.
        return f"−{told}" if any(digit in told for digit in _MORE_THAN_NOTHING) else told
    value = abs(value)
    rounding = ROUND_CEILING if at_least else ROUND_FLOOR if at_most else ROUND_HALF_UP
    if at_least:
        value = max(value - PACK_NOISE, Decimal(0))
    elif at_most:
        value += PACK_NOISE
    if display == "imperial":
        if kind == "cloth":
            eighths = (value * 8 / factor_of("yard", "millimetre")).to_integral_value(rounding)
            return _with_unit(_whole_and_eighths(int(eighths)), "yd")
        sixteenths = sixteenths_of_inch(value).to_integral_value(rounding)
        return _with_unit(_whole_and_sixteenths(int(sixteenths)), "in")
    if kind != "small":
        metres = str((value / 1000).quantize(Decimal("0.01"), rounding))
        return _with_unit(metres if kind == "spread" else metres.removesuffix("0"), "m")
    if value < 10:
        return _with_unit(_trimmed(value.quantize(Decimal("0.1"), rounding)), "mm")
    return _with_unit(_trimmed((value / 10).quantize(Decimal("0.1"), rounding)), "cm")


def sixteenths_of_inch(mm: Number) -> Decimal:
    """A length in the steps of a tape in inches, not rounded."""
    return finite(mm) * SIXTEENTHS / factor_of("inch", "millimetre")


def format_metres_told(metres: Decimal, display: Display = "metric") -> str:
    """Metres to the centimetre as they were told at the table, to the digit: "7.26 m", or in yards with as few decimals
    as give that centimetre again ("7.94 yd"), for an eighth is ten of them."""
    if display == "metric":
        return _with_unit(str(metres), "m")
    number, unit = length_as_typed(metres * 1000, "yd", within_mm=CENTIMETRE_MM / 2).split()
    return _with_unit(number, unit)


def cloth_as_told_mm(mm: Number, display: Display = "metric") -> Decimal:
    """A length of cloth rounded up as :func:`format_length` tells what is spread, so that differences are those of what
    is told."""
    step = factor_of("yard", "millimetre") / 8 if display == "imperial" else Decimal(10)
    return ((finite(mm) - PACK_NOISE) / step).to_integral_value(ROUND_CEILING) * step


def format_weight(gsm: Number, display: Display = "metric") -> str:
    """Areal weight of cloth: "180 g/m²" to the gram or "5.3 oz/yd²" to a tenth."""
    value = finite(gsm)
    if display == "imperial":
        ounces = value / factor_of("ounce / yard ** 2", "gram / metre ** 2")
        return _with_unit(str(ounces.quantize(Decimal("0.1"), ROUND_HALF_UP)), "oz/yd²")
    return _with_unit(str(value.quantize(Decimal(1), ROUND_HALF_UP)), "g/m²")


def format_mass(kg: Number, display: Display = "metric") -> str:
    """A weight: "2.50 kg" or "5.51 lb"."""
    value = finite(kg)
    if display == "imperial":
        value, unit = value / factor_of("pound", "kilogram"), "lb"
    else:
        unit = "kg"
    return _with_unit(str(value.quantize(Decimal("0.01"), ROUND_HALF_UP)), unit)


def format_money(amount: Decimal, currency: str) -> str:
    """Money to the currency's minor unit, half-up, with its ISO 4217 code: "12.50 EUR"."""
    return _with_unit(str(round_money(amount, currency)), currency.upper())


def round_money(amount: Decimal, currency: str = "EUR") -> Decimal:
    """Rounded half-up (half away from zero) to the currency's minor unit."""
    digits = _MINOR_DIGITS.get(currency.upper(), 2)
    # Adding nought takes the sign from a rounded −0.
    return finite(amount).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP) + 0


def length_as_typed(mm: Number, unit: str, *, within_mm: Decimal = Decimal("0.05")) -> str:
    """A length as somebody would type it in `unit`: "150 cm", "59.055 in".

    With as few decimals as bring it back to less than `within_mm` away: to the same tenth of a millimetre.
    Raises KeyError for a unit that is none of length.
    """
    return _as_typed(mm, unit, factor_of(LENGTHS[unit], "millimetre"), within_mm)


def areal_weight_as_typed(gsm: Number, unit: str, *, within_gsm: Decimal = Decimal("0.05")) -> str:
    """A weight of cloth as somebody would type it in `unit`: "180 gsm", "5.3 oz/yd2"; rounded as lengths are."""
    return _as_typed(gsm, unit, factor_of(AREAL_WEIGHTS[unit], "gram / metre ** 2"), within_gsm)


def mass_as_typed(kg: Number, unit: str, *, within_kg: Decimal = Decimal("0.005")) -> str:
    """A weight as somebody would type it in `unit`: "2.5 kg", "5 lb"; rounded as lengths are."""
    return _as_typed(kg, unit, factor_of(MASSES[unit], "kilogram"), within_kg)


def _as_typed(value: Number, unit: str, factor: Decimal, within: Decimal) -> str:
    """In `unit`, of which one is `factor`, with as few decimals as bring it back to less than `within` away."""
    for places in range(7):
        shown = (finite(value) / factor).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
        if abs(shown * factor - finite(value)) < within:
            break
    return f"{_trimmed(shown)} {unit}"


def format_thickness(mm: Number, display: Display = "metric") -> str:
    """How thick cloth is, to the hundredth of a mm it is kept with: "0.8 mm", or "0.0315 in", which gives it again."""
    unit = "in" if display == "imperial" else "mm"
    number, unit = length_as_typed(mm, unit, within_mm=Decimal("0.005")).split()
    return _with_unit(number, unit)


def plain_number(value: Number) -> str:
    """A number without needless zeros or an exponent: Decimal("5.00") is "5"."""
    return _trimmed(finite(value))


def _with_unit(number: str, unit: str) -> str:
    return f"{number}{THIN_SPACE}{unit}"


def _trimmed(value: Decimal) -> str:
    text = format(value, "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _whole_and_eighths(eighths: int) -> str:
    whole, rest = divmod(eighths, 8)
    if not rest:
        return str(whole)
    return f"{whole}{THIN_SPACE}{_EIGHTHS[rest]}" if whole else _EIGHTHS[rest]


def _whole_and_sixteenths(sixteenths: int) -> str:
    whole, rest = divmod(sixteenths, SIXTEENTHS)
    if not rest:
        return str(whole)
    under = SIXTEENTHS
    while rest % 2 == 0:
        rest, under = rest // 2, under // 2
    return f"{whole}{NO_BREAK_SPACE}{rest}/{under}" if whole else f"{rest}/{under}"
