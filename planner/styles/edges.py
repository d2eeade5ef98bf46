"""What the page of a piece's edges shows: its drawing, and the length of every edge in every size."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from planner.core.edge_changes import match_edges
from planner.core.outline import Outline, OutlineError, Point, outline_from_json, path_length_mm
from planner.core.pattern_files.model import marks_from_json
from planner.core.seam_lines import allowances_for, seam_line_lengths_mm
from planner.core.uneven_sizes import uneven_sizes
from planner.core.units import Display
from planner.styles.actions.edges import mismatch
from planner.styles.models import Piece, SeamEdge, Size, Style


@dataclass(frozen=True)
class EdgeLength:
    """One edge in one size in mm; None where the size has no outline, or none that matches.

    `sewn_mm` is None where the allowances leave no sewing line.
    """

    size: Size
    cut_mm: float | None = None
    sewn_mm: float | None = None
    interpolated: bool = False


@dataclass(frozen=True)
class EdgeRow:
    """One edge with its lengths, and the seams that use its name."""

    number: int
    name: str
    lengths: Sequence[EdgeLength]
    seams: Sequence[str]


@dataclass(frozen=True)
class PieceEdges:
    """The outlines of a piece as far as their edges match those of one size.

    `size` is the one on which edges are named: the base size, or the nearest that has an outline. `partners` gives,
    in each size, the edge that each edge of that outline is. `unmatched` pairs a size whose edges are others with
    what is wrong. `notches` are those of that outline, in mm.
    """

    piece: Piece
    sizes: Sequence[Size]
    size: Size | None = None
    outline: Outline | None = None
    outlines: Mapping[Size, Outline] = field(default_factory=dict)
    partners: Mapping[Size, Mapping[int, int]] = field(default_factory=dict)
    unmatched: Sequence[tuple[Size, str]] = ()
    interpolated: frozenset[int] = frozenset()
    notches: Sequence[Point] = ()


def piece_edges(style: Style, piece: Piece) -> PieceEdges:
    """Reads the outlines of a piece, two queries."""
    sizes = list(style.size_range.sizes.all())
    rows = {row.size_id: row for row in piece.outlines.all()}
    outlines = {size: outline_from_json(rows[size.pk].shape) for size in sizes if size.pk in rows}
    if not outlines:
        return PieceEdges(piece, sizes)
    base = next((i for i, size in enumerate(sizes) if size.pk == style.base_size_id), 0)
    on = min(outlines, key=lambda size: abs(sizes.index(size) - base))
    partners: dict[Size, dict[int, int]] = {}
    unmatched = []
    for size, outline in outlines.items():
        match = match_edges(outlines[on], outline)
        partners[size] = {a: i for i, a in enumerate(match.base_of) if a is not None}
        unmatched += [(size, text) for text in mismatch(match, outlines[on])]
    made = frozenset(pk for pk, row in rows.items() if row.is_interpolated)
    notches = [(notch.x, notch.y) for notch in marks_from_json(rows[on.pk].marks).notches]
    return PieceEdges(piece, sizes, on, outlines[on], outlines, partners, unmatched, made, notches)


def edge_rows(edges: PieceEdges) -> list[EdgeRow]:
    """Every edge with its length in each size along the cut line and the sewing line; one query."""
    if edges.outline is None:
        return []
    used: dict[str, list[str]] = {}
    for row in SeamEdge.objects.filter(piece=edges.piece).select_related("seam"):
        used.setdefault(row.edge, []).append(row.seam.name)
    sewn = {size: _sewn(edges.piece, edges.outlines[size]) for size in edges.outlines}
    return [
        EdgeRow(
            i + 1,
            edge.name,
            [_length(edges, sewn, size, i) for size in edges.sizes],
            list(dict.fromkeys(used.get(edge.name, ()))),
        )
        for i, edge in enumerate(edges.outline.edges)
    ]


def uneven_in(edges: PieceEdges, display: Display) -> dict[str, str]:
    """What is out of line by the name of the size, as the style's page says it. Sizes are taken in runs."""
    found = {}
    for there, sizes in groupby(edges.sizes, lambda size: size in edges.outlines):
        if there:
            for odd in uneven_sizes([(size.name, edges.outlines[size]) for size in sizes], display):
                found[odd.size] = odd.what
    return found


def _length(
    edges: PieceEdges, sewn: Mapping[Size, Sequence[float] | None], size: Size, edge: int
) -> EdgeLength:
    index = edges.partners.get(size, {}).get(edge)
    if index is None:
        return EdgeLength(size)
    lengths = sewn[size]
    return EdgeLength(
        size,
        path_length_mm(edges.outlines[size].edge_path(index)),
        lengths[index] if lengths else None,
        size.pk in edges.interpolated,
    )


def _sewn(piece: Piece, outline: Outline) -> Sequence[float] | None:
    allowances = allowances_for(outline, float(piece.seam_allowance_mm), piece.edge_allowances)
    try:
        return seam_line_lengths_mm(outline, allowances)
    except OutlineError:
        return None
