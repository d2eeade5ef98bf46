"""A marker in plain rows: seldom good, always valid, there at once.

It is the first picture on the screen and what is left where nesting fails, or finds nothing shorter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from planner.core.lays.blocks import Bound, Unit, bind_blocks
from planner.core.lays.check import least_length_mm, marker_from_placements, placed
from planner.core.lays.model import Marker, MarkerJob, Placement
from planner.core.lays.stripes import Anchors

#: Rows that use as much of the cloth are as good as nested lays are: the shortest strips published for seven instances
#: of garments (arXiv:2509.13329) use 0.80 to 0.93 of theirs, six of them more than this; our own knit tops, nested for
#: seconds, 0.63 to 0.77.
GOOD_ROWS = 0.85


@dataclass
class _Row:
    """Units side by side across the cloth, beginning at the same x or, on stripes, at the next right one."""

    filled_mm: float = 0.0
    units: list[tuple[int, float]] = field(default_factory=list)


def first_marker(job: MarkerJob) -> Marker:
    """Lays the pieces in rows by their bounding boxes, the longest first, none turned.

    Each piece goes into the first row with room across the cloth; a row is as long as its longest piece. Pieces that
    must lie side by side are laid as one, and stripes run on over seams that are to match.
    Expects that every piece is no wider than the cloth (see `nest.check_job`). Works in O(items × rows).

    Raises BlockTooWide and CannotMatch, both ValueErrors that say it in plain words, where pieces fit together nowhere.
    """
    bound = bind_blocks(job)
    anchors = Anchors(bound, job.repeat_length_mm, job.repeat_width_mm)
    anchors.settle_across()
    rows = _filled(bound.units, anchors, bound)
    return marker_from_placements(job, bound.unbind(_laid(rows, anchors, bound)))


def is_shortest(job: MarkerJob, marker: Marker) -> bool:
    """Whether no marker of the job is shorter, to a millimetre: the area or the longest piece forbids it."""
    return marker.length_mm <= least_length_mm(job) + 1.0


def _filled(units: Sequence[Unit], anchors: Anchors, bound: Bound) -> list[_Row]:
    """Which units lie in each row, and where across the cloth."""
    width, gap = bound.job.lay_width_mm, bound.job.gap_mm
    rows: list[_Row] = []
    by_size = sorted(
        range(len(units)), key=lambda u: (-units[u].item.outline.length_mm, -units[u].item.outline.width_mm)
    )
    for unit in by_size:
        across = units[unit].item.outline.width_mm
        for row in rows:
            y = anchors.from_y(unit, row.filled_mm)
            # 1e-6: a width summed from several pieces may miss the cloth's by its last digits.
            if y + across <= width + 1e-6:
                break
        else:
            row, y = _Row(), anchors.from_y(unit, 0.0)
            rows.append(row)
        row.units.append((unit, y))
        row.filled_mm = y + across + gap
    return rows


def _laid(rows: Sequence[_Row], anchors: Anchors, bound: Bound) -> list[Placement]:
    """The rows one after the other along the cloth."""
    placements: list[Placement] = []
    begins = 0.0
    for row in rows:
        ends = begins
        for unit, y in row.units:
            item = bound.units[unit].item
            x = anchors.from_x(unit, begins)
            placements.append(placed(item, 0, x, y))
            ends = max(ends, x + item.outline.length_mm)
        begins = ends + bound.job.gap_mm
    return placements
