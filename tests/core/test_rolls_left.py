"""What is still to come from which roll once a lay is begun."""

from planner.core.rolls import still_from


def test_what_was_cut_from_a_roll_counts_against_its_own_share():
    assert still_from([("a", 3), ("b", 2)], {"b": 1}, 4) == [("a", 3), ("b", 1)]
    assert still_from([("a", 3), ("b", 2)], {}, 5) == [("a", 3), ("b", 2)]


def test_what_was_cut_from_another_roll_stands_for_what_was_planned_first():
    assert still_from([("a", 3), ("b", 2)], {"b": 3}, 2) == [("a", 2), ("b", 0)]
    assert still_from([("a", 3), ("b", 2)], {None: 4}, 1) == [("a", 0), ("b", 1)]


def test_a_roll_planned_twice_is_cut_once_and_what_nobody_planned_comes_last():
    assert still_from([("a", 2), ("a", 2)], {"a": 3}, 1) == [("a", 0), ("a", 1)]
    assert still_from([("a", 1)], {}, 3) == [("a", 1), (None, 2)]
