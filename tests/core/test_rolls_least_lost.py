"""Lays are cut from a roll with flaws in the order in which least is lost there, and as they are numbered otherwise."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.rolls import (
    FlawedRoll,
    LayOnRolls,
    PliesPromised,
    free_stretches,
    orders_losing_least,
    place_promised,
)
from planner.core.rolls import least_lost as least_lost_module


def lay(*plies: tuple[float, int], roll: int = 0, rank: int = 0) -> LayOnRolls:
    return LayOnRolls(((roll, tuple(PliesPromised(mm, count) for mm, count in plies)),), rank)


def order(roll: FlawedRoll, *lays: LayOnRolls) -> tuple[int, ...]:
    return orders_losing_least((roll,), (lays,))[0]


def cut_off(roll: FlawedRoll, lays: list[LayOnRolls]) -> tuple[float, float]:
    """What they lose, cut ply by ply one after the other, and up to where; infinity where not all find a place so."""
    at = lost = 0.0
    for ply_mm in [one.ply_mm for each in lays for one in each.plies[0][1] for _ in range(one.plies)]:
        begins = [
            low for low, high in free_stretches(roll.length_mm, roll.flaws) if high - max(low, at) >= ply_mm
        ]
        if not begins:
            return float("inf"), at
        lost += max(begins[0] - at, 0.0)
        at = max(begins[0], at) + ply_mm
    return lost, at


def lost_mm(roll: FlawedRoll, lays: list[LayOnRolls]) -> float:
    return cut_off(roll, lays)[0]


def test_the_lay_that_fills_the_piece_before_the_flaw_comes_first() -> None:
    """2.50 m lie before a flaw of 0.30 m: 1.70 m first loses 0.80 + 0.30 m there, 2.46 m first only 0.04 + 0.30 m."""
    roll = FlawedRoll(10000.0, ((2500.0, 2800.0),))
    short, long = lay((1700.0, 1)), lay((2460.0, 1))
    assert lost_mm(roll, [short, long]) == pytest.approx(1100.0)
    assert lost_mm(roll, [long, short]) == pytest.approx(340.0)
    assert order(roll, short, long) == (1, 0)
    assert order(roll, long, short) == (0, 1)


def test_where_no_order_loses_less_all_stays_as_it_is_numbered() -> None:
    lays = lay((1000.0, 1)), lay((1200.0, 1)), lay((800.0, 1))
    # Whole, with a flaw behind all of it, and with one right at its end.
    assert order(FlawedRoll(9000.0, ()), *lays) == (0, 1, 2)
    assert order(FlawedRoll(9000.0, ((4000.0, 4100.0),)), *lays) == (0, 1, 2)
    assert order(FlawedRoll(9000.0, ((0.0, 300.0),)), *lays) == (0, 1, 2)
    # 1.8 m before the flaw are the first and the third together, so the second comes last.
    assert order(FlawedRoll(9000.0, ((1800.0, 1900.0),)), *lays) == (0, 2, 1)
    # Two alike are never exchanged.
    alike = lay((700.0, 2))
    assert order(FlawedRoll(9000.0, ((2000.0, 2100.0),)), lays[1], alike, alike, lays[2]) == (0, 3, 1, 2)


def test_plies_of_a_lay_stay_together_and_two_flaws_are_looked_at_together() -> None:
    """1.0 m before the first flaw, 2.0 m between both: 1.0, 2 × 1.0 and 1.6 m lose the two flaws and nothing else."""
    roll = FlawedRoll(9000.0, ((1000.0, 1100.0), (3100.0, 3300.0)))
    lays = lay((1600.0, 1)), lay((1000.0, 2)), lay((1000.0, 1))
    best = order(roll, *lays)
    # Two plies of the second lay lie either side of the first flaw, the third lay goes on behind them.
    assert best == (1, 2, 0)
    assert lost_mm(roll, [lays[n] for n in best]) == pytest.approx(300.0)


def test_an_order_in_which_all_find_a_place_comes_before_one_that_loses_less() -> None:
    """5.0 m with a flaw from 2.0 to 3.0 m: 1.2 m first leaves 2.0 m for two plies of 1.0 m, behind the flaw."""
    roll = FlawedRoll(5000.0, ((2000.0, 3000.0),))
    lays = lay((700.0, 1)), lay((1200.0, 1)), lay((1000.0, 2))
    assert lost_mm(roll, [lays[n] for n in order(roll, *lays)]) < float("inf")


def test_what_is_on_the_table_comes_first_and_an_earlier_batch_too() -> None:
    roll = FlawedRoll(10000.0, ((2500.0, 2800.0),))
    begun, better = lay((1700.0, 1)), lay((2460.0, 1), rank=1)
    assert order(roll, begun, better) == (0, 1)
    assert orders_losing_least((roll,), ((begun,), (better,))) == ((0,), (0,))
    # The second batch goes by what the first has left: 0.8 m before the flaw.
    second = lay((900.0, 1)), lay((780.0, 1))
    assert orders_losing_least((roll,), ((begun,), second)) == ((0,), (1, 0))


def test_of_several_rolls_least_is_lost_in_all() -> None:
    """On one roll the first lay had better come first, on the other the second, where more is at stake."""
    rolls = FlawedRoll(9000.0, ((1000.0, 1100.0),)), FlawedRoll(9000.0, ((2000.0, 2100.0),))
    a, b = PliesPromised(1000.0, 1), PliesPromised(900.0, 1)
    c, d = PliesPromised(1500.0, 1), PliesPromised(2000.0, 1)
    lays = LayOnRolls(((0, (a,)), (1, (c,)))), LayOnRolls(((0, (b,)), (1, (d,))))
    assert orders_losing_least(rolls, (lays,)) == ((1, 0),)
    assert orders_losing_least(rolls[:1], ((lay((1000.0, 1)), lay((900.0, 1))),)) == ((0, 1),)
    # Lays that share no roll do not change turns with one another.
    apart = lay((900.0, 1)), lay((1500.0, 1), roll=1), lay((1000.0, 1)), lay((2000.0, 1), roll=1)
    assert orders_losing_least(rolls, (apart,)) == ((2, 3, 0, 1),)


PLIES = st.lists(st.tuples(st.integers(4, 30), st.integers(1, 3)), min_size=1, max_size=2)
FLAWS = st.lists(st.tuples(st.integers(0, 150), st.integers(0, 12)), min_size=1, max_size=4)


def drawn(
    length: int, flaws: list[tuple[int, int]], lays: list[list[tuple[int, int]]]
) -> tuple[FlawedRoll, list]:
    roll = FlawedRoll(length * 100.0, tuple((at * 100.0, (at + wide) * 100.0) for at, wide in flaws))
    return roll, [lay(*((ply * 100.0, count) for ply, count in own)) for own in lays]


@settings(max_examples=60, deadline=None)
@given(st.integers(80, 400), FLAWS, st.lists(PLIES, min_size=2, max_size=5))
def test_no_order_of_few_lays_loses_less_and_of_equal_ones_it_is_the_first(
    length: int, flaws: list[tuple[int, int]], drawn_lays: list[list[tuple[int, int]]]
) -> None:
    roll, lays = drawn(length, flaws, drawn_lays)
    best = order(roll, *lays)
    all_lost = {turns: lost_mm(roll, [lays[n] for n in turns]) for turns in permutations(range(len(lays)))}
    least = min(all_lost.values())
    assert all_lost[best] == pytest.approx(least) or all_lost[best] == least
    if least < float("inf"):
        assert best == min(turns for turns, lost in all_lost.items() if abs(lost - least) < 1e-6)
        # The plies are told to lie so.
        promised = [one for n in best for one in lays[n].plies[0][1]]
        placed = place_promised(roll.length_mm, roll.flaws, promised)
        assert placed.fits
        assert placed.lost_mm == pytest.approx(least)
        free = free_stretches(roll.length_mm, roll.flaws)
        assert all(any(low <= a and b <= high for low, high in free) for a, b in placed.taken)
        # Once the first is cut as told, the others are told as before.
        first, others = best[0], [n for n in range(len(lays)) if n != best[0]]
        _, gone = cut_off(roll, [lays[first]])
        left = FlawedRoll(
            roll.length_mm - gone,
            tuple((max(low - gone, 0.0), high - gone) for low, high in roll.flaws if high >= gone),
        )
        again = order(left, *(lays[n] for n in others))
        assert [others[n] for n in again] == list(best[1:])


@settings(max_examples=25, deadline=None)
@given(st.integers(300, 900), FLAWS, st.lists(PLIES, min_size=8, max_size=14))
def test_many_lays_lose_no_more_than_as_they_are_numbered(
    length: int, flaws: list[tuple[int, int]], drawn_lays: list[list[tuple[int, int]]]
) -> None:
    roll, lays = drawn(length, flaws, drawn_lays)
    assert len(lays) > least_lost_module.MOST_EXACT
    best = order(roll, *lays)
    assert sorted(best) == list(range(len(lays)))
    assert lost_mm(roll, [lays[n] for n in best]) <= lost_mm(roll, lays) + 1e-6
