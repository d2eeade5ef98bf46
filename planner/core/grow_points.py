"""The points of a piece that a grow-by table may move, with their names and letters.

A corner is where two edges meet and is named after both, "shoulder/neckline". The middle of each edge and sharp turns
within an edge are points too. A piece that is the same on both sides of its middle line, names of edges included, is
taken to lie on a fold: its points are named once, on the left half, and have a twin on the right.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import count, pairwise
from string import ascii_lowercase, ascii_uppercase

from planner.core.outline import Edge, Outline, Point, path_length_mm

#: A turn within an edge sharper than this is offered as a point (degrees).
SHARP_TURN_DEG = 30.0
#: The sharpest turns that are offered.
MOST_TURNS = 20
#: Halves that differ by less are the same (mm); stored outlines are rounded to 0.001.
SAME_HALF_MM = 0.02


class PointKind(StrEnum):
    """What a point of the table is."""

    CORNER = "corner"
    FOLD = "fold"
    TURN = "turn"
    MIDDLE = "middle"


@dataclass(frozen=True, slots=True)
class GrowPoint:
    """A point that may move. `index` counts in the ring of :class:`GrowBase`; `twin` is its mirror image."""

    name: str
    letter: str
    kind: PointKind
    index: int
    twin: int | None
    on_fold: bool


@dataclass(frozen=True)
class GrowBase:
    """The base size with the middles of its edges added to the ring, and the points of its grow-by table.

    `added` are the indexes of points that the piece did not have; `has_fold` says that its halves are alike.
    """

    outline: Outline
    points: tuple[GrowPoint, ...]
    added: frozenset[int]
    has_fold: bool

    def point(self, name: str) -> GrowPoint | None:
        """The point with this name; the two edges of a corner may be named in either order."""
        turned = "/".join(reversed(name.split("/")))
        by_name = {point.name: point for point in self.points}
        return by_name.get(name) or by_name.get(turned)


def grow_base(outline: Outline) -> GrowBase:
    """The points of a piece that may be moved, in the order in which they are met.

    As the piece is drawn, with the grain upright and y to the left, that is counter-clockwise from its top; on a folded
    piece, down the left half. Corners, fold points and turns have capital letters, middles small ones.
    """
    full, middles, added = _with_middles(outline)
    mirror = mirror_image(full)
    fold = {i for i, twin in enumerate(mirror or ()) if i == twin}
    kinds: dict[int, PointKind] = dict.fromkeys(middles, PointKind.MIDDLE)
    kinds |= dict.fromkeys(_sharp_turns(full), PointKind.TURN)
    kinds |= dict.fromkeys(fold, PointKind.FOLD)
    kinds |= {edge.start: PointKind.CORNER for edge in full.edges}
    order = way_round(full, fold)
    capital, small = _letters(ascii_uppercase), _letters(ascii_lowercase)
    taken: set[str] = set()
    points = []
    for index in order:
        if index not in kinds:
            continue
        kind = kinds[index]
        name = _free_name(_name(full, index, kind), taken)
        letter = next(small if kind is PointKind.MIDDLE else capital)
        twin = mirror[index] if mirror and index not in fold else None
        points.append(GrowPoint(name, letter, kind, index, twin, index in fold))
    return GrowBase(full, tuple(points), frozenset(added), mirror is not None)


def _with_middles(outline: Outline) -> tuple[Outline, set[int], set[int]]:
    """The outline with a point half-way along each edge; indexes of these, and of those that are new."""
    wanted: dict[int, tuple[Point, bool]] = {}
    n = len(outline.points)
    for number, edge in enumerate(outline.edges):
        steps, point, is_new = _half_way(outline.edge_path(number))
        wanted[(edge.start + steps) % n] = (point, is_new)
    ring: list[Point] = []
    middles: set[int] = set()
    added: set[int] = set()
    place: dict[int, int] = {}
    for i, point in enumerate(outline.points):
        place[i] = len(ring)
        ring.append(point)
        if i in wanted:
            middle, is_new = wanted[i]
            if is_new:
                added.add(len(ring))
                ring.append(middle)
            middles.add(len(ring) - 1)
    edges = tuple(Edge(edge.name, place[edge.start]) for edge in outline.edges)
    return Outline(tuple(ring), edges), middles, added


def _half_way(path: Sequence[Point]) -> tuple[int, Point, bool]:
    """Half-way along a path: the index of the point before it (or at it), the place, and whether it is a new point."""
    rest = path_length_mm(path) / 2
    for i, (a, b) in enumerate(pairwise(path)):
        step = math.dist(a, b)
        if i and rest <= SAME_HALF_MM / 2:
            return i, a, False
        if step - rest > SAME_HALF_MM / 2:
            share = rest / step
            return i, (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share), True
        rest -= step
    return len(path) - 2, path[-2], False


def mirror_image(outline: Outline) -> tuple[int, ...] | None:
    """For each point the index of its mirror image across the middle line along the grain.

    None where the halves differ by more than SAME_HALF_MM or in the names of their edges.
    """
    points, n = outline.points, len(outline.points)
    _, y0, _, y1 = outline.bounds_mm
    first = (points[0][0], y0 + y1 - points[0][1])
    for k in (i for i, point in enumerate(points) if math.dist(point, first) <= SAME_HALF_MM):
        if all(
            abs(points[(k - i) % n][0] - x) <= SAME_HALF_MM
            and abs(points[(k - i) % n][1] - (y0 + y1 - y)) <= SAME_HALF_MM
            for i, (x, y) in enumerate(points)
        ) and _same_edges(outline, k):
            return tuple((k - i) % n for i in range(n))
    return None


def _same_edges(outline: Outline, k: int) -> bool:
    """Whether the edges of the mirror image (point i at k − i) have the names and places of the edges."""
    n, edges = len(outline.points), outline.edges
    ends = [edges[(i + 1) % len(edges)].start for i in range(len(edges))]
    mirrored = {((k - end) % n, edge.name) for edge, end in zip(edges, ends, strict=True)}
    return mirrored == {(edge.start, edge.name) for edge in edges}


def _sharp_turns(outline: Outline) -> list[int]:
    points, n = outline.points, len(outline.points)
    turns = []
    for i, (x, y) in enumerate(points):
        (ax, ay), (bx, by) = points[i - 1], points[(i + 1) % n]
        turn = math.atan2(by - y, bx - x) - math.atan2(y - ay, x - ax)
        degrees = abs(math.degrees(math.remainder(turn, math.tau)))
        if degrees >= SHARP_TURN_DEG:
            turns.append((degrees, i))
    starts = {edge.start for edge in outline.edges}
    within = sorted((turn for turn in turns if turn[1] not in starts), reverse=True)
    return [i for _, i in within[:MOST_TURNS]]


def way_round(outline: Outline, fold: Collection[int]) -> list[int]:
    """Indexes in the order of the ring, from the top on: counter-clockwise as drawn with the grain upright.

    `fold` are the points of a folded piece that are their own mirror image. Of such a piece only the left half is
    given, from the upper of these points to the lower.
    """
    n = len(outline.points)
    high = sorted(fold or range(n), key=lambda i: (-outline.points[i][0], outline.points[i][1]))
    steps = (high[-1] - high[0]) % n + 1 if len(fold) == 2 else n
    return [(high[0] + i) % n for i in range(steps)]


def _name(outline: Outline, index: int, kind: PointKind) -> str:
    edges = outline.edges
    # The edge a point lies on is the last that starts before it; one before the first lies on the last.
    number = max((i for i, edge in enumerate(edges) if edge.start <= index), default=len(edges) - 1)
    name = edges[number].name
    if kind is PointKind.CORNER:
        return f"{edges[number - 1].name}/{name}"
    return f"turn in {name}" if kind is PointKind.TURN else f"middle of {name}"


def _free_name(name: str, taken: set[str]) -> str:
    free = next(n for n in (name if i == 1 else f"{name} ({i})" for i in count(1)) if n not in taken)
    taken.add(free)
    return free


def _letters(alphabet: str) -> Iterator[str]:
    """A, B, … Z, A2, B2, …"""
    return (letter if turn == 1 else f"{letter}{turn}" for turn in count(1) for letter in alphabet)
