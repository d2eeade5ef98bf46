"""Markers nested ahead of any batch, as the core asks for them and tells of them.

They are rows that no lay is cut from. A batch that asks the same question takes the answer as from the store; others
may have them as examples.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from planner.core.lays.model import MarkerJob
from planner.core.lays.store import Known
from planner.core.lays.stored import family_of, job_to_json, marker_key
from planner.cutting.marker_store import answer_from_store, marker_fields
from planner.cutting.models import Lay, Marker

#: It is asked at most so often whether somebody else wants to work (s).
BREATH = 1.0
#: So many of them are kept, the newest; each takes some ten kilobytes.
MOST_KEPT = 300


class GaveWay(Exception):  # noqa: N818 - it says what happened
    """Something more urgent is to be done; what was nested so far is kept."""


class AheadStore:
    """Knows all markers that were ever nested, and keeps what is nested ahead. Ends it once `is_wanted_elsewhere`."""

    def __init__(self, is_wanted_elsewhere: Callable[[], bool]) -> None:
        self._ask = is_wanted_elsewhere
        self._asked_at = 0.0
        self._stops = False
        #: How many markers were nested, or nested longer.
        self.nested = 0

    def should_stop(self) -> bool:
        """Whether somebody else wants to work; what is being nested then is not kept, for it had not its time."""
        if not self._stops and time.monotonic() - self._asked_at >= BREATH:
            self._asked_at = time.monotonic()
            self._stops = self._ask()
        return self._stops

    def find(self, job: MarkerJob) -> Known | None:
        """The best answer to just this question. Raises GaveWay where a lay to be cut waits for the same one."""
        if self.should_stop():
            raise GaveWay
        key = marker_key(job)
        known = answer_from_store(key, job)
        if known is not None:
            return Known(known.marker, is_polished=known.seed != Marker.FIRST_SEED)
        if Lay.objects.filter(marker__in=Marker.objects.unfinished().filter(key=key)).exists():
            raise GaveWay
        return None

    def keep(self, job: MarkerJob, known: Known) -> None:
        """Keeps a marker that had its time. Raises GaveWay where it had not."""
        if self.should_stop():
            raise GaveWay
        self.nested += 1
        key = marker_key(job)
        seed = Marker.POLISH_SEED if known.is_polished else Marker.FIRST_SEED
        fields = {"state": Marker.State.READY, "seed": seed, **marker_fields(known.marker)}
        if Marker.objects.ahead().filter(key=key).update(**fields):
            return
        Marker.objects.create(key=key, family=family_of(job), job=job_to_json(job), is_ahead=True, **fields)


def forget_oldest() -> int:
    """Drops what was nested ahead long ago; how many."""
    ahead = Marker.objects.ahead().order_by("-pk")
    newest = list(ahead.values_list("pk", flat=True)[:MOST_KEPT])
    if len(newest) < MOST_KEPT:
        return 0
    return int(Marker.objects.ahead().filter(pk__lt=newest[-1]).delete()[0])
