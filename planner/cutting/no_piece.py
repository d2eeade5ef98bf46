"""Why plies wait for cloth although a roll has metres enough: no piece between its flaws is long enough."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from planner.core.lays.model import LENGTHS
from planner.core.rolls import RollThere, less_promised, longest_plies
from planner.core.units import format_length
from planner.cutting.counted_on import flaws_in_words
from planner.cutting.models import Lay
from planner.cutting.portions import Portion
from planner.materials.models import Roll
from planner.materials.promised import StillPromised, flaws_of
from planner.materials.washed import left_of_a_metre, mm_as_bought


def flaws_in_the_way(lay: Lay, portions: Sequence[Portion], display: str) -> tuple[str, ...]:
    """Which flaws are the reason that cloth is to be bought for what is still to cut of a lay: a sentence a roll.

    Cloth that is washed first is told as it lies on the table, as the plies are that it is to give. No query where
    nothing is to be bought, else three at most.
    """
    colours = {
        portion.cloth.fabric_colour_id: portion.cloth.fabric_colour for portion in portions if portion.to_buy
    }
    if not colours:
        return ()
    rows = Roll.objects.not_used_up().filter(fabric_colour__in=colours, flaws__isnull=False).order_by("pk")
    rolls = list(rows.distinct())
    flaws = flaws_of({roll.pk: roll.left_m for roll in rolls})
    fabric = next(iter(colours.values())).fabric
    promises = StillPromised().promises
    ply_mm = mm_as_bought(
        (lay.marker.length_mm or lay.estimated_length_mm) + 2 * lay.end_allowance_mm,
        fabric.shrinkage_handling,
        fabric.shrinkage_length_percent,
    )
    each, found = LENGTHS[lay.mode], []  # type: ignore[index]
    for roll in rolls:
        left_mm = float(roll.left_m) * 1000
        there = RollThere(
            roll.number,
            left_mm,
            flaws=tuple((float(a) * 1000, float(b) * 1000) for a, b in flaws.get(roll.pk, ())),
        )
        beside = less_promised(there, [promise.plies for promise in promises.get(roll.pk, ())])
        longest_mm, all_mm = _longest(beside, each), _longest(there, each)
        if there.flaws and longest_mm < ply_mm <= left_mm / each:
            # Where all of the roll would not do either, what is promised of it is not the reason.
            others = " beside what is promised" if all_mm >= ply_mm else ""
            piece_mm = longest_mm if others else all_mm
            words = _on_table_in_words(roll, flaws[roll.pk], left_of_a_metre(fabric), display)
            gives = "no piece of it is longer than" if each == 1 else "it gives no two plies longer than"
            piece = _metres(piece_mm * float(left_of_a_metre(fabric)), display)
            found.append(f"{words} {gives} {piece}{others}.")
    return tuple(found)


def _on_table_in_words(
    roll: Roll, flaws: Sequence[tuple[Decimal, Decimal]], left_of_it: Decimal, display: str
) -> str:
    """ "R1 has 3.61 m left, washed, but for its flaw from 1.0 m to 1.2 m"."""
    washed = ", washed" if left_of_it != 1 else ""
    lie = [(low * left_of_it, high * left_of_it) for low, high in flaws]
    left = _metres(float(roll.left_m * left_of_it) * 1000, display)
    return f"{roll.number} has {left} left{washed}, but {flaws_in_words(lie, display)}"


def _longest(roll: RollThere | None, each: int) -> float:
    """How long plies may be so that a roll gives one, or both of a pair (mm)."""
    return next(iter(longest_plies(roll, each)), 0.0) if roll is not None else 0.0


def _metres(mm: float, display: str) -> str:
    return format_length(mm, display=display, kind="cloth")  # type: ignore[arg-type]
