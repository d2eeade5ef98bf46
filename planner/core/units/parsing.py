"""Lengths, weights, percentages and plain numbers from what was typed.

How a number may be typed: `1.5`, `1,5`, `.5`, `5/8`, `1 5/8`, `1-5/8`, `1⅝`, `1 234.5`. With both a comma
and a point the last one is the decimal mark (`1,234.5` and `1.234,5` are the same); a mark that comes twice
groups thousands. One comma before exactly three digits (`1,234`) means 1234 to some and 1.234 to others: it
is refused rather than be wrong by a thousand. One point is always the decimal mark, as the program prints it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from decimal import Decimal

from planner.core.units.conversion import AREAL_WEIGHTS, LENGTHS, MASSES, factor_of

LONGEST_TEXT = 100

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


class UnitError(ValueError):
    """Something typed that is no such quantity; the message names it and an example that works."""


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
        if name not in LENGTHS or (not found and (rest or parts)):
            raise _refused(text, example)
        factor = factor_of(LENGTHS[name], "millimetre")
        if factor >= last_factor:  # "6 in 2 ft" is a slip; "2 ft 6 in" is a length
            raise _refused(text, example)
        total, last_factor, parts = total + value * factor, factor, parts + 1
    return _checked(-total if negative else total, text, example, allow_negative, largest=10**8)


def parse_areal_weight_gsm(text: str, default_unit: str = "gsm", *, allow_negative: bool = False) -> Decimal:
    """Weight of cloth in g/m²; `5.3 oz` means ounces a square yard. Raises UnitError."""
    example = "a weight of cloth. Write for example 180 gsm or 5.3 oz/yd2"
    return _parse(text, example, AREAL_WEIGHTS, "gram / metre ** 2", default_unit, allow_negative, 10**5)


def parse_mass_kg(text: str, default_unit: str = "kg", *, allow_negative: bool = False) -> Decimal:
    """A weight in kg. Raises UnitError."""
    example = "a weight. Write for example 2.5 kg or 5 lb"
    return _parse(text, example, MASSES, "kilogram", default_unit, allow_negative, 10**6)


def parse_percent(text: str, *, allow_negative: bool = False) -> Decimal:
    """Per cent as a number of per cent: `5 %`, `5` and `5,0` all give 5, not 0.05. Raises UnitError."""
    example = "a percentage. Write for example 5 % or 2.5"
    cleaned = _cleaned(text, example)
    for sign in ("%", "percent", "per cent"):
        cleaned = cleaned.removesuffix(sign).rstrip()
    return _parse_bare(cleaned, text, example, allow_negative, 10**6)


def parse_quantity(text: str, *, allow_negative: bool = False, whole: bool = False) -> Decimal:
    """A plain number without a unit. Raises UnitError; with `whole` its example is one, but 2.5 is read too."""
    example = "a whole number. Write for example 12" if whole else "a number. Write for example 12 or 2.5"
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
    value *= factor_of(names[name], base)
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
