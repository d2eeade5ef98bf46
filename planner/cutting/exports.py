"""A nested lay as the writers of pattern files take it."""

from __future__ import annotations

import math
from collections.abc import Mapping

from planner.core.lays.check import placed
from planner.core.lays.model import ItemToLay, Placement
from planner.core.lays.stored import job_from_json
from planner.core.outline import Edge
from planner.core.pattern_files.to_write import LayToWrite
from planner.cutting.models import Lay
from planner.cutting.stored import read_marker

#: A placed point this near to where its piece has it is the same point (mm); both are stored to 0.001 mm.
SAME_MM = 0.01
Key = tuple[str, str, str, int, bool]


def lay_to_write(lay: Lay) -> LayToWrite:
    """The marker of a lay read by `for_page`, as long as it was nested, without end allowances. One query.

    The edges of the pieces come from what was asked to be nested. ValueError while the lay is not nested to an end:
    its pieces would still move.
    """
    marker = read_marker(lay.marker) if lay.marker.is_final else None
    if marker is None:
        raise ValueError("the lay is not nested yet")
    fabric = lay.cloths.all()[0].fabric_colour.fabric
    name = f"{lay.batch.number} lay {lay.number}: {fabric.name}, {lay.get_mode_display()}"
    items = {_key(item): item for item in job_from_json(lay.marker.job).items}
    edges = tuple(_edges(placement, items) for placement in marker.placements)
    return LayToWrite(name, marker.length_mm, marker.lay_width_mm, marker.placements, edges)


def _key(one: ItemToLay | Placement) -> Key:
    return one.style, one.piece, one.size, one.garment_no, one.mirrored


def _edges(placement: Placement, items: Mapping[Key, ItemToLay]) -> tuple[Edge, ...]:
    """The edges of a placed piece; none where its points are not those of the piece that was to be laid."""
    item = items.get(_key(placement))
    if item is None:
        return ()
    x, y = (min(values) for values in zip(*placement.outline, strict=True))
    again = placed(item, placement.rotation_deg, x, y).outline
    same = len(again) == len(placement.outline) and all(
        math.dist(a, b) <= SAME_MM for a, b in zip(again, placement.outline, strict=True)
    )
    return item.outline.edges if same else ()
