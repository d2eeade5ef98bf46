"""What is said before the papers of very many lays are asked for: about how long they take, and which part may do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.core.listed import counted, lays_listed
from planner.cutting.models import Lay

#: About so many seconds a lay, on the cut sheet and on its ticket, and a bundle on its own: measured with 1,211 lays
#: and 2,074 bundles on two processors that had other work besides.
SHEET_SECONDS, TICKET_SECONDS, BUNDLE_SECONDS = 0.08, 0.1, 0.02
#: What takes less than this is not spoken of (s).
LONG = 20.0


@dataclass(frozen=True)
class Part:
    """Some lays of a batch: their `numbers` as the form sends them, and in words ("lays 1 to 40")."""

    numbers: str
    words: str


@dataclass(frozen=True)
class MuchPaper:
    """That papers take long, in words, and the parts of them that may be asked for."""

    words: str
    parts: tuple[Part, ...]


def much_paper(lays: Sequence[Lay], shown: Sequence[Lay], bundles: int) -> MuchPaper | None:
    """For a batch with these lays and so many bundles, of which a page shows some; None where no paper takes long.

    Parts are the lays that are shown, and those still to be cut where some are cut.
    """
    seconds = {
        "the cut sheet": SHEET_SECONDS * len(lays),
        "the cut tickets": TICKET_SECONDS * len(lays),
        "the bundle tickets": BUNDLE_SECONDS * bundles,
    }
    slow = [f"{name} {_about(took)}" for name, took in seconds.items() if took >= LONG]
    if not slow:
        return None
    count = f"{len(lays):,} lays" if bundles == 0 else f"{len(lays):,} lays and {counted(bundles, 'bundle')}"
    words = f"{count} take a while: {', '.join(slow)}. The new tab stays empty until then."
    uncut = [lay for lay in lays if lay.cut_at is None]
    parts = [_part(shown)] if len(shown) < len(lays) else []
    if 0 < len(uncut) < len(lays) and {lay.pk for lay in uncut} != {lay.pk for lay in shown}:
        parts.append(_part(uncut, " still to be cut"))
    return MuchPaper(words, tuple(parts))


def _part(lays: Sequence[Lay], besides: str = "") -> Part:
    numbers = sorted(lay.number for lay in lays)
    told = lays_listed(numbers)
    if besides or len(told) > 60:
        told = f"the {counted(len(numbers), 'lay')}{besides or ' shown below'}"
    return Part(",".join(map(str, numbers)), told)


def _about(seconds: float) -> str:
    """ "about half a minute", "about 2 minutes"."""
    if seconds < 45:
        return "about half a minute"
    minutes = round(seconds / 60)
    return "about a minute" if minutes < 2 else f"about {minutes} minutes"
