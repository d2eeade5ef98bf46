"""Pieces that must lie side by side on their cloth, and are too wide for it together."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import chain, combinations
from typing import Any, ClassVar

from planner.core.cloth import cut_factors, lay_width_mm
from planner.core.lays.blocks import BlockTooWide, bind_blocks
from planner.core.lays.items import job_for
from planner.core.lays.model import MarkerJob
from planner.core.lays.together import CannotMatch
from planner.core.listed import listed
from planner.core.missing import WIDTH_TOLERANCE_MM
from planner.core.spec import Cloth, Garment, Option, PieceSpec, StyleSpec, Workshop
from planner.core.too_wide import told_apart
from planner.core.units import Display
from planner.styles import checks

#: Of pieces of more options than this only those of every garment and of each option alone are tried.
_MOST_OPTIONS = 6


@dataclass(frozen=True, slots=True)
class TooWideBeside(checks.Problem):
    """Pieces that take more width side by side than their cloth lies wide; infinitely much where they find no place."""

    section: ClassVar[str] = "colourways"
    pieces: str
    size: str
    colourway: str
    cloth: str
    across_mm: float
    lies_mm: float

    def __str__(self) -> str:
        return self.told_in("metric")

    def told_in(self, display: Display) -> str:
        """Widths in whole millimetres, or in inches to the sixteenth."""
        return self.told_of([self], display)

    @property
    def told_with(self) -> object:
        """All sizes of these pieces on a cloth."""
        finds_a_place = math.isfinite(self.across_mm)
        return TooWideBeside, self.pieces, self.colourway, self.cloth, finds_a_place

    def told_of(self, alike: Sequence[checks.Problem], display: Display) -> str:
        """How wide they are in each of these sizes."""
        beside = f"{self.pieces} must lie side by side on {self.cloth} of the colourway {self.colourway}"
        if not math.isfinite(self.across_mm):
            sizes = listed([one.size for one in alike if isinstance(one, TooWideBeside)])
            return f"{beside}, but find no place beside each other in {sizes}"
        sizes, lies = widths_by_size(alike, self.lies_mm, display)
        return f"{beside}; that takes {sizes}, but it lies {lies} wide"


def widths_by_size(alike: Sequence[Any], lies_mm: float, display: Display) -> tuple[str, str]:
    """ "100.2 cm (S), 105.2 cm (M) and 111.2 cm (L)" of problems that have a size and a width across; and how wide the
    cloth lies, which is too narrow for them.
    """
    widths, lies = told_apart([one.across_mm for one in alike], lies_mm, display)
    return listed([f"{width} ({one.size})" for width, one in zip(widths, alike, strict=True)]), lies


def too_wide_beside(
    spec: StyleSpec, colourway: str, cloth: Cloth, gap_mm: float
) -> Iterator[tuple[TooWideBeside, frozenset[Option]]]:
    """Each with the options whose pieces are in it: what of a style is too wide side by side on a cloth of a colourway.

    Pieces that are narrow enough one upon the other are not looked at any closer.
    """
    cloths = spec.colourways[colourway].cloths
    bound: dict[str, list[PieceSpec]] = {}
    for piece in spec.pieces:
        word = piece.beside_on(shades=cloth.shades)
        if word and cloths.get(piece.role) == cloth.key:
            bound.setdefault(word, []).append(piece)
    for pieces in bound.values():
        for size in spec.sizes:
            found: list[frozenset[Option]] = []
            for options in _choices(pieces):
                # With more pieces it is no narrower.
                if not any(narrower <= options for narrower in found):
                    here = [piece for piece in pieces if piece.option is None or piece.option in options]
                    garment = Garment(spec.number, tuple(sorted(options)), colourway, size)
                    wide = _too_wide(replace(spec, pieces=tuple(here)), garment, cloth, gap_mm)
                    if wide is not None:
                        found.append(options)
                        yield wide, options


def _choices(pieces: Sequence[PieceSpec]) -> Iterator[frozenset[Option]]:
    """Options of the pieces that may be chosen together, one of each detail, few before many."""
    options = list(dict.fromkeys(piece.option for piece in pieces if piece.option is not None))
    most = len({detail for detail, _ in options}) if len(options) <= _MOST_OPTIONS else 1
    for chosen in chain.from_iterable(combinations(options, count) for count in range(most + 1)):
        if len({detail for detail, _ in chosen}) == len(chosen):
            yield frozenset(chosen)


def _too_wide(spec: StyleSpec, garment: Garment, cloth: Cloth, gap_mm: float) -> TooWideBeside | None:
    """What is wrong with the pieces of one word, the only ones of `spec`, in a garment that has but these options."""
    widths = [
        outline.width_mm
        for piece in spec.pieces
        if (outline := piece.outline(garment.size, cloth.key)) is not None
        for _ in range(piece.count)
    ]
    factor, lies_mm = cut_factors(cloth)[1], lay_width_mm(cloth)
    one_upon_the_other = sum(widths) * factor + gap_mm * (len(widths) - 1)
    if len(widths) < 2 or (one_upon_the_other <= lies_mm and not cloth.repeat_width_mm):
        return None
    if max(widths) * factor > lies_mm + WIDTH_TOLERANCE_MM:
        return None  # told of the piece alone
    shop = Workshop({spec.number: spec}, {cloth.key: cloth}, {}, piece_gap_mm=gap_mm)
    try:
        found = _side_by_side(job_for([garment], "open", cloth, shop))
    except KeyError:
        return None  # an outline that is missing is told of by itself
    if found is None:
        return None
    where = f"{cloth.key.fabric}, {cloth.key.colour}"
    return TooWideBeside(found.pieces, garment.size, garment.colourway, where, found.width_mm, lies_mm)


@lru_cache(maxsize=512)
def _side_by_side(job: MarkerJob) -> BlockTooWide | None:
    """Why these pieces cannot lie side by side, None where they can; kept, for it takes some 20 ms."""
    try:
        bind_blocks(job)
    except BlockTooWide as wide:
        return wide.with_traceback(None)
    except CannotMatch:
        pass  # stripes that contradict each other are told of when it is planned
    return None
