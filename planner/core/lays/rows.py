"""A marker in plain rows: never good, always valid, there at once.

It is the first picture on the screen and what is left where nesting fails.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.core.lays.check import marker_from_placements, placed
from planner.core.lays.model import ItemToLay, Marker, MarkerJob, Placement


@dataclass
class _Row:
    """Pieces side by side across the cloth, beginning at the same x."""

    x_mm: float
    filled_mm: float = 0.0
    items: list[tuple[ItemToLay, float]] = field(default_factory=list)


def first_marker(job: MarkerJob) -> Marker:
    """Lays the pieces in rows by their bounding boxes, the longest first, none turned.

    Each piece goes into the first row with room across the cloth; a row is as long as its longest piece.
    Expects that every piece is no wider than the cloth (see `nest.check_job`). Works in O(items × rows).
    """
    rows: list[_Row] = []
    next_x = 0.0
    for item in sorted(job.items, key=lambda i: (-i.outline.length_mm, -i.outline.width_mm)):
        width = item.outline.width_mm
        # 1e-6: a width summed from several pieces may miss the cloth's by its last digits.
        row = next((r for r in rows if r.filled_mm + width <= job.lay_width_mm + 1e-6), None)
        if row is None:
            row = _Row(next_x)
            rows.append(row)
            next_x += item.outline.length_mm + job.gap_mm
        row.items.append((item, row.filled_mm))
        row.filled_mm += width + job.gap_mm
    placements: list[Placement] = [placed(item, 0, r.x_mm, y) for r in rows for item, y in r.items]
    return marker_from_placements(job, placements)
