"""Beyond exact: the plies of a few rolls are dealt out anew, exactly, again and again."""

from __future__ import annotations

import random
import time
from collections.abc import Callable

from planner.core.rolls.exact import solve_exactly
from planner.core.rolls.simple import Choice
from planner.core.rolls.stretches import Puzzle
from planner.core.rolls.tally import tally, used_by_stretch

#: Rolls dealt out anew at a time, fewest and most, and the seconds one such question may take.
FEWEST, MOST = 3, 8
EACH_SECONDS = 1.0


def search(
    puzzle: Puzzle,
    start: Choice,
    seconds: float,
    *,
    bound: float,
    should_stop: Callable[[], bool] | None = None,
    seed: int = 1,
) -> Choice:
    """The best choice found from `start` within `seconds`; ends early at `bound`, or when told to stop.

    The number of rolls grows where nothing was gained for a while and shrinks where a question took its full
    time. Same question, seed and speed, same answer. Raises NoSolver.
    """
    ends = time.monotonic() + seconds
    chance = random.Random(seed)
    best, value = start, tally(puzzle, start).value
    size, idle = FEWEST, 0
    rolls = list(puzzle.of_roll)
    while value > bound + 1 and (left := ends - time.monotonic()) > 0.05:
        if should_stop is not None and should_stop():
            break
        free = _choose_rolls(puzzle, best, size, chance)
        began = time.monotonic()
        found = solve_exactly(
            puzzle, min(EACH_SECONDS, left), start=best, should_stop=should_stop, free_rolls=free
        )
        if found.choice is not None and (new := tally(puzzle, found.choice).value) <= value:
            idle = 0 if new < value - 0.5 else idle + 1
            best, value = found.choice, new
        if time.monotonic() - began > 0.8 * EACH_SECONDS:
            size = max(size - 1, FEWEST)
        elif idle >= 6:
            size, idle = min(size + 1, MOST, len(rolls)), 0
        if len(free) == len(rolls) and found.is_optimal:
            break
    return best


def _choose_rolls(puzzle: Puzzle, choice: Choice, size: int, chance: random.Random) -> set[int]:
    """Half of them rolls that waste, the others by chance, opened or not."""
    used = used_by_stretch(puzzle, choice)
    rolls = list(puzzle.of_roll)
    wasteful = [
        roll
        for roll in rolls
        if any(
            used[k] and puzzle.remnant_waste(puzzle.stretches[k].length - used[k])
            for k in puzzle.of_roll[roll]
        )
    ]
    chance.shuffle(wasteful)
    free = set(wasteful[: (size + 1) // 2])
    others = [roll for roll in rolls if roll not in free]
    chance.shuffle(others)
    return free | set(others[: size - len(free)])
