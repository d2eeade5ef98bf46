"""Which lay of a batch is cut when: the same on its page, on its papers and at the table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.core.lays.order import LayState, brought_forward, cutting_order
from planner.cutting.models import Batch, Lay
from planner.materials.promised import StillPromised
from planner.papers.order import before_in_words


def in_turn(lays: Sequence[Lay], at_flaws: Mapping[int, int] | None = None) -> list[Lay]:
    """Lays (read `with_turn`, or given what it notes) in the order they are cut. `at_flaws` are the turns that rolls
    with flaws give them (see `FlawsAhead.turns_of`), by their numbers. No query.
    """
    by_number = {lay.number: lay for lay in lays}
    return [by_number[number] for number in cutting_order(_states(lays, at_flaws or {}))]


def forward_in_words(lays: Sequence[Lay], at_flaws: Mapping[int, int]) -> dict[int, str]:
    """By lay (number) which others it comes before for the sake of flaws alone, in words. No query."""
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
    """The number of the lay whose turn it is, 0 where all are cut. One query, three where several have rolls with
    flaws.
    """
    uncut = list(batch.lays.filter(cut_at__isnull=True).with_turn().with_flaws_told())
    turns = {}
    if sum(lay.has_flaws for lay in uncut) > 1:
        found = StillPromised().at_flaws
        turns = {number: turn for (own, number), turn in found.items() if own == batch.number}
    return in_turn(uncut, turns)[0].number if uncut else 0
