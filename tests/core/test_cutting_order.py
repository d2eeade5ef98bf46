"""Lays in the order they are cut."""

from __future__ import annotations

from planner.core.lays.order import LayState, cutting_order


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
