"""Edges named, joined and cut, and carried from one size of a piece to the others."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from planner.core.outline import Edge, Outline, OutlineError, path_length_mm

#: What it costs to leave an edge without a partner; two edges that differ by more than twice this are no pair.
#: Costs are shares of the piece: 0.1 for a middle that lies a tenth of the piece elsewhere.
LEFT_OUT = 0.3
#: Rings are taken to begin at the same edge unless another beginning fits better by this much an edge.
OTHER_START = 0.02
#: Two sizes with more pairs of edges than this are not tried in every turn, which would take minutes; garments have
#: some ten edges, a file that has a turn point at every bend may have hundreds.
MOST_PAIRS_TURNED = 4_000


@dataclass(frozen=True, slots=True)
class EdgeMatch:
    """Which edges of two sizes of a piece are the same. Numbers are edge indexes.

    `base_of[i]` is the edge of the base that edge i of the other size is, None where it has none. `lacking` are
    edges of the base that the other size does not have.
    """

    base_of: tuple[int | None, ...]
    lacking: tuple[int, ...]

    @property
    def extra(self) -> tuple[int, ...]:
        """Edges of the other size that the base does not have."""
        return tuple(i for i, base in enumerate(self.base_of) if base is None)

    @property
    def is_complete(self) -> bool:
        """Whether every edge of either has a partner."""
        return not self.lacking and not self.extra


def match_edges(base: Outline, other: Outline) -> EdgeMatch:
    """Pairs the edges of two sizes of a piece, in the order of the ring, by relative place, run and length.

    Normally both have as many edges and the rings begin at the same one. Names are not looked at.
    """
    looks, others = _looks(base), _looks(other)
    n, m = len(looks), len(others)
    costs = [[_cost(a, b) for b in others] for a in looks]
    if n == m:
        totals = [sum(costs[(i + turn) % n][i] for i in range(n)) for turn in range(n)]
        best = min(range(n), key=totals.__getitem__)
        turn = 0 if totals[0] <= totals[best] + OTHER_START * n else best
        if all(costs[(i + turn) % n][i] <= 2 * LEFT_OUT for i in range(n)):
            return EdgeMatch(tuple((i + turn) % n for i in range(n)), ())
    likely = sorted({0, min(range(m), key=costs[0].__getitem__)})
    turns = range(m) if n * m <= MOST_PAIRS_TURNED else likely
    pairs = min((_paired(costs, turn) for turn in turns), key=lambda found: found[0])[1]
    base_of = {b: a for a, b in pairs}
    return EdgeMatch(
        tuple(base_of.get(i) for i in range(m)), tuple(sorted(set(range(n)) - {a for a, _ in pairs}))
    )


def named_like(base: Outline, other: Outline) -> tuple[Outline, EdgeMatch]:
    """The other size with the edge names of the base; edges without a partner keep theirs."""
    match = match_edges(base, other)
    names = {i: base.edges[a].name for i, a in enumerate(match.base_of) if a is not None}
    return renamed(other, names), match


def renamed(outline: Outline, names: Sequence[str] | Mapping[int, str]) -> Outline:
    """The outline with other edge names, by edge index; those that a mapping leaves out stay."""
    given = names if isinstance(names, Mapping) else dict(enumerate(names))
    if any(not 0 <= index < len(outline.edges) for index in given):
        raise OutlineError(f"the outline has {len(outline.edges)} edges, not as many as there are names")
    if any(not name.strip() for name in given.values()):
        raise OutlineError("an edge needs a name")
    edges = tuple(replace(edge, name=given.get(i, edge.name).strip()) for i, edge in enumerate(outline.edges))
    return Outline(outline.points, edges)


def joined(outline: Outline, index: int) -> Outline:
    """The outline with an edge and the one after it made one, named as the first of the two."""
    if not 0 <= index < len(outline.edges):
        raise OutlineError(f"the outline has no edge {index + 1}")
    if len(outline.edges) < 2:
        raise OutlineError("the outline has only one edge")
    gone = (index + 1) % len(outline.edges)
    return Outline(outline.points, tuple(edge for i, edge in enumerate(outline.edges) if i != gone))


def cut_at(outline: Outline, point: int, name: str = "", first_name: str = "") -> Outline:
    """The outline with the edge that runs through a point cut in two there.

    The new edge begins at the point with this index and is called `name`, what is before it `first_name`; each as
    the edge it is cut from where it is not named.
    """
    if not 0 <= point < len(outline.points):
        raise OutlineError(f"the outline has no point {point + 1}")
    if any(edge.start == point for edge in outline.edges):
        raise OutlineError("an edge begins at this point already")
    before = ([edge for edge in outline.edges if edge.start < point] or [outline.edges[-1]])[-1]
    first = Edge(first_name.strip() or before.name, before.start)
    edges = (
        *(edge for edge in outline.edges if edge != before),
        first,
        Edge(name.strip() or before.name, point),
    )
    return Outline(outline.points, tuple(sorted(edges, key=lambda edge: edge.start)))


@dataclass(frozen=True, slots=True)
class _Look:
    """Middle of the chord within the piece's bounds (0 to 1), direction of the chord, share of the length."""

    x: float
    y: float
    dx: float
    dy: float
    share: float


def _looks(outline: Outline) -> list[_Look]:
    x0, y0, _, _ = outline.bounds_mm
    length, width, perimeter = outline.length_mm, outline.width_mm, outline.perimeter_mm
    looks = []
    for index in range(len(outline.edges)):
        path = outline.edge_path(index)
        (ax, ay), (bx, by) = path[0], path[-1]
        chord = math.hypot(bx - ax, by - ay) or 1.0
        x, y = ((ax + bx) / 2 - x0) / length, ((ay + by) / 2 - y0) / width
        looks.append(_Look(x, y, (bx - ax) / chord, (by - ay) / chord, path_length_mm(path) / perimeter))
    return looks


def _cost(a: _Look, b: _Look) -> float:
    turned = (1.0 - a.dx * b.dx - a.dy * b.dy) / 2
    return math.hypot(a.x - b.x, a.y - b.y) + turned / 2 + abs(a.share - b.share)


def _paired(costs: list[list[float]], turn: int) -> tuple[float, list[tuple[int, int]]]:
    """Least cost of pairing two rows in order, the second beginning at `turn`; some may be left out."""
    n, m = len(costs), len(costs[0])
    order = [(turn + j) % m for j in range(m)]
    least = [[(i + j) * LEFT_OUT for j in range(m + 1)] for i in range(n + 1)]
    for i in range(1, n + 1):
        for j in range(1, m + 1):
            alone = min(least[i - 1][j], least[i][j - 1]) + LEFT_OUT
            least[i][j] = min(alone, least[i - 1][j - 1] + costs[i - 1][order[j - 1]])
    pairs, i, j = [], n, m
    while i and j:
        if least[i][j] == least[i - 1][j - 1] + costs[i - 1][order[j - 1]]:
            pairs.append((i - 1, order[j - 1]))
            i, j = i - 1, j - 1
        elif least[i][j] == least[i - 1][j] + LEFT_OUT:
            i -= 1
        else:
            j -= 1
    return least[n][m], pairs
