"""Thousands of damaged pattern files: none may bring anything but pieces or the reader's own error.

Run: python -m tests.bench.bench_pattern_fuzz [how many for each file]
"""

from __future__ import annotations

import sys
import time

from planner.core.pattern_files.model import PatternFileError
from planner.core.pattern_files.read import NotUnderstoodError, read_pattern
from tests.core.pattern_makers import damaged, rules_file, sample_files


def main(count: int) -> None:
    """Damages every sample file so often; prints how many were read, refused, or brought something unexpected."""
    rules = rules_file({n: [(-5, -2), (0, 0), (5, 2)] for n in (1, 2, 3, 4)})
    jobs = [(f"drawing {i}", content, None) for i, content in enumerate(sample_files())]
    jobs += [("grade rules", sample_files()[3], rules)]
    slowest = 0.0
    for title, content, table in jobs:
        tally = {"read": 0, "refused": 0, "not understood": 0, "crashed": 0}
        for seed in range(1_000_000, 1_000_000 + count):
            drawing = content if table else damaged(content, seed)
            start = time.perf_counter()
            try:
                read_pattern(
                    drawing, name="f", rules=damaged(table, seed) if table else None, mend=seed % 2 == 0
                )
                tally["read"] += 1
            except NotUnderstoodError as fault:
                tally["not understood"] += 1
                print(f"{title}, seed {seed}: {fault.__cause__!r}")
            except PatternFileError:
                tally["refused"] += 1
            except Exception as fault:
                tally["crashed"] += 1
                print(f"{title}, seed {seed}: {fault!r}")
            slowest = max(slowest, time.perf_counter() - start)
        print(f"{title:12s} {tally}, slowest so far {slowest * 1000:.0f} ms")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3000)
