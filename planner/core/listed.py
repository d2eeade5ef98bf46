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


#: Up to so many numbers are told one by one; of more, each run of consecutive numbers is told by its first and last.
ONE_BY_ONE = 12


def numbers_listed(numbers: Sequence[int]) -> str:
    """ "3, 4 and 7"; of very many "1 to 538, 540 and 541"."""
    if len(numbers) <= ONE_BY_ONE:
        return listed([str(number) for number in numbers])
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    words = ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(number) for number in run] for run in runs)
    return listed([word for of_run in words for word in of_run])


def lays_listed(numbers: Sequence[int]) -> str:
    """ "lay 3", "lays 3, 4 and 7", of very many "lays 1 to 538". At least one number."""
    return f"lay{'s' if len(numbers) > 1 else ''} {numbers_listed(numbers)}"
