"""Neckbands, cuffs, hem and armhole bands: how long, how wide, and whether the head goes through.

L is the seam-line length of the opening, B the finished length of the band's ring, w its finished width, e
the stretch the cloth takes and returns from as a fraction (0.30 = 30 %). All lengths in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from planner.core.too_wide import measure_in_words
from planner.core.units import Display

#: B/L by the rule of thumb (common practice): rib, and stretch jersey cut from the body cloth.
RIB_RATIO = 0.75
SELF_FABRIC_RATIO = 0.85
#: A cloth that gives at least half its length is taken for rib, one that gives less for self-fabric (common practice:
#: a rib band at 0.75 is stretched by a third to its opening, and a third as much again to pull the garment on).
RIB_STRETCH_SHARE = 0.5
#: Girth of a large adult head (from memory; ISO 8559-1 defines the measure, adults are about 540 to 600 mm).
HEAD_GIRTH_MM = 600.0
#: A full neckline that lies flat turns once round.
FULL_TURN = 2.0 * math.pi


@dataclass(frozen=True, slots=True)
class BandProblem:
    """Why a band will not do: it stands up, is stretched too far, does not pass the head, or closes the opening."""

    kind: Literal["stands_up", "overstretched", "head", "closes"]
    text: str


def is_rib(stretch: float) -> bool:
    """Whether a cloth of this usable stretch is reckoned as rib: :data:`RIB_STRETCH_SHARE` or more."""
    return stretch >= RIB_STRETCH_SHARE


def thumb_ratio(stretch: float) -> float:
    """B/L by the rule of thumb: rib 0.75, self-fabric 0.85 (common practice)."""
    return RIB_RATIO if is_rib(stretch) else SELF_FABRIC_RATIO


def least_ratio(stretch: float) -> float:
    """Least B/L that the cloth can be stretched from: L/B − 1 ≤ e, so B/L ≥ 1/(1 + e)."""
    return 1.0 / (1.0 + stretch)


def stretch_needed(opening_mm: float, band_mm: float) -> float:
    """How far the band's seam edge is stretched to fit, as a fraction: L/B − 1 (0 where it is eased)."""
    _check(opening_mm, band_mm)
    return max(opening_mm / band_mm - 1.0, 0.0)


def widest_band_mm(opening_mm: float, stretch: float, turn_rad: float = FULL_TURN) -> float:
    """Widest band that still lies flat within the stretch of the cloth: L·(e/(1+e))/θ."""
    if stretch < 0 or not turn_rad > 0:
        raise ValueError("stretch cannot be less than nothing, and the opening must turn")
    return opening_mm * (stretch / (1.0 + stretch)) / turn_rad


def widest_opening_mm(band_mm: float, stretch: float) -> float:
    """Girth the stretched band lets through: B·(1 + e)."""
    return band_mm * (1.0 + stretch)


def check_band(
    opening_mm: float,
    band_mm: float,
    width_mm: float,
    stretch: float,
    *,
    head_girth_mm: float | None = None,
    turn_rad: float = FULL_TURN,
    display: Display = "metric",
) -> tuple[BandProblem, ...]:
    """What speaks against this band, or nothing. Pass `head_girth_mm` for a closed neck only.

    Lengths are told in whole millimetres, or in inches to the sixteenth.
    """
    problems = []
    flat_mm = opening_mm * max(1.0 - turn_rad * width_mm / opening_mm, 0.0)
    if band_mm > flat_mm + 0.5:
        problems.append(
            BandProblem(
                "stands_up",
                f"The band will stand up: it is {measure_in_words(band_mm, display)} long and only "
                f"{measure_in_words(flat_mm, display)} lie flat.",
            )
        )
    needed = stretch_needed(opening_mm, band_mm)
    if needed > stretch + 1e-9:
        problems.append(
            BandProblem(
                "overstretched",
                f"The band must stretch {needed * 100:.0f} % to fit the opening; "
                f"the cloth takes {stretch * 100:.0f} %.",
            )
        )
    if head_girth_mm is not None and widest_opening_mm(band_mm, stretch) < head_girth_mm:
        problems.append(
            BandProblem(
                "head",
                f"Stretched, the band lets {measure_in_words(widest_opening_mm(band_mm, stretch), display)} through;"
                f" the head needs {measure_in_words(head_girth_mm, display)}.",
            )
        )
    return tuple(problems)


def _check(*lengths_mm: float) -> None:
    if any(not length > 0 for length in lengths_mm):
        raise ValueError("the opening and the band must be longer than zero")
