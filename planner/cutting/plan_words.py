"""What cut plans are told in: counts of lays and garments, lengths of cloth, minutes, shares."""

from __future__ import annotations

import math
from collections.abc import Sequence

from planner.core.lays.wishes import Kind
from planner.core.listed import listed
from planner.core.units import format_length
from planner.cutting.wording import THIN


def kinds_in_words(kinds: Sequence[Kind], *, with_style: bool) -> str:
    """ "S and M"; with the style's number where there are several: "110 S and 120 M"."""
    names = [f"{style} {size}" if with_style else size for style, size in kinds]
    return listed(names)


def minutes_in_words(minutes: float) -> str:
    """ "40 minutes", "1 h 10 min"."""
    whole = round(minutes)
    if whole < 1:
        return "less than a minute"
    if whole < 100:
        return f"{whole} {'minute' if whole == 1 else 'minutes'}"
    hours, rest = divmod(whole, 60)
    return f"{hours}{THIN}h {rest}{THIN}min" if rest else f"{hours}{THIN}h"


def percent(share: float, *, least: bool = False) -> str:
    """A share in per cent, to one place below ten; with `least` rounded up, so that it is never told too small."""
    value = share * 100
    places = 0 if value >= 10 else 1
    scale = 10**places
    rounded = math.ceil(value * scale - 1e-9) / scale if least else round(value, places)
    return f"{rounded:.{places}f}".removesuffix(".0") + f"{THIN}%"


def garments_in_words(count: int) -> str:
    return f"{count} {'garment' if count == 1 else 'garments'}"


def lays_in_words(count: int) -> str:
    """ "1 lay", "3 lays"."""
    return f"{count} {'lay' if count == 1 else 'lays'}"


def length_in_words(mm: float, display: str) -> str:
    """A length of cloth as the workroom reads it: "1.9 m"."""
    return format_length(mm, display=display, kind="cloth")  # type: ignore[arg-type]
