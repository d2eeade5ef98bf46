"""What runs along seams: their lengths in a size, and with them thread, elastic and tape."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from planner.core.notions.elastic import elastic_length_mm
from planner.core.notions.thread import STITCH_TYPES
from planner.core.outline import Outline, OutlineError
from planner.core.seam_lines import allowances_for, seam_lengths_by_name_mm
from planner.core.spec import (
    Demand,
    Garment,
    NotionKey,
    NotionUse,
    OperationSpec,
    Options,
    PieceSpec,
    SeamSpec,
    StyleSpec,
    Workshop,
)

#: (notion, style, size, seam, length_mm)
Cut = tuple[NotionKey, str, str, str, float]


class SeamError(ValueError):
    """A seam that cannot be measured or sewn; the message says why in plain words."""


@dataclass
class Uses:
    """What a demand takes of its notions, waste left out.

    `amounts` are in each notion's own unit. `threads_at_once` is the most thread positions a machine threaded
    with that thread has. `cuts` counts the lengths to cut.
    """

    amounts: dict[NotionKey, float] = field(default_factory=lambda: defaultdict(float))
    threads_at_once: dict[NotionKey, int] = field(default_factory=lambda: defaultdict(int))
    hungriest: dict[NotionKey, str] = field(default_factory=dict)
    cuts: dict[Cut, int] = field(default_factory=lambda: defaultdict(int))

    @property
    def wanted(self) -> set[NotionKey]:
        """Notions the demand takes any of, or whose cones a machine must be threaded with."""
        return {key for key, amount in self.amounts.items() if amount or self.threads_at_once.get(key)}


def seam_length_mm(seam: SeamSpec, style: StyleSpec, options: Options, size: str) -> float:
    """Finished length in mm of the seam where it occurs once, measured on the pattern in this size.

    The edges of its first side that belong to pieces of these options give it: Σ takes × mean length of the sewing
    lines of that name in the piece (the two shoulders of a front are two occurrences of one seam). Where these options
    have none of them, the second side does, by the seam's ratio. Pieces cut larger for shrinkage do not lengthen
    it: elastic is cut to the pattern, and for thread the waste allowance covers the difference. Raises SeamError
    where there is no such edge.
    """
    pieces = {piece.name: piece for piece in style.pieces_for(options)}
    for number in (1, 2):
        here = [ref for ref in seam.side(number) if ref.piece in pieces]
        if here:
            length = sum(ref.takes * _edge_mm(seam, pieces[ref.piece], ref.edge, size) for ref in here)
            return length if number == 1 else length / seam.ratio
    raise SeamError(f"seam “{seam.name}” has no edges, so its length is not known")


def _edge_mm(seam: SeamSpec, piece: PieceSpec, edge: str, size: str) -> float:
    """Mean length of the edges of one name in a piece, along their sewing lines."""
    outline = piece.outlines.get(size)
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


def collect_uses(demand: Sequence[Demand], shop: Workshop) -> Uses:
    """What the demand takes of thread, elastic, tape, labels and the rest, each garment reckoned once.

    Expects demand without gaps; raises SeamError or KeyError otherwise.
    """
    uses = Uses()
    for line in demand:
        _add_thread(uses, line, shop)
        _add_listed(uses, line, shop)
    return uses


def _add_thread(uses: Uses, line: Demand, shop: Workshop) -> None:
    """Thread of every seam: times × length × ratio of its operation's stitch type."""
    style, garment = shop.styles[line.garment.style], line.garment
    thread = style.colourways[garment.colourway].thread
    if thread is None:
        return
    operations = style.operations_for(garment.options)
    for operation in operations:
        # A machine is threaded for its stitch even where no seam gives the metres.
        stitch = STITCH_TYPES.get(operation.stitch_type)
        if stitch and stitch.threads > uses.threads_at_once[thread]:
            uses.threads_at_once[thread] = stitch.threads
            uses.hungriest[thread] = f"{stitch.number} {stitch.name}"
    uses.amounts[thread] += line.quantity * garment_thread_mm(style, garment) / 1000.0


def garment_thread_mm(style: StyleSpec, garment: Garment) -> float:
    """Thread in the seams of one garment in mm, waste left out: Σ times × length × ratio of its stitch."""
    operations = style.operations_for(garment.options)
    total = 0.0
    for seam in sewn_seams(style, garment.options):
        stitch_type = operation_of(seam, operations).stitch_type
        if stitch_type:
            length = seam_length_mm(seam, style, garment.options, garment.size)
            total += seam.times * length * STITCH_TYPES[stitch_type].ratio
    return total


def _add_listed(uses: Uses, line: Demand, shop: Workshop) -> None:
    """Notions the style lists: so many a garment, or lengths along a seam."""
    style, garment = shop.styles[line.garment.style], line.garment
    for use in style.notions_for(garment.options):
        if use.basis == "garment":
            uses.amounts[use.notion] += line.quantity * use.quantity
            continue
        seam = seam_of(use, style, garment.options)
        if seam is None:
            continue
        length = elastic_length_mm(
            seam_length_mm(seam, style, garment.options, garment.size), use.ratio, use.tail_mm
        )
        count = line.quantity * seam.times
        if shop.notions[use.notion].unit == "m":
            uses.amounts[use.notion] += count * length / 1000.0
        else:
            uses.amounts[use.notion] += count  # pre-cut lengths are counted, not measured
        uses.cuts[use.notion, style.number, garment.size, seam.name, round(length, 3)] += count
