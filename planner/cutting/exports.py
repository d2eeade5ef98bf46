"""A nested lay to take along: as the papers that show it at true scale take it, and as the writers of pattern files."""

from __future__ import annotations

import math
from collections.abc import Mapping

from planner.core.lays.check import key_of, placed
from planner.core.lays.misplaced import ItemKey
from planner.core.lays.model import ItemToLay, Placement
from planner.core.lays.numbering import in_order
from planner.core.outline import Edge
from planner.core.pattern_files.to_write import LayToWrite
from planner.core.planning import NestedLay
from planner.core.ply_list import ply_runs
from planner.cutting.demand import batch_demand
from planner.cutting.lay_papers import lay_paper
from planner.cutting.marker_store import read_marker
from planner.cutting.models import Lay
from planner.cutting.spread_rows import rolls_of
from planner.cutting.stored import StoredLay, planned_bundles, shop_of, stored_lays
from planner.papers.data import DrawnPiece, LayPaper
from planner.papers.marker_tiles import TilePaper, pages_of_tiles, tiles_of, tiles_of_pieces
from planner.papers.marker_words import bundles_in_words

#: A placed point this near to where its piece has it is the same point (mm); both are stored to 0.001 mm.
SAME_MM = 0.01


def lay_paper_of(lay: Lay) -> LayPaper:
    """A lay as its papers show it, as long as it was nested; other lays of its batch may still be nested.

    A fixed number of queries. ValueError while the lay was not nested to an end once: its pieces would still move.
    """
    return _read(lay)[1]


def pages_to_join(lay: Lay, paper: TilePaper) -> str:
    """How many pages the sheets to join of a nested lay are, in words; "" as long as it is not nested.

    No query, unless a piece is too narrow for its number and some sheets hold nothing: then its papers are read.
    """
    marker = read_marker(lay.marker)
    if marker is None or not lay.marker.is_laid:
        return ""
    pieces = [
        DrawnPiece(number, one.piece, one.style, one.size, one.mirrored, one.rotation_deg, one.outline)
        for number, one in enumerate(in_order(marker.placements), 1)
    ]
    found = tiles_of_pieces(pieces, marker.length_mm, marker.lay_width_mm, paper)
    return pages_of_tiles(found or tiles_of(lay_paper_of(lay), paper)[0], paper)


def lay_to_write(lay: Lay) -> LayToWrite:
    """The marker of a lay, as long as it was nested, without end allowances. A fixed number of queries.

    The edges of the pieces come from what was asked to be nested, their notches and other marks from their style.
    ValueError while the lay was not nested to an end once: its pieces would still move.
    """
    stored, paper = _read(lay)
    marker = stored.marker
    assert marker is not None
    name = f"{lay.batch.number} lay {lay.number}: {stored.planned.fabric}, {lay.get_mode_display()}"
    items = {key_of(item): item for item in stored.planned.job.items}
    return LayToWrite(
        name,
        marker.length_mm,
        marker.lay_width_mm,
        marker.placements,
        edges=tuple(_edges(placement, items) for placement in marker.placements),
        marks=tuple(piece.marks for piece in paper.pieces),
        bundles=tuple(bundles_in_words(piece.bundles) for piece in paper.pieces),
    )


def _read(lay: Lay) -> tuple[StoredLay, LayPaper]:
    """The lay, and what its papers show. Its plies and bundles follow from those of all lays of the batch."""
    if not lay.marker.is_laid:
        raise ValueError("the lay is not nested yet")
    batch = lay.batch
    shop = shop_of(batch, batch_demand(batch))
    lays = stored_lays(batch.lays.with_everything())
    own = next(one for one in lays if one.row.pk == lay.pk)
    if own.marker is None:
        raise ValueError("the lay is not nested yet")
    runs = ply_runs([one.planned for one in lays], rolls_of(batch), planned_bundles(batch.bundles.in_full()))
    return own, lay_paper(NestedLay(own.planned, own.marker), runs.get(lay.number, ()), shop)


def _edges(placement: Placement, items: Mapping[ItemKey, ItemToLay]) -> tuple[Edge, ...]:
    """The edges of a placed piece; none where its points are not those of the piece that was to be laid."""
    item = items.get(key_of(placement))
    if item is None:
        return ()
    x, y = (min(values) for values in zip(*placement.outline, strict=True))
    again = placed(item, placement.rotation_deg, x, y).outline
    same = len(again) == len(placement.outline) and all(
        math.dist(a, b) <= SAME_MM for a, b in zip(again, placement.outline, strict=True)
    )
    return item.outline.edges if same else ()
