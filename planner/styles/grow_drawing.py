"""The base size with a letter at every point of its grow-by table."""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.common.drawing import path_data
from planner.core.grow_points import GrowBase, PointKind
from planner.core.outline import Outline

_LETTER_PX = 17.0
_DOT_PX = 4.0


@dataclass(frozen=True)
class Letter:
    """A letter beside its point; `twin` is the mirror image that moves with it."""

    text: str
    x: float
    y: float
    dot_x: float
    dot_y: float
    is_small: bool
    is_twin: bool


@dataclass(frozen=True)
class LetteredDrawing:
    """A piece to scale, grain upright, one SVG unit a millimetre; the letters keep their size on the page."""

    path: str
    view_box: str
    width_px: int
    height_px: int
    letter_mm: float
    small_mm: float
    dot_mm: float
    fold: tuple[float, float, float, float] | None
    letters: tuple[Letter, ...]


def lettered(base: GrowBase, *, most_px: int) -> LetteredDrawing:
    """The base size drawn with letters outside of its line, the fold as a line from top to bottom."""
    x0, y0, x1, y1 = base.outline.bounds_mm
    mm_a_px = max(x1 - x0, y1 - y0) / (most_px - 4 * _LETTER_PX)
    margin = 2 * _LETTER_PX * mm_a_px
    away = 0.95 * _LETTER_PX * mm_a_px
    letters = []
    for point in base.points:
        for index in (point.index, point.twin):
            if index is None:
                continue
            x, y = base.outline.points[index]
            out_x, out_y = _outwards(base.outline, index)
            text = f"{point.letter}′" if index == point.twin else point.letter
            letters.append(
                Letter(
                    text,
                    round(y1 - y - out_y * away, 1),
                    round(x1 - x - out_x * away, 1),
                    round(y1 - y, 1),
                    round(x1 - x, 1),
                    point.kind is PointKind.MIDDLE,
                    index == point.twin,
                )
            )
    width, height = y1 - y0 + 2 * margin, x1 - x0 + 2 * margin
    middle = (y1 - y0) / 2
    return LetteredDrawing(
        path_data((y1 - y, x1 - x) for x, y in base.outline.points),
        f"{-margin:.1f} {-margin:.1f} {width:.1f} {height:.1f}",
        round(width / mm_a_px),
        round(height / mm_a_px),
        round(_LETTER_PX * mm_a_px, 1),
        round(0.8 * _LETTER_PX * mm_a_px, 1),
        round(_DOT_PX * mm_a_px, 1),
        (middle, -margin, middle, height - margin) if base.has_fold else None,
        tuple(letters),
    )


def _outwards(outline: Outline, index: int) -> tuple[float, float]:
    """The direction out of the piece at a point: between the outward normals of the stretches that meet."""
    points = outline.points
    here = points[index]
    normals = []
    for a, b in ((points[index - 1], here), (here, points[(index + 1) % len(points)])):
        length = math.dist(a, b) or 1.0
        normals.append(((b[1] - a[1]) / length, (a[0] - b[0]) / length))
    x, y = normals[0][0] + normals[1][0], normals[0][1] + normals[1][1]
    length = math.hypot(x, y)
    return (x / length, y / length) if length > 1e-9 else normals[0]
