"""One band for one opening in one cloth: how long it is cut, why, and what is wrong with it.

A band is proposed at the ratio at which it lies flat where its opening turns (a neckline, an armhole), else at the
rule of thumb (a cuff, a hem), and never shorter than the cloth can be stretched from; see :mod:`bands` for the
formulas. The maker's own ratio is kept whatever is proposed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from planner.core.notions.bands import (
    FULL_TURN,
    HEAD_GIRTH_MM,
    BandProblem,
    check_band,
    is_rib,
    least_ratio,
    thumb_ratio,
    widest_band_mm,
)
from planner.core.spec import BandSpec
from planner.core.too_wide import measure_in_words
from planner.core.units import Display

#: A band is no shorter than what the cloth stretches from, but for rounding.
_HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class BandProposal:
    """A band for one opening and one cloth. Lengths in mm, ratios B/L.

    `rule_ratio` is the rule of thumb, that for rib where `is_rib`; `flat_ratio` the greatest at which it lies flat
    (1 for a straight opening, 0 where nothing would be left inside). `proposed_ratio` is ours, `ratio` what is cut:
    the maker's own where `is_own`. `band_mm` is the finished length of the ring; cut sizes are of one piece.
    `widest_mm` is the widest band that would lie flat in this cloth, None where the opening is straight. `reckoned` is
    the sum behind the cut length and width in words.
    """

    opening_mm: float
    is_rib: bool
    rule_ratio: float
    flat_ratio: float
    proposed_ratio: float
    ratio: float
    is_own: bool
    band_mm: float
    cut_length_mm: float
    cut_width_mm: float
    widest_mm: float | None
    why: str
    problems: tuple[BandProblem, ...]
    reckoned: str = ""


def propose_band(
    band: BandSpec,
    opening_mm: float,
    stretch: float,
    *,
    end_allowances_mm: float = 0.0,
    side_allowances_mm: float = 0.0,
    takes: int = 1,
    opening: str = "opening",
    cloth: str = "this cloth",
    display: Display = "metric",
) -> BandProposal:
    """The band for an opening of this seam-line length in a cloth of this usable stretch (0.30 = 30 %).

    The proposed ratio is 1 − θ·w/L where the opening turns through θ, else the rule of thumb (rib 0.75, self-fabric
    0.85), but no less than 1/(1 + e). Cut length = B / `takes` + the allowances at both ends, cut width = 2·w (w where
    it is not folded) + those of both sides. `display`: the units in which lengths are told, but for what is `reckoned`,
    which is in mm. Raises ValueError for lengths, a ratio or a stretch that are none.
    """
    if not (opening_mm > 0 and band.finished_width_mm > 0):
        raise ValueError("the opening and the band must be longer than zero")
    if stretch < 0 or band.turn_rad < 0 or (band.ratio is not None and not band.ratio > 0):
        raise ValueError("stretch and turn cannot be less than nothing, and a ratio must be more")
    flat = max(1.0 - band.turn_rad * band.finished_width_mm / opening_mm, 0.0)
    wanted = flat if band.turn_rad > 0 else thumb_ratio(stretch)
    proposed = max(wanted, least_ratio(stretch))
    ratio = proposed if band.ratio is None else band.ratio
    layers = 2.0 if band.folded else 1.0
    made = BandProposal(
        opening_mm=opening_mm,
        is_rib=is_rib(stretch),
        rule_ratio=thumb_ratio(stretch),
        flat_ratio=flat,
        proposed_ratio=proposed,
        ratio=ratio,
        is_own=band.ratio is not None,
        band_mm=ratio * opening_mm,
        cut_length_mm=ratio * opening_mm / takes + end_allowances_mm,
        cut_width_mm=layers * band.finished_width_mm + side_allowances_mm,
        widest_mm=widest_band_mm(opening_mm, stretch, band.turn_rad) if band.turn_rad > 0 else None,
        why="",
        problems=(),
    )
    return replace(
        made,
        why=_why(made, band, stretch, opening, cloth, display),
        problems=tuple(_problems(made, band, stretch, cloth, display)),
        reckoned=_reckoned(made, band, stretch, end_allowances_mm, side_allowances_mm, takes),
    )


def _tenths(mm: float) -> str:
    return f"{math.floor(mm * 10 + 0.5) / 10:.1f}".removesuffix(".0")


def _reckoned(
    made: BandProposal, band: BandSpec, stretch: float, ends_mm: float, sides_mm: float, takes: int
) -> str:
    """ "487.6 − 2π × 18 = 374.5, + 14 for the seams = 388.5 long; 2 × 18 + 14 = 50 wide"; in mm."""
    opening, width = _tenths(made.opening_mm), f"{band.finished_width_mm:g}"
    if made.is_own or (made.ratio == made.rule_ratio and not band.turn_rad):
        length = f"{opening} × {made.ratio:.3f}".rstrip("0").removesuffix(".")
    elif made.ratio > made.flat_ratio + _HAIR or not band.turn_rad:
        length = f"{opening} ÷ {1.0 + stretch:.4g}"
    else:
        length = f"{opening} − {_turn_in_words(band.turn_rad)} × {width}"
    length += f" = {_tenths(made.band_mm)}"
    if takes > 1:
        length += f", ÷ {takes} = {_tenths(made.band_mm / takes)}"
    if ends_mm:
        length += f", + {ends_mm:g} for the seams = {_tenths(made.cut_length_mm)}"
    across = f"2 × {width}" if band.folded else width
    across += f" + {sides_mm:g}" if sides_mm else ""
    if band.folded or sides_mm:
        across += f" = {_tenths(made.cut_width_mm)}"
    return f"{length} long; {across} wide"


def _turn_in_words(turn_rad: float) -> str:
    if math.isclose(turn_rad, FULL_TURN):
        return "2π"
    return "π" if math.isclose(turn_rad, math.pi) else f"{turn_rad:.4f}"


def _percent(share: float) -> str:
    return f"{share * 100:.0f}\N{NO-BREAK SPACE}%"


def _width(mm: float, display: Display) -> str:
    """As it was typed, or in inches to the sixteenth."""
    return f"{mm:g} mm" if display == "metric" else measure_in_words(mm, display)


def _width_to_tenth(mm: float, display: Display) -> str:
    return f"{mm:.1f} mm" if display == "metric" else measure_in_words(mm, display)


def _why(
    made: BandProposal, band: BandSpec, stretch: float, opening: str, cloth: str, display: Display
) -> str:
    of_opening = measure_in_words(made.opening_mm, display)
    size = f"{_width(band.finished_width_mm, display)} wide on a {of_opening} {opening}"
    limited = made.proposed_ratio > (made.flat_ratio if band.turn_rad > 0 else made.rule_ratio) + _HAIR
    if band.turn_rad > 0 and not made.flat_ratio:
        found = f"{size} leaves nothing inside"
    elif band.turn_rad > 0:
        found = f"{size} {'would lie' if limited or made.is_own else 'lies'} flat at {made.flat_ratio:.2f}"
    else:
        kind = "rib" if made.is_rib else "self-fabric"
        found = f"a straight {opening} has the rule of thumb for {kind}, {made.rule_ratio:.2f}"
    if made.is_own:
        return f"your own ratio, {made.ratio:.2f}, is kept; {found}"
    if limited and not stretch:
        return f"{found}, but {cloth} has no stretch noted, so the band is as long as the opening"
    if limited:
        return f"{found}, but {cloth} gives only {_percent(stretch)}, so it is cut at {made.ratio:.2f}"
    return f"{found}; {cloth} takes it"


def _problems(
    made: BandProposal, band: BandSpec, stretch: float, cloth: str, display: Display
) -> Iterator[BandProblem]:
    if band.turn_rad > 0 and not made.flat_ratio:
        wide = _width(band.finished_width_mm, display)
        most = measure_in_words(made.opening_mm / band.turn_rad, display)
        text = f"A band {wide} wide closes the opening: it must be narrower than {most}."
        yield BandProblem("closes", text)
    head = HEAD_GIRTH_MM if band.over_head else None
    found = check_band(
        made.opening_mm,
        made.band_mm,
        band.finished_width_mm,
        stretch,
        head_girth_mm=head,
        turn_rad=band.turn_rad,
        display=display,
    )
    for problem in found:
        text = problem.text.replace(" %", "\N{NO-BREAK SPACE}%")
        yield replace(problem, text=text + _what_to_do(problem, made, band, stretch, cloth, display))


def _what_to_do(
    problem: BandProblem, made: BandProposal, band: BandSpec, stretch: float, cloth: str, display: Display
) -> str:
    """What follows the problem: how far the cloth goes, and the widest band that lies flat."""
    if problem.kind == "overstretched":
        # Where the proposal lies flat, a longer band would stand up.
        longer = "" if made.flat_ratio > made.proposed_ratio - _HAIR and band.turn_rad > 0 else " or longer"
        return f" Cut it at {made.proposed_ratio:.2f}{longer}.{_widest_in_words(made, display)}"
    if problem.kind != "stands_up" or not band.turn_rad > 0 or not made.flat_ratio:
        return ""
    if made.flat_ratio < least_ratio(stretch) - _HAIR:
        needed = 1.0 / made.flat_ratio - 1.0
        text = f" To lie flat it must stretch {_percent(needed)}; {cloth} returns from {_percent(stretch)}."
        return text + _widest_in_words(made, display)
    widest = (1.0 - made.ratio) * made.opening_mm / band.turn_rad
    if not widest > 0:
        return f" Cut it at {made.flat_ratio:.2f}."
    return f" Cut it at {made.flat_ratio:.2f}, or no wider than {_width_to_tenth(widest, display)}."


def _widest_in_words(made: BandProposal, display: Display) -> str:
    if made.widest_mm is None:
        return ""
    if not made.widest_mm > 0:
        return " No band of it would lie flat."
    return f" The widest band that would lie flat is {_width_to_tenth(made.widest_mm, display)}."
