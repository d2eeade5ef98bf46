"""Sizes in the order of their ranges, where garments of several styles lie together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def range_order(ranges: Iterable[Sequence[str]]) -> list[str]:
    """All sizes of these ranges, each from small to large, in one order: "S M L" and "M L XL" are "S M L XL".

    A size that an earlier range has keeps its place; the others stand behind the one before them in their own range.
    """
    found: list[str] = []
    for sizes in ranges:
        place = 0
        for size in sizes:
            if size in found:
                place = max(place, found.index(size) + 1)
            else:
                found.insert(place, size)
                place += 1
    return found


def in_range_order(
    counts: Iterable[tuple[str, int]], ranges: Iterable[Sequence[str]]
) -> tuple[tuple[str, int], ...]:
    """Sizes with their counts in the order of these ranges; a size of none of them stands last, as it came."""
    place = {size: n for n, size in enumerate(range_order(ranges))}
    return tuple(sorted(counts, key=lambda one: place.get(one[0], len(place))))
