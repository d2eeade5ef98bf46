"""Plies promised from one roll lie in its stretches between flaws; what is left beside them is what others may have."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.rolls import (
    PliesPromised,
    RollThere,
    free_stretches,
    less_promised,
    less_taken,
    place_promised,
)
from planner.core.rolls.promised import RunOnRoll
from planner.core.rolls.stretches import longest_plies


def test_metres_enough_are_not_stretches_enough() -> None:
    """4.9 m with a flaw from 1.5 to 3.4 m has two stretches of 1.5 m: neither takes 3.52 m or 2.22 m."""
    lays = (PliesPromised(3520.0, 1), PliesPromised(2220.0, 1))
    assert place_promised(5900.0, [], lays).fits
    placed = place_promised(4900.0, [(1500.0, 3400.0)], lays)
    assert (placed.short, placed.taken, placed.fits) == ((1, 1), (), False)
    # Without the flaw one of them fits, with a flaw elsewhere the other does.
    assert place_promised(4900.0, [], lays).short == (0, 1)
    assert place_promised(4900.0, [(2300.0, 2400.0)], lays).short == (1, 0)


def test_as_little_as_possible_is_short_and_both_plies_of_a_pair_are_or_none() -> None:
    pair = PliesPromised(1000.0, 4, 2)
    assert place_promised(3500.0, [(1500.0, 1500.0)], [pair]).short == (2,)
    assert place_promised(4500.0, [(1500.0, 1500.0)], [pair]).short == (0,)


def test_beside_plies_that_lie_behind_a_flaw_the_outer_stretch_is_free() -> None:
    """Taken off the outer end, as if no flaw were there, they left one stretch that is not there."""
    roll = RollThere("R", 10000.0, flaws=((1500.0, 3400.0),))
    left = less_promised(roll, [PliesPromised(2220.0, 1)])
    assert left is not None
    assert free_stretches(left.length_mm, left.flaws) == [(0.0, 1500.0), (5620.0, 10000.0)]
    assert left.is_end
    # What is cut at the outer end shortens the roll, and its flaws come nearer.
    assert less_taken(roll, [(0.0, 1000.0)]) == RollThere("R", 9000.0, flaws=((500.0, 2400.0),), is_end=True)
    assert less_taken(RollThere("R", 1000.0), [(0.0, 1000.0)]) is None


def test_plies_lie_in_the_order_they_are_cut_and_what_is_lost_at_flaws_is_told() -> None:
    """A ply that the flaw is in the way of begins behind it; one before it is unaffected."""
    ply = PliesPromised(2430.0, 1)
    assert place_promised(13000.0, [(500.0, 800.0)], [ply]).runs == (RunOnRoll(0, 1, 800.0, 3230.0, 800.0),)
    placed = place_promised(13000.0, [(2900.0, 3200.0)], [replace(ply, plies=3)])
    assert placed.runs == (RunOnRoll(0, 1, 0.0, 2430.0), RunOnRoll(0, 2, 3200.0, 8060.0, 770.0))
    assert placed.lost_mm == 770.0
    # A short ply that comes later is not laid before one that comes first, as long as there is room behind.
    short = PliesPromised(900.0, 1)
    placed = place_promised(13000.0, [(1000.0, 1200.0)], [ply, short])
    assert [run.promise for run in placed.runs] == [0, 1]
    assert placed.lost_mm == 1200.0
    placed = place_promised(4000.0, [(1000.0, 1200.0)], [ply, short])
    assert ([run.promise for run in placed.runs], placed.lost_mm, placed.fits) == ([1, 0], 300.0, True)


def test_a_hair_less_than_is_promised_leaves_nothing_for_others() -> None:
    assert less_promised(RollThere("R", 2960.0), [PliesPromised(1000.0, 3)]) is None


@settings(max_examples=40, deadline=None)
@given(
    st.integers(50, 120),
    st.lists(st.tuples(st.integers(0, 110), st.integers(1, 20)), max_size=3),
    st.lists(st.tuples(st.integers(8, 40), st.integers(1, 3)), min_size=1, max_size=3),
)
def test_plies_lie_in_free_stretches_and_what_is_left_and_taken_is_all_there_was(
    length: int, marked: list[tuple[int, int]], wanted: list[tuple[int, int]]
) -> None:
    length_mm = length * 100.0
    flaws = [(at * 100.0, (at + wide) * 100.0) for at, wide in marked]
    promised = [PliesPromised(ply * 100.0, plies) for ply, plies in wanted]
    placed = place_promised(length_mm, flaws, promised)
    free = free_stretches(length_mm, flaws)
    for low, high in placed.taken:
        assert any(start - 1e-6 <= low and high <= end + 1e-6 for start, end in free)
    taken_mm = sum(high - low for low, high in placed.taken)
    given_mm = sum(
        one.ply_mm * (one.plies - short) for one, short in zip(promised, placed.short, strict=True)
    )
    assert abs(taken_mm - given_mm) < 1e-6
    left = less_taken(RollThere("R", length_mm, flaws=tuple(flaws)), placed.taken)
    free_mm = sum(high - low for low, high in free_stretches(left.length_mm, left.flaws)) if left else 0.0
    assert abs(free_mm + taken_mm - sum(high - low for low, high in free)) <= 1.0 + 1e-6
    # Whatever is short fits nowhere any more.
    longest = (
        max((high - low for low, high in free_stretches(left.length_mm, left.flaws)), default=0.0)
        if left
        else 0.0
    )
    for one, short in zip(promised, placed.short, strict=True):
        assert not short or one.ply_mm > longest - 1e-6


@pytest.mark.parametrize(
    ("flaws", "one", "two"),
    [
        ((), 3000.0, 1500.0),
        # 1.4 m and 1.5 m without a flaw: a ply in each, and no two in either.
        (((1400.0, 1500.0),), 1500.0, 1400.0),
        # 0.5 m and 2.4 m: both in the longer piece.
        (((500.0, 600.0),), 2400.0, 1200.0),
        (((0.0, 3000.0),), 0.0, 0.0),
    ],
)
def test_how_long_plies_may_be_of_which_a_roll_gives_one_or_both_of_a_pair(flaws, one, two):
    roll = RollThere("R1", 3000.0, flaws=flaws)
    assert next(iter(longest_plies(roll, 1)), 0.0) == one
    assert next(iter(longest_plies(roll, 2)), 0.0) == two
