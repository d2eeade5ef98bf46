"""How near to each other two outlines can be pushed across the cloth, and what then lies between them."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from shapely.geometry import Polygon

from planner.core.lays.grow import outer_ring
from planner.core.outline import Point

#: What is kept beyond the gap, so that no rounding eats into it (mm).
_SPARE_MM = 0.01
#: Corners are rounded in so many steps a quarter; the growth makes up for what the chords cut off.
_STEPS = 8
#: How near to a corner the line is looked at on both its sides (mm).
_BESIDE_MM = 1e-3


def grown_by(ring: Sequence[Point], gap_mm: float) -> tuple[Point, ...]:
    """The outline with everything nearer to it than the gap; at most 1 % of the gap more than that."""
    by = (max(gap_mm, 0.0) + _SPARE_MM) / math.cos(math.pi / (4 * _STEPS))
    return outer_ring(Polygon(ring).buffer(by, quad_segs=_STEPS))


def clearance_mm(grown_below: Sequence[Point], above: Sequence[Point]) -> float:
    """How far `above` must move across (towards larger y) to lie wholly above `grown_below`.

    Negative where it may come nearer; −inf where no line across the cloth meets both.
    """
    xs = _shared_xs(grown_below, above)
    tops, bottoms = _levels(grown_below, xs, highest=True), _levels(above, xs, highest=False)
    return max((top - bottom for top, bottom in zip(tops, bottoms, strict=True)), default=-math.inf)


def between(below: Sequence[Point], above: Sequence[Point]) -> Polygon | None:
    """What lies between two outlines, the one above the other, on lines across that meet both.

    It reaches a hundredth of a millimetre into each, so that all three make one shape. Where the one does not lie
    wholly above the other nothing is between them. None where no line meets both.
    """
    corners = _shared_xs(below, above)
    if len(corners) < 2:
        return None
    first, last = corners[0], corners[-1]
    beside = (x + d for x in corners for d in (-_BESIDE_MM, 0.0, _BESIDE_MM))
    xs = sorted({min(max(x, first), last) for x in beside})
    tops, bottoms = _levels(below, xs, highest=True), _levels(above, xs, highest=False)
    lower = [(x, y - _SPARE_MM) for x, y in zip(xs, tops, strict=True)]
    upper = [(x, max(y, top) + _SPARE_MM) for x, y, top in zip(xs, bottoms, tops, strict=True)]
    shape = Polygon([*lower, *reversed(upper)])
    return shape if shape.is_valid else shape.buffer(0)


def _shared_xs(one: Sequence[Point], other: Sequence[Point]) -> list[float]:
    """Where either line has a corner, within what both reach over along the cloth; in order."""
    low = max(min(x for x, _ in one), min(x for x, _ in other))
    high = min(max(x for x, _ in one), max(x for x, _ in other))
    if low > high:
        return []
    return sorted({low, high, *(x for ring in (one, other) for x, _ in ring if low <= x <= high)})


def _levels(ring: Sequence[Point], xs: Sequence[float], *, highest: bool) -> list[float]:
    """The largest (or smallest) y of the closed outline at each x."""
    sign = 1.0 if highest else -1.0
    found = [-math.inf] * len(xs)
    for (x0, y0), (x1, y1) in zip(ring, [*ring[1:], ring[0]], strict=True):
        if x0 > x1:
            x0, y0, x1, y1 = x1, y1, x0, y0
        for k in range(bisect_left(xs, x0 - 1e-9), bisect_right(xs, x1 + 1e-9)):
            if x1 - x0 < 1e-9:
                level = max(sign * y0, sign * y1)
            else:
                share = min(max((xs[k] - x0) / (x1 - x0), 0.0), 1.0)
                level = sign * (y0 + share * (y1 - y0))
            found[k] = max(found[k], level)
    return [sign * level for level in found]
