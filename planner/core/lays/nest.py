"""Nesting one marker: the shortest arrangement found in the time given, verified before anyone sees it."""

from __future__ import annotations

import logging
import math
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from functools import partial

from shapely.geometry import Polygon

from planner.core.lays.check import (
    allowed_turns,
    check_marker,
    least_length_mm,
    marker_from_placements,
    placed,
)
from planner.core.lays.grow import canonical_ring, grown_outline, outer_ring
from planner.core.lays.model import ItemToLay, Marker, MarkerJob, Placement
from planner.core.lays.rows import first_marker
from planner.core.lays.solver import Arrangement, Shape, SolverFailed, Strip, arrangements
from planner.core.outline import Point

log = logging.getLogger(__name__)

#: What is asked for beyond the gap, so that the solver's 32-bit rounding never eats into it (mm).
EXTRA_GAP_MM = 0.02
#: Farthest that one piece is pushed along the cloth to mend an arrangement (mm).
_MOST_PUSHED_MM = 25.0


class NestingFailed(Exception):  # noqa: N818 - it says what happened
    """No arrangement that may be cut was found; the text says why in plain words."""


class PieceTooWide(NestingFailed):
    """A piece does not fit across the cloth."""

    def __init__(self, piece: str, size: str, width_mm: float, lay_width_mm: float) -> None:
        self.piece = piece
        self.size = size
        self.width_mm = width_mm
        self.lay_width_mm = lay_width_mm
        super().__init__(
            f"{piece} in size {size} is {width_mm:.0f} mm wide, "
            f"but the cloth lies only {lay_width_mm:.0f} mm wide"
        )


def seconds_for(piece_count: int) -> float:
    """A sensible nesting time in seconds for a marker of so many pieces.

    Measured beforehand: 10 pieces are within 0.5 % of a long run's length after 3 s, 20 after 8 s, 40 after
    14 s; beyond 60 pieces half a minute is what a waiting person grants.
    """
    if piece_count <= 10:
        return 5.0
    return min(30.0, piece_count / 2.0)


def nest(
    job: MarkerJob,
    *,
    seconds: float,
    seed: int = 0,
    on_progress: Callable[[Marker], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    start: Marker | None = None,
    workers: int = 2,
) -> Marker:
    """The shortest marker found for the job within `seconds`; never longer than `start`.

    `on_progress` gets every better marker, the first (in rows, or `start`) at once; it is called from the
    calling thread. `should_stop` is asked about every 50 ms; the best so far is then returned. Every marker
    has passed :func:`check_marker`. Not repeatable by seed, for the time decides: store the marker. Its
    `how` is "rows" where nothing better than plain rows was found, though something better may exist.

    Raises PieceTooWide, and NestingFailed for an outline that cannot be laid or where nothing valid is found.
    """
    check_job(job)
    best = _first_of(job, start)
    # Nothing can be shorter, and a hair's breadth is not worth the time.
    good_enough = least_length_mm(job) + 2 * EXTRA_GAP_MM
    if best.length_mm <= good_enough:
        best = replace(best, how="nested")
    if on_progress:
        on_progress(best)
    if best.length_mm <= good_enough:
        return best
    groups = _grouped(job)
    for run, budget in enumerate(_run_seconds(len(job.items), seconds)):
        solve = partial(
            arrangements, seconds=budget, seed=seed + run, workers=workers, should_stop=should_stop
        )
        # Closed whatever happens in here, so that no process outlives this call.
        with closing(_solved(job, groups, solve)) as found:
            for strip, arrangement in found:
                marker = _verified(job, groups, strip, arrangement, shorter_than_mm=best.length_mm)
                if marker is None:
                    continue
                best = marker
                if on_progress:
                    on_progress(best)
                if best.length_mm <= good_enough:
                    return best
        if should_stop and should_stop():
            break
    return best


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


@dataclass(frozen=True)
class _Group:
    """Items with one and the same outline and turns, and what the solver is given for them.

    The solver's shape begins at (`margin_x`, `margin_y`) before the items' own bounds.
    """

    items: tuple[ItemToLay, ...]
    shape: Shape
    margin_x: float
    margin_y: float


def _grouped(job: MarkerJob) -> tuple[_Group, ...]:
    alike: dict[tuple[object, ...], list[ItemToLay]] = {}
    for item in job.items:
        key = (canonical_ring(item.outline.points), allowed_turns(job, item))
        alike.setdefault(key, []).append(item)
    return tuple(_group(job, items) for items in alike.values())


def _group(job: MarkerJob, items: list[ItemToLay]) -> _Group:
    points = items[0].outline.at_origin().points
    grown = grown_outline(points, _margin_mm(job))
    if _height(grown) > job.lay_width_mm + 2 * _margin_mm(job):
        # A piece across the whole cloth has no room for being simplified.
        grown = outer_ring(Polygon(points).buffer(_margin_mm(job), quad_segs=4))
    margin_x, margin_y = -min(x for x, _ in grown), -min(y for _, y in grown)
    ring = tuple((x + margin_x, y + margin_y) for x, y in grown)
    turns = tuple(float(t) for t in allowed_turns(job, items[0]))
    return _Group(tuple(items), Shape(ring, len(items), turns), margin_x, margin_y)


def _solved(
    job: MarkerJob, groups: Sequence[_Group], solve: Callable[[Strip], Iterator[Arrangement]]
) -> Generator[tuple[Strip, Arrangement], None, None]:
    """What the solver finds, with the strip it was asked about; ends quietly where it fails.

    It simplifies shapes by its own lights and may draw a blunt tip of a piece across the whole cloth out to
    a point that no longer fits. Where it fails at once it is asked again with a strip a little wider;
    whatever then lies over the edge is put back and mended, or refused.
    """
    for widened in (0.0, 0.004, 0.016):
        strip = _strip(job, groups, widened)
        seen = False
        try:
            for arrangement in solve(strip):
                seen = True
                yield strip, arrangement
            return
        except SolverFailed as fault:
            log.warning("nesting of %d pieces ended early: %s", len(job.items), fault)
            if seen:
                return


def _strip(job: MarkerJob, groups: Sequence[_Group], widened: float) -> Strip:
    """The question to the solver: shapes grown by half the gap, on a strip that much wider at both edges.

    `widened` is a share by which the strip is made wider still.
    """
    highest = max(_height(g.shape.points) for g in groups)
    # The solver panics over a shape as high as the strip: a piece across the whole cloth gets a hair more.
    height = max(job.lay_width_mm + 2 * _margin_mm(job), highest * (1 + 2e-5) + 0.005)
    return Strip(height * (1 + widened), 0.0, tuple(g.shape for g in groups))


def _margin_mm(job: MarkerJob) -> float:
    return (job.gap_mm + EXTRA_GAP_MM) / 2


def _height(ring: Sequence[Point]) -> float:
    return max(y for _, y in ring) - min(y for _, y in ring)


def _verified(
    job: MarkerJob,
    groups: Sequence[_Group],
    strip: Strip,
    arrangement: Arrangement,
    *,
    shorter_than_mm: float,
) -> Marker | None:
    """The arrangement as a marker where it is shorter and valid, if need be after mending."""
    placements = _placements(job, groups, strip, arrangement)
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


def _placements(
    job: MarkerJob, groups: Sequence[_Group], strip: Strip, arrangement: Arrangement
) -> list[Placement] | None:
    """The items' own outlines where the solver put its shapes; None where it turned or counted wrongly."""
    edge = (strip.height - job.lay_width_mm) / 2
    spots: list[list[tuple[float, float, int]]] = [[] for _ in groups]
    for spot in arrangement:
        group = groups[spot.shape]
        rotation = round(spot.rotation_deg) % 360
        outline = group.items[0].outline
        if rotation == 0:
            x, y = spot.dx + group.margin_x, spot.dy + group.margin_y
        elif rotation == 180:
            x = spot.dx - group.margin_x - outline.length_mm
            y = spot.dy - group.margin_y - outline.width_mm
        else:
            return None
        room = job.lay_width_mm - outline.width_mm
        spots[spot.shape].append((x, _onto_cloth(y - edge, room, by_mm=edge), rotation))
    if any(len(s) != len(g.items) for s, g in zip(spots, groups, strict=True)):
        return None
    # Garments take their places in the order along the cloth, so the pieces of one lie near each other.
    return [
        placed(item, rotation, x, y)
        for group, taken in zip(groups, spots, strict=True)
        for item, (x, y, rotation) in zip(
            sorted(group.items, key=lambda i: i.garment_no), sorted(taken), strict=True
        )
    ]


def _onto_cloth(y_mm: float, room_mm: float, *, by_mm: float) -> float:
    """Takes back what rounding and a strip wider by a hair let out over the cloth's edge, at most `by_mm`."""
    if -by_mm <= y_mm < 0.0:
        return 0.0
    return max(room_mm, 0.0) if room_mm < y_mm <= room_mm + by_mm else y_mm


def mend(job: MarkerJob, placements: Sequence[Placement]) -> Marker | None:
    """Pushes pieces along the cloth until nothing is too near; None where a hair's breadth does not do.

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


def _first_of(job: MarkerJob, start: Marker | None) -> Marker:
    """What to begin with: `start` where it answers this very job, else plain rows."""
    rows = replace(first_marker(job), how="rows")
    if check_marker(job, rows.placements):
        raise NestingFailed("the pieces could not be laid even in plain rows")
    if start is None or check_marker(job, start.placements):
        return rows
    return start if start.length_mm <= rows.length_mm else rows


def _run_seconds(piece_count: int, seconds: float) -> list[float]:
    """The time cut into runs with a seed each.

    Up to some 20 pieces another seed gains more than a longer run (measured: seeds differ by 1.1 %, 5 s to
    20 s gain less), so a run is as long as the first improvements take.
    """
    one = 3.0 if piece_count <= 10 else 5.0 if piece_count <= 20 else 20.0 if piece_count <= 40 else 60.0
    runs = max(1, min(8, int(seconds // one)))
    return [seconds / runs] * runs
