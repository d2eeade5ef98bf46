"""How short rectangles can lie at best, as bands and cuffs are: a bound that plain rows of them mostly meet.

Pieces are never turned by a quarter. So rectangles at one place along the cloth, or nearer to each other along it than
the gap, lie beside each other across it: no more of them than the narrowest that the cloth is wide enough for. Take
each for the stretch along the cloth that it covers, with the gap behind it: where no more than m stretches meet at any
place, m lanes hold them all without two of them meeting in one (interval graphs need no more colours than intervals
meet at one point; M. Golumbic, "Algorithmic Graph Theory and Perfect Graphs", 1980). So the strip is no shorter than m
lanes must be.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

from planner.core.lays.model import ItemToLay, MarkerJob

#: A piece fills all of its bounds but for this share.
_FILLED = 1e-9
#: Each rectangle is taken to be narrower by this, for the check of a marker lets tenths pass (mm).
_HAIR_MM = 0.2


def least_in_lanes_mm(job: MarkerJob) -> float:
    """No marker is shorter for its rectangles alone, whatever else lies in it (mm); 0 where it has none."""
    rectangles = [item for item in job.items if _is_rectangle(item)]
    if not rectangles:
        return 0.0
    lanes = _most_abreast([item.outline.width_mm for item in rectangles], job.lay_width_mm)
    stretches = sorted((item.outline.length_mm + job.gap_mm for item in rectangles), reverse=True)
    return _longest_lane(stretches, lanes) - job.gap_mm


def _is_rectangle(item: ItemToLay) -> bool:
    outline = item.outline
    return outline.area_mm2 >= outline.length_mm * outline.width_mm * (1 - _FILLED)


def _most_abreast(widths_mm: Sequence[float], lay_width_mm: float) -> int:
    """The most of them that lie beside each other across the cloth, at least one."""
    filled = accumulate(sorted(width - _HAIR_MM for width in widths_mm))
    return max(1, sum(across <= lay_width_mm + _HAIR_MM for across in filled))


def _longest_lane(stretches: Sequence[float], lanes: int) -> float:
    """The longest of so many lanes is no shorter than this; the stretches come longest first.

    It is no shorter than the mean; and of the k · lanes + 1 longest stretches one lane holds k + 1.
    """
    turns = range((len(stretches) - 1) // lanes + 1)
    return max(
        sum(stretches) / lanes,
        max(sum(stretches[k * lanes - k : k * lanes + 1]) for k in turns),
    )
