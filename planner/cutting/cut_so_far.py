"""What is cut of the lays of a batch, for their papers: of each colour, ply by ply, and where the rest went."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from django.db.models import Prefetch
from django.utils import timezone

from planner.core.lays.model import LAYERS
from planner.core.listed import lays_listed
from planner.cutting.models import Batch, Lay, LayCloth
from planner.cutting.screens_lay import is_in_part
from planner.papers.data import LayPaper
from planner.papers.layers import spreads_in_words


@dataclass(frozen=True)
class CutSoFar:
    """What is cut of a lay, in words; `is_ended` once nothing more of it will be cut.

    `before` says of the rest of another lay what was cut there.
    """

    words: str
    is_ended: bool
    before: str = ""


def cut_so_far(batch: Batch) -> dict[int, CutSoFar]:
    """What is cut of its lays, by their numbers; lays not begun that are nobody's rest are left out.

    Four queries, none as long as the batch is merely planned.
    """
    if batch.state == Batch.State.PLANNED:
        return {}
    rows = batch.lays.select_related("marker").order_by("number")
    cloths = LayCloth.objects.select_related("fabric_colour__fabric")
    lays = {lay.pk: lay for lay in rows.prefetch_related(
        Prefetch("cloths", queryset=cloths), "cloths__facts", "rests"
    )}  # fmt: skip
    found = {}
    for lay in lays.values():
        before = _before(lays[lay.rest_of_id]) if lay.rest_of_id in lays else ""
        if lay.cut_at is not None:
            found[lay.number] = CutSoFar(_ended_in_words(lay), is_ended=True, before=before)
        elif any(cloth.cut_spreads for cloth in lay.cloths.all()):
            found[lay.number] = CutSoFar(_begun_in_words(lay), is_ended=False, before=before)
        elif before:
            found[lay.number] = CutSoFar("", is_ended=False, before=before)
    return found


def _begun_in_words(lay: Lay) -> str:
    """ "BEGUN. Cut: 2 of 5 plies of ink on 28 Nov 2026. Still to cut: 3 plies of ink, 3 plies of moss"."""
    planned, cut = _by_colour(lay)
    left = [f"{spreads_in_words(n - cut[c], lay.way)} of {c}" for c, n in planned.items() if n > cut[c]]
    return f"BEGUN. Cut: {_cut_in_words(lay, planned, cut)}. Still to cut: {', '.join(left)}"


def _ended_in_words(lay: Lay) -> str:
    """ "CUT on 28 Nov 2026", "CUT in part: 1 of 2 plies of ink on 28 Nov 2026. The other one is to be cut as lay 7"."""
    if not is_in_part(lay):
        return f"CUT on {_day(lay.cut_at)}"
    planned, cut = _by_colour(lay)
    rest = planned.total() - cut.total()
    other, are, were = ("The other one", "is", "was") if rest == 1 else (f"The other {rest}", "are", "were")
    rests = sorted(lay.rests.all(), key=lambda one: one.number)
    words = f"CUT in part: {_cut_in_words(lay, planned, cut)}. {other}"
    if not rests:
        return f"{words} {were} not cut"
    named = lays_listed([one.number for one in rests])
    if all(one.cut_at is not None for one in rests):
        return f"{words} {were} cut as {named}"
    return f"{words} {are} to be cut as {named}"


def _before(lay: Lay) -> str:
    """ "The rest of lay 1, of which 3 of 5 plies of ink were cut on 28 Nov 2026"."""
    planned, cut = _by_colour(lay)
    were = "was" if cut.total() == 1 else "were"
    return f"The rest of lay {lay.number}, of which {_cut_in_words(lay, planned, cut, f' {were} cut')}."


def _by_colour(lay: Lay) -> tuple[Counter[str], Counter[str]]:
    """Spreads planned and cut of each colour, in the order they lie."""
    planned: Counter[str] = Counter()
    cut: Counter[str] = Counter()
    for cloth in lay.cloths.all():
        planned[cloth.fabric_colour.name] += cloth.spreads
        cut[cloth.fabric_colour.name] += cloth.cut_spreads or 0
    return planned, cut


def _cut_in_words(lay: Lay, planned: Counter[str], cut: Counter[str], were: str = "") -> str:
    """ "2 of 5 plies of ink on 28 Nov 2026"; every colour that is begun, with the days it was cut on."""
    days: dict[str, dict[str, None]] = defaultdict(dict)
    for cloth in lay.cloths.all():
        told = [fact for fact in cloth.facts.all() if fact.taken_back_at is None and fact.spreads]
        for fact in sorted(told, key=lambda one: one.told_at):
            days[cloth.fabric_colour.name][_day(fact.told_at)] = None
    parts = []
    for colour, count in planned.items():
        if cut[colour]:
            on = f" on {' and '.join(days[colour])}" if days[colour] else ""
            parts.append(f"{cut[colour]} of {spreads_in_words(count, lay.way)} of {colour}{were}{on}")
    return ", ".join(parts) or "nothing"


def _day(moment: datetime | None) -> str:
    if moment is None:
        return ""
    day = timezone.localtime(moment)
    return f"{day.day} {day:%b %Y}"


def told_cut(papers: Iterable[LayPaper], cut: Mapping[int, CutSoFar]) -> tuple[LayPaper, ...]:
    """The papers with what is cut of their lays: in words, and colour by colour where a lay is begun."""
    return tuple(_told(paper, cut[paper.number]) if paper.number in cut else paper for paper in papers)


def _told(paper: LayPaper, so_far: CutSoFar) -> LayPaper:
    told = replace(paper, cut=so_far.words, is_cut=so_far.is_ended, before=so_far.before)
    if so_far.is_ended:
        return replace(told, ply_rows=tuple(replace(row, is_cut=False) for row in paper.ply_rows))
    if not so_far.words or not paper.ply_rows:
        return told
    each = LAYERS[paper.mode]  # type: ignore[index]
    cut: Counter[str] = Counter()
    for row in paper.ply_rows:
        if row.is_cut:
            cut[row.colour] += (row.last - row.first + 1) // each
    return replace(told, plies_cut=tuple((c, cut[c]) for c, _ in paper.plies))
