"""Grading: whether a piece grows evenly from size to size, and a size between two given ones.

A piece that is the same in all sizes, or shrinks evenly, is fine. Its area and every edge should change in one
direction and by steps like their neighbours'. What is measured is the cut line, by edge name.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from planner.core.edge_changes import match_edges
from planner.core.outline import Edge, Outline, OutlineError, Point, make_outline, path_length_mm
from planner.core.too_wide import measure_in_words
from planner.core.units import Display, area_as_told, area_unit

#: A step may be this share smaller than the smallest, or larger than the largest, of its neighbours' steps.
OUT_OF_LINE = 1.0 / 3.0
#: Differences of lengths up to this count for nothing (mm): drafting and flattened curves make them. Of areas it
#: is this times the longer extent of the piece.
SMALL_STEP_MM = 1.5
#: Edges of one name that differ by no more are one edge and its mirror image (mm).
ALIKE_MM = 0.5
#: Points of an edge in two sizes are the same points when they lie within this share of its length of each other.
SAME_PLACE = 0.05

AREA = "area"


@dataclass(frozen=True, slots=True)
class GradingProblem:
    """Something odd in the grade of a piece, said by `str`. `measure` is "area" or the name of an edge."""

    measure: str

    def told_in(self, display: Display) -> str:
        """The same with its lengths in these units."""
        return str(self)

    def _step(self, by: float, display: Display, about: str = "") -> str:
        """A step in words: what the measure does, and by how much."""
        how_much = figure(self.measure, by, display)
        if not any(digit in how_much for digit in "123456789"):
            return "hardly changes"
        does = "grows" if by >= 0 else "shrinks"
        return f"{does} by {about}{how_much}"


def figure(measure: str, value: float, display: Display = "metric") -> str:
    """How much, without its sign: an area (mm²) in whole cm² and a length in whole mm; in inches areas to a tenth,
    lengths to the sixteenth."""
    if measure != AREA:
        return measure_in_words(abs(value), display)
    return f"{area_as_told(abs(value), display)} {area_unit(display)}"


@dataclass(frozen=True, slots=True)
class OtherEdges(GradingProblem):
    """A name that a size has more or fewer edges of than most sizes; `has` and `usual` count them."""

    size: str
    has: int
    usual: int

    def __str__(self) -> str:
        if not self.has:
            return f"there is no edge “{self.measure}” in {self.size}"
        here = "is 1 edge" if self.has == 1 else f"are {self.has} edges"
        usual = self.usual or "none"
        return f"there {here} “{self.measure}” in {self.size}, but {usual} in other sizes"


@dataclass(frozen=True, slots=True)
class WrongWay(GradingProblem):
    """A step against the direction of the grade; `step` in mm or mm²."""

    smaller: str
    larger: str
    step: float

    def __str__(self) -> str:
        return self.told_in("metric")

    def told_in(self, display: Display) -> str:
        """Lengths in whole millimetres, or in inches to the sixteenth."""
        otherwise = "shrinks" if self.step > 0 else "grows"
        return (
            f"{self.measure} {self._step(self.step, display)} from {self.smaller} to {self.larger}, but "
            f"{otherwise} from the smallest size to the largest"
        )


@dataclass(frozen=True, slots=True)
class OutOfLine(GradingProblem):
    """A step unlike its neighbours'; `step` and `neighbours` (mean of their steps) in mm or mm²."""

    smaller: str
    larger: str
    step: float
    neighbours: float

    def __str__(self) -> str:
        return self.told_in("metric")

    def told_in(self, display: Display) -> str:
        """Lengths in whole millimetres, or in inches to the sixteenth."""
        beside = self._step(self.neighbours, display, "about ")
        if self.step * self.neighbours > 0:
            beside = beside.removeprefix("grows ").removeprefix("shrinks ")
        return (
            f"{self.measure} {self._step(self.step, display)} from {self.smaller} to {self.larger}, but "
            f"{beside} between the sizes beside them"
        )


def grading_problems(outlines: Sequence[tuple[str, Outline]]) -> list[GradingProblem]:
    """What looks wrong in the grade of a piece, given as (size, outline) from the smallest size to the largest."""
    found: list[GradingProblem] = list(other_edges(outlines))
    sizes = [size for size, _ in outlines]
    if len(sizes) < 2:
        return found
    lacking = {problem.measure for problem in found}
    extent = max(max(outline.length_mm, outline.width_mm) for _, outline in outlines)
    found += uneven(AREA, sizes, [outline.area_mm2 for _, outline in outlines], SMALL_STEP_MM * extent)
    for name in outlines[0][1].edge_lengths_mm():
        if name not in lacking:
            found += uneven(
                name, sizes, lengths_mm(name, [outline for _, outline in outlines]), SMALL_STEP_MM
            )
    return found


def lengths_mm(name: str, outlines: Sequence[Outline]) -> list[float]:
    """Length of the edges of a name in each size (mm): of one where they are alike in every size, else their sum."""
    each = [[path_length_mm(path) for path in outline.edge_paths(name)] for outline in outlines]
    if each and each[0] and all(max(paths) - min(paths) <= ALIKE_MM for paths in each if paths):
        return [sum(paths) / max(len(paths), 1) for paths in each]
    return [sum(paths) for paths in each]


def other_edges(outlines: Sequence[tuple[str, Outline]]) -> Iterator[GradingProblem]:
    """Edge names of which a size does not have as many edges as most."""
    names = dict.fromkeys(edge.name for _, outline in outlines for edge in outline.edges)
    for name in names:
        counts = [outline.edge_count(name) for _, outline in outlines]
        usual = usual_count(counts)
        for (size, _), has in zip(outlines, counts, strict=True):
            if has != usual:
                yield OtherEdges(name, size, has, usual)


def usual_count(counts: Iterable[int]) -> int:
    """How many most sizes have; where that is a draw, the larger number. 0 for no sizes."""
    return max(Counter(counts).items(), key=lambda item: (item[1], item[0]), default=(0, 0))[0]


def uneven(
    measure: str, sizes: Sequence[str], values: Sequence[float], small: float
) -> Iterator[GradingProblem]:
    """Steps of a measure that go the wrong way or are out of line; differences up to `small` do not count."""
    steps = [after - before for before, after in pairwise(values)]
    total = values[-1] - values[0]
    direction = 1.0 if total >= 0 else -1.0
    for i, step in enumerate(steps):
        if step * direction < -small:
            yield WrongWay(measure, sizes[i], sizes[i + 1], step)
        elif (neighbours := _out_of_line(steps, i, small)) is not None:
            yield OutOfLine(measure, sizes[i], sizes[i + 1], step, neighbours)


def _out_of_line(steps: Sequence[float], i: int, small: float) -> float | None:
    """The mean of the neighbours' steps where a step is out of line with both of them, else None.

    A step at an end is held against the two next to it. Of two steps only, the larger one is pointed out.
    """
    if len(steps) == 2 and abs(steps[i]) <= abs(steps[1 - i]):
        return None
    if i == 0:
        beside = steps[1:3]
    elif i == len(steps) - 1:
        beside = steps[max(i - 2, 0) : i]
    else:
        beside = [steps[i - 1], steps[i + 1]]
    if not beside or max(map(abs, [steps[i], *beside])) <= small:
        return None
    low, high = min(beside), max(beside)
    # A third of the step's own size, whichever way it goes, but never less than counts.
    if low - max(small, OUT_OF_LINE * abs(low)) <= steps[i] <= high + max(small, OUT_OF_LINE * abs(high)):
        return None
    return sum(beside) / len(beside)


# --- a size between two -----------------------------------------------------------------------------------


def interpolate(smaller: Outline, larger: Outline, share: float) -> Outline:
    """The outline at `share` (0 to 1) of the way from a smaller size to a larger one.

    Edges are matched (see :func:`~planner.core.edge_changes.match_edges`) and keep the names of the smaller size.
    Where an edge has the same points in both sizes, each point moves straight to its partner; else a place at some
    share of the edge's length moves to the place at the same share. Raises OutlineError where the sizes do not
    have the same edges or the result cannot be cut.
    """
    if not 0.0 <= share <= 1.0:
        raise OutlineError("a size between two others lies between 0 and 1")
    match = match_edges(smaller, larger)
    if not match.is_complete:
        count = f"{len(smaller.edges)} and {len(larger.edges)}"
        raise OutlineError(
            f"the two sizes do not have the same edges ({count}), so none is made between them"
        )
    partner: Mapping[int, int] = {a: b for b, a in enumerate(match.base_of) if a is not None}
    points: list[Point] = []
    edges: list[Edge] = []
    for index, edge in enumerate(smaller.edges):
        edges.append(Edge(edge.name, len(points)))
        points += _between(smaller.edge_path(index), larger.edge_path(partner[index]), share)[:-1]
    try:
        return make_outline(points, edges)
    except OutlineError as problem:
        raise OutlineError(f"no size can be made between these two: {problem}") from None


def _between(one: Sequence[Point], other: Sequence[Point], share: float) -> list[Point]:
    places, others = _places(one), _places(other)
    same = len(places) == len(others) and all(
        abs(a - b) <= SAME_PLACE for a, b in zip(places, others, strict=True)
    )
    if not same:
        merged = sorted({*places, *others})
        # Two places a hair apart are one: 1e-9 of an edge is less than a micrometre.
        wanted = [place for before, place in pairwise([-1.0, *merged]) if place - before > 1e-9]
        wanted[-1] = 1.0
        one = [_at(one, places, place) for place in wanted]
        other = [_at(other, others, place) for place in wanted]
    return [
        (ax + share * (bx - ax), ay + share * (by - ay))
        for (ax, ay), (bx, by) in zip(one, other, strict=True)
    ]


def _places(path: Sequence[Point]) -> list[float]:
    """Where the points of a path lie, as shares of its length from 0 to 1."""
    places = [0.0]
    for start, end in pairwise(path):
        places.append(places[-1] + path_length_mm((start, end)))
    total = places[-1] or 1.0
    return [place / total for place in places[:-1]] + [1.0]


def _at(path: Sequence[Point], places: Sequence[float], place: float) -> Point:
    """The point at a share of the length of a path."""
    i = min(bisect_right(places, place) - 1, len(path) - 2)
    step = places[i + 1] - places[i]
    part = (place - places[i]) / step if step > 0 else 0.0
    (ax, ay), (bx, by) = path[i], path[i + 1]
    return ax + part * (bx - ax), ay + part * (by - ay)
