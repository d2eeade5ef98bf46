"""Spreads of one colour dealt out to rolls, and those that fit on none. Reckons only; lengths are mm."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.core.rolls import PliesWanted, RollAnswer, RollQuestion, RollThere, assign_plies

#: Time for all plies of one colour (s).
SECONDS = 4.0

#: What was thought over already.
Thought = dict[RollQuestion, RollAnswer]


@dataclass(frozen=True)
class SpreadsWanted:
    """So many `spreads` of a lay, each `lengths` plies of `ply_mm` with its end allowances; `key` names the lay, and
    cloth for it is at least `cloth_width_mm` wide."""

    key: str
    ply_mm: float
    spreads: int
    lengths: int
    cloth_width_mm: float

    def as_plies(self) -> PliesWanted:
        """As plies, as many of a spread from one roll."""
        plies = self.lengths * self.spreads
        return PliesWanted(self.key, self.ply_mm, plies, self.cloth_width_mm, plies_per_spread=self.lengths)


@dataclass(frozen=True)
class SpreadsDealt:
    """Spreads by lay, shade lot and roll, and by lay those that no roll has cloth for."""

    on_rolls: Mapping[tuple[str, str, str], int]
    short: Mapping[str, int]


def answer(question: RollQuestion, thought: Thought) -> RollAnswer:
    """The answer to a question about rolls; one that was asked before is not thought over again."""
    if question not in thought:
        thought[question] = assign_plies(question, seconds=SECONDS)
    return thought[question]


def deal_spreads(
    wanted: Sequence[SpreadsWanted], rolls: tuple[RollThere, ...], keep_mm: float, thought: Thought
) -> SpreadsDealt:
    """The rolls of these spreads, ends of at least `keep_mm` kept.

    Both plies of a spread face to face come from one roll, one after the other or either side of a flaw: so it is told
    and recorded at the table.
    """
    asked = tuple(one.as_plies() for one in wanted)
    found = answer(RollQuestion(asked, rolls, keep_mm), thought)
    each = {one.key: one.lengths for one in wanted}
    plies: dict[tuple[str, str, str], int] = defaultdict(int)
    for cut in found.cuts:
        plies[cut.wanted, cut.shade_lot, cut.roll] += cut.plies
    return SpreadsDealt(
        {place: count // each[place[0]] for place, count in plies.items()},
        {one.wanted: one.plies // each[one.wanted] for one in found.short if one.plies},
    )
