"""Lines of a drawing joined end to end into closed rings, in any order and direction. Everything is in mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from planner.core.outline import Point, halfway_along, path_length_mm
from planner.core.pattern_files.model import JOIN_MM, LARGEST_GAP_MM, Mend, Path
from planner.core.pattern_files.ring_edges import CORNER_DEG, turns_deg
from planner.core.pattern_files.ring_mending import encloses_ground
from planner.core.pattern_files.rings import Ring, RingError, Stroke, places_on, without_repeats, wound

#: More separate lines than this, after those that meet exactly, do not make one outline; real ones have four to twelve.
MOST_LINES = 300
#: More pairs of ends near each other than this are a scribble.
MOST_PAIRS = 3_000
#: A closed line is held against those kept before it, the larger ones, only while these are no more than so many.
MOST_COMPARED = 50


@dataclass(frozen=True, slots=True)
class Chain:
    """Strokes joined end to end that do not close: the points and the indices where edges start, as in a ring."""

    points: Path
    starts: tuple[int, ...]

    @property
    def gap_mm(self) -> float:
        """Distance between its two ends in mm."""
        return math.dist(self.points[0], self.points[-1])


@dataclass(frozen=True, slots=True)
class Chained:
    """What :func:`chain` made: rings, the largest first, chains left open, and how many lines were drawn twice."""

    rings: tuple[Ring, ...]
    open: tuple[Chain, ...]
    repeats: int = 0


def chain(strokes: Sequence[Stroke], *, gap_mm: float = LARGEST_GAP_MM) -> Chained:
    """Joins lines end to end, in any order and direction.

    Ends within JOIN_MM of each other are joined without a word, at their middle; then ends up to `gap_mm` apart by a
    straight line, each one a Mend of the ring. A line is closed where it says so or where its own ends meet. A line
    drawn twice counts once. Raises RingError where more than MOST_LINES lines do not meet, or too many
    ends crowd together.
    """
    closed: list[Ring] = []
    lines: list[Stroke] = []
    for stroke in strokes:
        points = without_repeats(stroke.points)
        ends_meet = len(points) > 2 and math.dist(points[0], points[-1]) <= JOIN_MM
        if stroke.closed or (ends_meet and path_length_mm(points) > 4 * JOIN_MM):
            closed.append(_closed_ring(points, stroke))
        elif len(points) > 1:
            lines.append(replace(stroke, points=points))
    lines, repeats = _without_twins(lines)
    ends = _ends(lines)
    links = _link_touching(ends)
    if len(ends) - len(links) > 2 * MOST_LINES:
        raise RingError("too many lines", f"more than {MOST_LINES} lines that do not meet are no outline")
    links = _link(ends, links, JOIN_MM)
    links = _link(ends, links, gap_mm)
    rings, still_open = _walk(lines, links)
    rings = [ring for ring in [*closed, *rings] if len(ring.points) > 2 and encloses_ground(ring)]
    # The same outline drawn twice, whole and whole, is one outline.
    kept: list[Ring] = []
    for ring in sorted(rings, key=lambda r: -r.area_mm2):
        if len(kept) <= MOST_COMPARED and any(_same_ring(ring, other) for other in kept):
            repeats += 1
        else:
            kept.append(ring)
    return Chained(tuple(kept), tuple(still_open), repeats)


def _closed_ring(points: Path, stroke: Stroke) -> Ring:
    ring = without_repeats(points, closed=True)
    if not stroke.closed and len(ring) > 3 and math.dist(ring[0], ring[-1]) <= JOIN_MM:
        ring = ring[:-1]  # the ends met within the tolerance: one of them is enough
    return wound(Ring(ring))


def _without_twins(lines: list[Stroke]) -> tuple[list[Stroke], int]:
    """Lines without those that repeat another one, drawn either way."""
    kept: list[Stroke] = []
    seen: set[tuple[Point, Point, Point, float]] = set()
    for line in lines:
        a, b = sorted((line.points[0], line.points[-1]))
        length = path_length_mm(line.points)
        middle = halfway_along(line.points)
        key = tuple((round(x, 1) + 0.0, round(y, 1) + 0.0) for x, y in (a, b, middle))
        mark = (key[0], key[1], key[2], round(length, 1))
        if mark not in seen:
            seen.add(mark)
            kept.append(line)
    return kept, len(lines) - len(kept)


End = tuple[int, bool]  # a line's index and whether its far end is meant


def _ends(lines: Sequence[Stroke]) -> dict[End, Point]:
    return {(i, far): line.points[-1 if far else 0] for i, line in enumerate(lines) for far in (False, True)}


def _link_touching(ends: dict[End, Point]) -> dict[End, End]:
    """Links ends that stand, just two of them, on the same spot: in one walk, for long exploded curves."""
    spots: dict[Point, list[End]] = {}
    for end, (x, y) in ends.items():
        spots.setdefault((round(x, 3) + 0.0, round(y, 3) + 0.0), []).append(end)
    links: dict[End, End] = {}
    for here in spots.values():
        if len(here) == 2 and here[0][0] != here[1][0]:
            links[here[0]], links[here[1]] = here[1], here[0]
    return links


def _link(ends: dict[End, Point], links: dict[End, End], reach_mm: float) -> dict[End, End]:
    """Links each free end to the nearest other free end within reach, the nearest pairs first."""
    free = sorted((point, end) for end, point in ends.items() if end not in links)
    pairs: list[tuple[float, End, End]] = []
    for i, (point, end) in enumerate(free):
        for other_point, other in free[i + 1 :]:
            if other_point[0] - point[0] > reach_mm:
                break  # sorted by x: nothing further on is near
            distance = math.dist(point, other_point)
            if distance <= reach_mm:
                pairs.append((distance, end, other))
        if len(pairs) > MOST_PAIRS:
            raise RingError(
                "too many lines", "too many lines end near each other to tell which belong together"
            )
    linked = dict(links)
    for _, a, b in sorted(pairs):
        # A short line may not bite its own tail while its neighbours wait.
        bites = a[0] == b[0] and reach_mm <= JOIN_MM
        if a not in linked and b not in linked and not bites:
            linked[a], linked[b] = b, a
    return linked


def _walk(lines: Sequence[Stroke], links: dict[End, End]) -> tuple[list[Ring], list[Chain]]:
    rings: list[Ring] = []
    chains: list[Chain] = []
    used: set[int] = set()
    loose = [(i, far) for i in range(len(lines)) for far in (False, True) if (i, far) not in links]
    for start in [*loose, *((i, False) for i in range(len(lines)))]:
        if start[0] in used:
            continue
        run = _run_from(start, links)
        used.update(i for i, _ in run)
        points, starts, gaps = _joined(lines, run)
        if start in links:
            rings.append(_ring_of(lines, run, points, starts, gaps))
        else:
            kept = [k for k in _edges_among(lines, run, points, starts) if k] if len(starts) > 1 else []
            chains.append(Chain(tuple(points), (0, *(starts[k] for k in kept))))
    return rings, chains


def _run_from(start: End, links: dict[End, End]) -> list[tuple[int, bool]]:
    """Line indices in the order of the walk, each with whether it is walked backwards."""
    run: list[tuple[int, bool]] = []
    seen: set[int] = set()
    at: End | None = start
    while at is not None and at[0] not in seen:
        line, entered_far = at
        seen.add(line)
        run.append((line, entered_far))
        at = links.get((line, not entered_far))
    return run


def _joined(
    lines: Sequence[Stroke], run: Sequence[tuple[int, bool]]
) -> tuple[list[Point], list[int], list[Mend]]:
    points: list[Point] = []
    starts: list[int] = []
    gaps: list[Mend] = []
    for line, backwards in run:
        path = lines[line].points[::-1] if backwards else lines[line].points
        if points:
            _meet(points, path[0], gaps)
            starts.append(len(points) - 1)
            points.extend(path[1:])
        else:
            starts.append(0)
            points.extend(path)
    return points, starts, gaps


def _meet(points: list[Point], following: Point, gaps: list[Mend]) -> None:
    """Brings the end of the points so far and the start of the next line together, or bridges the gap."""
    distance = math.dist(points[-1], following)
    if distance <= JOIN_MM:
        points[-1] = _middle(points[-1], following)
        return
    gaps.append(_gap(points[-1], following))
    points.append(following)


def _gap(a: Point, b: Point) -> Mend:
    at = _middle(a, b)
    width = math.dist(a, b)
    return Mend("gap", at, f"the boundary is open by {width:.1f} mm near ({at[0]:.1f}, {at[1]:.1f}) mm")


def _middle(a: Point, b: Point) -> Point:
    return a if a == b else ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)


def _ring_of(
    lines: Sequence[Stroke],
    run: Sequence[tuple[int, bool]],
    points: list[Point],
    starts: list[int],
    gaps: list[Mend],
) -> Ring:
    if math.dist(points[0], points[-1]) <= JOIN_MM:
        points[0] = _middle(points[0], points[-1])
        points.pop()
    else:
        gaps.append(_gap(points[-1], points[0]))
    starts = [i for i in starts if i < len(points)]
    kept = [(starts[k], lines[run[k][0]].name) for k in _edges_among(lines, run, points, starts)]
    named = any(name for _, name in kept)
    ring = Ring(
        tuple(points),
        tuple(at for at, _ in kept),
        tuple(gaps),
        tuple(name or f"edge {n}" for n, (_, name) in enumerate(kept, 1)) if named else (),
    )
    return wound(ring)


def _edges_among(
    lines: Sequence[Stroke], run: Sequence[tuple[int, bool]], points: Sequence[Point], starts: Sequence[int]
) -> list[int]:
    """The places of those starts at which an edge begins.

    Single LINEs and ARCs are bits of a longer line: where two of them meet smoothly no edge begins.
    """
    turns = turns_deg(points)
    return [
        k
        for k, at in enumerate(starts)
        if lines[run[k][0]].is_edge or lines[run[k - 1][0]].is_edge or turns[at] > CORNER_DEG
    ]


def _same_ring(a: Ring, b: Ring) -> bool:
    """True where two rings enclose the same ground, however their points are spread."""
    if abs(a.area_mm2 - b.area_mm2) > max(50.0, b.area_mm2 * 0.005):
        return False
    boxes = [(*map(min, *ring.points), *map(max, *ring.points)) for ring in (a, b)]
    if math.dist(*boxes) > 4 * JOIN_MM:
        return False
    sample = a.points[:: max(1, len(a.points) // 50)]
    return all(place.distance_mm <= 2 * JOIN_MM for place in places_on(b.points, sample))
