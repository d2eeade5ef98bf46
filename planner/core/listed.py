"""Several things in one sentence, and one."""

from __future__ import annotations

from collections.abc import Sequence


def listed(words: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"; "" for none."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def counted(number: int, one: str, several: str = "") -> str:
    """ "1 bundle", "5 bundles", "1,200 bundles"; `several` where more than an s makes it: "1 garment is"."""
    return f"{number:,} {one if number == 1 else several or f'{one}s'}"


def ordinal(number: int) -> str:
    """ "1st", "2nd", "11th"."""
    ending = "th" if number % 100 in {11, 12, 13} else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def lays_listed(numbers: Sequence[int]) -> str:
    """ "lay 3", "lays 3, 4 and 7". At least one number."""
    return f"lay{'s' if len(numbers) > 1 else ''} {listed([str(number) for number in numbers])}"
