"""Sizes of several styles in one order, from small to large."""

from __future__ import annotations

import pytest

from planner.core.size_order import in_range_order, range_order

SMALL_ONES, LARGE_ONES = ("XS", "S", "M", "L", "XL"), ("M", "L", "XL", "XXL")


@pytest.mark.parametrize(
    ("ranges", "order"),
    [
        ([SMALL_ONES, LARGE_ONES], "XS S M L XL XXL"),
        ([LARGE_ONES, SMALL_ONES], "XS S M L XL XXL"),
        ([("34", "36"), ("S", "M")], "S M 34 36"),
        # Two ranges that contradict each other: the first one holds.
        ([("S", "M"), ("M", "S", "L")], "S M L"),
        ([], ""),
    ],
)
def test_ranges_are_one_order(ranges: list[tuple[str, ...]], order: str) -> None:
    found = range_order(ranges)
    assert found == order.split()


def test_counts_stand_from_small_to_large_whichever_came_first() -> None:
    counts = [("XL", 1), ("S", 2), ("XXL", 2), ("one size", 3)]
    found = in_range_order(counts, [SMALL_ONES, LARGE_ONES])
    assert found == (("S", 2), ("XL", 1), ("XXL", 2), ("one size", 3))
