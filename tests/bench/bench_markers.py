"""How near 15 s come to ten minutes for markers of one to eight knit tops. Run: python -m tests.bench.bench_markers

    python -m tests.bench.bench_markers [garments ...] [--short SECONDS] [--long SECONDS] [--seeds N] [--sewn-before]

Default: 1, 2, 4, 6 and 8 garments of the demo's tee in several sizes, two-way cloth 1,480 mm wide, 2 mm apart; ten
minutes once and 15 s with three seeds each. The aim is 0.5 %. Prints the pieces, the time of the first nested marker,
and each length against the longer search's. With `--sewn-before` as many garments in other sizes are nested for as
long first, and are the example each time.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence

from fixtures.drafting.styles import STYLES
from planner.core.lays.check import check_marker
from planner.core.lays.model import ItemToLay, Marker, MarkerJob
from planner.core.lays.nest import nest
from tests.core.demo_drafts import cut_of

STYLE = STYLES[0]
OPTIONS = ("", "sleeve: short")
SIZES = ("M", "L", "S", "XL", "M", "XS", "L", "XXL")
BEFORE = ("S", "M", "XL", "L", "S", "XXL", "M", "L")


def job_of(garments: int, sizes: Sequence[str] = SIZES) -> MarkerJob:
    """So many tees, each in the next of the sizes."""
    items: list[ItemToLay] = []
    for number, size in enumerate(sizes[:garments], 1):
        outlines = cut_of(STYLE, size)
        for row in STYLE.pieces:
            if row.role != "body" or row.option not in OPTIONS:
                continue
            for copy in range(row.count):
                mirrored = row.pair and copy % 2 == 1
                outline = outlines[row.name]
                items.append(
                    ItemToLay(
                        STYLE.number,
                        row.name,
                        size,
                        number,
                        mirrored,
                        True,
                        outline.mirrored() if mirrored else outline,
                    )
                )
    return MarkerJob(1480.0, False, 2.0, tuple(items))


def nested(
    job: MarkerJob, seconds: float, seed: int, examples: Sequence[Marker] = ()
) -> tuple[Marker, float]:
    """The marker, and after how many seconds the first nested one came."""
    began, first = time.monotonic(), [float("nan")]

    def tell(marker: Marker) -> None:
        if marker.how != "rows" and first[0] != first[0]:
            first[0] = time.monotonic() - began

    marker = nest(job, seconds=seconds, seed=seed, on_progress=tell, examples=examples)
    assert check_marker(job, marker.placements) == []
    return marker, first[0]


def main() -> None:
    """Prints a line for each number of garments."""
    words = argparse.ArgumentParser()
    words.add_argument("garments", nargs="*", type=int, default=[1, 2, 4, 6, 8])
    words.add_argument("--short", type=float, default=15.0)
    words.add_argument("--long", type=float, default=600.0)
    words.add_argument("--seeds", type=int, default=3)
    words.add_argument("--sewn-before", action="store_true")
    asked = words.parse_args()
    for garments in asked.garments:
        job = job_of(garments)
        before = [nested(job_of(garments, BEFORE), asked.short, 1)[0]] if asked.sewn_before else []
        short = [nested(job, asked.short, 100 * seed + 1, before) for seed in range(asked.seeds)]
        best = nested(job, asked.long, 7)[0].length_mm if asked.long else min(m.length_mm for m, _ in short)
        over = ", ".join(f"{m.length_mm:.1f} ({m.length_mm / best - 1:+.2%})" for m, _ in short)
        firsts = ", ".join(f"{first:.1f}" for _, first in short)
        print(
            f"{garments} garments, {len(job.items)} pieces: {asked.long:.0f} s {best:.1f} mm; "
            f"{asked.short:.0f} s {over}; first nested after {firsts} s",
            flush=True,
        )


if __name__ == "__main__":
    main()
