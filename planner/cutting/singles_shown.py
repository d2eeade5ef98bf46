"""The lays of single sizes that a plan is held against, as the page lists them: what its saving is reckoned from."""

from __future__ import annotations

from dataclasses import dataclass

from planner.core.cloth import end_of_ply_mm
from planner.core.lays.model import LENGTHS
from planner.core.lays.wishes import PlanFacts, SingleLay
from planner.core.listed import listed
from planner.core.spec import Workshop
from planner.cutting.plan_words import kinds_in_words, length_in_words
from planner.cutting.why import outcome_in_words
from planner.cutting.wording import to_spread_in_words

#: Between a number and its sign, which stay on one line.
NBSP = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True)
class Singles:
    """All of them together, and lay by lay."""

    total: str
    lays: tuple[str, ...]


def singles_shown(facts: PlanFacts | None, shop: Workshop, display: str, currency: str) -> Singles | None:
    """The lays of single sizes with their sum; None where there are none, or a cloth of them is no longer there."""
    if (
        facts is None
        or not facts.single_lays
        or any(one.cloth not in shop.cloths for one in facts.single_lays)
    ):
        return None
    with_style = len({one.garment.style for one in facts.single_lays}) > 1
    return Singles(
        outcome_in_words(facts.single, display, currency),
        tuple(_lay(one, shop, display, with_style=with_style) for one in facts.single_lays),
    )


def _lay(one: SingleLay, shop: Workshop, display: str, *, with_style: bool) -> str:
    """ "S: 2 in a marker of 1.2 m, spread 3 × in ink and 1 × in moss: 4.88 m of cloth"."""
    kind = kinds_in_words([(one.garment.style, one.garment.size)], with_style=with_style)
    length_mm = one.estimated_mm if one.nested_mm is None else one.nested_mm
    spread = listed([f"{count}{NBSP}× in {cloth.colour}" for cloth, count in one.spreads])
    each_mm = LENGTHS[one.mode] * (length_mm + 2 * end_of_ply_mm(shop.cloths[one.cloth]))
    cloth = to_spread_in_words(each_mm * sum(count for _, count in one.spreads) / 1000, display)
    guess = "" if one.nested_mm is not None else ", as estimated"
    return (
        f"{kind}: {one.per_marker} in a marker of {length_in_words(length_mm, display)}{guess}, spread {spread}: "
        f"{cloth} of cloth"
    )
