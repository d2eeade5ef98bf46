"""Lays in the order they are cut."""

from __future__ import annotations

from datetime import date

from planner.core.lays.order import LayState, brought_forward, cutting_order


def test_begun_before_ready_before_waiting() -> None:
    lays = [
        LayState(1, waits=True),
        LayState(2),
        LayState(3, is_begun=True, waits=True),
        LayState(4, is_cut=True),
    ]
    assert cutting_order(lays) == (4, 3, 2, 1)


def test_by_number_where_there_is_no_difference() -> None:
    assert cutting_order([LayState(3), LayState(1), LayState(2)]) == (1, 2, 3)
    assert cutting_order([]) == ()


def test_what_is_due_first_comes_first_among_lays_that_are_as_far() -> None:
    soon, late = date(2026, 12, 1), date(2026, 12, 20)
    lays = [
        LayState(1, due_on=late),
        LayState(2),
        LayState(3, due_on=soon),
        LayState(4, due_on=soon),
        LayState(5, due_on=soon, waits=True),
        LayState(6, due_on=late, is_begun=True),
        LayState(7, due_on=late, is_cut=True),
        LayState(8, due_on=soon, is_cut=True),
    ]
    assert cutting_order(lays) == (7, 8, 6, 3, 4, 1, 2, 5)


def test_lays_that_share_flawed_rolls_change_turns_with_one_another_and_nobody_else() -> None:
    soon = date(2026, 12, 1)
    lays = [
        LayState(1, at_flaws=2),
        LayState(2),
        LayState(3, at_flaws=1),
        LayState(4, at_flaws=0, waits=True),
        LayState(5, at_flaws=3, is_begun=True),
        LayState(6, at_flaws=4, due_on=soon),
        LayState(7, at_flaws=5, is_cut=True),
    ]
    # Without flaws: 7, 5, 6, 1, 2, 3, 4. What is cut or begun stays first, what waits last.
    assert cutting_order(lays) == (7, 5, 3, 1, 2, 6, 4)
    assert brought_forward(lays) == {1: (6,), 2: (6,), 3: (1, 2, 6)}
    assert brought_forward(lays[1:2]) == {}
