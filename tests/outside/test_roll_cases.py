"""Plies onto rolls against optima found by other solvers, and a puzzle of the trade that was published.

The optima were found beforehand with OR-Tools CP-SAT and by counting out every choice. The published puzzle (lays of
given lengths from rolls of several lengths, least remnant; its 12.0 m proven by CP-SAT) is too large for a quick test:
`tests/bench/bench_rolls.py` works it out.
"""

import math

import pytest

from planner.core.rolls import PliesWanted, RollQuestion, RollThere, assign_plies

#: (rolls in m, shortest remnant that is kept in m) -> (waste m, short m, rolls opened or None where not recorded)
CASES = [
    ((5.0, 4.0, 3.5), 0.5, (0.2, 0.0, 3)),
    ((5.0, 4.0, 3.5), math.inf, (0.9, 0.0, None)),
    ((5.0, 4.0, 2.0), 0.5, (0.2, 2.2, None)),
]


@pytest.mark.parametrize(("rolls", "keep_from_m", "expected"), CASES)
def test_small_roll_cases(rolls, keep_from_m, expected):
    """Lays 2.4 m × 3 and 1.1 m × 4: optima by CP-SAT and by counting out."""
    question = RollQuestion(
        (PliesWanted("long", 2400.0, 3), PliesWanted("short", 1100.0, 4)),
        tuple(RollThere(f"{n}", length * 1000.0) for n, length in enumerate(rolls)),
        keep_from_m * 1000.0,
    )
    answer = assign_plies(question)
    waste_m, short_m, opened = expected
    assert answer.is_proven
    assert answer.waste_mm / 1000 == pytest.approx(waste_m, abs=1e-6)
    assert answer.short_mm / 1000 == pytest.approx(short_m, abs=1e-6)
    assert opened is None or answer.rolls_opened == opened
