"""Papers that are on the table: what they said when they were printed, and whether that still holds.

What a paper tells the cutter (plies, rolls, garments, marker, bundles) has a fingerprint, and a short mark made of it.
The mark stands on the paper and on the page, so an old sheet can be told from the new one by eye. When a paper is
asked for, its fingerprint and the moment are noted with the batch; so the page says by itself what has changed since.
What was cut meanwhile changes no paper: whoever holds it was there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from typing import Any

from django.utils import timezone

from planner.cutting.models import Batch, Lay, LayCloth
from planner.cutting.reading import BundleThere

#: Papers of the whole batch; the cut ticket of a lay goes by the lay's number ("3").
SHEET, BUNDLES = "sheet", "bundles"
#: Letters and figures of a mark: none that are taken for another in pencil.
_LETTERS, _FIGURES = "ACDEFHKLMNPRTUVWXY", "2345679"


def fingerprints(lays: Sequence[Lay], bundles: Sequence[BundleThere]) -> dict[str, str]:
    """What each paper says now, by its key: all lays of a batch, read with their rolls, or some of them.

    Those of the whole batch are right with all its lays alone.
    """
    of_lay = {str(lay.number): _facts_of(lay, bundles) for lay in lays}
    garments = [(lay.number, [_plies(cloth) for cloth in lay.cloths.all()]) for lay in lays]
    whole = [(*_words(bundle), bundle.shade_lot, [lay.number for lay in bundle.lays]) for bundle in bundles]
    found = of_lay | {SHEET: sorted(of_lay.items()), BUNDLES: (whole, garments)}
    return {key: sha256(repr(facts).encode()).hexdigest()[:16] for key, facts in found.items()}


def mark_of(fingerprint: str) -> str:
    """ "K7R": short enough to be compared at a glance. Two papers in 2268 that differ have the same."""
    number = int(fingerprint, 16)
    number, first = divmod(number, len(_LETTERS))
    number, figure = divmod(number, len(_FIGURES))
    return _LETTERS[first] + _FIGURES[figure] + _LETTERS[number % len(_LETTERS)]


def marks(lays: Sequence[Lay], bundles: Sequence[BundleThere]) -> dict[str, str]:
    """The marks that papers printed now bear, by the key of the paper."""
    return {key: mark_of(found) for key, found in fingerprints(lays, bundles).items()}


@dataclass(frozen=True)
class PaperNow:
    """A paper as it would be printed now. `printed` says when it was last ("at 14:05"), "" where that is not noted.

    `is_old`: it has changed since.
    """

    mark: str
    printed: str = ""
    is_old: bool = False


@dataclass(frozen=True)
class GonePaper:
    """A cut ticket of a lay that is no more, and when it was printed."""

    lay: str
    printed: str


@dataclass(frozen=True)
class PapersNow:
    """All papers of a batch for its table. `old_tickets` are numbers of lays still to be cut."""

    sheet: PaperNow
    bundles: PaperNow
    tickets: dict[int, PaperNow]
    old_tickets: tuple[int, ...] = ()
    gone: tuple[GonePaper, ...] = ()

    @property
    def any_old(self) -> bool:
        """Whether a paper that may be on the table no longer holds."""
        return bool(self.sheet.is_old or self.bundles.is_old or self.old_tickets or self.gone)


def papers_now(batch: Batch, lays: Sequence[Lay], bundles: Sequence[BundleThere], today: date) -> PapersNow:
    """The papers of a batch with all its lays, read with their rolls. No query."""
    now = fingerprints(lays, bundles)
    tickets = {lay.number: paper_now(batch, str(lay.number), now, today) for lay in lays}
    uncut = [lay.number for lay in lays if lay.cut_at is None]
    gone = [key for key in batch.printed if key not in now]
    return PapersNow(
        sheet=paper_now(batch, SHEET, now, today, matters=bool(uncut)),
        bundles=paper_now(batch, BUNDLES, now, today, matters=bool(uncut)),
        tickets=tickets,
        old_tickets=tuple(number for number in uncut if tickets[number].is_old),
        gone=tuple(GonePaper(key, _when(batch.printed[key], today)) for key in sorted(gone) if uncut),
    )


def paper_now(batch: Batch, key: str, now: dict[str, str], today: date, *, matters: bool = True) -> PaperNow:
    """One paper of a batch; where it no longer `matters`, because all is cut, nothing of it is old."""
    noted = batch.printed.get(key)
    if noted is None:
        return PaperNow(mark_of(now[key]))
    return PaperNow(mark_of(now[key]), _when(noted, today), matters and noted[0] != now[key])


def note(printed: dict[str, Any], keys: Iterable[str], now: dict[str, str], at: datetime) -> dict[str, Any]:
    """What is noted of a batch's papers once these are printed: by key the fingerprint and the moment."""
    return printed | {key: [now[key], at.isoformat()] for key in keys}


def _when(noted: Sequence[str], today: date) -> str:
    at = timezone.localtime(datetime.fromisoformat(noted[1]))
    return f"at {at:%H:%M}" if at.date() == today else f"on {at.day} {at:%b} at {at:%H:%M}"


def _facts_of(lay: Lay, bundles: Sequence[BundleThere]) -> tuple[Any, ...]:
    """What the cut ticket of a lay tells: how it is spread, from which rolls, its marker, for which bundles.

    Places of pieces are not looked at: another arrangement has another length.
    """
    rolls = [
        [(roll.roll and (roll.roll.number, roll.roll.shade_lot), roll.spreads) for roll in cloth.rolls.all()]
        for cloth in lay.cloths.all()
    ]
    return (
        (lay.mode, round(lay.lay_width_mm, 1), round(lay.end_allowance_mm, 1)),
        (lay.marker.key, round(lay.marker.length_mm or 0.0, 2)),
        [_plies(cloth) for cloth in lay.cloths.all()],
        rolls,
        [_words(bundle) for bundle in bundles if lay in bundle.lays],
    )


def _plies(cloth: LayCloth) -> tuple[Any, ...]:
    colour = cloth.fabric_colour
    garments = [
        (held.style.number, held.colourway.name, held.size.name, held.per_marker)
        for held in cloth.garments.all()
    ]
    return colour.fabric.name, colour.name, cloth.spreads, garments


def _words(bundle: BundleThere) -> tuple[Any, ...]:
    return bundle.number, bundle.quantity, bundle.style, bundle.colourway, bundle.size
