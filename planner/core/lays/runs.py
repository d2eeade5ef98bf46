"""How the time for nesting a marker is shared out: between the library and our own search, and into runs."""

from __future__ import annotations

import math
from dataclasses import dataclass

#: Longest that a searching process runs before another takes over from the best (seconds).
_LONGEST_RUN = 600.0
#: With more pieces than these the library has this share of the time, for our own search is slow to begin with many.
_MANY_PIECES = ((300, 0.5), (150, 0.25))
#: Our own search gets nowhere in less (seconds).
_LEAST_HUNT = 1.5


@dataclass(frozen=True)
class Run:
    """One run: the library for its seconds from the beginning, our own search all the time, or not at all."""

    library_seconds: float
    seconds: float

    @property
    def hunting(self) -> bool:
        return self.seconds > self.library_seconds


def runs_for(piece_count: int, seconds: float, *, fresh: bool, may_hunt: bool = True) -> list[Run]:
    """The time cut into runs with a seed each: `fresh` where there is only plain rows yet.

    Without `may_hunt` the library has all of it.

    The library has something usable after a tenth of a second; our search needs one or two to get ready and does
    better from then on (`tests/bench/bench_nesting.py`). With very many pieces the library has more of the time.
    """
    if not may_hunt:
        return [Run(library_seconds=one, seconds=one) for one in _library_seconds(piece_count, seconds)]
    share = next((share for many, share in _MANY_PIECES if piece_count > many), 0.0)
    first = max(share * seconds, 1.0) if fresh else 0.0
    if seconds - first < _LEAST_HUNT:
        return [Run(library_seconds=seconds, seconds=seconds)]
    # A process that runs all night is begun afresh now and then, so that whatever it holds is given back.
    count = max(1, math.ceil(seconds / _LONGEST_RUN))
    return [Run(library_seconds=0.0 if number else first, seconds=seconds / count) for number in range(count)]


def _library_seconds(piece_count: int, seconds: float) -> list[float]:
    """The library's time cut into runs.

    Up to some 20 pieces another seed gains more than a longer run (measured: seeds differ by 1.1 %, 5 s to
    20 s gain less), so a run is as long as the first improvements take.
    """
    one = 3.0 if piece_count <= 10 else 5.0 if piece_count <= 20 else 20.0 if piece_count <= 40 else 60.0
    runs = max(1, min(8, int(seconds // one)))
    return [seconds / runs] * runs
