"""Pieces in all sizes from those in the base size and a table of grade rules."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from planner.core.outline import Point, signed_area_mm2
from planner.core.pattern_files.assembling import Remarks, Shape
from planner.core.pattern_files.astm import BlockPiece
from planner.core.pattern_files.grade_rules import GradeRules
from planner.core.pattern_files.model import MOST_POINTS, RULE_TEXT_MM, Marks, Path, PatternFileError
from planner.core.pattern_files.ring_edges import cut_at_points
from planner.core.pattern_files.rings import Ring, places_on, ring_lengths_mm, turned

#: A piece has no more points with grade rules inside its boundary than this.
MOST_INNER_RULES = 100


def check_fit(
    rules: GradeRules, pieces: Sequence[BlockPiece], *, table: str, sample_size: str, name: str
) -> None:
    """Raises PatternFileError where these rules belong to another file: another table, or other sizes."""
    if table and rules.table and _table_name(table) != _table_name(rules.table):
        raise PatternFileError(
            f"{rules.file_name}: these are the rules “{rules.table[:60]}”, but {name} asks for “{table[:60]}”"
        )
    sizes = {piece.shape.size for piece in pieces if piece.has_size}
    if not sizes and sample_size:
        sizes = {sample_size}
    for size in sorted(sizes):
        if size.casefold() != rules.sample_size.casefold():
            raise PatternFileError(
                f"{rules.file_name}: the rules start from size {rules.sample_size[:40]}, but {name} holds the pieces "
                f"in size {size[:40]}: these rules are for another file"
            )


def graded(pieces: Sequence[BlockPiece], rules: GradeRules, remarks: Remarks) -> list[Shape]:
    """Every piece in every size of the table, in the table's order of sizes.

    A piece with a number for which there is no rule is given in its base size only, with a finding.
    Raises PatternFileError where that would make more points than are read of any file.
    """
    points = sum(_points_of(piece.shape) for piece in pieces)
    if points * len(rules.sizes) > MOST_POINTS:
        raise PatternFileError(
            f"{rules.file_name}: graded to {len(rules.sizes)} sizes there would be more than {MOST_POINTS:,} points"
        )
    shapes: list[Shape] = []
    for piece in pieces:
        base = replace(piece.shape, size=rules.sample_size)
        unknown = sorted({number for _, number in piece.rule_points if number not in rules.moves})
        if unknown:
            others = ", ".join(size for size in rules.sizes if size != rules.sample_size)
            numbers = ", ".join(map(str, unknown[:20]))
            text = f"no rule with the number {numbers} in {rules.file_name}, so it cannot be made in {others}"
            remarks.add("rule missing", "refused", text, piece=base.name, size=base.size)
            shapes.append(base)
            continue
        anchors = _anchors(piece, base, remarks)
        if len(anchors.elsewhere) > MOST_INNER_RULES:
            text = f"more than {MOST_INNER_RULES} grade rules off its boundary, which is more than is read"
            remarks.add("too many rules", "refused", text, piece=base.name, size=base.size)
            continue
        shapes.extend(_in_all_sizes(piece, base, anchors, rules, remarks))
    return shapes


def _points_of(shape: Shape) -> int:
    marks = shape.marks
    paths = (*marks.lines, *marks.cutouts, *marks.sew_lines, *marks.stripe_lines, shape.ring.points)
    return sum(map(len, paths)) + len(marks.notches) + len(marks.holes)


def _in_all_sizes(
    piece: BlockPiece, base: Shape, anchors: _Anchors, rules: GradeRules, remarks: Remarks
) -> list[Shape]:
    if not anchors.numbers:
        text = "no point of its boundary carries a grade rule, so it is the same in all sizes"
        remarks.add("not graded", "assumed", text, piece=base.name)
    if piece.loose_rules:
        which = ", ".join(map(str, piece.loose_rules[:20]))
        text = f"the number of rule {which} stands on no point or line, so it moves nothing: check the other sizes"
        remarks.add("loose rule", "ignored", text, piece=base.name)
    base = replace(base, ring=anchors.ring)
    numbers = {number for _, number in piece.rule_points}
    shapes = []
    for size in rules.sizes:
        moves = {number: turned([rules.moves[number][size]], piece.grade_deg)[0] for number in numbers}
        shape = _moved_shape(base, anchors, moves, size)
        if signed_area_mm2(shape.ring.points) > 0:
            shapes.append(shape)
        else:
            text = f"the rules of {rules.file_name} turn it inside out: are their units right?"
            remarks.add("inside out", "refused", text, piece=base.name, size=size)
    return shapes


@dataclass(frozen=True)
class _Anchors:
    """Which points of the ring carry which rule, and where else rules stand."""

    ring: Ring
    numbers: dict[int, int]
    elsewhere: tuple[tuple[Point, int], ...]


def _anchors(piece: BlockPiece, base: Shape, remarks: Remarks) -> _Anchors:
    ring = _with_points(base.ring, [at for at, _ in piece.rule_points])
    numbers: dict[int, int] = {}
    elsewhere: list[tuple[Point, int]] = []
    places = places_on(ring.points, [at for at, _ in piece.rule_points])
    for (at, number), place in zip(piece.rule_points, places, strict=True):
        ends = (place.segment, (place.segment + 1) % len(ring.points))
        nearest = min(ends, key=lambda i: math.dist(ring.points[i], at))
        if math.dist(ring.points[nearest], at) > RULE_TEXT_MM:
            elsewhere.append((at, number))
        elif numbers.setdefault(nearest, number) != number:
            text = f"two grade rules at one point ({numbers[nearest]} and {number}); the first was taken"
            remarks.add("two rules", "assumed", text, piece=base.name)
    return _Anchors(ring, numbers, tuple(elsewhere))


def _with_points(ring: Ring, points: Sequence[Point]) -> Ring:
    """The ring with these points among its own where they lie on it, its edges as they were."""
    starts = [ring.points[i] for i in ring.starts]
    cut = cut_at_points(ring, [*starts, *points])
    if not cut.starts:
        return ring
    index = {point: i for i, point in enumerate(cut.points)}
    return replace(cut, starts=tuple(index[point] for point in starts), names=ring.names)


def _moved_shape(base: Shape, anchors: _Anchors, moves: dict[int, Point], size: str) -> Shape:
    along = ring_lengths_mm(base.ring.points)
    at = {i: moves[number] for i, number in anchors.numbers.items()}
    shift = _shift_along(along, at)
    points = tuple(
        (x + dx, y + dy) for (x, y), (dx, dy) in zip(base.ring.points, map(shift, along), strict=False)
    )

    def follow(path: Sequence[Point]) -> Path:
        """Moved as the nearest place of the boundary is."""
        places = places_on(base.ring.points, path)
        moved = []
        for (x, y), place in zip(path, places, strict=True):
            step = along[place.segment + 1] - along[place.segment]
            dx, dy = shift(along[place.segment] + place.share * step)
            moved.append((x + dx, y + dy))
        return tuple(moved)

    def own(path: Sequence[Point]) -> Path:
        return _moved_by_own_rules(path, anchors.elsewhere, moves)

    mirror = follow(base.mirror) if base.mirror else None
    return replace(
        base,
        size=size,
        ring=replace(base.ring, points=points),
        marks=_moved_marks(base.marks, follow, own),
        mirror=(mirror[0], mirror[1]) if mirror else None,
    )


def _shift_along(along: Sequence[float], at: dict[int, Point]) -> Callable[[float], Point]:
    """How far the boundary moves at a place so far along it: in proportion between two points with a rule."""
    whole = along[-1]
    known = sorted((along[i], move) for i, move in at.items())
    if not known:
        return lambda _: (0.0, 0.0)
    first, last = known[0], known[-1]
    known = [(last[0] - whole, last[1]), *known, (first[0] + whole, first[1])]
    positions = [position for position, _ in known]

    def shift(position: float) -> Point:
        i = min(max(bisect_right(positions, position) - 1, 0), len(known) - 2)
        (a, (ax, ay)), (b, (bx, by)) = known[i], known[i + 1]
        share = 0.0 if b <= a else min(1.0, max(0.0, (position - a) / (b - a)))
        return ax + (bx - ax) * share, ay + (by - ay) * share

    return shift


def _moved_by_own_rules(
    path: Sequence[Point], rule_points: Iterable[tuple[Point, int]], moves: dict[int, Point]
) -> Path:
    """A line inside the piece: its points with rules move by them, those between in proportion, others not at all."""
    known: dict[int, Point] = {}
    for at, number in rule_points:
        nearest = min(range(len(path)), key=lambda i: math.dist(path[i], at), default=None)
        if nearest is not None and math.dist(path[nearest], at) <= RULE_TEXT_MM:
            known[nearest] = moves[number]
    if not known:
        return tuple(path)
    along = [0.0]
    for here, there in itertools.pairwise(path):
        along.append(along[-1] + math.dist(here, there))
    marks = sorted((along[i], move) for i, move in known.items())
    moved = []
    for (x, y), position in zip(path, along, strict=True):
        before = [mark for mark in marks if mark[0] <= position] or marks[:1]
        after = [mark for mark in marks if mark[0] >= position] or marks[-1:]
        (a, (ax, ay)), (b, (bx, by)) = before[-1], after[0]
        share = 0.0 if b <= a else (position - a) / (b - a)
        moved.append((x + ax + (bx - ax) * share, y + ay + (by - ay) * share))
    return tuple(moved)


def _moved_marks(
    marks: Marks, follow: Callable[[Sequence[Point]], Path], own: Callable[[Sequence[Point]], Path]
) -> Marks:
    notches = []
    for notch in marks.notches:
        ((x, y),) = follow([(notch.x, notch.y)])
        notches.append(replace(notch, x=x, y=y))
    return Marks(
        notches=tuple(notches),
        lines=tuple(own(path) for path in marks.lines),
        cutouts=tuple(own(path) for path in marks.cutouts),
        holes=tuple(own([hole])[0] for hole in marks.holes),
        sew_lines=tuple(follow(path) for path in marks.sew_lines),
        stripe_lines=tuple(own(path) for path in marks.stripe_lines),
    )


def _table_name(name: str) -> str:
    """A table's name without what programs add to it: folder, extension, case."""
    stem = name.replace("\\", "/").rsplit("/", 1)[-1].strip()
    return stem[:-4].casefold() if stem.lower().endswith(".rul") else stem.casefold()
