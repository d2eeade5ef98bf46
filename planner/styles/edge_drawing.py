"""A piece drawn large with each edge in a colour and dash of its own, numbered and named, its corners lettered."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from string import ascii_uppercase

from planner.core.outline import Outline, Point, path_length_mm

#: Edges are told apart by number and name; the colours (classes edge-1 to edge-6) only help the eye.
COLOURS = 6
#: Height of the letters on the page.
_TEXT_PX = 15
#: Letters of a name in the drawing; the list beside it has the whole.
_MOST_LETTERS = 22
#: Width of a letter as a share of its height, generous.
_LETTER = 0.56
#: A point at which the line turns more than this may part an edge in two.
_TURN_DEG = 12.0
_SHARPER = 1.6
#: So many of the sharpest turns of an edge are offered.
_MOST_TURNS = 8


@dataclass(frozen=True)
class EdgeLine:
    """One edge: its line, where its number stands on it, and where its name beside it."""

    index: int
    name: str
    path: str
    colour: int
    number_x: float
    number_y: float
    name_x: float
    name_y: float
    anchor: str
    shown: str

    @property
    def number(self) -> int:
        """As people count."""
        return self.index + 1


@dataclass(frozen=True)
class Corner:
    """Where one edge ends and the next begins."""

    letter: str
    x: float
    y: float
    text_x: float
    text_y: float


@dataclass(frozen=True)
class TurnPoint:
    """A point within an edge where it may be cut in two: `index` into the outline's points.

    `from_start_mm` is measured along the edge from its first corner, `letter` is that corner's.
    """

    index: int
    edge: int
    from_start_mm: float
    letter: str


@dataclass(frozen=True)
class EdgeDrawing:
    """A piece with its grain upright; one SVG unit is one millimetre. `unit` is the height of its letters in mm."""

    lines: tuple[EdgeLine, ...]
    corners: tuple[Corner, ...]
    turns: tuple[tuple[float, float], ...]
    inside: str
    view_box: str
    width_px: int
    height_px: int
    unit: float
    grain: tuple[float, float, float, float]

    @property
    def disc(self) -> float:
        """Radius of the disc behind a number."""
        return round(0.8 * self.unit, 2)

    @property
    def dot(self) -> float:
        """Radius of a corner's dot."""
        return round(0.26 * self.unit, 2)


def letter_of(corner: int) -> str:
    """A to Z, then A2 to Z2 and on."""
    rounds, place = divmod(corner, len(ascii_uppercase))
    return ascii_uppercase[place] + (str(rounds + 1) if rounds else "")


def turn_points(outline: Outline, edge: int) -> list[TurnPoint]:
    """Where an edge may be cut, in its order: its sharpest turns, and the point half-way along if it has one."""
    path = outline.edge_path(edge)
    whole = path_length_mm(path)
    turns = [0.0, *(abs(_turn_deg(*path[i - 1 : i + 2])) for i in range(1, len(path) - 1)), 0.0]
    gone, found = 0.0, []
    for i in range(1, len(path) - 1):
        gone += math.dist(path[i - 1], path[i])
        turn = turns[i]
        half = abs(gone - whole / 2) < 0.5
        # The points of a flattened curve all turn alike; a corner turns more than those beside it.
        if half or turn > max(_TURN_DEG, _SHARPER * turns[i - 1], _SHARPER * turns[i + 1]):
            index = (outline.edges[edge].start + i) % len(outline.points)
            found.append((turn + 1000 * half, TurnPoint(index, edge, gone, letter_of(edge))))
    sharpest = sorted(found, key=lambda pair: -pair[0])[:_MOST_TURNS]
    return sorted((point for _, point in sharpest), key=lambda point: point.from_start_mm)


def _turn_deg(before: Point, here: Point, after: Point) -> float:
    one = math.atan2(here[1] - before[1], here[0] - before[0])
    other = math.atan2(after[1] - here[1], after[0] - here[0])
    return (math.degrees(other - one) + 180.0) % 360.0 - 180.0


def draw_edges(
    outline: Outline,
    *,
    most_px: int,
    most_width_px: int,
    names: Sequence[str] = (),
    notches: Sequence[Point] = (),
) -> EdgeDrawing:
    """`names` stand in place of those in the outline, for names that are typed but not kept yet.

    The rings where an edge may be cut stand at its turns, and at `notches` (mm).
    """
    x0, y0, x1, y1 = outline.bounds_mm
    width, height = y1 - y0, x1 - x0
    named = [names[i] if i < len(names) else edge.name for i, edge in enumerate(outline.edges)]
    longest = max((min(len(name), _MOST_LETTERS) for name in named), default=4)
    side_px, end_px = _TEXT_PX * (_LETTER * longest + 2.2), _TEXT_PX * 3.6
    scale = min((most_px - 2 * end_px) / height, (most_width_px - 2 * side_px) / width)
    unit = _TEXT_PX / scale
    side, end = side_px / scale, end_px / scale

    def at(point: Point) -> Point:
        return y1 - point[1], x1 - point[0]

    paths = [[at(point) for point in outline.edge_path(i)] for i in range(len(outline.edges))]
    lines = tuple(_line(i, name, path, unit) for i, (name, path) in enumerate(zip(named, paths, strict=True)))
    corners = tuple(
        _corner(letter_of(i), paths[i - 1][-2], path[0], path[1], unit) for i, path in enumerate(paths)
    )
    turns = (
        *(at(outline.points[t.index]) for i in range(len(outline.edges)) for t in turn_points(outline, i)),
        *map(at, notches),
    )
    inside = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in map(at, outline.points)) + "Z"
    return EdgeDrawing(
        lines,
        corners,
        turns,
        inside,
        f"{-side:.1f} {-end:.1f} {width + 2 * side:.1f} {height + 2 * end:.1f}",
        round((width + 2 * side) * scale),
        round((height + 2 * end) * scale),
        round(unit, 2),
        (width / 2, height * 0.35, width / 2, height * 0.65),
    )


def _line(index: int, name: str, path: list[Point], unit: float) -> EdgeLine:
    (x, y), (nx, ny) = _middle(path)
    shown = name if len(name) <= _MOST_LETTERS else name[: _MOST_LETTERS - 1] + "…"
    anchor = "middle" if abs(nx) < 0.25 else "start" if nx > 0 else "end"
    away = 1.35 * unit
    # Letters stand on their baseline, so a name above its edge needs less room than one below it.
    drop = unit * (0.35 + 0.45 * ny)
    return EdgeLine(
        index,
        name,
        "M" + "L".join(f"{px:.1f} {py:.1f}" for px, py in path),
        index % COLOURS + 1,
        round(x, 1),
        round(y, 1),
        round(x + away * nx, 1),
        round(y + away * ny + drop, 1),
        anchor,
        shown,
    )


def _middle(path: list[Point]) -> tuple[Point, Point]:
    """The point half-way along, and the way out of the piece there."""
    left = path_length_mm(path) / 2
    for start, end in pairwise(path):
        step = math.dist(start, end)
        if step >= left > 0:
            share = left / step
            dx, dy = (end[0] - start[0]) / step, (end[1] - start[1]) / step
            # The ring runs counter-clockwise seen with y up; here y runs down, so the piece lies to the right of
            # (dx, dy), as figures go.
            return (start[0] + share * step * dx, start[1] + share * step * dy), (-dy, dx)
        left -= step
    return path[-1], (0.0, 1.0)


def _corner(letter: str, before: Point, here: Point, after: Point, unit: float) -> Corner:
    (ax, ay), (bx, by) = _away(here, before), _away(here, after)
    outward = -1.0 if _is_convex(before, here, after) else 1.0
    dx, dy = outward * (ax + bx), outward * (ay + by)
    if math.hypot(dx, dy) < 0.05:
        dx, dy = -by, bx  # where the line runs straight on
    reach = unit / math.hypot(dx, dy)
    text_x, text_y = here[0] + dx * reach, here[1] + dy * reach + 0.35 * unit
    return Corner(letter, *(round(value, 1) for value in (*here, text_x, text_y)))


def _away(here: Point, there: Point) -> Point:
    size = math.dist(here, there) or 1.0
    return (there[0] - here[0]) / size, (there[1] - here[1]) / size


def _is_convex(before: Point, here: Point, after: Point) -> bool:
    cross = (here[0] - before[0]) * (after[1] - here[1]) - (here[1] - before[1]) * (after[0] - here[0])
    return cross < 0
