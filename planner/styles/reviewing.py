"""From a pattern file and the answers to its questions to what would be taken into a style.

Nothing is read from or written to the database here: what the style has already comes in as :class:`Known`, what the
maker answered as :class:`Answers`, and :func:`propose` says what each piece of the file would become.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from shapely.geometry import Point as ShapelyPoint

from planner.core.outline import Outline, OutlineError
from planner.core.pattern_files.assembling import placed_marks
from planner.core.pattern_files.model import Marks, Path, ReadPattern, ReadPiece, marks_from_json
from planner.core.seam_lines import allowances_for, with_allowance
from planner.styles.edge_words import lengths_each_mm
from planner.styles.reviewing_edges import once, plain_name, with_edge_names

#: Lengths that differ by less are the same (mm): a corrected file is written anew with rounded figures.
SAME_MM = 0.15
#: Areas that differ by a smaller share are the same.
SAME_SHARE = 0.0005
#: A notch nearer than this to the sewing line belongs to it, and moves out with it (mm).
_AT_THE_LINE_MM = 1.0


@dataclass(frozen=True)
class KnownPiece:
    """A piece that the style has already, with its outlines and stored marks by size."""

    pk: int
    name: str
    count: int
    pair: bool
    role: str
    option: str
    allowance_mm: float
    edge_allowances: Mapping[str, float]
    outlines: Mapping[str, Outline]
    marks: Mapping[str, Mapping[str, Any]]


@dataclass(frozen=True)
class Known:
    """What the style has already. `sizes` is empty for a style that is only to be made from the file.

    `pieces` by lower-case name; `of_base` are lower-case names of pieces that belong to the style it is built on.
    `options` are written "neck: rib band"; `base_details` are details that belong to the style it is built on. With
    `may_take_sizes` the sizes of the file may take the place of the style's. `state` changes with any outline of the
    style.
    """

    sizes: tuple[str, ...] = ()
    base_size: str = ""
    pieces: Mapping[str, KnownPiece] = field(default_factory=dict)
    of_base: frozenset[str] = frozenset()
    roles: tuple[str, ...] = ()
    options: tuple[str, ...] = ()
    base_details: frozenset[str] = frozenset()
    may_take_sizes: bool = False
    state: str = ""

    def piece(self, name: str) -> KnownPiece | None:
        """The piece of that name, however it is written."""
        return self.pieces.get(plain_name(name).lower())


@dataclass(frozen=True)
class PieceAnswer:
    """Whether a piece of the file is taken, and under which name."""

    take: bool
    name: str


@dataclass(frozen=True)
class Answers:
    """What decides the shapes that are taken.

    `factor` enlarges everything (1 unless a true length was typed). `included` is None while nobody said whether
    the outlines are cut lines. `sizes` maps sizes of the file to those of the style; what is not named is left out.
    `pieces` is by their name in the file.
    """

    factor: float = 1.0
    included: bool | None = None
    allowance_mm: float = 0.0
    sizes: Mapping[str, str] = field(default_factory=dict)
    pieces: Mapping[str, PieceAnswer] = field(default_factory=dict)


@dataclass(frozen=True)
class EdgeChange:
    """Lengths of the edges of one name (mm), as many as there are: none where there is no such edge."""

    name: str
    old_each_mm: tuple[float, ...]
    new_each_mm: tuple[float, ...]

    @property
    def old_mm(self) -> float | None:
        """All of them together before; None where there was none."""
        return sum(self.old_each_mm) if self.old_each_mm else None

    @property
    def new_mm(self) -> float | None:
        """All of them together from now on; None where there will be none."""
        return sum(self.new_each_mm) if self.new_each_mm else None

    @property
    def difference_mm(self) -> float | None:
        """How much longer it becomes."""
        return None if self.old_mm is None or self.new_mm is None else self.new_mm - self.old_mm

    @property
    def same(self) -> bool:
        """Whether nobody would see a difference."""
        return self.difference_mm is not None and abs(self.difference_mm) < SAME_MM


@dataclass(frozen=True)
class SizeChange:
    """What becomes of a piece in one size of the style. `old_mm2` is None where it had no outline."""

    size: str
    old_mm2: float | None
    new_mm2: float
    edges: tuple[EdgeChange, ...] = ()
    marks_differ: bool = False

    @property
    def is_new(self) -> bool:
        """Whether the piece had no outline in this size."""
        return self.old_mm2 is None

    @property
    def same_shape(self) -> bool:
        """Whether area and all edges are as before."""
        if self.old_mm2 is None:
            return False
        area = abs(self.new_mm2 - self.old_mm2) <= SAME_SHARE * self.old_mm2
        return area and all(edge.same for edge in self.edges)

    @property
    def same(self) -> bool:
        """Whether nothing would change at all."""
        return self.same_shape and not self.marks_differ

    @property
    def difference_mm2(self) -> float | None:
        """By how much the area grows."""
        return None if self.old_mm2 is None else self.new_mm2 - self.old_mm2


@dataclass(frozen=True)
class Proposed:
    """A piece in one size as it would be stored."""

    outline: Outline
    marks: Marks


@dataclass(frozen=True)
class Proposal:
    """What a piece of the file would become. `by_size` goes by the sizes of the style.

    `read` goes by the sizes of the file; `named` is its first outline with the edge names of the style. `trouble` is a
    sentence where it cannot be taken as answered.
    """

    index: int
    read: Mapping[str, ReadPiece]
    name: str
    take: bool
    target: KnownPiece | None
    named: Outline
    by_size: Mapping[str, Proposed]
    changes: tuple[SizeChange, ...] = ()
    trouble: str = ""

    @property
    def file_name(self) -> str:
        """Its name in the file."""
        return next(iter(self.read.values())).name

    @property
    def first(self) -> ReadPiece:
        """The piece in some size, for what is alike in all."""
        return next(iter(self.read.values()))

    @property
    def changed(self) -> list[str]:
        """Sizes in which something of a piece of the style would change."""
        return [change.size for change in self.changes if not change.same]

    @property
    def mends(self) -> tuple[tuple[str, str], ...]:
        """(size in the file, what was mended) of every mend."""
        return tuple((size, mend.text) for size, piece in self.read.items() for mend in piece.mends)


def propose(pattern: ReadPattern, known: Known, answers: Answers) -> tuple[Proposal, ...]:
    """Every piece of the file with its outlines as they would be stored, and what that changes in the style."""
    found = []
    for index, file_name in enumerate(pattern.piece_names()):
        answer = answers.pieces.get(file_name, PieceAnswer(take=True, name=plain_name(file_name)))
        proposal = _proposal(index, pattern.of(file_name), known.piece(answer.name), answer, answers)
        ordered = sorted(proposal.changes, key=lambda change: _rank(change.size, known.sizes))
        found.append(replace(proposal, changes=tuple(ordered)))
    return tuple(found)


def _rank(size: str, sizes: Sequence[str]) -> int:
    """Where a size stands among those of the style; what is new comes last."""
    return sizes.index(size) if size in sizes else len(sizes)


def _proposal(
    index: int,
    read: Mapping[str, ReadPiece],
    target: KnownPiece | None,
    answer: PieceAnswer,
    answers: Answers,
) -> Proposal:
    by_size: dict[str, Proposed] = {}
    trouble = ""
    shapes = {size: piece.outline for size, piece in read.items()}
    named = with_edge_names(shapes, target.outlines if target else {}, target.name if target else answer.name)
    for size, piece in read.items():
        if not answers.sizes.get(size):
            continue
        shape, marks = scaled(named[size], piece.marks, answers.factor)
        if answers.included is False and piece.allowance_mm is None:
            try:
                shape, marks = _grown(shape, marks, target, answers.allowance_mm)
            except OutlineError as problem:
                where = f" in {size}" if size else ""
                trouble = f"the seam allowance cannot be added{where}: {problem}"
        by_size[answers.sizes[size]] = Proposed(shape, marks)
    changes = tuple(_change(size, new, target) for size, new in by_size.items())
    name = target.name if target else plain_name(answer.name)
    first = named[next(iter(read))]
    return Proposal(index, read, name, answer.take, target, first, by_size, changes, trouble)


def scaled(shape: Outline, marks: Marks, factor: float) -> tuple[Outline, Marks]:
    """Outline and marks enlarged alike in both directions."""
    if factor == 1.0:
        return shape, marks

    def paths(lines: tuple[Path, ...]) -> tuple[Path, ...]:
        return tuple(tuple((x * factor, y * factor) for x, y in path) for path in lines)

    notches = tuple(
        replace(n, x=n.x * factor, y=n.y * factor, depth_mm=n.depth_mm * factor) for n in marks.notches
    )
    return shape.scaled(factor, factor), Marks(
        notches=notches,
        lines=paths(marks.lines),
        cutouts=paths(marks.cutouts),
        holes=tuple((x * factor, y * factor) for x, y in marks.holes),
        sew_lines=paths(marks.sew_lines),
        stripe_lines=paths(marks.stripe_lines),
    )


def _grown(
    shape: Outline, marks: Marks, target: KnownPiece | None, allowance_mm: float
) -> tuple[Outline, Marks]:
    """The cut line round a sewing line; a piece of the style keeps the allowances it was given there."""
    wanted: float | Mapping[str, float] = allowance_mm
    if target is not None:
        wanted = allowances_for(shape, target.allowance_mm, target.edge_allowances)
    key = tuple(sorted(wanted.items())) if isinstance(wanted, Mapping) else wanted
    cut = once(shape, "_with_allowance", key, lambda: with_allowance(shape, wanted))
    sewn = (*shape.points, shape.points[0])
    return cut, replace(marks, notches=_at_the_cut(marks, shape, cut), sew_lines=(*marks.sew_lines, sewn))


def _at_the_cut(marks: Marks, sewn: Outline, cut: Outline) -> tuple[Any, ...]:
    """Notches of the sewing line, moved out to the cut line they are snipped into."""
    ring, old = cut.polygon.exterior, sewn.polygon.exterior
    moved = []
    for notch in marks.notches:
        at = ShapelyPoint(notch.x, notch.y)
        if old.distance(at) <= _AT_THE_LINE_MM:
            there = ring.interpolate(ring.project(at))
            notch = replace(notch, x=there.x, y=there.y)
        moved.append(notch)
    return tuple(moved)


def _change(size: str, new: Proposed, target: KnownPiece | None) -> SizeChange:
    old = target.outlines.get(size) if target else None
    if target is None or old is None:
        return SizeChange(size, None, new.outline.area_mm2)
    before, after = lengths_each_mm(old), lengths_each_mm(new.outline)
    edges = tuple(
        EdgeChange(name, before.get(name, ()), after.get(name, ()))
        for name in dict.fromkeys([*before, *after])
    )
    stored = marks_from_json(target.marks.get(size, {}))
    differ = not _near(_from_corner(stored, old), _from_corner(new.marks, new.outline))
    return SizeChange(size, old.area_mm2, new.outline.area_mm2, edges, marks_differ=differ)


def _from_corner(marks: Marks, shape: Outline) -> dict[str, Any]:
    """The marks as they lie in the piece: the sizes of a piece share an origin, which another size may shift."""
    x0, y0, _, _ = shape.bounds_mm
    return placed_marks(marks, lambda points: tuple((x - x0, y - y0) for x, y in points), 0.0).as_json()


def _near(one: Any, other: Any) -> bool:
    """Whether two pieces of plain data hold the same, lengths within SAME_MM."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_near(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_near, one, other))
    if isinstance(one, (int, float)) and isinstance(other, (int, float)):
        return abs(one - other) < SAME_MM
    return bool(one == other)


def factor_from(true_mm: float | None, read_mm: float) -> float:
    """What everything is enlarged by where a piece that was read as `read_mm` is truly `true_mm` long."""
    if not true_mm or not read_mm or not math.isfinite(true_mm / read_mm):
        return 1.0
    return true_mm / read_mm


def has_sewing_lines(pieces: Sequence[ReadPiece]) -> bool:
    """Whether the file itself tells cut line from sewing line in all of these."""
    return all(piece.allowance_mm is not None for piece in pieces)
