"""Pieces that do not fit across their cloth: a line for each piece, with its sizes and what can be done."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol


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
    """Whatever says in words why something cannot be planned; one of width may have `too_wide` beside `text`."""

    @property
    def text(self) -> str:
        """The problem as one reads it when it stands alone."""
        ...


def told_once(problems: Iterable[Problem]) -> tuple[str, ...]:
    """The problems as lines, in order and each once; all sizes of a piece that is too wide stand in one line."""
    lines: dict[object, list[TooWide]] = {}
    for one in problems:
        wide: TooWide | None = getattr(one, "too_wide", None)
        if wide is None:
            lines.setdefault(one.text, [])
        else:
            lines.setdefault(_piece_of(wide), []).append(wide)
    return tuple(in_words(found) if found else str(key) for key, found in lines.items())


def in_words(found: Sequence[TooWide]) -> str:
    """One piece of one style on one fabric, too wide in these sizes and colours: what is wrong and what can be done."""
    one = found[0]
    colours = list(dict.fromkeys(wide.colour for wide in found if wide.colour))
    cloth = f"{one.fabric}, {_listed(colours)}" if colours else one.fabric
    widest: dict[str, float] = {}
    for wide in found:
        widest[wide.size] = max(wide.across_mm, widest.get(wide.size, 0.0))
    sizes = _listed([f"{_mm(across)} in {size}" for size, across in widest.items()])
    beside = "must lie side by side and are" if one.is_block else "is"
    lies = "lies folded, so only" if one.is_folded else "lies only"
    return (
        f"{one.piece} of style {one.style} {beside} too wide for {cloth}: {sizes}, but the cloth {lies} "
        f"{_mm(one.lies_mm)} wide. {_remedies(one, list(widest), max(widest.values()))}"
    )


def _remedies(one: TooWide, sizes: Sequence[str], most_mm: float) -> str:
    """ "Let the cloth lie open (980 mm wide), take a cloth that lies at least 520 mm wide, or leave out L." """
    ways = []
    if one.open_mm >= most_mm:
        ways.append(f"let the cloth lie open ({_mm(one.open_mm)} wide)")
    as_it_lies = " when folded" if one.is_folded else ""
    ways.append(f"take a cloth that lies at least {math.ceil(most_mm - 1e-6)} mm wide{as_it_lies}")
    ways.append(f"leave out {_listed(sizes)}")
    what = "let them lie apart" if one.is_block else "change the piece (narrower, or in two with a seam)"
    text = f"{', '.join(ways)}, or {what}."
    return text[0].upper() + text[1:]


def _piece_of(wide: TooWide) -> tuple[object, ...]:
    return wide.style, wide.piece, wide.fabric, wide.lies_mm, wide.open_mm, wide.is_folded, wide.is_block


def _mm(width_mm: float) -> str:
    return f"{width_mm:.0f} mm"


def _listed(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
