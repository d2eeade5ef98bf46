"""How long 1,000 bundle tickets take and how much memory. Run: python -m tests.bench.bench_papers"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable

from planner.papers.bundle_tickets import bundle_tickets
from planner.papers.cut_sheets import cut_sheet
from planner.papers.cut_tickets import cut_tickets
from tests.papers import samples


def peak_mb() -> float:
    """The most memory this process has held, in MB (kilobytes on Linux, bytes on macOS)."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 1e6 if sys.platform == "darwin" else peak / 1e3


def timed(name: str, make: Callable[[], bytes]) -> None:
    """Print seconds, size of the file and peak memory so far."""
    start, busy = time.perf_counter(), time.process_time()
    paper = make()
    wall, cpu = time.perf_counter() - start, time.process_time() - busy
    print(
        f"{name:40s} {wall:6.2f} s ({cpu:5.2f} s of CPU) {len(paper) / 1e6:6.2f} MB, peak {peak_mb():4.0f} MB"
    )


def main() -> None:
    """All papers, the budgeted one first while the process is cold."""
    tickets = [samples.ticket(n) for n in range(1, 1001)]
    print("budget for 1,000 bundle tickets: 5 s, 300 MB")
    timed("1,000 bundle tickets, A4 (first, cold)", lambda: bundle_tickets(samples.HEADING, tickets, "A4"))
    timed("1,000 bundle tickets, labels", lambda: bundle_tickets(samples.HEADING, tickets, "label"))
    full = [samples.ticket(n, samples.full_steps()) for n in range(1, 1001)]
    timed("1,000 with every setting, A4", lambda: bundle_tickets(samples.HEADING, full, "A4"))
    timed("1,000 with every setting, labels", lambda: bundle_tickets(samples.HEADING, full, "label"))
    timed("cut sheet, three lays", lambda: cut_sheet(samples.cut_sheet_data()))
    timed("cut ticket, 200 pieces", lambda: cut_tickets(samples.HEADING, [samples.crowded_lay()]))


if __name__ == "__main__":
    main()
