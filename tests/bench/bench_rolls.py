"""How well plies are put onto rolls, and how fast.

Run on demand: `pytest tests/bench/bench_rolls.py -s -o addopts=`. The published puzzle (lays 100 × 10.5, 80 × 11,
20 × 5.2, 20 × 6.1, 6 × 2 m from rolls 150 × 2, 120 × 4, 100 × 12, 50 × 5, 20 × 3 m) has a least total remnant of 12.0 m
over 22 rolls, and where remnants of 2 m and more are kept waste 0 over 23, both proven by OR-Tools CP-SAT. Workshops:
a few lays from up to 12 rolls of any length, with flaws and shade lots.
"""

from __future__ import annotations

import math
import random
import time

import pytest

from planner.core.rolls import PliesWanted, RollQuestion, RollThere, assign_plies

LAYS_M = ((10.5, 100), (11.0, 80), (5.2, 20), (6.1, 20), (2.0, 6))
ROLLS_M = ((150, 2), (120, 4), (100, 12), (50, 5), (20, 3))


@pytest.mark.parametrize(("keep_from_m", "least"), [(math.inf, "12.0 m over 22"), (2.0, "0 over 23")])
def test_published_puzzle(keep_from_m, least):
    question = RollQuestion(
        tuple(PliesWanted(f"{length} m", length * 1000.0, plies) for length, plies in LAYS_M),
        tuple(RollThere(f"{m} m, {n}", m * 1000.0) for m, count in ROLLS_M for n in range(count)),
        keep_from_m * 1000.0,
    )
    for seconds in (5.0, 60.0):
        _report(f"puzzle, {least}", question, seconds)


@pytest.mark.parametrize(("lays", "rolls"), [(3, 4), (4, 8), (6, 12)])
def test_workshops(lays, rolls):
    chance = random.Random(lays)
    for n in range(5):
        question = RollQuestion(
            _lays(chance, lays),
            _rolls(chance, rolls),
        )
        _report(f"{lays} lays, {rolls} rolls, case {n}", question, 5.0)


def _lays(chance, count):
    return tuple(
        PliesWanted(f"lay {i}", chance.randint(80, 600) * 10.0, each * chance.randint(1, 6), 0.0, each)
        for i in range(count)
        for each in [chance.choice((1, 1, 2))]
    )


def _rolls(chance, count):
    rolls = []
    for j in range(count):
        length = chance.randint(150, 3000) * 10.0
        at = chance.uniform(0, length)
        flaws = ((at, at + 80.0),) if chance.random() < 0.3 else ()
        rolls.append(RollThere(f"roll {j}", length, chance.choice("ab"), None, flaws, chance.random() < 0.3))
    return tuple(rolls)


def _report(what, question, seconds):
    began = time.process_time()
    answer = assign_plies(question, seconds=seconds)
    print(
        f"{what}: waste {answer.waste_mm / 1000:.2f} m over {answer.rolls_opened} rolls, "
        f"short {answer.short_mm / 1000:.2f} m, {'proven' if answer.is_proven else f'gap {answer.gap_mm:.1f} mm'}, "
        f"{answer.method}, {answer.seconds:.1f} s of {seconds:.0f}, {time.process_time() - began:.1f} s of processor"
    )
