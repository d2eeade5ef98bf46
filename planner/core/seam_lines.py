"""Sewing lines: where an outline is sewn, which lies inside its cut line by the seam allowance.

How the line moves inwards is in `seam_wave`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from planner.core.outline import Edge, Outline, OutlineError, Point, make_outline, path_length_mm
from planner.core.seam_wave import LONGEST_MITRE as LONGEST_MITRE
from planner.core.seam_wave import NO_EDGE, OVERLAPPING, Path, Wave

#: mm by edge name, or the same for all edges. An edge that the mapping does not name has none.
Allowances = float | Mapping[str, float]


def seam_lines(outline: Outline, allowances: Allowances) -> tuple[Path, ...]:
    """Points in mm of the sewing line of every edge, by edge index: both ends included, in the direction of the ring.

    Empty for an edge that the allowances of its neighbours swallow. Raises OutlineError where the piece is narrower
    than its allowances or an allowance is negative.
    """
    return _kept(outline, edge_allowances_mm(outline, allowances))[0]


def seam_line_lengths_mm(outline: Outline, allowances: Allowances) -> tuple[float, ...]:
    """Length in mm of the sewing line of every edge, by edge index; 0 for one that is swallowed."""
    return _kept(outline, edge_allowances_mm(outline, allowances))[1]


def seam_lengths_by_name_mm(outline: Outline, allowances: Allowances) -> dict[str, float]:
    """Summed sewing-line length in mm per edge name, as :meth:`Outline.edge_lengths_mm` sums cut lines."""
    return dict(_kept(outline, edge_allowances_mm(outline, allowances))[2])


def with_allowance(outline: Outline, allowances: Allowances) -> Outline:
    """The cut line round a sewing line: every edge moved out by its allowance; edges keep their names.

    Corners are mitred, as the lines meet. Very sharp ones are cut off square at :data:`LONGEST_MITRE` times
    the larger allowance, and a smooth join between two allowances steps; what is added there belongs to the
    edge before. Raises OutlineError where the allowance would overlap itself or an edge vanishes in it.
    """
    try:
        return _as_outline(outline, Wave(outline, edge_allowances_mm(outline, allowances), inwards=False))
    except OutlineError as problem:
        if "crosses itself" in str(problem):
            raise OutlineError(OVERLAPPING) from None
        raise


def edge_allowances_mm(outline: Outline, allowances: Allowances) -> tuple[float, ...]:
    """The allowance in mm of every edge, by edge index. Raises OutlineError for one that is no length."""
    if isinstance(allowances, Mapping):
        found = tuple(float(allowances.get(edge.name, 0.0)) for edge in outline.edges)
    else:
        found = (float(allowances),) * len(outline.edges)
    if any(not (math.isfinite(a) and a >= 0.0) for a in found):
        raise OutlineError("a seam allowance must be a length of zero or more")
    return found


def allowances_for(
    outline: Outline, allowance_mm: float, edge_allowances: Mapping[str, float]
) -> dict[str, float]:
    """What :func:`seam_lines` takes, from a piece's usual allowance and the edges that differ from it."""
    return {edge.name: edge_allowances.get(edge.name, allowance_mm) for edge in outline.edges}


def _kept(
    outline: Outline, allowances: tuple[float, ...]
) -> tuple[tuple[Path, ...], tuple[float, ...], Mapping[str, float]]:
    """Paths, lengths and lengths by name, kept on the outline as its cached properties are: it never changes."""
    kept = outline.__dict__.setdefault("_seam_lines", {})
    if allowances not in kept:
        if any(allowances):
            wave = Wave(outline, allowances, inwards=True)
            wave.check()
            paths = wave.paths()
        else:
            paths = tuple(outline.edge_path(i) for i in range(len(outline.edges)))
        lengths = tuple(path_length_mm(path) for path in paths)
        by_name: dict[str, float] = {}
        for edge, length in zip(outline.edges, lengths, strict=True):
            by_name[edge.name] = by_name.get(edge.name, 0.0) + length
        kept[allowances] = paths, lengths, by_name
    found: tuple[tuple[Path, ...], tuple[float, ...], Mapping[str, float]] = kept[allowances]
    return found


def _as_outline(outline: Outline, wave: Wave) -> Outline:
    points: list[Point] = []
    edges: list[Edge] = []
    edge = NO_EDGE
    for i in wave.order():
        if wave.edge[i] not in (NO_EDGE, edge):
            edge = wave.edge[i]
            edges.append(Edge(outline.edges[edge].name, len(points)))
        points.append(wave.corner(i, 1.0))
    if len(edges) < len(outline.edges):
        there = {wave.edge[i] for i in wave.order()}
        lost = next(e.name for i, e in enumerate(outline.edges) if i not in there)
        raise OutlineError(f"the edge “{lost}” is swallowed by the seam allowances")
    return make_outline(points, edges)
