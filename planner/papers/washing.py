"""What a cutter is told of cloth that is washed before it is cut, in words for papers and screens."""

from __future__ import annotations

from collections.abc import Sequence

from planner.core.listed import listed
from planner.core.units import plain_number
from planner.papers.amounts import THIN
from planner.papers.data import LayPaper, Shrinks


def washing_in_words(shrinks: Shrinks | None) -> str:
    """ "Wash and dry the cloth before it is spread, as the garment will be: this lay is planned on cloth 5 % shorter
    and 3 % narrower than bought."; "" where it is not washed first."""
    if shrinks is None:
        return ""
    less = _less_in_words(shrinks)
    planned = f": this lay is planned on cloth {less} than bought" if less else ""
    return f"Wash and dry the cloth before it is spread, as the garment will be{planned}."


def cloth_to_wash(lays: Sequence[LayPaper]) -> tuple[str, ...]:
    """ "Wash and dry twill, as the garment will be: its lays are planned on cloth 5 % shorter than bought.", for each
    cloth of which something is still to be cut."""
    told = {(lay.fabric, lay.shrinks): None for lay in lays if lay.shrinks and not lay.is_cut}
    return tuple(
        f"Wash and dry {fabric}, as the garment will be"
        + (f": its lays are planned on cloth {less} than bought." if less else ".")
        for fabric, shrinks in told
        if shrinks
        for less in [_less_in_words(shrinks)]
    )


def _less_in_words(shrinks: Shrinks) -> str:
    """ "5 % shorter and 3 % narrower", as it is planned: what stretches in the wash is planned as it was."""
    ways = ((shrinks[0], "shorter"), (shrinks[1], "narrower"))
    return listed([f"{plain_number(round(100 * lost, 2))}{THIN}% {way}" for lost, way in ways if lost > 0])
