"""How near nesting comes to the shortest strips published, instance by instance.

    python -m tests.bench.bench_nesting [seconds] [instance ...]

Default: 60 s each, all seven, one after another. Prints the ratio of each and the mean; the budget is a mean
of 1.03 at 60 s on two cores. Every arrangement is judged for overlap before its figure counts.
"""

import sys
import time

from planner.core.lays.solver import arrangements
from tests.outside import esicup


def main(seconds: float, names: list[str]) -> None:
    """Prints a line for each instance and the mean."""
    ratios = []
    for name in names:
        instance = esicup.read(name)
        started = time.monotonic()
        first_at, last = None, None
        for arrangement in arrangements(instance.strip, seconds=seconds, seed=1, workers=2):
            if first_at is None:
                first_at = time.monotonic() - started
            last = arrangement
        if last is None:
            print(f"{name:10} nothing found", flush=True)
            continue
        length = esicup.length_of(instance, last)
        ratios.append(length / esicup.SHORTEST[name])
        print(
            f"{name:10} {length:10.3f} / {esicup.SHORTEST[name]:10.3f} = {ratios[-1]:.4f}"
            f"   first after {first_at:.2f} s, done after {time.monotonic() - started:.1f} s",
            flush=True,
        )
    if ratios:
        print(f"mean of {len(ratios)} at {seconds:.0f} s: {sum(ratios) / len(ratios):.4f}", flush=True)


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0, sys.argv[2:] or list(esicup.SHORTEST))
