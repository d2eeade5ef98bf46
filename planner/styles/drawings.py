"""Pieces drawn beside each other to one scale, and the sizes of a piece over each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.common.drawing import PieceDrawing, draw_piece, path_data
from planner.core.outline import Outline

_MARGIN_MM = 15.0


@dataclass(frozen=True)
class Figure:
    """A piece with the size it takes on the page, so that pieces beside each other are to one scale."""

    drawing: PieceDrawing
    width_px: int
    height_px: int


def figures(outlines: Sequence[Outline], *, most_px: int) -> list[Figure]:
    """All to one scale: the longest side of the largest takes `most_px`. One SVG unit is one millimetre."""
    if not outlines:
        return []
    longest = max(max(shape.length_mm, shape.width_mm) for shape in outlines)
    scale = most_px / (longest + 2 * _MARGIN_MM)
    drawn = [draw_piece(shape, margin_mm=_MARGIN_MM) for shape in outlines]
    return [
        Figure(
            piece,
            round((piece.width_mm + 2 * _MARGIN_MM) * scale),
            round((piece.height_mm + 2 * _MARGIN_MM) * scale),
        )
        for piece in drawn
    ]


@dataclass(frozen=True)
class NestLine:
    """The cut line of one size."""

    size: str
    path: str
    is_base: bool


@dataclass(frozen=True)
class Nest:
    """All sizes of a piece over each other, the largest undermost, grain upright; one SVG unit is one mm."""

    lines: tuple[NestLine, ...]
    view_box: str
    width_px: int
    height_px: int


def centred(outlines: Mapping[str, Outline]) -> dict[str, Outline]:
    """The sizes with their lower ends level and their middles over each other, as a piece is folded to be cut."""
    found = {}
    for size, shape in outlines.items():
        x0, y0, _, y1 = shape.bounds_mm
        found[size] = shape.moved(-x0, -(y0 + y1) / 2)
    return found


def nest(outlines: Mapping[str, Outline], *, base_size: str, most_px: int) -> Nest | None:
    """The sizes as they were drawn, from the same origin; None where there are none."""
    if not outlines:
        return None
    bounds = [shape.bounds_mm for shape in outlines.values()]
    low_x, low_y = min(b[0] for b in bounds), min(b[1] for b in bounds)
    high_x, high_y = max(b[2] for b in bounds), max(b[3] for b in bounds)
    width, height = high_y - low_y + 2 * _MARGIN_MM, high_x - low_x + 2 * _MARGIN_MM
    lines = tuple(
        NestLine(size, path_data((high_y - y, high_x - x) for x, y in shape.points), size == base_size)
        for size, shape in sorted(outlines.items(), key=lambda item: -item[1].area_mm2)
    )
    scale = most_px / max(width, height)
    view_box = f"{-_MARGIN_MM} {-_MARGIN_MM} {width:.1f} {height:.1f}"
    return Nest(lines, view_box, round(width * scale), round(height * scale))
