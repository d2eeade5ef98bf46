"""Which lay of a batch is cut when: the same on its page, on its papers and at the table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.core.lays.order import LayState, brought_forward, cutting_order
from planner.cutting.models import Batch, Lay
from planner.materials.promised import StillPromised
from planner.papers.order import before_in_words


def in_turn(lays: Sequence[Lay], at_flaws: Mapping[int, int] | None = None) -> list[Lay]:
    """The lays in the order they are cut; they must be read `with_turn`. No query.

    `at_flaws` gives, by lay number, the turn among lays that share rolls with flaws (see `FlawsAhead.turns_of`).
    """
    by_number = {lay.number: lay for lay in lays}
    return [by_number[number] for number in cutting_order(_states(lays, at_flaws or {}))]


def forward_in_words(lays: Sequence[Lay], at_flaws: Mapping[int, int]) -> dict[int, str]:
    """For each lay (number) that is brought forward only because of flaws: which others it comes before, in words.

    No query.
    """
    found = brought_forward(_states(lays, at_flaws))
    return {number: before_in_words(others) for number, others in found.items()}


def _states(lays: Sequence[Lay], turns: Mapping[int, int]) -> list[LayState]:
    return [
        LayState(
            lay.number,
            lay.cut_at is not None,
            lay.some_cut,
            lay.waits,
            lay.first_due,
            turns.get(lay.number),
        )
        for lay in lays
    ]


def next_to_cut(batch: Batch) -> int:
    """The number of the lay to cut next, 0 where all are cut. One query, three where several have rolls with flaws."""
    uncut = list(batch.lays.filter(cut_at__isnull=True).with_turn().with_flaws_told())
    turns = {}
    if sum(lay.has_flaws for lay in uncut) > 1:
        found = StillPromised().at_flaws
        turns = {number: turn for (own, number), turn in found.items() if own == batch.number}
    return in_turn(uncut, turns)[0].number if uncut else 0
