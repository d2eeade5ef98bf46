"""Notches and other marks of a piece, taken to where the piece lies on the cloth.

Only the outline of a placed piece is known. Its marks follow it: the piece's own outline is cut larger where the cloth
shrinks, mirrored across the grain where the piece is, turned by 0 or 180 degrees and moved, and each of these steps is
read off the two outlines.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

from planner.core.lays.model import Placement
from planner.core.outline import Outline, Point
from planner.core.pattern_files.model import Marks, Notch, Path

#: A placed point this near to where its piece has it is the same point (mm); both are stored to 0.001 mm.
SAME_MM = 0.01
NO_MARKS = Marks()


def placed_marks(outline: Outline, marks: Marks, placement: Placement) -> Marks:
    """The marks of a piece with this outline in lay coordinates (mm), every notch with its direction in degrees.

    None at all where the placed outline is not this one, enlarged along and across, mirrored and turned as the
    placement says: rather no notch than one in the wrong place.
    """
    if marks == NO_MARKS or len(outline.points) != len(placement.outline):
        return NO_MARKS
    x0, y0, x1, y1 = outline.bounds_mm
    u0, v0, u1, v1 = Outline(placement.outline, ()).bounds_mm
    turn = -1.0 if placement.rotation_deg % 360 == 180 else 1.0
    flip = -turn if placement.mirrored else turn
    along, across = turn * (u1 - u0) / (x1 - x0), flip * (v1 - v0) / (y1 - y0)
    left, low = (u0 if along > 0 else u1), (v0 if across > 0 else v1)

    def place(points: Sequence[Point]) -> Path:
        return tuple((left + along * (x - x0), low + across * (y - y0)) for x, y in points)

    ring = outline.points[::-1] if placement.mirrored else outline.points
    if any(math.dist(a, b) > SAME_MM for a, b in zip(place(ring), placement.outline, strict=True)):
        return NO_MARKS

    def turned(degrees: float) -> float:
        angle = math.radians(degrees)
        return math.degrees(math.atan2(across * math.sin(angle), along * math.cos(angle)))

    return _directed(outline, marks).placed(place, turned)


def notch_ends(notch: Notch, depth_mm: float) -> tuple[Point, Point]:
    """A notch that has its direction as a short bar from the cut line inwards; `depth_mm` where it has none (mm)."""
    angle = math.radians(notch.angle_deg or 0.0)
    deep = notch.depth_mm if notch.depth_mm > 0 else depth_mm
    return (notch.x, notch.y), (notch.x + deep * math.cos(angle), notch.y + deep * math.sin(angle))


@lru_cache(maxsize=512)
def _directed(outline: Outline, marks: Marks) -> Marks:
    """The marks with a direction for every notch: where none was given, at right angles into the piece."""
    return replace(
        marks,
        notches=tuple(
            notch if notch.angle_deg is not None else replace(notch, angle_deg=_inwards_deg(outline, notch))
            for notch in marks.notches
        ),
    )


def _inwards_deg(outline: Outline, notch: Notch) -> float:
    """To the left of the stretch of the cut line nearest to the notch, as the ring is counter-clockwise."""
    ring = [*outline.points, outline.points[0]]
    a, b = min(pairwise(ring), key=lambda pair: _distance((notch.x, notch.y), *pair))
    return math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) + 90.0


def _distance(at: Point, a: Point, b: Point) -> float:
    """From a point to a stretch."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    whole = dx * dx + dy * dy
    share = 0.0 if whole == 0 else ((at[0] - a[0]) * dx + (at[1] - a[1]) * dy) / whole
    share = min(max(share, 0.0), 1.0)
    return math.dist(at, (a[0] + share * dx, a[1] + share * dy))
