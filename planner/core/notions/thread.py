"""Stitch types as ISO 4915 numbers them, and the thread they take.

A ratio is thread length per length of seam, all threads together. Three ways to one, each better than the one
before: the table of a stitch type, its geometry, or a known length unpicked and measured.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from planner.core.spec import Notion, Position
from planner.core.units import MM_PER_INCH

#: Settings at which geometry stands in for a table value that is missing (common practice): 12 stitches an
#: inch in two to three layers of jersey; a cover or flat seam about 6.4 mm wide, an overedge about 5 mm.
USUAL_STITCH_LENGTH_MM = MM_PER_INCH / 12
USUAL_THICKNESS_MM = 1.5
USUAL_COVER_WIDTH_MM = 6.4
USUAL_OVEREDGE_WIDTH_MM = 5.0


@dataclass(frozen=True, slots=True)
class Geometry:
    """Ratio = base + per_thickness × T/p + per_width × W/p, with stitch length p, thickness T, width W."""

    base: float
    per_thickness: float
    per_width: float = 0.0


@dataclass(frozen=True, slots=True)
class StitchType:
    """A stitch type of ISO 4915 (number and name from memory of the standard).

    `threads` are on the machine at once, each from a cone of its own. `ratio` is used where no geometry is
    known.
    """

    number: str
    name: str
    threads: int
    ratio: float
    geometry: Geometry | None = None


def _from_usual(geometry: Geometry, width_mm: float) -> float:
    """Geometry at the usual settings, rounded to a tenth like the table it completes."""
    stitch, thick = USUAL_STITCH_LENGTH_MM, USUAL_THICKNESS_MM
    return round(
        geometry.base + geometry.per_thickness * thick / stitch + geometry.per_width * width_mm / stitch, 1
    )


_G407 = Geometry(9, 6, 2)
_G514 = Geometry(5, 6, 4)
# No published formula was at hand for 607. Ours: 605 with one needle thread more, which runs along the seam
# once and through it twice a stitch.
_G607 = Geometry(11, 8, 4)

#: By number. Ratios: thread makers' consumption tables (from memory); for 407, 514 and 607, which are not in
#: them, the geometry at the usual settings. Geometry: published apparel-engineering formulas, 607 is ours.
STITCH_TYPES: Mapping[str, StitchType] = MappingProxyType(
    {
        stitch.number: stitch
        for stitch in (
            StitchType("101", "single-thread chainstitch", 1, 4.0, Geometry(3, 2)),
            StitchType("301", "lockstitch", 2, 2.5, Geometry(2, 2)),
            StitchType("304", "zigzag lockstitch", 2, 7.0),
            StitchType("401", "two-thread chainstitch", 2, 5.5, Geometry(4, 2)),
            StitchType("406", "two-needle coverstitch", 3, 18.0, Geometry(7, 2, 2)),
            StitchType("407", "three-needle coverstitch", 4, _from_usual(_G407, USUAL_COVER_WIDTH_MM), _G407),
            StitchType("503", "two-thread overedge", 2, 12.0),
            StitchType("504", "three-thread overedge", 3, 14.0, Geometry(3, 4, 4)),
            StitchType("512", "four-thread mock safety overedge", 4, 18.0),
            StitchType("514", "four-thread overedge", 4, _from_usual(_G514, USUAL_OVEREDGE_WIDTH_MM), _G514),
            StitchType("516", "five-thread safety", 5, 20.0, Geometry(9, 6, 4)),
            StitchType("602", "four-thread cover", 4, 25.0, Geometry(8, 4, 5)),
            StitchType("605", "five-thread cover", 5, 28.0, Geometry(10, 6, 4)),
            StitchType("607", "flat seam", 6, _from_usual(_G607, USUAL_COVER_WIDTH_MM), _G607),
        )
    }
)


#: Shares of a stitch type's thread at needles, loopers (or bobbin) and as cover thread where nobody measured, and
#: where they are from. "From memory": thread makers' consumption tables. "Ours": no table was at hand, so 407, 514
#: and 607 share as 406, 512 and 605 do, and what a 602 or 605 has outside its needles is halved between looper and
#: cover thread.
_SHARES: Mapping[str, tuple[float, float, float]] = MappingProxyType(
    {
        "101": (1.0, 0.0, 0.0),  # its only thread
        "301": (0.5, 0.5, 0.0),  # common practice: tensions in balance
        "304": (0.5, 0.5, 0.0),  # common practice: tensions in balance
        "401": (19.5 / 81.5, 62.0 / 81.5, 0.0),  # published unpicking: 19.5 cm needle, 62.0 cm looper thread
        "406": (0.30, 0.70, 0.0),  # from memory
        "407": (0.30, 0.70, 0.0),  # ours, as of 406
        "503": (0.55, 0.45, 0.0),  # from memory
        "504": (0.20, 0.80, 0.0),  # from memory
        "512": (0.25, 0.75, 0.0),  # from memory
        "514": (0.25, 0.75, 0.0),  # ours, as of 512
        "516": (0.20, 0.80, 0.0),  # from memory
        "602": (0.20, 0.40, 0.40),  # needles from memory, the rest halved
        "605": (0.30, 0.35, 0.35),  # needles from memory, the rest halved
        "607": (0.30, 0.35, 0.35),  # ours, as of 605
    }
)
_POSITIONS: tuple[Position, ...] = ("needle", "looper", "cover")


def shares_at(number: str) -> dict[Position, float]:
    """The share of a stitch type's thread at each position that has any, 1 together. KeyError for an unknown one."""
    return {place: share for place, share in zip(_POSITIONS, _SHARES[number], strict=True) if share}


def ratio_from_geometry(
    number: str, *, stitch_length_mm: float, thickness_mm: float, width_mm: float = 0.0
) -> float:
    """Thread per length of seam from what the stitch looks like.

    `thickness_mm` is the sewn seam's, `width_mm` the stitch's or the span of its needles. The formulas are
    published with S stitches an inch and inches; S·T = T/p, so they hold in mm unchanged. Raises KeyError
    for an unknown stitch type, ValueError where no formula is known or a measure makes no sense.
    """
    geometry = STITCH_TYPES[number].geometry
    if geometry is None:
        raise ValueError(f"no formula is known for stitch type {number}: measure it")
    if not (stitch_length_mm > 0 and thickness_mm >= 0 and width_mm >= 0):
        raise ValueError("the stitch length must be greater than zero, thickness and width not less")
    across = geometry.per_thickness * thickness_mm + geometry.per_width * width_mm
    return geometry.base + across / stitch_length_mm


def ratio_from_unpicked(seam_mm: float, threads_mm: Sequence[float]) -> float:
    """Ratio measured by unpicking `seam_mm` of seam and measuring every thread that came out, in mm."""
    if not seam_mm > 0 or not threads_mm or any(not length > 0 for length in threads_mm):
        raise ValueError("the seam and every thread must be longer than zero")
    return sum(threads_mm) / seam_mm


def cones_needed(need_m: float, cone_m: float, threads_at_once: int) -> int:
    """Cones of one colour that must stand on the machine or the shelf.

    Small lots are governed by cones, not metres: the larger of what the metres need and the thread positions
    of the hungriest machine threaded in the colour.
    """
    if not cone_m > 0:
        raise ValueError("a cone must hold more than nothing")
    # A hair over a full cone is float noise, not another cone.
    return max(math.ceil(need_m / cone_m - 1e-9), threads_at_once, 0)


def cones_on_hand(notion: Notion) -> int:
    """Cones there are to thread a machine with, started ones too.

    Where nobody counted them, no fewer than hold the metres in stock when full.
    """
    if notion.cones is not None:
        return notion.cones
    return math.ceil(max(notion.in_stock, Decimal(0)) / notion.pack_quantity)


def packs_to_buy(notion: Notion, need: float, threads_at_once: int) -> int:
    """Whole packs for what stock lacks of a need (waste included), or the cones a machine has to be threaded with.

    Stock of thread is counted in metres and in cones: started cones thread a machine, empty ones hold nothing.
    """
    short = max(need - float(notion.in_stock), 0.0)
    missing_cones = threads_at_once - cones_on_hand(notion)
    return max(cones_needed(short, float(notion.pack_quantity), 0), missing_cones, 0)
