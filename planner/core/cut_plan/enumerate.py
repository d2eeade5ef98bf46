"""Every marker the demand, the table and the choices allow, as long as there are not too many."""

from __future__ import annotations

from collections.abc import Callable

from planner.core.cut_plan.model import Counts
from planner.core.cut_plan.prepare import TOLERANCE_MM, Marker, Prepared, make_marker


class _TooManyMarkers(Exception):  # noqa: N818 - it says what happened
    pass


def every_marker(
    prepared: Prepared, *, most: int, should_stop: Callable[[], bool] | None = None
) -> list[Marker] | None:
    """All markers of all ways, or None where there are more than `most` (or it was stopped).

    Steps through the counts kind by kind. A branch ends where no column bears the counts any more, or where every
    marker with these garments is certainly too long for those that do. One that is too long itself may well be part of
    one that is not: nested lengths are as they came out.
    """
    found: list[Marker] = []
    try:
        for way in range(len(prepared.question.ways)):
            if prepared.stack_limit(way):
                _Walk(prepared, way, found, most, should_stop).run()
    except _TooManyMarkers:
        return None
    return found


class _Walk:
    """One way's walk through the counts."""

    def __init__(
        self,
        prepared: Prepared,
        way: int,
        found: list[Marker],
        most: int,
        should_stop: Callable[[], bool] | None,
    ) -> None:
        q = prepared.question
        self.prepared, self.way, self.found, self.most = prepared, way, found, most
        self.should_stop = should_stop
        self.mode = q.ways[way]
        self.limit = q.most_garments if q.most_garments is not None else 10**9
        self.longest = [
            prepared.longest_mm(way, c) - q.end_mm + TOLERANCE_MM for c in range(prepared.columns)
        ]
        self.least_each = self.mode.least_mm_each
        self.kinds = [k for k in range(prepared.kinds) if self.mode.steps[k] and max(prepared.high[k]) > 0]
        self.seen = 0

    def run(self) -> None:
        counts = [0] * self.prepared.kinds
        self._extend(counts, 0, 0, list(range(self.prepared.columns)))

    def _extend(self, counts: list[int], start: int, total: int, columns: list[int]) -> None:
        """Adds every multiple of each later kind to counts that are themselves allowed in `columns`."""
        for i in range(start, len(self.kinds)):
            kind = self.kinds[i]
            step = self.mode.steps[kind]
            here = columns
            sum_here = total
            while True:
                counts[kind] += step
                sum_here += step
                here = [c for c in here if counts[kind] <= self.prepared.high[kind][c]]
                if sum_here > self.limit or not here or self._breaks_apart(counts, kind):
                    break
                key: Counts = tuple(counts)
                length = self.mode.length_mm(key)
                least = self._least_mm(key, length)
                here = [c for c in here if least <= self.longest[c]]
                if not here:
                    break
                self._keep(key, length)
                self._extend(counts, i + 1, sum_here, here)
            counts[kind] = 0

    def _least_mm(self, counts: Counts, length_mm: float) -> float:
        """What no marker that holds these garments undercuts; its own length where nothing else is certain."""
        if self.least_each is None:
            return length_mm
        return sum(n * each for n, each in zip(counts, self.least_each, strict=True))

    def _breaks_apart(self, counts: list[int], kind: int) -> bool:
        return any(
            kind in kinds and any(counts[k] for k in kinds if k != kind)
            for kinds in self.prepared.question.apart
        )

    def _keep(self, counts: Counts, length: float) -> None:
        self.seen += 1
        marker = make_marker(self.prepared, self.way, counts, length)
        if marker is not None:
            self.found.append(marker)
        if len(self.found) > self.most or self.seen > 8 * self.most + 1000:
            raise _TooManyMarkers
        if self.should_stop is not None and self.seen % 256 == 0 and self.should_stop():
            raise _TooManyMarkers
