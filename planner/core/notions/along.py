"""Seams as they are sewn: which a garment has, by which operation, and how long each is in a size."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from planner.core.outline import Outline, OutlineError
from planner.core.seam_lines import allowances_for, seam_lengths_by_name_mm
from planner.core.spec import (
    ClothKey,
    NotionUse,
    OperationSpec,
    Options,
    PieceSpec,
    SeamSpec,
    StyleSpec,
)


class SeamError(ValueError):
    """A seam that cannot be measured or sewn; the message says why in plain words."""


def seam_length_mm(
    seam: SeamSpec,
    style: StyleSpec,
    options: Options,
    size: str,
    cloths: Mapping[str, ClothKey] | None = None,
) -> float:
    """Finished length in mm of the seam where it occurs once, measured on the pattern in this size.

    The edges of its first side that belong to pieces of these options give it: Σ takes × mean length of the sewing
    lines of that name in the piece (the two shoulders of a front are two occurrences of one seam). Where these options
    have none of them, the second side does, by the seam's ratio. Pieces cut larger for shrinkage do not lengthen
    it: elastic is cut to the pattern, and for thread the waste allowance covers the difference. A band cut to measure
    is measured as cut from the cloth that `cloths` has for its role. To a tenth of a millimetre, as it is printed, so
    that what is reckoned with it can be followed on paper. Raises SeamError where there is no such edge.
    """
    key = seam, options, size, tuple(sorted(cloths.items())) if cloths else ()
    return style.once("seam length", key, lambda: _measured_mm(seam, style, options, size, cloths))


def seam_lengths_mm(
    style: StyleSpec, options: Options, size: str, cloths: Mapping[str, ClothKey]
) -> Mapping[SeamSpec, float]:
    """The same of every seam that a garment with these options has."""
    key = options, size, tuple(sorted(cloths.items()))
    return style.once(
        "seam lengths",
        key,
        lambda: {
            seam: seam_length_mm(seam, style, options, size, cloths) for seam in sewn_seams(style, options)
        },
    )


def _measured_mm(
    seam: SeamSpec, style: StyleSpec, options: Options, size: str, cloths: Mapping[str, ClothKey] | None
) -> float:
    pieces = {piece.name: piece for piece in style.pieces_for(options)}
    for number in (1, 2):
        here = [ref for ref in seam.side(number) if ref.piece in pieces]
        if here:
            length = sum(
                ref.takes * _edge_mm(seam, pieces[ref.piece], ref.edge, size, cloths) for ref in here
            )
            return as_printed(length if number == 1 else length / seam.ratio, 1)
    raise SeamError(f"seam “{seam.name}” has no edges, so its length is not known")


def as_printed(value: float, places: int) -> float:
    """Rounded half up to so many places; a hair below a half is float noise."""
    return math.floor(value * 10.0**places + 0.5 + 1e-7) / 10.0**places


def _edge_mm(
    seam: SeamSpec, piece: PieceSpec, edge: str, size: str, cloths: Mapping[str, ClothKey] | None
) -> float:
    """Mean length of the edges of one name in a piece, along their sewing lines."""
    cloth = (cloths or {}).get(piece.role)
    outline = piece.outlines.get(size) if cloth is None else piece.outline(size, cloth)
    if outline is None:
        raise SeamError(f"{piece.name} has no outline in size {size}")
    if not outline.edge_count(edge):
        raise SeamError(f"{piece.name} in size {size} has no edge “{edge}”, which seam “{seam.name}” needs")
    return sewn_edge_mm(outline, edge, piece)[0]


def sewn_edge_mm(outline: Outline, edge: str, piece: PieceSpec) -> tuple[float, bool]:
    """Mean length in mm of the edges of one name, and whether it is that of the sewing line.

    The sewing line lies inside the cut line by the piece's seam allowance and ends at those of its neighbours. An
    edge that has none, because the piece is narrower than its allowances, is measured along its cut line: a tape
    whose allowance nobody set must not keep a style from being planned. Raises KeyError for an edge it has not.
    """
    allowances = allowances_for(outline, piece.allowance_mm, piece.edge_allowances)
    try:
        sewn = seam_lengths_by_name_mm(outline, allowances)[edge]
    except OutlineError:
        sewn = 0.0
    return (sewn or outline.edge_length_mm(edge)) / outline.edge_count(edge), sewn > 0.0


def operation_of(seam: SeamSpec, operations: Iterable[OperationSpec]) -> OperationSpec:
    """The operation that sews the seam. Raises SeamError where the chosen options have none of that name."""
    for operation in operations:
        if operation.name == seam.operation:
            return operation
    raise SeamError(f"seam “{seam.name}” is sewn by “{seam.operation}”, which the chosen options do not have")


def sewn_seams(style: StyleSpec, options: Options) -> tuple[SeamSpec, ...]:
    """Seams that a garment with these options has: one whose pieces all belong to other options is not sewn.

    A seam without any edge is kept, so that it is found out rather than passed over.
    """
    return style.once("sewn seams", options, lambda: _sewn(style, options))


def _sewn(style: StyleSpec, options: Options) -> tuple[SeamSpec, ...]:
    pieces = {piece.name for piece in style.pieces_for(options)}
    return tuple(
        seam
        for seam in style.seams_for(options)
        if not seam.edges or any(ref.piece in pieces for ref in seam.edges)
    )


def seam_of(use: NotionUse, style: StyleSpec, options: Options) -> SeamSpec | None:
    """The seam a notion runs along, None where these options do not sew it.

    Raises SeamError where the style has no seam of that name at all.
    """
    if all(seam.name != use.seam for seam in style.seams):
        raise SeamError(f"{use.notion.notion} runs along seam “{use.seam}”, which the style does not have")
    return next((seam for seam in sewn_seams(style, options) if seam.name == use.seam), None)
