"""Papers that are on the table: what they said when they were printed, and whether that still holds.

What a paper tells the cutter (plies, rolls, garments, marker, bundles) has a fingerprint, and a short mark made of it.
The mark stands on the paper and on the page, so an old sheet can be told from the new one by eye. When a paper is
asked for, its fingerprint and the moment are noted with the batch; so the page says by itself what has changed since.
A PDF opened by its bare address notes nothing, and says so beside its mark unless what it says was noted before.
Nor does a paper grow old because an order got another day: the page tells the new one, and nothing is cut otherwise.
What was cut meanwhile changes no paper: whoever holds it was there. But a lay that was cut in part, and whose other
plies are lays of their own now, has an old ticket until it is printed again: by the old one they would be cut twice.
Once any cut ticket was printed, a lay to be cut without one is told as well.

Fingerprints of an earlier version of the program, made of something else, cannot be compared with those of today. What
was printed then with another one is not said to have changed, but that it cannot be told (`PaperNow.is_earlier`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from typing import Any

from django.utils import timezone

from planner.cutting.flaws_ahead import FlawsAhead, flaws_ahead
from planner.cutting.laid import valid_spreads
from planner.cutting.models import Batch, Lay
from planner.cutting.paper_facts import bundle_told, lots_told, plies_told, ticket_facts
from planner.cutting.reading import BundleThere

#: Papers of the whole batch; the cut ticket of a lay goes by the lay's number ("3").
SHEET, BUNDLES = "sheet", "bundles"
#: Grows with every change of what a fingerprint is made of; what was noted before this was counted says none.
MADE_OF = 4
#: Where what the cut sheet said of flaws stands in what is noted of it.
_FLAWS = 4
#: Letters and figures of a mark: none that are taken for another in pencil.
_LETTERS, _FIGURES = "ACDEFHKLMNPRTUVWXY", "2345679"


def fingerprints(
    lays: Sequence[Lay], bundles: Sequence[BundleThere], ahead: FlawsAhead | None = None
) -> dict[str, str]:
    """What each paper says now, by its key: all lays of a batch, read with their rolls, or some of them.

    Those of the whole batch are right with all its lays alone. `ahead` are the flaws before their plies; where they are
    not given they are read, as :func:`flaws_ahead` does it.
    """
    ahead = flaws_ahead(lays) if ahead is None else ahead
    flaws = {str(lay.number): ahead.facts(lay.pk) for lay in lays}
    of_each: dict[int, list[BundleThere]] = defaultdict(list)
    for bundle in bundles:
        for pk in dict.fromkeys(lay.pk for lay in bundle.lays):
            of_each[pk].append(bundle)
    of_lay = {str(lay.number): ticket_facts(lay, of_each[lay.pk]) for lay in lays}
    tickets = {key: _with_flaws(facts, flaws[key]) for key, facts in of_lay.items()}
    on_sheet = flaws_on_sheet(lays, ahead)
    sheet = sorted((key, _with_flaws(facts, on_sheet.get(key, ""))) for key, facts in of_lay.items())
    garments = [(lay.number, plies_told(lay)) for lay in lays]
    whole = [
        (*bundle_told(bundle), bundle.shade_lot, [lay.number for lay in bundle.lays]) for bundle in bundles
    ]
    lots = [[lots_told(cloth) for cloth in lay.cloths.all()] for lay in lays]
    found = tickets | {SHEET: sheet, BUNDLES: (whole, garments, lots)}
    return {key: sha256(repr(facts).encode()).hexdigest()[:16] for key, facts in found.items()}


def flaws_on_sheet(lays: Sequence[Lay], ahead: FlawsAhead) -> dict[str, str]:
    """What the cut sheet says of flaws before the plies of lays (by their numbers) that are not cut; of those that are,
    what it said when it was printed, for that was so.
    """
    noted = lays[0].batch.printed.get(SHEET, ()) if lays else ()
    said = noted[_FLAWS] if len(noted) > _FLAWS else {}
    found = {
        f"{lay.number}": said.get(f"{lay.number}", "") if lay.cut_at is not None else ahead.facts(lay.pk)
        for lay in lays
    }
    return {key: facts for key, facts in found.items() if facts}


def _with_flaws(facts: tuple[Any, ...], flaws: str) -> tuple[Any, ...]:
    return (*facts, flaws) if flaws else facts


def mark_of(fingerprint: str, key: str = "") -> str:
    """ "K7R" of a paper of the whole batch, "K7RF" of a cut ticket: short enough to be compared at a glance.

    Two papers in 2268 that differ have the same first three signs. The last one of a ticket goes by the number of its
    lay (the `key`), so that of any 18 lays one after the other no two have the same mark.
    """
    number = int(fingerprint, 16)
    number, first = divmod(number, len(_LETTERS))
    number, figure = divmod(number, len(_FIGURES))
    of_lay = _LETTERS[int(key) % len(_LETTERS)] if key.isdigit() else ""
    return _LETTERS[first] + _FIGURES[figure] + _LETTERS[number % len(_LETTERS)] + of_lay


def mark_now(printed: Mapping[str, Sequence[Any]], key: str, now: Mapping[str, str]) -> str:
    """The mark a paper bears now: of one that is `printed` and says the same still, what stands on it."""
    noted = printed.get(key)
    return _mark_noted(noted) if noted and noted[0] == now[key] else mark_of(now[key], key)


def _mark_noted(noted: Sequence[Any]) -> str:
    """What was printed as its mark; it was not noted by itself when all marks had three signs."""
    return str(noted[3]) if len(noted) > 3 else mark_of(noted[0])


def not_noted(printed: Mapping[str, Sequence[str]], now: Mapping[str, str]) -> frozenset[str]:
    """The papers that were not `printed` with the fingerprints they have now: of these no page can say when they are
    old.
    """
    return frozenset(key for key, found in now.items() if key not in printed or printed[key][0] != found)


@dataclass(frozen=True)
class PaperNow:
    """A paper as it would be printed now. `printed` says when it was last ("at 14:05"), "" where that is not noted.

    `is_old`: it has changed since, and that matters still; or whether it has nobody can tell, where `is_earlier`.
    `mark` is the one it would bear now, `printed_mark` the one it was printed with.
    """

    mark: str
    printed: str = ""
    is_old: bool = False
    printed_mark: str = ""
    #: An earlier version of the program printed it, and what that noted of it cannot be compared.
    is_earlier: bool = False

    @property
    def bears_another(self) -> bool:
        """Whether the printed one bears another mark than it would bear now."""
        return bool(self.printed) and self.printed_mark != self.mark


@dataclass(frozen=True)
class GonePaper:
    """A cut ticket of a lay that is no more, when it was printed and with which mark."""

    lay: str
    printed: str
    mark: str


@dataclass(frozen=True)
class PapersNow:
    """All papers of a batch for its table.

    `old_tickets` are numbers of lays still to be cut, or cut in part; `missing` those of lays to be cut without a
    ticket, where others have one.
    """

    sheet: PaperNow
    bundles: PaperNow
    tickets: dict[int, PaperNow]
    old_tickets: tuple[int, ...] = ()
    missing: tuple[int, ...] = ()
    gone: tuple[GonePaper, ...] = ()

    @property
    def any_old(self) -> bool:
        """Whether a paper that may be on the table no longer holds."""
        return bool(self.sheet.is_old or self.bundles.is_old or self.old_tickets or self.gone)

    @property
    def to_print(self) -> tuple[int, ...]:
        """Lays whose tickets are missing or have changed, by their numbers."""
        return tuple(sorted({*self.old_tickets, *self.missing}))


def papers_now(
    batch: Batch,
    lays: Sequence[Lay],
    bundles: Sequence[BundleThere],
    today: date,
    ahead: FlawsAhead | None = None,
) -> PapersNow:
    """The papers of a batch with all its lays, read with their rolls; `ahead` as for :func:`fingerprints`. No query
    where no roll of them has flaws.
    """
    now = fingerprints(lays, bundles, ahead)
    tickets = {lay.number: paper_now(batch, str(lay.number), now, today) for lay in lays}
    uncut = any(lay.cut_at is None for lay in lays)
    old, missing = old_and_missing(batch.printed, lays, now)
    gone = [key for key in batch.printed if key not in now]
    return PapersNow(
        sheet=paper_now(batch, SHEET, now, today, matters=uncut),
        bundles=paper_now(batch, BUNDLES, now, today, matters=uncut),
        tickets=tickets,
        old_tickets=old,
        missing=missing,
        gone=tuple(
            GonePaper(key, _when(batch.printed[key], today), _mark_noted(batch.printed[key]))
            for key in sorted(gone, key=int)
            if uncut
        ),
    )


def old_and_missing(
    printed: dict[str, Any], lays: Sequence[Lay], now: dict[str, str]
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Numbers of the lays of a batch whose cut tickets no longer hold, and of those to be cut that have none yet.

    None once all is cut; none is missing before the first is printed.
    """
    uncut = [lay.number for lay in lays if lay.cut_at is None]
    if not uncut or not printed.keys() - {SHEET, BUNDLES}:
        return (), ()
    matter = [lay.number for lay in lays if lay.cut_at is None or _is_in_part(lay)]
    noted = {number: printed[str(number)][0] for number in matter if str(number) in printed}
    old = tuple(number for number, found in noted.items() if found != now[str(number)])
    return old, tuple(number for number in uncut if number not in noted)


def _is_in_part(lay: Lay) -> bool:
    """Whether it ended with only some plies cut; the others are lays of their own now."""
    return any(valid_spreads(lay, cloth) < cloth.spreads for cloth in lay.cloths.all())


def paper_now(batch: Batch, key: str, now: dict[str, str], today: date, *, matters: bool = True) -> PaperNow:
    """One paper of a batch; where it no longer `matters`, because all is cut, nothing of it is old."""
    noted = batch.printed.get(key)
    mark = mark_now(batch.printed, key, now)
    if noted is None:
        return PaperNow(mark)
    is_old = matters and noted[0] != now[key]
    is_earlier = is_old and (len(noted) < 3 or noted[2] != MADE_OF)
    return PaperNow(mark, _when(noted, today), is_old, _mark_noted(noted), is_earlier)


def note(
    printed: dict[str, Any],
    keys: Iterable[str],
    now: dict[str, str],
    at: datetime,
    flaws: Mapping[str, str] | None = None,
) -> dict[str, Any]:
    """What is noted of a batch's papers when these are printed: by key the fingerprint, the moment, what the
    fingerprint is made of, and the mark; of the cut sheet also what it says of `flaws` (:func:`flaws_on_sheet`).
    """
    return printed | {
        key: [
            now[key],
            at.isoformat(),
            MADE_OF,
            mark_now(printed, key, now),
            *([dict(flaws)] if key == SHEET and flaws else []),
        ]
        for key in keys
    }


def _when(noted: Sequence[str], today: date) -> str:
    at = timezone.localtime(datetime.fromisoformat(noted[1]))
    return f"at {at:%H:%M}" if at.date() == today else f"on {at.day} {at:%b} at {at:%H:%M}"
