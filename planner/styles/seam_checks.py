"""What looks like a slip in the seams of a style and in how its pieces grow: rules over a StyleSpec, no database."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby
from typing import ClassVar

from planner.core.notions.along import sewn_edge_mm
from planner.core.seam_counts import missed_times, often
from planner.core.spec import StyleSpec
from planner.core.uneven_sizes import uneven_sizes
from planner.core.units import Display
from planner.core.walk import walk_seams
from planner.styles.problem import Problem
from planner.styles.seam_ways import same_figures


@dataclass(frozen=True, slots=True)
class NoSuchEdge(Problem):
    """A seam that joins an edge which the outlines of some sizes do not have."""

    section: ClassVar[str] = "seams"
    seam: str
    piece: str
    edge: str
    sizes: tuple[str, ...]

    def __str__(self) -> str:
        where = ", ".join(self.sizes)
        return f"the seam {self.seam} joins the edge “{self.edge}” of {self.piece}, which has none in {where}"


@dataclass(frozen=True, slots=True)
class SeamWithoutEdges(Problem):
    """A seam whose length nothing gives."""

    section: ClassVar[str] = "seams"
    seam: str

    def __str__(self) -> str:
        return f"the seam {self.seam} joins no edges, so it has no length"


@dataclass(frozen=True, slots=True)
class MissedTimes(Problem):
    """A seam that a garment has more often than it says, as its edges show."""

    section: ClassVar[str] = "seams"
    seam: str
    piece: str
    edge: str
    occurs: int
    times: int

    def __str__(self) -> str:
        there = f"the {self.edge} of {self.piece} occurs {often(self.occurs)}"
        return f"{self.seam}: {there}, the seam {often(self.times)}"


@dataclass(frozen=True, slots=True)
class UnevenSeam(Problem):
    """A seam whose two sides do not fit each other; `what` says by how much in which size."""

    section: ClassVar[str] = "seams"
    seam: str
    what: str

    def __str__(self) -> str:
        return f"{self.seam}: {self.what}"


@dataclass(frozen=True, slots=True)
class NoSewingLine(Problem):
    """A piece in a seam that is narrower than its seam allowances in some sizes."""

    section: ClassVar[str] = "pieces"
    piece: str
    sizes: tuple[str, ...]

    def __str__(self) -> str:
        where = ", ".join(self.sizes)
        narrow = f"{self.piece} is narrower than its seam allowances in {where}"
        return f"{narrow}, so its seams are measured along the cut line: set its allowance"


@dataclass(frozen=True, slots=True)
class OddGrade(Problem):
    """A size in which a piece does not grow evenly; `what` says by how much."""

    section: ClassVar[str] = "outlines"
    piece: str
    what: str
    size: str = ""

    def __str__(self) -> str:
        return f"{self.piece}: {self.what}"


# --- one rule each ----------------------------------------------------------------------------------------


def grades(spec: StyleSpec, display: Display = "metric") -> Iterator[Problem]:
    """Pieces grow evenly from size to size. A step over a missing size is no step, so sizes are taken in runs.

    A band that is cut to measure grows as its opening does, of which it is told.
    """
    for piece in spec.pieces:
        if piece.band is not None:
            continue
        for there, sizes in groupby(spec.sizes, lambda size, piece=piece: size in piece.outlines):
            if there:
                for odd in uneven_sizes([(size, piece.outlines[size]) for size in sizes], display):
                    yield OddGrade(piece.name, odd.what, odd.size)


def seam_edges(spec: StyleSpec) -> Iterator[Problem]:
    """Seams join edges that the outlines have."""
    pieces = {piece.name: piece for piece in spec.pieces}
    for seam in spec.seams:
        if not seam.edges:
            yield SeamWithoutEdges(seam.name)
        for ref in seam.edges:
            drawn = pieces[ref.piece].outlines if ref.piece in pieces else {}
            lacking = tuple(size for size, shape in drawn.items() if not shape.edge_paths(ref.edge))
            if lacking:
                yield NoSuchEdge(seam.name, ref.piece, ref.edge, lacking)


def seam_times(spec: StyleSpec) -> Iterator[Problem]:
    """A garment has no more of a seam's edges than the seam takes: two shoulders are two seams, or one that takes two.

    Passed over are edges of which other seams of the same two sides take the rest: a band on one front only.
    """
    pieces = {piece.name: piece for piece in spec.pieces}
    for seam in spec.seams:
        missed = missed_times(seam, pieces)
        if missed is None:
            continue
        alike = [other for other in spec.seams if bool(other.side(2)) == bool(seam.side(2))]
        taken = sum(
            other.times * ref.takes
            for other in alike
            for ref in other.edges
            if (ref.piece, ref.edge) == (missed.piece, missed.edge)
        )
        if len(alike) == 1 or taken != missed.occurs:
            yield MissedTimes(seam.name, missed.piece, missed.edge, missed.occurs, seam.times)


def seam_lengths(spec: StyleSpec, display: Display = "metric") -> Iterator[Problem]:
    """The two sides of every seam fit each other in every size, walked along the sewing lines.

    What holds of several ways of a seam is said once. Passed over are a band of which nobody said how it is
    stretched, because it is shorter than its opening on purpose, and layers of one length.
    """
    pieces = {piece.name: piece for piece in spec.pieces}
    for seam in spec.seams:
        if any(ref.piece not in pieces for ref in seam.edges):
            continue
        if not seam.fullness and any(pieces[ref.piece].is_band for ref in seam.edges):
            continue
        for ways in same_figures(seam, walk_seams(replace(spec, seams=(seam,))), spec):
            said = "" if ways.in_layers else ways.walk.sentence(display)
            if said:
                yield UnevenSeam(seam.name, f"{said}, with {ways.only_for}" if ways.only_for else said)


def sewing_lines(spec: StyleSpec) -> Iterator[Problem]:
    """Pieces in seams are wide enough for their seam allowances."""
    pieces = {piece.name: piece for piece in spec.pieces}
    for name, edges in _sewn_edges(spec).items():
        piece = pieces.get(name)
        lacking = tuple(
            size
            for size, shape in (piece.outlines.items() if piece else ())
            if any(shape.edge_count(edge) and not sewn_edge_mm(shape, edge, piece)[1] for edge in edges)
        )
        if lacking:
            yield NoSewingLine(name, lacking)


def _sewn_edges(spec: StyleSpec) -> dict[str, set[str]]:
    """Names of edges that seams join, by piece."""
    found: dict[str, set[str]] = {}
    for seam in spec.seams:
        for ref in seam.edges:
            found.setdefault(ref.piece, set()).add(ref.edge)
    return found
