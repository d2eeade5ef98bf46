"""A graded piece from its base size and a grow-by table: mm a size at named corners.

A move is (along, across) in mm from the base size. With the grain upright, + along is up and + across is to the left,
as x and y of an outline are drawn. On a folded piece the moves are those of its left half, so + across is away from the
fold; the right half moves as its mirror image, and a point on the fold moves only along the fold.
:mod:`planner.core.grow_points` says which points there are and what they are called.

A corner without a move stays where it is. Any other point without a move follows its neighbours: between two points
that move or stay, the move changes evenly with the length of the line, measured in the base size.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.core.grow_points import GrowBase, GrowPoint, PointKind, grow_base
from planner.core.outline import (
    LARGEST_MM,
    Edge,
    Outline,
    OutlineError,
    Point,
    make_outline,
    path_length_mm,
    signed_area_mm2,
)

Move = tuple[float, float]

#: Outlines nearer to a table's than this are made by it (mm).
READ_BACK_MM = 0.05


@dataclass(frozen=True, slots=True)
class GrowProblem:
    """What is wrong with the move of a point in a size; either is "" where the problem is not one of it."""

    point: str
    size: str
    text: str

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True)
class Grown:
    """The outlines by size that could be made, and what was wrong with the others."""

    outlines: Mapping[str, Outline]
    problems: tuple[GrowProblem, ...]


def grow(base: Outline, moves: Mapping[str, Mapping[str, Move]]) -> Grown:
    """The sizes of a piece from its base size and {point: {size: (along, across)}}, mm from the base size.

    Every size gets the edges of the base size and as many points. Never raises for bad figures: an unknown
    point, a move that is not a number or beyond 20 m, a point pulled off the fold and an outline that crosses
    itself are problems, and their size is left out.
    """
    prepared = grow_base(base)
    problems: list[GrowProblem] = []
    known: list[tuple[GrowPoint, Mapping[str, Move]]] = []
    for name, by_size in moves.items():
        point = prepared.point(name)
        if point is None:
            text = f"The piece has no point “{name}”."
            problems += [GrowProblem(name, size, text) for size in by_size]
        else:
            known.append((point, by_size))
            problems += _wrong_moves(point, by_size)
    wrong = {problem.size for problem in problems}
    used = {point.index for point, _ in known} | {point.twin for point, _ in known}
    left_out = prepared.added - {index for index in used if index is not None}
    outlines: dict[str, Outline] = {}
    for size in _in_order(size for by_size in moves.values() for size in by_size):
        if size in wrong:
            continue
        here = {point: by_size[size] for point, by_size in known if size in by_size}
        try:
            outlines[size] = _moved(prepared, here, left_out)
        except OutlineError as problem:
            problems.append(GrowProblem("", size, f"In {size} {problem}: look at its figures."))
    return Grown(outlines, tuple(problems))


def same_step(step: Move, sizes: Sequence[str], base_size: str) -> dict[str, Move]:
    """The moves of a point that grows by the same from each size to the next larger one.

    `sizes` run from small to large; smaller ones than the base size move the other way. Raises ValueError
    where the base size is none of them.
    """
    middle = sizes.index(base_size)
    return {
        size: ((i - middle) * step[0], (i - middle) * step[1]) for i, size in enumerate(sizes) if i != middle
    }


def moves_between(base: Outline, others: Mapping[str, Outline]) -> dict[str, dict[str, Move]] | None:
    """The grow-by table that makes `others` from `base`, or None where no table of its corners does.

    Outlines that :func:`grow` made are read back to 0.05 mm; points put in the middle of an edge are not.
    """
    prepared = grow_base(base)
    old = [index for index in range(len(prepared.outline.points)) if index not in prepared.added]
    own = {new: i for i, new in enumerate(old)}
    if any(len(other.points) != len(base.points) or other.edges != base.edges for other in others.values()):
        return None
    for kinds in ((PointKind.CORNER,), tuple(PointKind)):  # what goes along anyway needs no row
        moves: dict[str, dict[str, Move]] = {}
        for point in prepared.points:
            if point.kind in kinds and point.index in own:
                i = own[point.index]
                moves[point.name] = {
                    size: (
                        round(other.points[i][0] - base.points[i][0], 3),
                        round(other.points[i][1] - base.points[i][1], 3),
                    )
                    for size, other in others.items()
                }
        if _same_sizes(grow(base, moves).outlines, others):
            return moves
    return None


def _same_sizes(made: Mapping[str, Outline], others: Mapping[str, Outline]) -> bool:
    return made.keys() == others.keys() and all(
        len(made[size].points) == len(other.points)
        and all(math.dist(a, b) <= READ_BACK_MM for a, b in zip(made[size].points, other.points, strict=True))
        for size, other in others.items()
    )


# --- the moves --------------------------------------------------------------------------------------------


def _wrong_moves(point: GrowPoint, by_size: Mapping[str, Move]) -> list[GrowProblem]:
    problems = []
    for size, (along, across) in by_size.items():
        if not (math.isfinite(along) and math.isfinite(across)):
            problems.append(GrowProblem(point.name, size, f"{point.name} in {size}: this is not a number."))
        elif abs(along) > LARGEST_MM or abs(across) > LARGEST_MM:
            text = f"{point.name} in {size}: more than 20 m. Is the unit right?"
            problems.append(GrowProblem(point.name, size, text))
        elif point.on_fold and across:
            text = f"{point.name} in {size}: this point lies on the fold, so it moves only along it."
            problems.append(GrowProblem(point.name, size, text))
    return problems


def _moved(base: GrowBase, moves: Mapping[GrowPoint, Move], left_out: frozenset[int]) -> Outline:
    """One size. Raises OutlineError where its line cannot be cut."""
    held: dict[int, Move] = {edge.start: (0.0, 0.0) for edge in base.outline.edges}
    for point, (along, across) in moves.items():
        held[point.index] = (along, across)
        if point.twin is not None:
            held[point.twin] = (along, -across)
    shifts = _shared_out(base.outline.points, held)
    old = base.outline.points
    kept = [i for i in range(len(old)) if i not in left_out]
    ring = [(old[i][0] + shifts[i][0], old[i][1] + shifts[i][1]) for i in kept]
    if signed_area_mm2(ring) <= 0:
        raise OutlineError("the piece turns inside out")
    place = {index: i for i, index in enumerate(kept)}
    return make_outline(ring, [Edge(edge.name, place[edge.start]) for edge in base.outline.edges])


def _shared_out(points: Sequence[Point], held: Mapping[int, Move]) -> list[Move]:
    """The move of every point: between two held ones in proportion to the length of the line."""
    n = len(points)
    anchors = sorted(held)
    shifts: list[Move] = [(0.0, 0.0)] * n
    for number, start in enumerate(anchors):
        end = anchors[(number + 1) % len(anchors)]
        steps = (end - start) % n or n
        way = [points[(start + i) % n] for i in range(steps + 1)]
        whole = path_length_mm(way)
        (ax, ay), (bx, by) = held[start], held[end]
        done = 0.0
        for i in range(steps):
            share = done / whole if whole else 0.0  # stored outlines are rounded: both may be at one place
            shifts[(start + i) % n] = (ax + (bx - ax) * share, ay + (by - ay) * share)
            done += math.dist(way[i], way[i + 1])
    return shifts


def _in_order(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))
