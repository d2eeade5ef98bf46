"""How near nesting comes to the shortest strips published, instance by instance.

    python -m tests.bench.bench_nesting [seconds] [instance ...] [--library]

Default: 60 s each, all seven, one after another: the library for its share of the time as `nest` gives it, then our own
search on two cores. With --library the library alone. Prints the ratio of each, the processor time it took (on a
machine with other work less than there was to have) and the mean; the goal is a mean of 1.02 at 60 s on two cores.
Every arrangement is judged for overlap before its figure counts.
"""

import os
import sys
import time
from collections.abc import Iterator

from planner.core.lays.runs import runs_for
from planner.core.lays.solver import Arrangement, arrangements, hunted
from tests.outside import esicup


def found(instance: esicup.Instance, seconds: float, *, library: bool) -> Iterator[Arrangement]:
    """What the runs of `nest` find on the bare strip, without a marker's gaps and outlines."""
    strip = instance.strip
    if library:
        yield from arrangements(strip, seconds=seconds, seed=1)
        return
    (run,) = runs_for(sum(s.demand for s in strip.shapes), seconds, fresh=True)
    beside = arrangements(strip, seconds=run.library_seconds, seed=1)
    yield from hunted(strip, seconds=run.seconds, seed=1, beside=beside)


def main(seconds: float, names: list[str], *, library: bool) -> None:
    """Prints a line for each instance and the mean."""
    ratios = []
    for name in names:
        instance = esicup.read(name)
        started, before = time.monotonic(), os.times()
        first_at, length = None, float("inf")
        for arrangement in found(instance, seconds, library=library):
            if first_at is None:
                first_at = time.monotonic() - started
            length = min(length, esicup.length_of(instance, arrangement))
        if first_at is None:
            print(f"{name:10} nothing found", flush=True)
            continue
        after = os.times()
        spent = after.children_user + after.children_system - before.children_user - before.children_system
        ratios.append(length / esicup.SHORTEST[name])
        print(
            f"{name:10} {length:10.3f} / {esicup.SHORTEST[name]:10.3f} = {ratios[-1]:.4f}   first after "
            f"{first_at:.2f} s, done after {time.monotonic() - started:.1f} s, {spent:.0f} processor seconds",
            flush=True,
        )
    if ratios:
        print(f"mean of {len(ratios)} at {seconds:.0f} s: {sum(ratios) / len(ratios):.4f}", flush=True)


if __name__ == "__main__":
    words = [w for w in sys.argv[1:] if w != "--library"]
    main(
        float(words[0]) if words else 60.0,
        words[1:] or list(esicup.SHORTEST),
        library="--library" in sys.argv,
    )
