"""How far the nesting of a batch's lays is, fabric by fabric: what is done, what is being done, how long it still
takes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import F

from planner.core.lays.model import LENGTHS
from planner.core.lays.nestings import LEAST_POLISH_SECONDS
from planner.core.listed import lays_listed, listed
from planner.core.units import format_length
from planner.cutting.actions.polishing import is_hurried, pieces_of, polish_seconds, shows_lays
from planner.cutting.actions.table import left_of
from planner.cutting.laid import cloth_mm, valid_spreads
from planner.cutting.models import CutPlan, Lay, LayCloth, Marker
from planner.cutting.nesting_words import POOR_ROWS
from planner.cutting.plan_now import is_begun
from planner.cutting.reading import BatchPlan
from planner.cutting.stored import PlannedBatch
from planner.cutting.tasks import FIRST, FIRST_SEED, SETTLES, urgency_of
from planner.cutting.wording import THIN, to_spread_in_words

#: Seconds by the clock that each lay takes besides its nesting, at least; and looking whether lengths change the plan.
BESIDES, THINKING = 2.0, 5.0
RUNNING = (Marker.State.WAITING, Marker.State.NESTING)


@dataclass(frozen=True)
class PlanProgress:
    """One fabric: `figures` of the lays that are nested, and `now` what is being done, "" for nothing.

    `done` of `steps` nestings are over; each lay is nested twice until the plan stands.
    """

    pk: int
    fabric: str
    figures: str
    now: str
    done: int
    steps: int
    is_moving: bool


def progress_of(
    read: PlannedBatch, display: str, now: datetime | None = None, others: Sequence[Marker] = ()
) -> dict[int, PlanProgress]:
    """How far each plan of the batch is, by the plan's pk. No query. `others`: see :func:`nested_for_others`."""
    if not read.plans:
        return {}
    waits = read.is_settled or any(lay.marker.state == Marker.State.FAILED for lay in read.lays)
    left = "" if waits else _left_in_words(seconds_left(read, now, others))
    first = "" if read.is_settled else _first_in_words(read, others)
    lays = {
        one.plan.pk: [lay for lay in read.lays if lay.fabric_id == one.plan.fabric_id] for one in read.plans
    }
    return {one.plan.pk: _progress(one, lays[one.plan.pk], read, display, first, left) for one in read.plans}


def _progress(
    one: BatchPlan, lays: Sequence[Lay], read: PlannedBatch, display: str, first: str, left: str
) -> PlanProgress:
    settled = one.plan.state == CutPlan.State.SETTLED
    words = (
        _settled_now(lays, _why_held(read))
        if settled
        else " ".join(filter(None, [_open_now(one.plan, lays, read), first, left]))
    )
    twice = [lay for lay in lays if lay.marker.is_final and (settled or lay.marker.seed != FIRST_SEED)]
    return PlanProgress(
        pk=one.plan.pk,
        fabric=one.plan.fabric.name,
        figures=_figures(lays, display),
        now=words,
        done=sum(lay.marker.is_laid for lay in lays) + len(twice),
        steps=2 * len(lays),
        is_moving=not settled,
    )


def _figures(lays: Sequence[Lay], display: str) -> str:
    """ "3 of 7 lays are nested: 11.2 m to spread, 79 % of the cloth used". Once all are cut nobody asks.

    Metres to spread are as planned, of what is still to cut; those told at the table are said beside them, whether
    plies were cut of them or they were spoilt. The share is that of the markers.
    """
    nested = [lay for lay in lays if lay.marker.is_laid]
    if not lays or all(lay.cut_at is not None for lay in lays):
        return ""
    if not nested:
        return (
            "Its lay is not nested yet." if len(lays) == 1 else f"None of its {len(lays)} lays is nested yet."
        )
    to_spread = cut_off = used = marked = 0.0
    for lay in nested:
        length_mm = lay.marker.length_mm or 0.0
        lengths = LENGTHS[lay.mode] * sum(valid_spreads(lay, cloth) for cloth in lay.cloths.all())  # type: ignore[index]
        to_spread += sum(_to_spread_mm(lay, cloth) for cloth in lay.cloths.all())
        cut_off += sum(_cut_off_mm(lay, cloth) for cloth in lay.cloths.all())
        marked += lengths * length_mm * lay.lay_width_mm
        used += lengths * length_mm * lay.lay_width_mm * (lay.marker.efficiency or 0.0)
    which = f"{len(nested)} of {len(lays)} lays {'is' if len(nested) == 1 else 'are'} nested"
    if len(nested) == len(lays):
        which = {1: "Its lay is nested", 2: "Both lays are nested"}.get(
            len(lays), f"All {len(lays)} lays are nested"
        )
    which += _in_rows(nested)
    share = f", {used / marked * 100:.0f}{THIN}% of the cloth used" if marked else ""
    # A calculator comes to a little more by the lengths of the lays, which are told rounded up.
    sums = "Lengths of lays are rounded up, this sum is of the exact ones."
    return f"{which}: {_metres_in_words(to_spread, cut_off, display)}{share}. {sums}"


def _in_rows(nested: Sequence[Lay]) -> str:
    """ ", lay 2 of them in plain rows, nothing better was found"; "" where something better was found for all."""
    rows = [lay.number for lay in nested if lay.marker.is_laid and lay.marker.message == POOR_ROWS]
    if not rows:
        return ""
    which = "" if len(nested) == 1 else f"{_lays(rows).lower()} of them "
    return f", {which}{POOR_ROWS}"


def _metres_in_words(to_spread_mm: float, cut_off_mm: float, display: str) -> str:
    """ "3.51 m to spread"; "3.51 m still to spread, 1.2 m cut off already"."""
    left = to_spread_in_words(to_spread_mm / 1000, display)
    gone = format_length(cut_off_mm, display=display, kind="cloth")  # type: ignore[arg-type]
    if not cut_off_mm:
        return f"{left} to spread"
    return ", ".join(filter(None, [to_spread_mm and f"{left} still to spread", f"{gone} cut off already"]))


def _to_spread_mm(lay: Lay, cloth: LayCloth) -> float:
    """Cloth of one colour still to be spread for a lay (mm). Plies that other lays cut instead take nothing."""
    if lay.cut_at is not None:
        return 0.0
    if cloth.used_m is None:
        return cloth_mm(lay, cloth)
    each = LENGTHS[lay.mode] * ((lay.marker.length_mm or 0.0) + 2 * lay.end_allowance_mm)  # type: ignore[index]
    return left_of(cloth) * each


def _cut_off_mm(lay: Lay, cloth: LayCloth) -> float:
    """Cloth of one colour that was cut off for a lay (mm), as told at the table, or as planned where a cut lay has no
    metres told.
    """
    if cloth.used_m is None:
        return cloth_mm(lay, cloth) if lay.cut_at is not None else 0.0
    return float(cloth.used_m) * 1000


def _open_now(plan: CutPlan, lays: Sequence[Lay], read: PlannedBatch) -> str:
    if plan.state == CutPlan.State.QUICK:
        return "Better lays are being looked for."
    failed = [lay.number for lay in lays if lay.marker.state == Marker.State.FAILED]
    if failed:
        one = len(failed) == 1
        return (
            f"{_lays(failed)} could not be nested, and the plan waits for {'it' if one else 'them'}: "
            f"{'its page says' if one else 'their pages say'} why, and “Nest longer” there tries again."
        )
    being = [lay for lay in lays if lay.marker.state == Marker.State.NESTING]
    if being:
        again = "" if being[0].marker.seed == FIRST_SEED else " once more, to make it shorter"
        return f"Lay {being[0].number} is being nested{again}."
    waiting = [lay for lay in lays if lay.marker.state == Marker.State.WAITING]
    if waiting:
        again = "" if waiting[0].marker.seed == FIRST_SEED else " once more"
        return f"{'1 lay waits' if len(waiting) == 1 else f'{len(waiting)} lays wait'} to be nested{again}."
    if any(lay.marker.state in RUNNING for lay in read.lays):
        return "Waits for the lays of the other fabrics."
    return "Whether the real lengths change the plan is being looked at."


def _settled_now(lays: Sequence[Lay], held: str) -> str:
    """What is still being done for lays of a plan that stands. Of lays that the library nested alone it says whether
    the better search will look at them, which something may hold back (`held`).
    """
    longer = [lay.number for lay in lays if lay.marker.state in RUNNING]
    if longer:
        return f"{_lays(longer)} {'is' if len(longer) == 1 else 'are'} being nested for longer."
    hurried = [lay.number for lay in lays if _is_hurried(lay)]
    if hurried:
        one = len(hurried) == 1
        goes_on = (
            f"{'it stays' if one else 'they stay'} so, for {held}"
            if held
            else f"{'it is nested again by itself' if one else 'they are nested again by themselves'} as soon"
            " as it is, unless something is printed before"
        )
        return (
            f"{_lays(hurried)} {'was' if one else 'were'} nested in a hurry, while the better search was still being"
            f" made ready; {goes_on}."
        )
    alone = [lay.number for lay in lays if lay.cut_at is None and _how(lay) == "library"]
    if not alone:
        return ""
    stay, it, it_can = ("stays", "it", "It") if len(alone) == 1 else ("stay", "them", "They")
    return (
        f"{_lays(alone)} {stay} as the simpler search nested {it}, for the better one could not be made ready on this"
        f" computer. {it_can} can be cut, and may take a little more cloth than need be. Each start of Notchbook tries"
        " it again."
    )


def _why_held(read: PlannedBatch) -> str:
    """Why lays are not nested again by themselves once the better search is ready; "" where they are."""
    if any(map(is_begun, read.lays)):
        return "cutting has begun"
    return "papers that are printed show how the lays lie" if shows_lays(read.batch) else ""


def nested_for_others(read: PlannedBatch) -> tuple[Marker, ...]:
    """What the worker nests or has to nest for lays of other batches, with their `batch_number`; only columns that are
    used here. One query, none where the batch is settled.
    """
    if read.is_settled:
        return ()
    rows = Marker.objects.filter(state__in=RUNNING, lays__isnull=False).exclude(lays__batch=read.batch)
    rows = rows.annotate(batch_number=F("lays__batch__number"))
    return tuple(rows.only("state", "seed", "seconds", "started_at").order_by("pk").distinct())


def _goes_before(other: Marker, ours: Sequence[Marker]) -> bool:
    """Whether the worker comes to the other marker before the first of ours: the more urgent one goes first, then the
    one asked for first. A nesting under way gives way only to a more urgent one.
    """
    urgency = max(map(urgency_of, ours))
    if urgency_of(other) != urgency:
        return urgency_of(other) > urgency
    first = min(marker.pk for marker in ours if urgency_of(marker) == urgency)
    return other.state == Marker.State.NESTING or other.pk < first


def _first_in_words(read: PlannedBatch, others: Sequence[Marker]) -> str:
    """ "Batch B-0003 is being nested first.", "" where this batch's turn has come."""
    ours = [lay.marker for lay in read.lays if lay.marker.state in RUNNING]
    if not ours or any(marker.state == Marker.State.NESTING for marker in ours):
        return ""
    names = sorted({one.batch_number for one in others if _goes_before(one, ours)})  # type: ignore[attr-defined]
    if not names:
        return ""
    which, are = ("Batch", "is") if len(names) == 1 else ("Batches", "are")
    return f"{which} {listed(names)} {are} being nested first."


def seconds_left(read: PlannedBatch, now: datetime | None = None, others: Sequence[Marker] = ()) -> float:
    """About how long it takes until the batch is settled (s), if real lengths change nothing.

    Counted are the lays that wait and all that still need their second nesting, each with the overhead that finished
    lays had, and what the worker nests for `others` before.
    """
    open_plans = {one.plan.fabric_id for one in read.plans if one.plan.state != CutPlan.State.SETTLED}
    lays = [lay for lay in read.lays if lay.fabric_id in open_plans]
    again = [lay.marker for lay in lays if lay.marker.seed == FIRST_SEED]
    work = [*(_seconds_of(lay.marker, now) for lay in lays if lay.marker.state in RUNNING)]
    work += _seconds_again(again)
    if work:
        work += _seconds_before([lay.marker for lay in lays], others, now)
    thinking = THINKING * (2 if again else 1)
    return sum(work) + _besides([lay.marker for lay in lays]) * len(work) + thinking


def _seconds_again(markers: Sequence[Marker]) -> list[float]:
    """Seconds for the second nesting of these markers. Of those without a first one, whose pieces have not been read,
    about as long as the first, which is never too short.
    """
    if all(marker.is_laid for marker in markers):
        return polish_seconds([pieces_of(marker) for marker in markers]) if markers else []
    return [max(marker.seconds, LEAST_POLISH_SECONDS) for marker in markers]


def _seconds_before(ours: Sequence[Marker], others: Sequence[Marker], now: datetime | None) -> list[float]:
    """Seconds of what is nested for others before the last of ours, which will then be nested a second time. A lay that
    another plan nests for the first time will be nested twice too, and goes first if its plan was asked for first.
    """
    first = [marker.pk for marker in ours if marker.state in RUNNING and urgency_of(marker) == FIRST]
    last = [marker.pk for marker in ours if marker.state in RUNNING and urgency_of(marker) == SETTLES]
    work = []
    for other in others:
        if urgency_of(other) == FIRST or (urgency_of(other) == SETTLES and not (last and other.pk > last[0])):
            work.append(_seconds_of(other, now))
        if urgency_of(other) == FIRST and first and other.pk < first[0]:
            work += _seconds_again([other])
    return work


def _seconds_of(marker: Marker, now: datetime | None) -> float:
    if marker.state == Marker.State.WAITING or marker.started_at is None or now is None:
        return marker.seconds
    return max(0.0, marker.seconds - (now - marker.started_at).total_seconds())


def _besides(markers: Sequence[Marker]) -> float:
    """Seconds by the clock that a lay takes besides its nesting, as measured on those that are done."""
    done = [m for m in markers if m.is_final and m.started_at and m.heartbeat_at]
    took = [(m.heartbeat_at - m.started_at).total_seconds() - m.seconds for m in done]  # type: ignore[operator]
    return max(BESIDES, sum(took) / len(took)) if took else BESIDES


def _left_in_words(seconds: float) -> str:
    """ "About a minute of work left …"; as rough as it is known, for lays may change."""
    if seconds < 15:
        about = "A few seconds"
    elif seconds < 45:
        about = "About half a minute"
    elif seconds < 90:
        about = "About a minute"
    else:
        about = f"About {round(seconds / 60)} minutes"
    return f"{about} of work left for the whole batch, more if lays change."


def still_nested(read: PlannedBatch) -> str:
    """What is said beside papers that may be printed although a lay is being nested again; "" where none is."""
    longer = [lay.number for lay in read.lays if lay.marker.state in RUNNING]
    if not longer or not read.is_nested:
        return ""
    one = len(longer) == 1
    return (
        f"{_lays(longer)} {'is' if one else 'are'} being nested for longer and may still become shorter."
        f" Papers show {'it as it is' if one else 'them as they are'} now; which of them are old then is told here."
    )


def any_hurried(read: PlannedBatch) -> bool:
    """Whether lays of a settled batch are nested again by themselves once the better search is ready."""
    return read.is_nested and not _why_held(read) and any(map(_is_hurried, read.lays))


def _is_hurried(lay: Lay) -> bool:
    return lay.cut_at is None and is_hurried(lay.marker)


def _how(lay: Lay) -> str:
    return str((lay.marker.placements or {}).get("how", ""))


def _lays(numbers: Sequence[int]) -> str:
    return lays_listed(numbers).capitalize()
