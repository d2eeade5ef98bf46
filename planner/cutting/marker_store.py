"""Markers as rows: the question, the best answer so far, and answers to the same question asked before."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any

from planner.common.drawing import LAYS_KEPT
from planner.core.lays import model as core
from planner.core.lays.blocks import BlockTooWide
from planner.core.lays.examples import MOST_EXAMPLES, is_example_for
from planner.core.lays.numbering import in_order
from planner.core.lays.rows import first_marker
from planner.core.lays.stored import (
    family_of,
    job_from_json,
    job_to_json,
    marker_for,
    marker_from_json,
    marker_key,
    marker_to_json,
)
from planner.core.lays.together import CannotMatch
from planner.cutting.models import Marker
from planner.cutting.tasks import STEP

#: So many markers are looked at for examples, for some are of other widths or were asked before.
_LOOKED_AT = 12
#: A marker with such a seed is at its second slice at least of being nested for longer.
LONG_SEED = 2 * STEP
#: What is said of a marker that was taken from the store.
LAID_BEFORE = "laid as the same pieces were before"

#: How markers met lately were laid, by their digest, for it is asked of all lays of a batch whenever its page is shown.
_HOWS: dict[bytes, tuple[str | None]] = {}
_MOST_HOWS = 5000


class Places(Mapping[str, Any]):
    """`Marker.placements` as it is stored, with the arrangement it stands for: both made once, when they are asked for.
    A page reads the lays of a batch and draws few of them. Nobody writes into it.
    """

    def __init__(self, text: str) -> None:
        self._text = text

    @cached_property
    def _stored(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self._text)
        return found

    def __getitem__(self, name: str) -> Any:
        if name != "how":
            return self._stored[name]
        if (how := self._how) is None:
            raise KeyError(name)
        return how

    @property
    def _how(self) -> str | None:
        """How it was laid; None where that was not noted yet."""
        known = _HOWS.get(self.digest)
        if known is None:
            if len(_HOWS) >= _MOST_HOWS:
                _HOWS.clear()
            # Held here too, for another page may clear what is known in between.
            known = _HOWS[self.digest] = (self._stored.get("how"),)
        return known[0]

    def __iter__(self) -> Iterator[str]:
        return iter(self._stored)

    def __len__(self) -> int:
        return len(self._stored)

    def __bool__(self) -> bool:
        """An arrangement is never empty: that is known without reading it."""
        return True

    @cached_property
    def digest(self) -> bytes:
        """The same for places that are stored alike, letter for letter."""
        return hashlib.sha256(self._text.encode()).digest()

    @cached_property
    def marker(self) -> core.Marker:
        """The arrangement, its pieces in the order of their numbers."""
        found = _numbered(marker_from_json(self._stored))
        # It holds all that was read: the rest is read again where it is asked for, which is seldom.
        self.__dict__.pop("_stored", None)
        return found


@lru_cache(maxsize=LAYS_KEPT)
def places_of_text(text: str) -> Places:
    """The places of a marker as they are stored, letter for letter: those met before need not be read again."""
    return Places(text)


def read_marker(row: Marker) -> core.Marker | None:
    """The best arrangement of a marker so far, its pieces in the order of their numbers."""
    places = row.placements
    if places is None:
        return None
    return places.marker if isinstance(places, Places) else _numbered(marker_from_json(places))


def _numbered(marker: core.Marker) -> core.Marker:
    """Papers, screens and files count the pieces as they come: a marker nested just now comes otherwise than the same
    one from the store.
    """
    return replace(marker, placements=in_order(marker.placements))


def marker_fields(marker: core.Marker) -> dict[str, Any]:
    """What a marker row stores of an arrangement."""
    return {
        "placements": marker_to_json(marker),
        "length_mm": marker.length_mm,
        "efficiency": marker.efficiency,
    }


def make_marker(job: core.MarkerJob, seconds: float) -> Marker:
    """A marker row for a job: ready at once where the same was asked before, else waiting to be nested.

    While it waits it shows the pieces in plain rows, which the nesting starts from.
    """
    row = unsaved_marker(job, seconds)
    row.save()
    return row


def unsaved_marker(job: core.MarkerJob, seconds: float) -> Marker:
    """As :func:`make_marker`, but nothing is written: what takes long is done before anything is locked."""
    key = marker_key(job)
    row = Marker(key=key, family=family_of(job), job=job_to_json(job), seconds=seconds)
    known = answer_from_store(key, job)
    if known is not None:
        row.state = Marker.State.READY
        row.message = LAID_BEFORE
        row.seed = known.seed
    found = known.marker if known else _in_rows(job)
    for name, value in marker_fields(found).items() if found else ():
        setattr(row, name, value)
    return row


def _in_rows(job: core.MarkerJob) -> core.Marker | None:
    """The pieces in plain rows; None where pieces that belong together do not fit: the nesting then says why."""
    try:
        return replace(first_marker(job), how="rows")
    except (BlockTooWide, CannotMatch):
        return None


@dataclass(frozen=True)
class Known:
    """An answer from the store, and the seed it was nested with last: with the first it is still to be polished."""

    marker: core.Marker
    seed: int


def answer_from_store(key: str, job: core.MarkerJob) -> Known | None:
    """The shortest of the answers to the same question, with the names of this job; None where there is none."""
    for old in Marker.objects.answering(key)[:3]:
        found = marker_for(job, marker_from_json(old.placements), job_from_json(old.job))
        if found is not None:
            return Known(found, old.seed)
    return None


def examples_for(row: Marker) -> list[core.Marker]:
    """Markers of the same pieces in other sizes from which the nesting of this one may begin, the best first.

    None once it is being nested for long: they were tried by then.
    """
    if row.seed >= LONG_SEED:
        return []
    found: dict[str, core.Marker] = {}
    for old in Marker.objects.of_other_sizes(row.family, row.key).only("key", "placements")[:_LOOKED_AT]:
        marker = marker_from_json(old.placements)
        if old.key not in found and is_example_for(marker, float(row.job["lay_width_mm"])):
            found[old.key] = marker
        if len(found) == MOST_EXAMPLES:
            break
    return list(found.values())
