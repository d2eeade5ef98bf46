"""A nested lay as the writers of pattern files take it."""

from __future__ import annotations

from planner.core.pattern_files.to_write import LayToWrite
from planner.cutting.models import Lay
from planner.cutting.stored import read_marker


def lay_to_write(lay: Lay) -> LayToWrite:
    """The marker of a lay read by `for_page`, as long as it was nested, without end allowances.

    ValueError while the lay is not nested to an end: its pieces would still move.
    """
    marker = read_marker(lay.marker) if lay.marker.is_final else None
    if marker is None:
        raise ValueError("the lay is not nested yet")
    fabric = lay.cloths.all()[0].fabric_colour.fabric
    name = f"{lay.batch.number} lay {lay.number}: {fabric.name}, {lay.get_mode_display()}"
    return LayToWrite(name, marker.length_mm, marker.lay_width_mm, marker.placements)
