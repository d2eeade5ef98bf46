"""How long plies may be so that what lies there gives them. Lengths are mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.core.cut_plan.model import PlanQuestion
from planner.core.rolls import RollThere, longest_plies


def plies_there_mm(rolls: Sequence[RollThere], each: int, wide_mm: float) -> tuple[float, ...]:
    """How long plies may be so that some roll wide enough gives `each` of them (1, or 2 for a pair), the longest
    first."""
    found = {
        length_mm
        for roll in rolls
        if roll.usable_width_mm is None or roll.usable_width_mm >= wide_mm - 1e-6
        for length_mm in longest_plies(roll, each)
    }
    return tuple(sorted(found, reverse=True))


def no_longer(
    question: PlanQuestion, longest_mm: Sequence[float | None], pairs_mm: Sequence[float | None]
) -> PlanQuestion:
    """The question with further limits for the plies of each column: `longest_mm`, and `pairs_mm` where they lie face
    to face; None sets no limit."""
    rolls = question.roll_lengths_mm or (None,) * len(longest_mm)
    pairs = question.pair_lengths_mm or tuple(None if mm is None else mm / 2 for mm in rolls)
    return replace(
        question, roll_lengths_mm=_lesser(rolls, longest_mm), pair_lengths_mm=_lesser(pairs, pairs_mm)
    )


def _lesser(these: Sequence[float | None], those: Sequence[float | None]) -> tuple[float | None, ...]:
    both = zip(these, those, strict=True)
    return tuple(min((n for n in pair if n is not None), default=None) for pair in both)
