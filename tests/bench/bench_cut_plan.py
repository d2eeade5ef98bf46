"""Cut plans of every size, with bounds and times. Run: python -m tests.bench.bench_cut_plan [seconds]

Prints lays against their bound, value, bound, gap and seconds (of the clock and of the processor) for the textbook
plans, a workshop batch, larger random batches, rib bands and ten thousand garments.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Iterator
from dataclasses import replace

from planner.core.cut_plan.check import broken_rules
from planner.core.cut_plan.model import PlanQuestion
from planner.core.cut_plan.solve import solve
from tests.core.cut_plan_makers import question

#: Longer markers are laid closer.
CLOSER = (1.0, 0.96, 0.95, 0.94, 0.935, 0.93)
WORKSHOP = [(2, 1), (5, 3), (8, 4), (6, 4), (3, 2), (1, 0)]
TEN_THOUSAND = [(417, 834, 417), (834, 1667, 834), (417, 834, 417), (834, 1667, 834)]
MONEY = {"objective": "money", "per_lay_cost": 10.0, "per_garment": 0.8, "end_mm": 60.0, "price": 0.012}


def cases() -> Iterator[tuple[str, PlanQuestion]]:
    """Name and question, from small to large."""
    yield "coursework, 5 sizes", question([40, 90, 80, 25, 25], most_plies=50, most_garments=4)
    yield "coursework, 4 sizes", question([100, 160, 120, 60], most_plies=60, most_garments=4)
    yield "coursework, 3 sizes", question([300, 600, 400], most_plies=75, most_garments=5)
    sizes = (1200.0, 1250.0, 1300.0, 1380.0, 1460.0, 1550.0)
    for plies, garments in ((2, 4), (2, 6), (4, 4), (4, 6), (8, 4), (8, 6)):
        limits = {"most_plies": plies, "most_garments": garments, "lengths": sizes, "factors": CLOSER}
        yield f"workshop P{plies} G{garments}", question(WORKSHOP, **MONEY, **limits)
    rng = random.Random(5)
    for kinds, columns in ((6, 2), (6, 2), (8, 3), (5, 4), (10, 1), (12, 2), (12, 2), (8, 4)):
        demand = [[rng.randint(0, 4) for _ in range(columns)] for _ in range(kinds)]
        lengths = tuple(1200.0 + 40 * i for i in range(kinds))
        garments, plies = rng.choice([3, 4, 6]), rng.choice([4, 8, 10])
        limits = {"most_plies": plies, "most_garments": garments, "lengths": lengths, "factors": CLOSER}
        name = f"{kinds} kinds × {columns}, {sum(map(sum, demand))} garments, P{plies} G{garments}"
        yield name, question(demand, **MONEY, **limits)
    bands = [(3, 2), (5, 3), (8, 4), (6, 4), (3, 2), (1, 0), (2, 2), (4, 1), (4, 3), (2, 2), (1, 1), (1, 0)]
    lengths = tuple(60.0 + 5 * i for i in range(12))
    for table in (1200.0, 2500.0, 7000.0):
        limits = {"most_plies": 4, "most_length_mm": table, "lengths": lengths}
        yield f"rib bands, table {table / 1000:g} m", question(bands, **MONEY, **limits)
    limits = {"most_plies": 100, "most_garments": 4, "lengths": (1250.0, 1500.0, 1750.0, 1800.0)}
    yield "10,006 pieces, money", question(TEN_THOUSAND, **MONEY, **limits)
    yield (
        "10,006 pieces, fewest lays",
        question(TEN_THOUSAND, **(MONEY | limits | {"objective": "fewest_lays"})),
    )
    many = [(rng.randint(200, 450),) for _ in range(30)]
    limits = {"most_plies": 2, "most_garments": 4, "lengths": tuple(1200.0 + 10 * i for i in range(30))}
    yield "30 kinds, 10,000 garments", question(many, **MONEY, **limits)


def main() -> None:
    """Solves every case and prints a line for each."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    for name, asked in cases():
        processor = time.process_time()
        answer = solve(asked, seconds=seconds)
        processor = time.process_time() - processor
        alone = solve(replace(asked, apart=(frozenset(range(asked.kinds)),)), seconds=2.0)
        broken = "; BROKEN RULES" if broken_rules(asked, answer.sections) else ""
        print(
            f"{name}: {answer.lays} lays (at least {answer.lays_bound}; size by size {alone.lays}), "
            f"value {answer.value:.3f}, bound {answer.bound:.3f}, gap {answer.gap_share:.2%}, "
            f"{'proven' if answer.is_proven else 'open'}, {answer.method}, "
            f"cost {answer.cost:.2f} against {alone.cost:.2f}, "
            f"{answer.seconds:.2f} s ({processor:.2f} s of processor){broken}",
            flush=True,
        )


if __name__ == "__main__":
    main()
