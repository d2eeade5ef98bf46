"""Half pieces: unfolding on any mirror line. Everything is in mm.

A mirror line is a pair of points; "its frame" has it as y = 0, from its first point along x.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from planner.core.outline import Edge, Outline, Point, unfold
from planner.core.pattern_files.chaining import Chain
from planner.core.pattern_files.model import JOIN_MM, Path
from planner.core.pattern_files.rings import REPEAT_MM, Ring, RingError, places_on, wound

Mirror = tuple[Point, Point]


def close_on_line(open_chain: Chain, mirror: Mirror) -> Ring | None:
    """Half a piece drawn without its fold edge: closed along the mirror line where both ends lie on it, else None.

    Drawn as one single line it has no edges yet, as a whole piece that is one closed line has none.
    """
    first, last = _in_frame(mirror, [open_chain.points[0], open_chain.points[-1]])
    if abs(first[1]) > JOIN_MM or abs(last[1]) > JOIN_MM or open_chain.gap_mm <= JOIN_MM:
        return None
    several = len(open_chain.starts) > 1
    starts = (*open_chain.starts, len(open_chain.points) - 1) if several else ()
    return wound(Ring(open_chain.points, starts))


def on_boundary(ring: Ring, mirror: Mirror) -> Mirror:
    """The mirror line, or the longer straight side of the ring that it lies on.

    A short mirror line that slants by the file's tolerance would miss the far end of a long fold.
    """
    (ax, ay), (bx, by) = mirror
    places = places_on(ring.points, [mirror[0], mirror[1], ((ax + bx) / 2, (ay + by) / 2)])
    side = ring.points[places[2].segment], ring.points[(places[2].segment + 1) % len(ring.points)]
    if any(place.distance_mm > JOIN_MM for place in places) or math.dist(*side) <= math.dist(*mirror):
        return mirror
    along = (side[1][0] - side[0][0]) * (bx - ax) + (side[1][1] - side[0][1]) * (by - ay)
    return side if along >= 0 else (side[1], side[0])


def half_path(ring: Ring, mirror: Mirror) -> tuple[Path, list[Edge]]:
    """The line of half a piece without its fold, in the frame of its mirror line (which is y = 0 there).

    Returns the open path, from the fold round to the fold, and its edges. Raises RingError where the
    mirror line does not lie on the boundary, or runs through the piece.
    """
    if math.dist(*mirror) <= JOIN_MM:
        raise RingError("mirror", "the mirror line is only a point")
    points = _in_frame(mirror, ring.points)
    length = math.dist(*mirror)
    on_line = [abs(y) <= JOIN_MM for _, y in points]
    count = len(points)
    runs: list[tuple[float, int, int]] = []
    for first in range(count):
        if on_line[first] and not on_line[first - 1]:
            last = first
            while on_line[(last + 1) % count] and last + 1 < first + count:
                last += 1
            xs = [points[i % count][0] for i in range(first, last + 1)]
            runs.append((min(max(xs), length) - max(min(xs), 0.0), first, last % count))
    touching = [run for run in runs if run[0] > JOIN_MM]
    if not touching:
        raise RingError(
            "mirror", "the mirror line does not lie on the boundary, so the half piece cannot be unfolded"
        )
    if len(touching) > 1:
        raise RingError(
            "mirror", "the boundary leaves the mirror line and comes back to it: the fold must be one stretch"
        )
    sides = {y > 0 for (_, y), on in zip(points, on_line, strict=True) if not on}
    if len(sides) != 1:
        raise RingError("mirror", "the mirror line runs through the piece instead of along its boundary")
    _, fold_first, fold_last = touching[0]
    fold_first, fold_last = _trimmed(points, fold_first, fold_last)
    order = [(fold_last + k) % count for k in range((fold_first - fold_last) % count + 1)]
    path = [points[i] for i in order]
    path[0], path[-1] = (path[0][0], 0.0), (path[-1][0], 0.0)
    names = dict(zip(ring.starts, ring.names, strict=True)) if ring.names else dict.fromkeys(ring.starts, "")
    edges = [(k, names[i]) for k, i in enumerate(order) if i in names and k < len(order) - 1]
    if not edges or edges[0][0] != 0:
        edges.insert(0, (0, _name_before(ring, order[0])))
    return tuple(path), [Edge(name or f"edge {n}", k) for n, (k, name) in enumerate(edges, 1)]


def _name_before(ring: Ring, index: int) -> str:
    """The name of the edge that this point of the ring lies on."""
    if not ring.names:
        return ""
    at = max((k for k, start in enumerate(ring.starts) if start <= index), default=len(ring.starts) - 1)
    return ring.names[at]


def _trimmed(points: Path, first: int, last: int) -> tuple[int, int]:
    """The fold without points at its ends that belong to the line leaving it, still within the tolerance."""
    count = len(points)

    def leaves(end: int, inner: int) -> bool:
        rise = abs(points[end][1]) - abs(points[inner][1])
        return rise > REPEAT_MM and rise > 0.2 * abs(points[end][0] - points[inner][0])

    while (last - first) % count > 1 and leaves(last, (last - 1) % count):
        last = (last - 1) % count
    while (last - first) % count > 1 and leaves(first, (first + 1) % count):
        first = (first + 1) % count
    return first, last


def unfolded(ring: Ring, mirror: Mirror) -> Outline:
    """The whole piece from its half: mirrored across the mirror line, the fold gone, in the half's own frame.

    Edges without a name are called "edge 1"… in the order of the ring; an edge and its image share a name.
    Raises RingError (see :func:`half_path`) and OutlineError.
    """
    whole = unfold(*half_path(ring, mirror))
    if not ring.names:
        # Numbered anew: where the ring begins after unfolding is not where the half began.
        numbers = {name: f"edge {n}" for n, name in enumerate(dict.fromkeys(e.name for e in whole.edges), 1)}
        whole = Outline(whole.points, tuple(Edge(numbers[edge.name], edge.start) for edge in whole.edges))
    return Outline(_out_of_frame(mirror, whole.points), whole.edges)


def mirrored_across(points: Sequence[Point], mirror: Mirror) -> Path:
    """The mirror image of points across a line."""
    return _out_of_frame(mirror, [(x, -y) for x, y in _in_frame(mirror, points)])


def _frame(mirror: Mirror) -> tuple[float, float, float, float]:
    (px, py), (qx, qy) = mirror
    length = math.hypot(qx - px, qy - py)
    return px, py, (qx - px) / length, (qy - py) / length


def _in_frame(mirror: Mirror, points: Sequence[Point]) -> Path:
    px, py, ux, uy = _frame(mirror)
    return tuple(((x - px) * ux + (y - py) * uy, (y - py) * ux - (x - px) * uy) for x, y in points)


def _out_of_frame(mirror: Mirror, points: Sequence[Point]) -> Path:
    px, py, ux, uy = _frame(mirror)
    return tuple((px + x * ux - y * uy, py + x * uy + y * ux) for x, y in points)
