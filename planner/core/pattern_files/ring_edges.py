"""Where the edges of a closed line start: at given points, at its corners, at the same corner in every size."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from planner.core.outline import Point
from planner.core.pattern_files.model import JOIN_MM
from planner.core.pattern_files.rings import REPEAT_MM, Ring, places_on

#: A line that turns by more than this at a point has a corner there (degrees).
CORNER_DEG = 30.0
#: The direction of a line is taken over at least this length, so that a tiny kink is no corner (mm).
CORNER_REACH_MM = 0.5
#: …but never over more points than this.
MOST_STEPS = 50
#: Edges of a ring with more of them than this are not matched between sizes; garments have four to twelve.
MOST_EDGES_MATCHED = 100


def cut_at_points(ring: Ring, cuts: Sequence[Point]) -> Ring:
    """The ring with an edge from each of the `cuts` to the next; cuts further than JOIN_MM from it are left out.

    A cut between two points of the ring becomes a point of it. With fewer than two cuts on the ring it is returned
    without edges.
    """
    starts: set[int] = set()
    inserted: dict[int, list[tuple[float, Point]]] = {}
    for cut, place in zip(cuts, places_on(ring.points, cuts), strict=True):
        if place.distance_mm > JOIN_MM:
            continue
        ends = (place.segment, (place.segment + 1) % len(ring.points))
        near = min(ends, key=lambda i: math.dist(ring.points[i], cut))
        if math.dist(ring.points[near], cut) <= JOIN_MM:
            starts.add(near)
        else:
            inserted.setdefault(place.segment, []).append((place.share, cut))
    new_points: list[Point] = []
    new_starts: list[int] = []
    for i, point in enumerate(ring.points):
        if i in starts:
            new_starts.append(len(new_points))
        new_points.append(point)
        for _, cut in sorted(inserted.get(i, [])):
            if math.dist(cut, new_points[-1]) > REPEAT_MM:
                new_starts.append(len(new_points))
                new_points.append(cut)
    if len(new_starts) < 2:
        return replace(ring, starts=(), names=())
    return replace(ring, points=tuple(new_points), starts=tuple(new_starts), names=())


def cut_at_corners(ring: Ring, *, sharper_than_deg: float = CORNER_DEG) -> Ring:
    """The ring with edges between its corners; with fewer than two corners it is one single edge."""
    turns = turns_deg(ring.points)
    found = [i for i, turn in enumerate(turns) if turn > sharper_than_deg]
    corners = _sharpest(ring.points, found, turns)
    return replace(ring, starts=tuple(corners) or (0,), names=())


def lined_up(rings: Sequence[Ring]) -> list[Ring]:
    """The same piece in several sizes with edge 1 at the same corner in each.

    Sizes with as many edges as an earlier one are rotated so that their edges start where those of that size do, in
    shares of the piece's length and width.
    """
    first_of: dict[int, list[Point]] = {}
    result = []
    for ring in rings:
        have = _corner_shares(ring)
        wanted = first_of.setdefault(len(have), have)
        if wanted is have or not 0 < len(have) <= MOST_EDGES_MATCHED:
            result.append(ring)
            continue

        def apart(shift: int, have: list[Point] = have, wanted: list[Point] = wanted) -> float:
            turned_round = have[shift:] + have[:shift]
            return sum(math.dist(a, b) ** 2 for a, b in zip(wanted, turned_round, strict=True))

        shift = min(range(len(have)), key=apart)
        result.append(_from_start(ring, shift))
    return result


def _corner_shares(ring: Ring) -> list[Point]:
    xs, ys = zip(*ring.points, strict=True)
    x0, y0, width, height = min(xs), min(ys), max(xs) - min(xs) or 1.0, max(ys) - min(ys) or 1.0
    return [((ring.points[i][0] - x0) / width, (ring.points[i][1] - y0) / height) for i in ring.starts]


def _from_start(ring: Ring, shift: int) -> Ring:
    """The ring written from its edge with index `shift` on."""
    offset = ring.starts[shift]
    count = len(ring.points)
    starts = sorted((i - offset) % count for i in ring.starts)
    names = ring.names[shift:] + ring.names[:shift]
    return replace(
        ring, points=ring.points[offset:] + ring.points[:offset], starts=tuple(starts), names=names
    )


def turns_deg(points: Sequence[Point]) -> list[float]:
    """By how many degrees a ring turns at each of its points, either way."""
    count = len(points)

    def direction(i: int, step: int) -> float:
        j = i
        for _ in range(min(count, MOST_STEPS)):
            j = (j + step) % count
            if math.dist(points[i], points[j]) >= CORNER_REACH_MM:
                break
        return math.atan2(step * (points[j][1] - points[i][1]), step * (points[j][0] - points[i][0]))

    turns = []
    for i in range(count):
        turn = math.degrees(direction(i, 1) - direction(i, -1)) % 360.0
        turns.append(min(turn, 360.0 - turn))
    return turns


def _sharpest(points: Sequence[Point], corners: Sequence[int], turns: Sequence[float]) -> list[int]:
    """Corners, in the order of the ring, without those that lie within reach of a sharper neighbour."""
    kept: list[int] = []
    for i in corners:
        if kept and math.dist(points[i], points[kept[-1]]) <= CORNER_REACH_MM:
            if turns[i] > turns[kept[-1]]:
                kept[-1] = i
        else:
            kept.append(i)
    if len(kept) > 1 and math.dist(points[kept[0]], points[kept[-1]]) <= CORNER_REACH_MM:
        kept.pop(0 if turns[kept[0]] < turns[kept[-1]] else -1)
    return kept
