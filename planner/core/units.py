"""The only place where a unit is parsed, converted or printed.

Factors come from pint (NIST SP 811: 1 in = 25.4 mm exactly, 1 yd = 914.4 mm exactly) as Decimals. The
registry is slow to build (some 0.4 s) and is built once, at the first conversion; :func:`warm_up` does it
ahead of time.

How a number may be typed: `1.5`, `1,5`, `.5`, `5/8`, `1 5/8`, `1-5/8`, `1⅝`, `1 234.5`. With both a comma
and a point the last one is the decimal mark (`1,234.5` and `1.234,5` are the same); a mark that comes twice
groups thousands. One comma before exactly three digits (`1,234`) means 1234 to some and 1.234 to others: it
is refused rather than be wrong by a thousand. One point is always the decimal mark, as the program prints it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    import pint

Display = Literal["metric", "imperial"]
LengthKind = Literal["cloth", "small"]
Number = Decimal | float | int

#: Stands between a number and its unit.
THIN_SPACE = "\u2009"
#: Stands between a whole number and a fraction written with a slash: "4 7/8" must not read as "47/8".
NO_BREAK_SPACE = "\u00a0"
LONGEST_TEXT = 100
#: A need above a pack by less than this is float noise, not a need (in the pack's own unit).
PACK_NOISE = Decimal("0.000001")

_LENGTHS: Mapping[str, str] = {
    **dict.fromkeys(["mm", "millimetre", "millimetres", "millimeter", "millimeters"], "millimetre"),
    **dict.fromkeys(["cm", "centimetre", "centimetres", "centimeter", "centimeters"], "centimetre"),
    **dict.fromkeys(["m", "metre", "metres", "meter", "meters"], "metre"),
    **dict.fromkeys(["in", "inch", "inches", '"', "''"], "inch"),
    **dict.fromkeys(["ft", "foot", "feet", "'"], "foot"),
    **dict.fromkeys(["yd", "yds", "yard", "yards"], "yard"),
}
# A fabric "ounce" alone is an ounce a square yard, as cloth merchants say it.
_AREAL_WEIGHTS: Mapping[str, str] = {
    **dict.fromkeys(["gsm", "g/m2", "g/m²", "g/sqm", "g/sq m", "g/m^2", "g"], "gram / metre ** 2"),
    **dict.fromkeys(["oz", "oz/yd2", "oz/yd²", "oz/sqyd", "oz/sq yd", "oz/yd^2"], "ounce / yard ** 2"),
}
_MASSES: Mapping[str, str] = {
    **dict.fromkeys(["kg", "kilo", "kilos", "kilogram", "kilograms"], "kilogram"),
    **dict.fromkeys(["g", "gram", "grams"], "gram"),
    **dict.fromkeys(["lb", "lbs", "pound", "pounds"], "pound"),
    **dict.fromkeys(["oz", "ounce", "ounces"], "ounce"),
}

_SIGNS = str.maketrans({"\u2044": "/", "\u2212": "-", "′": "'", "’": "'", "″": '"', "”": '"', "“": '"'})
_NUMBER = re.compile(
    r"(?:(?P<whole>[0-9]+)(?: |-))?(?P<over>[0-9]+) ?/ ?(?P<under>[0-9]+)"
    r"|(?P<spaced>[0-9]{1,3}(?: [0-9]{3})+(?:[.,][0-9]+)?)(?![0-9])"
    r"|(?P<plain>[0-9.,]*[0-9])"
)
_LENGTH_UNIT = re.compile(r" ?(?P<unit>[a-z]+|''|['\"])\.? ?")
_COMMA_GROUPS = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+")
_POINT_GROUPS = re.compile(r"[0-9]{1,3}(?:\.[0-9]{3})+")
_AMBIGUOUS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")

_EIGHTHS = ("", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞")
#: ISO 4217 minor units that are not two digits (from memory; the common ones).
_MINOR_DIGITS: Mapping[str, int] = {
    **dict.fromkeys(["CLP", "ISK", "JPY", "KRW", "PYG", "UGX", "VND", "XAF", "XOF", "XPF"], 0),
    **dict.fromkeys(["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"], 3),
}


class UnitError(ValueError):
    """Something typed that is no such quantity; the message names it and an example that works."""


# --- conversion -------------------------------------------------------------------------------------------


def warm_up() -> None:
    """Builds the unit registry now instead of at the first conversion."""
    _registry()


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint  # imported here because it is slow and many commands never need it

    return pint.UnitRegistry(non_int_type=Decimal)


@cache
def _factor(unit: str, base: str) -> Decimal:
    """How many `base` one `unit` is."""
    magnitude = _registry().Quantity(Decimal(1), unit).to(base).magnitude
    return Decimal(magnitude)


def kg_per_m(full_width_mm: float, weight_gsm: float) -> float:
    """Weight in kg of one running metre: full width [m] × areal weight [g/m²] / 1000."""
    return full_width_mm / 1000.0 * weight_gsm / 1000.0


def m_per_kg(full_width_mm: float, weight_gsm: float) -> float:
    """Running metres in one kg of cloth. Raises ValueError where width or weight is not above zero."""
    weight = kg_per_m(full_width_mm, weight_gsm)
    if not weight > 0:
        raise ValueError("width and weight must be greater than zero")
    return 1.0 / weight


def round_up_to_pack(need: Number, pack: Number, minimum: Number = 0) -> Decimal:
    """The least quantity sold that covers `need`: a multiple of `pack` and at least `minimum`; 0 for no need.

    All in one unit. A need above a pack by less than a millionth is taken as float noise. A minimum that is
    no multiple of the pack is rounded up to one.
    """
    step = _finite(pack)
    if step <= 0:
        raise ValueError("a pack must hold more than nothing")
    wanted = _finite(need) - PACK_NOISE
    if wanted <= 0:
        return Decimal(0)
    packs = (max(wanted, _finite(minimum)) / step).to_integral_value(ROUND_CEILING)
    return packs * step


# --- parsing ----------------------------------------------------------------------------------------------


def parse_length_mm(text: str, default_unit: str = "mm", *, allow_negative: bool = False) -> Decimal:
    """A length in mm from what was typed, to a millionth of a mm; a bare number takes `default_unit`.

    Understands mm, cm, m, in, ft, yd with their names and signs in any case, and lengths in two units such as
    2'6". Raises UnitError.
    """
    example = "a length. Write for example 1.5 m, 12.5 cm, 5/8 in or 1 5/8 yd"
    cleaned = _cleaned(text, example)
    negative, rest = _sign(cleaned)
    total, last_factor, parts = Decimal(0), Decimal("Infinity"), 0
    while rest or not parts:
        value, rest = _leading_number(rest, text, example)
        found = _LENGTH_UNIT.match(rest)
        name = found["unit"] if found else default_unit
        rest = rest[found.end() :] if found else rest
        if name not in _LENGTHS or (not found and (rest or parts)):
            raise _refused(text, example)
        factor = _factor(_LENGTHS[name], "millimetre")
        if factor >= last_factor:  # "6 in 2 ft" is a slip; "2 ft 6 in" is a length
            raise _refused(text, example)
        total, last_factor, parts = total + value * factor, factor, parts + 1
    return _checked(-total if negative else total, text, example, allow_negative, largest=10**8)


def parse_areal_weight_gsm(text: str, default_unit: str = "gsm", *, allow_negative: bool = False) -> Decimal:
    """Weight of cloth in g/m²; `5.3 oz` means ounces a square yard. Raises UnitError."""
    example = "a weight of cloth. Write for example 180 gsm or 5.3 oz/yd2"
    return _parse(text, example, _AREAL_WEIGHTS, "gram / metre ** 2", default_unit, allow_negative, 10**5)


def parse_mass_kg(text: str, default_unit: str = "kg", *, allow_negative: bool = False) -> Decimal:
    """A weight in kg. Raises UnitError."""
    example = "a weight. Write for example 2.5 kg or 5 lb"
    return _parse(text, example, _MASSES, "kilogram", default_unit, allow_negative, 10**6)


def parse_percent(text: str, *, allow_negative: bool = False) -> Decimal:
    """Per cent as a number of per cent: `5 %`, `5` and `5,0` all give 5, not 0.05. Raises UnitError."""
    example = "a percentage. Write for example 5 % or 2.5"
    cleaned = _cleaned(text, example)
    for sign in ("%", "percent", "per cent"):
        cleaned = cleaned.removesuffix(sign).rstrip()
    return _parse_bare(cleaned, text, example, allow_negative, 10**6)


def parse_quantity(text: str, *, allow_negative: bool = False) -> Decimal:
    """A plain number without a unit. Raises UnitError."""
    example = "a number. Write for example 12 or 2.5"
    return _parse_bare(_cleaned(text, example), text, example, allow_negative, 10**9)


def _parse(
    text: str,
    example: str,
    names: Mapping[str, str],
    base: str,
    default_unit: str,
    allow_negative: bool,  # noqa: FBT001 - private, always passed on by name of the public keyword
    largest: int,
) -> Decimal:
    """One number and one unit of `names`, in `base`."""
    negative, rest = _sign(_cleaned(text, example))
    value, rest = _leading_number(rest, text, example)
    name = rest.strip().rstrip(".").replace(" / ", "/") or default_unit
    if name not in names:
        raise _refused(text, example)
    value *= _factor(names[name], base)
    return _checked(-value if negative else value, text, example, allow_negative, largest)


def _parse_bare(
    cleaned: str,
    text: str,
    example: str,
    allow_negative: bool,  # noqa: FBT001
    largest: int,
) -> Decimal:
    """A number with nothing behind it."""
    negative, rest = _sign(cleaned)
    value, rest = _leading_number(rest, text, example)
    if rest:
        raise _refused(text, example)
    return _checked(-value if negative else value, text, example, allow_negative, largest)


def _cleaned(text: str, example: str) -> str:
    """Lower case, single plain spaces, plain signs; vulgar fractions written out with a space before them."""
    if len(text) > LONGEST_TEXT:
        raise UnitError(f"“{text[:20]}…” is too long to be {example}.")
    spelled = "".join(_spelled_fraction(ch) for ch in text) if not text.isascii() else text
    cleaned = " ".join(spelled.translate(_SIGNS).lower().split())
    if not cleaned:
        raise UnitError(f"Nothing is typed here that could be {example}.")
    return cleaned


def _spelled_fraction(ch: str) -> str:
    if unicodedata.decomposition(ch).startswith("<fraction>"):
        return " " + unicodedata.normalize("NFKC", ch)
    return ch


def _sign(cleaned: str) -> tuple[bool, str]:
    """Whether a minus stands in front, and the rest."""
    if cleaned.startswith(("+", "-")):
        return cleaned[0] == "-", cleaned[1:].lstrip()
    return False, cleaned


def _leading_number(cleaned: str, text: str, example: str) -> tuple[Decimal, str]:
    """The number the text begins with, and what follows it."""
    found = _NUMBER.match(cleaned)
    if not found:
        raise _refused(text, example)
    rest = cleaned[found.end() :].lstrip()
    if found["under"]:
        over, under = Decimal(found["over"]), Decimal(found["under"])
        if under == 0 or (found["whole"] and over >= under):
            raise _refused(text, example)
        return Decimal(found["whole"] or 0) + over / under, rest
    digits = _point_decimal((found["spaced"] or found["plain"]).replace(" ", ""), text)
    if digits is None:
        raise _refused(text, example)
    return Decimal(digits), rest


def _point_decimal(number: str, text: str) -> str | None:
    """The number with a decimal point and no grouping, or None where its marks make no sense."""
    commas, points = number.count(","), number.count(".")
    if commas and points:
        decimal_mark = "," if number.rfind(",") > number.rfind(".") else "."
        whole, _, part = number.rpartition(decimal_mark)
        groups = _POINT_GROUPS if decimal_mark == "," else _COMMA_GROUPS
        if not groups.fullmatch(whole):
            return None
        return re.sub("[.,]", "", whole) + "." + part
    if commas > 1 or points > 1:
        groups = _COMMA_GROUPS if commas else _POINT_GROUPS
        return re.sub("[.,]", "", number) if groups.fullmatch(number) else None
    if _AMBIGUOUS.fullmatch(number):
        plain = number.replace(",", "")
        raise UnitError(
            f"“{text.strip()}” can mean {plain} or {number.replace(',', '.')}. Write it without the comma."
        )
    return number.replace(",", ".")


def _checked(
    value: Decimal,
    text: str,
    example: str,
    allow_negative: bool,  # noqa: FBT001
    largest: int,
) -> Decimal:
    """The value to a millionth without trailing zeros; refused where negative or beyond all measure."""
    if value < 0 and not allow_negative:
        raise UnitError(f"“{text.strip()}” is less than nothing. This must be {example}.")
    if abs(value) > largest:
        raise UnitError(f"“{text.strip()}” is too large to be {example}.")
    written = f"{value:.6f}".rstrip("0").rstrip(".")
    return Decimal("0" if written == "-0" else written)


def _refused(text: str, example: str) -> UnitError:
    return UnitError(f"“{text.strip()}” is not {example}.")


# --- printing ---------------------------------------------------------------------------------------------


def format_length(
    mm: Number, display: Display = "metric", kind: LengthKind = "cloth", *, at_least: bool = False
) -> str:
    """A length for reading, with a thin space before the unit.

    Cloth: metres to the centimetre with at least one decimal ("7.8 m", "7.81 m"), or yards to the eighth
    ("8 ⅝ yd"). Small: below 10 mm in mm ("6.5 mm"), else cm to the millimetre ("12.5 cm"), or inches to the
    sixteenth ("4 7/8 in"). Rounded half away from zero; with `at_least` up, so that what is bought suffices.
    """
    value = _finite(mm)
    if value < 0:
        return "−" + format_length(-value, display, kind, at_least=at_least)
    rounding = ROUND_CEILING if at_least else ROUND_HALF_UP
    if at_least:
        value = max(value - PACK_NOISE, Decimal(0))
    if display == "imperial":
        if kind == "cloth":
            eighths = (value * 8 / _factor("yard", "millimetre")).to_integral_value(rounding)
            return _with_unit(_whole_and_eighths(int(eighths)), "yd")
        sixteenths = (value * 16 / _factor("inch", "millimetre")).to_integral_value(rounding)
        return _with_unit(_whole_and_sixteenths(int(sixteenths)), "in")
    if kind == "cloth":
        metres = str((value / 1000).quantize(Decimal("0.01"), rounding))
        return _with_unit(metres.removesuffix("0"), "m")
    if value < 10:
        return _with_unit(_trimmed(value.quantize(Decimal("0.1"), rounding)), "mm")
    return _with_unit(_trimmed((value / 10).quantize(Decimal("0.1"), rounding)), "cm")


def format_weight(gsm: Number, display: Display = "metric") -> str:
    """Areal weight of cloth: "180 g/m²" to the gram or "5.3 oz/yd²" to a tenth."""
    value = _finite(gsm)
    if display == "imperial":
        ounces = value / _factor("ounce / yard ** 2", "gram / metre ** 2")
        return _with_unit(str(ounces.quantize(Decimal("0.1"), ROUND_HALF_UP)), "oz/yd²")
    return _with_unit(str(value.quantize(Decimal(1), ROUND_HALF_UP)), "g/m²")


def format_mass(kg: Number, display: Display = "metric") -> str:
    """A weight: "2.50 kg" or "5.51 lb"."""
    value = _finite(kg)
    if display == "imperial":
        value, unit = value / _factor("pound", "kilogram"), "lb"
    else:
        unit = "kg"
    return _with_unit(str(value.quantize(Decimal("0.01"), ROUND_HALF_UP)), unit)


def format_percent(percent: Number) -> str:
    """Per cent to one decimal at most: "5 %", "2.5 %"."""
    return _with_unit(_trimmed(_finite(percent).quantize(Decimal("0.1"), ROUND_HALF_UP)), "%")


def format_money(amount: Decimal, currency: str) -> str:
    """Money to the currency's minor unit, half-up, with its ISO 4217 code: "12.50 EUR"."""
    return _with_unit(str(round_money(amount, currency)), currency.upper())


def round_money(amount: Decimal, currency: str = "EUR") -> Decimal:
    """Rounded half-up (half away from zero) to the currency's minor unit."""
    digits = _MINOR_DIGITS.get(currency.upper(), 2)
    return _finite(amount).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)


def length_as_typed(mm: Number, unit: str, *, within_mm: Decimal = Decimal("0.05")) -> str:
    """A length as somebody would type it in `unit`: "150 cm", "59.055 in".

    With as few decimals as bring it back to less than `within_mm` away: to the same tenth of a millimetre.
    Raises KeyError for a unit that is none of length.
    """
    value = _finite(mm)
    factor = _factor(_LENGTHS[unit], "millimetre")
    for places in range(7):
        shown = (value / factor).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
        if abs(shown * factor - value) < within_mm:
            break
    return f"{_trimmed(shown)} {unit}"


def plain_number(value: Number) -> str:
    """A number without needless zeros or an exponent: Decimal("5.00") is "5"."""
    return _trimmed(_finite(value))


def _finite(number: Number) -> Decimal:
    """The number as a Decimal by its shortest writing. Raises ValueError for NaN and infinity."""
    value = number if isinstance(number, Decimal) else Decimal(repr(number))
    if not value.is_finite():
        raise ValueError(f"{number} is no quantity")
    return value


def _with_unit(number: str, unit: str) -> str:
    return f"{number}{THIN_SPACE}{unit}"


def _trimmed(value: Decimal) -> str:
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _whole_and_eighths(eighths: int) -> str:
    whole, rest = divmod(eighths, 8)
    if not rest:
        return str(whole)
    return f"{whole}{THIN_SPACE}{_EIGHTHS[rest]}" if whole else _EIGHTHS[rest]


def _whole_and_sixteenths(sixteenths: int) -> str:
    whole, rest = divmod(sixteenths, 16)
    if not rest:
        return str(whole)
    under = 16
    while rest % 2 == 0:
        rest, under = rest // 2, under // 2
    return f"{whole}{NO_BREAK_SPACE}{rest}/{under}" if whole else f"{rest}/{under}"
