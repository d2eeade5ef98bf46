"""Pieces that do not fit across their cloth: a line for each piece, with its sizes and what can be done."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from planner.core.listed import listed
from planner.core.units import Display, format_length


@dataclass(frozen=True, slots=True)
class TooWide:
    """A piece in one size that is wider than its cloth lies, widths in mm; a block where `piece` names several.

    `open_mm` is how wide the cloth would lie open, where it may only lie folded; 0 where it lies as wide as it can, as
    a tube does, which `is_folded` too.
    """

    style: str
    piece: str
    size: str
    fabric: str
    colour: str
    across_mm: float
    lies_mm: float
    open_mm: float = 0.0
    is_folded: bool = False
    is_block: bool = False


class Problem(Protocol):
    """Whatever says in words why something cannot be planned.

    One of width may have `too_wide` beside `text`, one of length `told_in(display)`.
    """

    @property
    def text(self) -> str:
        """The problem as one reads it when it stands alone."""
        ...


def told_once(problems: Iterable[Problem], display: Display = "metric") -> tuple[str, ...]:
    """The problems as lines, in order and each once; all sizes of a piece that is too wide stand in one line.

    `display` says in which units lengths and widths are told.
    """
    lines: dict[object, list[TooWide]] = {}
    for one in problems:
        wide: TooWide | None = getattr(one, "too_wide", None)
        if wide is None:
            told_in = getattr(one, "told_in", None)
            lines.setdefault(told_in(display) if told_in else one.text, [])
        else:
            lines.setdefault(_piece_of(wide), []).append(wide)
    return tuple(in_words(found, display) if found else str(key) for key, found in lines.items())


def in_words(found: Sequence[TooWide], display: Display = "metric") -> str:
    """One piece of one style on one fabric, too wide in these sizes and colours: what is wrong and what can be done.

    Widths are told as everywhere on a page: in centimetres to the millimetre, or in inches to the sixteenth.
    """
    one = found[0]
    colours = list(dict.fromkeys(wide.colour for wide in found if wide.colour))
    cloth = f"{one.fabric}, {listed(colours)}" if colours else one.fabric
    widest: dict[str, float] = {}
    for wide in found:
        widest[wide.size] = max(wide.across_mm, widest.get(wide.size, 0.0))
    widths, lies_wide = told_apart(list(widest.values()), one.lies_mm, display, at_least=True)
    sizes = listed([f"{across} in {size}" for size, across in zip(widest, widths, strict=True)])
    beside = "is"
    if one.is_block:
        # A pair is cut together from any cloth, several pieces only where it shades.
        shades = ", for the cloth shades," if ", " in one.piece else ""
        beside = f"must lie side by side{shades} and are"
    lies = "lies folded, so only" if one.is_folded else "lies only"
    return (
        f"{one.piece} of style {one.style} {beside} too wide for {cloth}: {sizes}, but the cloth {lies} {lies_wide} "
        f"wide. {_remedies(one, widest, display)}"
    )


def _remedies(one: TooWide, widest: Mapping[str, float], display: Display) -> str:
    """ "Let the cloth lie open (980 mm wide), take a cloth that lies at least 520 mm wide, or leave out L."

    `widest` is how wide the piece is in each size (mm).
    """
    ways, most_mm = [], max(widest.values())
    if one.open_mm >= most_mm:
        ways.append(f"let the cloth lie open ({format_length(one.open_mm, display, 'small')} wide)")
    as_it_lies = " when folded" if one.is_folded else ""
    enough = format_length(most_mm, display, "small", at_least=True)
    ways.append(f"take a cloth that lies at least {enough} wide{as_it_lies}")
    ways.append(f"leave out {listed(list(widest))}")
    what = "let them lie apart" if one.is_block else "change the piece (narrower, or in two with a seam)"
    text = f"{', '.join(ways)}, or {what}."
    return text[0].upper() + text[1:]


def _piece_of(wide: TooWide) -> tuple[object, ...]:
    return wide.style, wide.piece, wide.fabric, wide.lies_mm, wide.open_mm, wide.is_folded, wide.is_block


def measure_in_words(width_mm: float, display: Display, *, at_least: bool = False) -> str:
    """Whole millimetres, as beside reckonings in them, or inches to the sixteenth; rounded up with `at_least`."""
    if display == "imperial":
        return format_length(width_mm, display, "small", at_least=at_least)
    return f"{math.ceil(width_mm - 1e-6) if at_least else round(width_mm)} mm"


def told_apart(
    needed_mm: Sequence[float], there_mm: float, display: Display, *, at_least: bool = False
) -> tuple[list[str], str]:
    """What is needed (rounded up with `at_least`) and the less that there is, in cm to the mm or in inches.

    Where both would read alike what is needed is rounded up and what there is down: 500 mm always fit into 500 mm.
    """
    needed = [format_length(mm, display, "small", at_least=at_least) for mm in needed_mm]
    there = format_length(there_mm, display, "small")
    if there in needed:
        needed = [format_length(mm, display, "small", at_least=True) for mm in needed_mm]
        there = format_length(there_mm, display, "small", at_most=True)
    return needed, there
