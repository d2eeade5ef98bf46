"""Nesting one marker: the shortest arrangement found in the time given, verified before anyone sees it."""

from __future__ import annotations

import logging
import math
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from planner.core.lays import kept_code
from planner.core.lays.certain import enough_mm
from planner.core.lays.check import check_marker, marker_from_placements
from planner.core.lays.examples import example_of
from planner.core.lays.model import ALONE, How, Marker, MarkerJob, Placement
from planner.core.lays.question import (
    EXTRA_GAP_MM,
    Group,
    arrangement_of,
    grouped,
    placements_of,
    strip_for,
)
from planner.core.lays.rows import first_marker
from planner.core.lays.runs import Run, runs_for
from planner.core.lays.solver import Arrangement, Example, SolverFailed, Strip, arrangements, hunted
from planner.core.too_wide import told_apart
from planner.core.units import Display

log = logging.getLogger(__name__)

#: Farthest that one piece is pushed along the cloth to mend an arrangement (mm).
_MOST_PUSHED_MM = 25.0


class NestingFailed(Exception):  # noqa: N818 - it says what happened
    """No arrangement that may be cut was found; the text says why in plain words."""

    def told_in(self, display: Display) -> str:
        """The text with its measures in these units."""
        return str(self)


class PieceTooWide(NestingFailed):
    """A piece does not fit across the cloth."""

    def __init__(self, piece: str, size: str, width_mm: float, lay_width_mm: float) -> None:
        self.piece = piece
        self.size = size
        self.width_mm = width_mm
        self.lay_width_mm = lay_width_mm
        super().__init__(self.told_in("metric"))

    def told_in(self, display: Display) -> str:
        """Widths in centimetres to the millimetre, or in inches to the sixteenth."""
        (wide,), lies = told_apart([self.width_mm], self.lay_width_mm, display)
        return f"{self.piece} in size {self.size} is {wide} wide, but the cloth lies only {lies} wide"


def seconds_for(piece_count: int) -> float:
    """A sensible nesting time in seconds for a marker of so many pieces: useful, not the shortest there is.

    Measured on knit tops (`tests/bench/bench_markers.py`): 10 pieces are as short after 2.5 s as ever, 20 within 1.5 %
    of a ten minutes' search after 2.5 s and within 1 % after 4 s. Beyond 90 pieces half a minute is what a waiting
    person grants; a marker may be kept improving for as long as anybody likes, see :func:`nest`.
    """
    if piece_count <= 10:
        return 3.0
    return min(30.0, piece_count / 3.0)


def nest(
    job: MarkerJob,
    *,
    seconds: float,
    seed: int = 0,
    on_progress: Callable[[Marker], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    start: Marker | None = None,
    examples: Sequence[Marker] = (),
    workers: int = 2,
) -> Marker:
    """The shortest marker found for the job within `seconds`; never longer than `start`.

    `examples` are nested markers of the same pieces in other sizes: one of our searches begins with the pieces laid so.

    `on_progress` gets every better marker, the first (in rows, or `start`) at once; it is called from the
    calling thread. `should_stop` is asked about every 50 ms; the best so far is then returned. Every marker
    has passed :func:`check_marker`. Another `seed` searches elsewhere; the same one does not find the same
    again, for the time decides how far it gets: store the marker. `seconds` may be a whole night: the search
    goes on from `start` where that is better than rows, in processes that are begun afresh every ten minutes.
    The library has all of the time while our own search is still to be compiled, where it cannot be had, and where
    there is too little time for it. A marker's `how` is "rows" where nothing better than plain rows was found, though
    something better may exist; "unsearched" where the library alone found it; "library" where our own search cannot be
    had.

    Raises PieceTooWide where a piece does not fit across, NestingFailed for an outline that cannot be laid or where
    nothing valid is found.
    """
    check_job(job)
    best = _Best(job, first_of(job, start), on_progress)
    if best.good_enough:
        return best.marker
    groups = grouped(job)
    fresh = best.marker.how == "rows"
    given_up = kept_code.is_given_up()
    may_hunt = not kept_code.is_missing()
    for number, run in enumerate(runs_for(len(job.items), seconds, fresh=fresh, may_hunt=may_hunt)):
        way = _hunted if run.hunting else _solved
        search = _Search(
            job, groups, run, seed + number, workers, should_stop,
            examples=() if number else examples, is_given_up=given_up,
        )  # fmt: skip
        # Closed whatever happens in here, so that no process outlives this call.
        with closing(way(search, best.marker)) as found:
            for strip, arrangement in found:
                marker = _verified(job, groups, strip, arrangement, shorter_than_mm=best.marker.length_mm)
                if marker is not None:
                    best.keep(replace(marker, how=search.how))
                if best.good_enough:
                    return best.marker
        if should_stop and should_stop():
            break
        best.was_searched(search.how)
    return best.marker


class _Best:
    """The shortest marker yet; each is told."""

    def __init__(self, job: MarkerJob, first: Marker, on_progress: Callable[[Marker], None] | None) -> None:
        self._enough_mm = enough_mm(job)
        self._on_progress = on_progress
        self.keep(first)

    def keep(self, marker: Marker) -> None:
        self.marker = replace(marker, how="nested") if marker.length_mm <= self._enough_mm else marker
        if self._on_progress:
            self._on_progress(self.marker)

    def was_searched(self, how: How) -> None:
        """Our own search has had its time and found nothing shorter, or it is known that it cannot be had."""
        if self.marker.how in ALONE and how != "unsearched":
            self.marker = replace(self.marker, how=how)

    @property
    def good_enough(self) -> bool:
        return self.marker.length_mm <= self._enough_mm


def check_job(job: MarkerJob) -> None:
    """Raises PieceTooWide or NestingFailed for what can never be laid, before anything is started."""
    if not job.items:
        raise NestingFailed("there is no piece to lay")
    if not (math.isfinite(job.lay_width_mm) and job.lay_width_mm > 0):
        raise NestingFailed("the cloth has no usable width")
    if not (math.isfinite(job.gap_mm) and job.gap_mm >= 0):
        raise NestingFailed("the gap between pieces must be zero or more")
    for item in job.items:
        name = f"{item.piece} in size {item.size}"
        if not all(math.isfinite(x) and math.isfinite(y) for x, y in item.outline.points):
            raise NestingFailed(f"{name} has a point that is not a number")
        if len(item.outline.points) < 3 or not item.outline.polygon.is_valid or item.outline.area_mm2 < 1.0:
            raise NestingFailed(f"{name} has an outline that crosses itself or encloses nothing")
        width = item.outline.width_mm
        if width > job.lay_width_mm + 1e-6:
            raise PieceTooWide(item.piece, item.size, width, job.lay_width_mm)


@dataclass
class _Search:
    """What is searched, how long and with which seed; whether our own search `is_given_up`, or failed on the way."""

    job: MarkerJob
    groups: Sequence[Group]
    run: Run
    seed: int
    workers: int
    should_stop: Callable[[], bool] | None
    examples: Sequence[Marker] = ()
    is_given_up: bool = False

    @property
    def how(self) -> How:
        """How what is found was come by."""
        if self.is_given_up:
            return "library"
        return "nested" if self.run.hunting else "unsearched"


_Found = Generator[tuple[Strip, Arrangement], None, None]


def _solved(search: _Search, _best: Marker) -> _Found:
    """What the library finds, with the strip it was asked about; ends quietly where it fails.

    It simplifies shapes by its own lights and may draw a blunt tip of a piece across the whole cloth out to
    a point that no longer fits. Where it fails at once it is asked again with a strip a little wider;
    whatever then lies over the edge is put back and mended, or refused.
    """
    for widened in (0.0, 0.004, 0.016):
        strip = strip_for(search.job, search.groups, widened)
        seen = False
        try:
            for arrangement in arrangements(
                strip,
                seconds=search.run.library_seconds,
                seed=search.seed,
                workers=search.workers,
                should_stop=search.should_stop,
            ):
                seen = True
                yield strip, arrangement
            return
        except SolverFailed as fault:
            _log_failure(search.job, fault)
            if seen:
                return


def _hunted(search: _Search, best: Marker) -> _Found:
    """What our own search finds from the best marker on, and the library while that gets ready.

    The library has all the time where our search fails at once.
    """
    strip = strip_for(search.job, search.groups, 0.0)
    beside = _Beside(search, strip, best)
    seen = False
    try:
        for arrangement in hunted(
            strip,
            seconds=search.run.seconds,
            seed=search.seed,
            workers=search.workers,
            start=arrangement_of(search.job, search.groups, strip, best),
            beside=beside,
            examples=_examples_for(search, strip),
            should_stop=search.should_stop,
        ):
            seen = seen or beside.is_over
            yield beside.strip, arrangement
    except SolverFailed as fault:
        _log_failure(search.job, fault)
        if not seen:
            search.is_given_up = True
            left = search.run.seconds - search.run.library_seconds
            for number, run in enumerate(runs_for(len(search.job.items), left, fresh=False, may_hunt=False)):
                yield from _solved(replace(search, run=run, seed=search.seed + 1 + number), best)


def _examples_for(search: _Search, strip: Strip) -> list[Example]:
    found = (example_of(search.job, search.groups, strip, marker) for marker in search.examples)
    return [one for one in found if one is not None]


class _Beside:
    """What the library finds while our own search gets ready; `strip` is the one that the last of it is for."""

    def __init__(self, search: _Search, strip: Strip, best: Marker) -> None:
        self._search, self._own_strip, self._best = search, strip, best
        self.strip = strip
        self.is_over = search.run.library_seconds <= 0

    def __iter__(self) -> Iterator[Arrangement]:
        if not self.is_over:
            with closing(_solved(self._search, self._best)) as found:
                for self.strip, arrangement in found:
                    yield arrangement
        self.strip, self.is_over = self._own_strip, True


def _log_failure(job: MarkerJob, fault: SolverFailed) -> None:
    log.warning("nesting of %d pieces ended early: %s", len(job.items), fault)


def _verified(
    job: MarkerJob,
    groups: Sequence[Group],
    strip: Strip,
    arrangement: Arrangement,
    *,
    shorter_than_mm: float,
) -> Marker | None:
    """The arrangement as a marker where it is shorter and valid, if need be after mending."""
    placements = placements_of(job, groups, strip, arrangement)
    if placements is None:
        return None
    marker = marker_from_placements(job, placements)
    if marker.length_mm >= shorter_than_mm - 1e-6:
        return None
    if check_marker(job, marker.placements):
        mended = mend(job, marker.placements)
        if mended is None:
            log.warning("an arrangement of %d pieces was refused", len(placements))
            return None
        marker = mended
    return marker if marker.length_mm < shorter_than_mm - 1e-6 else None


def mend(job: MarkerJob, placements: Sequence[Placement]) -> Marker | None:
    """Pushes pieces along the cloth until nothing is too near; None where small pushes do not do.

    Works from the start of the cloth on: each piece that lies too near to those before it moves on by
    0.05 mm, then twice that and so on, at most 25 mm.
    """
    done: list[Placement] = []
    shapes: list[Polygon] = []
    for placement in sorted(placements, key=lambda p: min(x for x, _ in p.outline)):
        outline = placement.outline
        push = 0.0
        while _clashes(job, shapes, Polygon(outline)):
            push = 0.05 if push == 0.0 else push * 2
            if push > _MOST_PUSHED_MM:
                return None
            outline = tuple((x + push, y) for x, y in placement.outline)
        done.append(replace(placement, outline=outline))
        shapes.append(Polygon(outline))
    marker = marker_from_placements(job, done)
    return None if check_marker(job, marker.placements) else marker


def _clashes(job: MarkerJob, shapes: Sequence[Polygon], shape: Polygon) -> bool:
    core = shape.buffer(-EXTRA_GAP_MM)
    # The last ones laid are the nearest; most are told apart by their bounds.
    x0, y0, x1, y1 = (b + d for b, d in zip(shape.bounds, (-1, -1, 1, 1), strict=True))
    for other in reversed(shapes):
        a0, b0, a1, b1 = other.bounds
        if a0 > x1 + job.gap_mm or a1 < x0 - job.gap_mm or b0 > y1 + job.gap_mm or b1 < y0 - job.gap_mm:
            continue
        if core.intersects(other) or shape.distance(other) < job.gap_mm - EXTRA_GAP_MM:
            return True
    return False


def first_of(job: MarkerJob, start: Marker | None) -> Marker:
    """What to begin with: `start` where it answers this very job, else plain rows."""
    rows = replace(first_marker(job), how="rows")
    if check_marker(job, rows.placements):
        raise NestingFailed("the pieces could not be laid even in plain rows")
    if start is None or check_marker(job, start.placements):
        return rows
    # No shorter than rows is no better than rows: then the library is asked first, as where nothing is nested yet.
    return start if start.length_mm < rows.length_mm - 1e-6 else rows
