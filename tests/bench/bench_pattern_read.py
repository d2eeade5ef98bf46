"""How long a large graded pattern file takes to read. Run: python -m tests.bench.bench_pattern_read"""

from __future__ import annotations

import resource
import sys
import time

from planner.core.pattern_files.model import PatternFileError
from planner.core.pattern_files.read import read_pattern
from tests.core.pattern_makers import graded_nest
from tests.core.test_read_pattern import BOMBS


def peak_mb() -> float:
    """The most memory this process has held, in MB (kilobytes on Linux, bytes on macOS)."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 1e6 if sys.platform == "darwin" else peak / 1e3


def main() -> None:
    """Graded nests of growing size, then files made to choke on."""
    print("budget for 2 MB: 5 s")
    for pieces, sizes, steps in ((8, 6, 60), (14, 10, 90), (18, 12, 200)):
        content = graded_nest(pieces, sizes, steps)
        start, busy = time.perf_counter(), time.process_time()
        pattern = read_pattern(content, name="nest.dxf")
        wall, cpu = time.perf_counter() - start, time.process_time() - busy
        print(
            f"{len(content) / 1e6:5.2f} MB, {len(pattern.pieces):4d} pieces and sizes: {wall:5.2f} s "
            f"({cpu:5.2f} s of CPU), peak {peak_mb():4.0f} MB"
        )
    for title, content in BOMBS.items():
        start = time.perf_counter()
        try:
            read_pattern(content, name="bomb.dxf")
            said = "read"
        except PatternFileError as fault:
            said = str(fault)
        print(f"{title:50s} {time.perf_counter() - start:5.2f} s, peak {peak_mb():4.0f} MB: {said[:90]}")


if __name__ == "__main__":
    main()
