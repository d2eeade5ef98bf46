"""Where an edge is cut in two: at a point of its line, at a notch that lies on it, or at a length along it.

All lengths are mm along the edge, from where it begins in the direction of the ring.
"""

from __future__ import annotations

import math
from bisect import insort
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import LineString
from shapely.geometry import Point as Place

from planner.core.outline import Outline, OutlineError, Point, path_length_mm

#: Where an edge is cut in another size: at the point or notch nearest to the same share of its length, within this.
SAME_PLACE_SHARE = 0.05
#: Either part of an edge that is cut is at least as long as this (mm).
SHORTEST_PART_MM = 2.0
#: A point of the line nearer than this to where it is cut is where it is cut (mm).
AT_POINT_MM = 0.05
#: A notch lies on an edge where it is no farther from its line (mm).
ON_EDGE_MM = 1.5


@dataclass(frozen=True, slots=True)
class CutAlong:
    """Where an edge is cut, in the size it is named on: `far_mm` from its beginning, or `from_end` from its end.

    In each larger size `step_mm` further. With `at_notch` a notch lies there; other sizes are cut at theirs.
    """

    far_mm: float
    step_mm: float = 0.0
    from_end: bool = False
    at_notch: bool = False


def same_point(shape: Outline, edge: int, base: Outline, base_edge: int, point: int) -> int | None:
    """The point of an edge in another size that lies where `point` of the base lies in its edge, None if none."""
    path, like = shape.edge_path(edge), base.edge_path(base_edge)
    place = (point - base.edges[base_edge].start) % len(base.points)
    if not 0 < place < len(like) - 1:
        return None
    share = path_length_mm(like[: place + 1]) / path_length_mm(like)
    whole, gone = path_length_mm(path), 0.0
    best, nearest = None, SAME_PLACE_SHARE
    for i in range(1, len(path) - 1):
        gone += math.dist(path[i - 1], path[i])
        off = abs(gone / whole - share)
        if len(path) == len(like) and i == place:
            off /= 2  # drawn with as many points, so it is most likely this one
        if off < nearest:
            best, nearest = (shape.edges[edge].start + i) % len(shape.points), off
    return best


def notches_along(outline: Outline, edge: int, notches: Iterable[Point]) -> list[float]:
    """How far along an edge (mm) the notches stand that lie on it, in its order; none at its very ends."""
    line = LineString(outline.edge_path(edge))
    found: list[float] = []
    for notch in notches:
        place = Place(notch)
        far = line.project(place)
        if line.distance(place) <= ON_EDGE_MM and SHORTEST_PART_MM <= far <= line.length - SHORTEST_PART_MM:
            insort(found, far)
    return found


def same_notch(
    shape: Outline, edge: int, notches: Iterable[Point], base: Outline, base_edge: int, far_mm: float
) -> float | None:
    """How far along an edge (mm) the notch stands in another size that stands at `far_mm` in the base."""
    share = far_mm / path_length_mm(base.edge_path(base_edge))
    whole = path_length_mm(shape.edge_path(edge))
    there = notches_along(shape, edge, notches)
    nearest = min(there, key=lambda far: abs(far / whole - share), default=None)
    return nearest if nearest is not None and abs(nearest / whole - share) < SAME_PLACE_SHARE else None


def with_points(outline: Outline, places: Sequence[tuple[int, float]]) -> tuple[Outline, list[int]]:
    """The outline with a point of its line at each place, (edge index, mm along it), and the indexes of these points.

    A point that is there already is taken. Edges stay as they are. Raises OutlineError for a place at the end of
    its edge, or beyond it.
    """
    for edge, far in places:
        whole = path_length_mm(outline.edge_path(edge))
        if not SHORTEST_PART_MM <= far <= whole - SHORTEST_PART_MM:
            raise OutlineError(f"an edge cannot be cut {far:.1f} mm along where it is {whole:.1f} mm long")
        outline = _with_point(outline, edge, far)
    return outline, [_nearest(outline, edge, far)[0] for edge, far in places]


def _with_point(outline: Outline, edge: int, far_mm: float) -> Outline:
    if _nearest(outline, edge, far_mm)[1] <= AT_POINT_MM:
        return outline
    place = LineString(outline.edge_path(edge)).interpolate(far_mm)
    count, start = len(outline.points), outline.edges[edge].start
    gone, before = 0.0, start
    path = outline.edge_path(edge)
    for i in range(1, len(path)):
        gone += math.dist(path[i - 1], path[i])
        if gone > far_mm:
            before = (start + i - 1) % count
            break
    points = (*outline.points[: before + 1], (place.x, place.y), *outline.points[before + 1 :])
    edges = tuple(replace(e, start=e.start + (e.start > before)) for e in outline.edges)
    return Outline(points, edges)


def _nearest(outline: Outline, edge: int, far_mm: float) -> tuple[int, float]:
    """The point within an edge whose place along it is nearest to `far_mm`, and how far off (mm) it is."""
    path = outline.edge_path(edge)
    gone, found = 0.0, (outline.edges[edge].start, math.inf)
    for i in range(1, len(path) - 1):
        gone += math.dist(path[i - 1], path[i])
        if abs(gone - far_mm) < found[1]:
            found = ((outline.edges[edge].start + i) % len(outline.points), abs(gone - far_mm))
    return found


def is_mirror_image(outline: Outline, edge: int, other: int) -> bool:
    """Whether one edge runs as the other would in a mirror, so that it begins where that one ends.

    A mirror that stands along the grain, as between the two sides of a front.
    """
    (ax, ay), (bx, by) = (_run(outline, index) for index in (edge, other))
    alike, mirrored = math.dist((ax, ay), (bx, by)), math.dist((-ax, ay), (bx, by))
    if abs(mirrored - alike) > 1e-6:
        return mirrored < alike
    # Straight across the grain, as the two halves of a hem: they lie on either side of the middle.
    _, y0, _, y1 = outline.bounds_mm
    beside, other_side = (
        path[0][1] + path[-1][1] - y0 - y1 for path in map(outline.edge_path, (edge, other))
    )
    return beside * other_side < 0


def cut_like(outline: Outline, names: Sequence[str], edge: int, part: str) -> bool | None:
    """Whether an edge to be cut runs the opposite way to an edge of its name that was cut before, as a left side
    does.

    `names` are the present names of the edges. The second part of the edge cut before is called `part` and is its
    neighbour in the ring: the next one, or the one before where that edge itself ran the opposite way. None where no
    edge of this name was cut before, or where this one was.
    """
    count = len(names)
    beside = {i: [way for way in (1, -1) if names[(i + way) % count] == part] for i in range(count)}
    twins = [i for i in range(count) if i != edge and names[i] == names[edge] and len(beside[i]) == 1]
    if beside[edge] or not twins:
        return None
    return is_mirror_image(outline, twins[0], edge) == (beside[twins[0]] == [1])


def _run(outline: Outline, edge: int) -> Point:
    """The direction of an edge from end to end, of length 1."""
    path = outline.edge_path(edge)
    (ax, ay), (bx, by) = path[0], path[-1]
    chord = math.dist(path[0], path[-1]) or 1.0
    return (bx - ax) / chord, (by - ay) / chord
