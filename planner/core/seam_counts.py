"""How often an edge occurs in a garment, and how many seams its edges make together."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.core.grading import usual_count
from planner.core.outline import Outline
from planner.core.spec import EdgeRef, PieceSpec, SeamSpec

#: Edges by their first word that are often sewn to one another: the ends of a band, two halves at their centre.
JOINED_TO_ITSELF = frozenset({"join", "end", "centre", "center", "underarm", "inseam", "crotch"})


@dataclass(frozen=True, slots=True)
class Count:
    """An edge of a piece and how often it occurs in a garment."""

    piece: str
    edge: str
    occurs: int


@dataclass(frozen=True, slots=True)
class Counted:
    """How many such seams a garment has: `times`, each taking `takes` of every edge."""

    times: int
    takes: tuple[int, ...]


def edge_names(piece: PieceSpec) -> tuple[str, ...]:
    """The names of its edges, each once; what most sizes do not have is left out."""
    names = dict.fromkeys(edge.name for shape in piece.outlines.values() for edge in shape.edges)
    return tuple(name for name in names if occurs(piece, name))


def usual_outline(piece: PieceSpec, edge: str) -> Outline | None:
    """An outline with as many edges of this name as most sizes have; None where that is none."""
    there = [shape for shape in piece.outlines.values() if shape.edge_count(edge)]
    usual = usual_count(shape.edge_count(edge) for shape in piece.outlines.values())
    return next((shape for shape in there if shape.edge_count(edge) == usual), None)


def occurs(piece: PieceSpec, edge: str) -> int:
    """How often an edge of this name occurs in a garment: on each piece, times the pieces; 0 where it has none.

    Counted in most of its sizes: in one of them an edge may be named otherwise by a slip.
    """
    return piece.count * usual_count(shape.edge_count(edge) for shape in piece.outlines.values())


def counted(occurrences: Sequence[int]) -> Counted | None:
    """Times and takes of a seam that uses every edge up: 2, 2 and 2 make two seams, 2, 1 and 2 one that takes 2, 1, 2.

    None where an edge does not occur at all.
    """
    if not occurrences or min(occurrences) < 1:
        return None
    times = math.gcd(*occurrences)
    return Counted(times, tuple(one // times for one in occurrences))


def times_there(seam: SeamSpec, pieces: Mapping[str, PieceSpec]) -> tuple[int, Count] | None:
    """How many such seams the edges are enough for, and the edge that says so; None where none is drawn.

    What both sides take of one edge is taken together: the two ends of a band make one join.
    """
    taken: dict[tuple[str, str], int] = {}
    for ref in seam.edges:
        taken[(ref.piece, ref.edge)] = taken.get((ref.piece, ref.edge), 0) + ref.takes
    found = []
    for (name, edge), takes in taken.items():
        there = occurs(pieces[name], edge) if name in pieces else 0
        if there:
            found.append((there // takes, Count(name, edge, there)))
    return min(found, key=lambda one: one[0], default=None)


def missed_times(seam: SeamSpec, pieces: Mapping[str, PieceSpec]) -> Count | None:
    """An edge that shows that the seam occurs more often than it says, None where it does not.

    Every edge must be there more often than it is taken: of a collar in two layers only one layer is set. A seam with
    one side whose edge is sewn to another of its own kind, as two bands are joined at the centre back, is not pointed
    out.
    """
    there = times_there(seam, pieces)
    if there is None or there[0] <= seam.times:
        return None
    if not seam.side(2) and there[0] == 2 * seam.times and all(map(_joins_itself, seam.edges)):
        return None
    return there[1]


def _joins_itself(ref: EdgeRef) -> bool:
    return bool(JOINED_TO_ITSELF & set(ref.edge.lower().split()))


def often(number: int) -> str:
    """Once, twice, 3 times."""
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def counts_in_words(refs: Iterable[EdgeRef], pieces: Mapping[str, PieceSpec]) -> tuple[Count, ...]:
    """Every edge of these with how often it occurs, those that are drawn nowhere left out."""
    found = (
        Count(ref.piece, ref.edge, occurs(pieces[ref.piece], ref.edge)) for ref in refs if ref.piece in pieces
    )
    return tuple(dict.fromkeys(one for one in found if one.occurs))
