"""Outlines and lays as SVG path data, numbers only: how they look is the style sheet's business."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from planner.core.lays.callouts import callouts
from planner.core.outline import Outline, Point

#: Drawings of lays that are kept: the page of a batch is looked at again and again while its lays are nested and cut.
LAYS_KEPT = 64
#: So many letters go into the longer side of a drawn lay: on a phone they are 11 px high then.
LETTERS = 30
#: A number that is smaller than this share of the others stands beside its piece.
LEAST_SHARE = 0.6
#: Room for a figure, the height of a number and the room round it, in letter heights.
FIGURE, HIGH, ROOM = 0.62, 0.78, 0.14


def path_data(points: Iterable[Point]) -> str:
    """Closed SVG path data in whole tenths of a millimetre, y pointing up turned to SVG's down by the caller."""
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + "Z"


@dataclass(frozen=True)
class PieceDrawing:
    """A piece drawn upright (grain vertical) in mm: path data, view box and the grain arrow's ends."""

    path: str
    width_mm: float
    height_mm: float
    view_box: str
    grain: tuple[float, float, float, float]
    head: str


def draw_piece(outline: Outline, *, margin_mm: float = 15.0) -> PieceDrawing:
    """A piece with its grain upright, to scale: one SVG unit is one millimetre.

    The outline's x (along the grain) runs up the page and its y across it to the left, so that the piece is seen from
    above as it lies on the cloth, and not its mirror image.
    """
    x0, y0, x1, y1 = outline.bounds_mm
    points = [(y1 - y, x1 - x) for x, y in outline.points]
    width_mm, height_mm = y1 - y0, x1 - x0
    middle = width_mm / 2
    top, bottom = height_mm * 0.22, height_mm * 0.78
    size = max(min(height_mm, width_mm) * 0.03, 3.0)
    head = (
        f"M{middle:.1f} {top:.1f}l{-size:.1f} {2.2 * size:.1f}h{2 * size:.1f}Z"
        f"M{middle:.1f} {bottom:.1f}l{-size:.1f} {-2.2 * size:.1f}h{2 * size:.1f}Z"
    )
    view_box = (
        f"{-margin_mm:.1f} {-margin_mm:.1f} {width_mm + 2 * margin_mm:.1f} {height_mm + 2 * margin_mm:.1f}"
    )
    return PieceDrawing(path_data(points), width_mm, height_mm, view_box, (middle, top, middle, bottom), head)


@dataclass(frozen=True)
class PlacedDrawing:
    """One placed piece of a lay: path data, where its number stands and what it is."""

    number: int
    path: str
    label_x: float
    label_y: float
    label_size: float
    title: str
    beside: NumberBeside | None = None


@dataclass(frozen=True)
class NumberBeside:
    """The number of a piece too narrow for it: a box beside the piece, its middle, and a line to the piece."""

    x: float
    y: float
    width: float
    height: float
    middle_x: float
    middle_y: float
    size: float
    line: str
    tip_x: float
    tip_y: float
    dot: float


@dataclass(frozen=True)
class LayDrawing:
    """A lay seen from above: the cloth runs from left to right, one SVG unit is one millimetre."""

    width_mm: float
    length_mm: float
    view_box: str
    pieces: tuple[PlacedDrawing, ...]


def draw_lay(
    lay_width_mm: float, length_mm: float, placed: Sequence[tuple[str, Sequence[Point]]]
) -> LayDrawing:
    """A lay from (title, outline in lay coordinates) pairs, numbered in the order given."""
    return _drawn_lay(lay_width_mm, length_mm, tuple((title, tuple(outline)) for title, outline in placed))


@lru_cache(maxsize=LAYS_KEPT)
def _drawn_lay(
    lay_width_mm: float, length_mm: float, placed: tuple[tuple[str, tuple[Point, ...]], ...]
) -> LayDrawing:
    largest = max(lay_width_mm, length_mm) / LETTERS
    pieces = []
    for number, (title, outline) in enumerate(placed, 1):
        flipped = Outline(tuple((x, lay_width_mm - y) for x, y in outline), ())
        spot = flipped.polygon.representative_point()
        # A number stands inside its piece, also in a narrow band.
        size = min(largest, 0.8 * min(flipped.length_mm, flipped.width_mm))
        pieces.append(PlacedDrawing(number, path_data(flipped.points), spot.x, spot.y, size, title))
    pieces = _with_numbers_beside(pieces, placed, lay_width_mm, length_mm, largest)
    margin = 12.0
    view_box = f"{-margin} {-margin} {length_mm + 2 * margin:.1f} {lay_width_mm + 2 * margin:.1f}"
    return LayDrawing(lay_width_mm, length_mm, view_box, tuple(pieces))


def _with_numbers_beside(
    pieces: Sequence[PlacedDrawing],
    placed: Sequence[tuple[str, tuple[Point, ...]]],
    lay_width_mm: float,
    length_mm: float,
    largest: float,
) -> list[PlacedDrawing]:
    """The pieces, those too narrow for a number that can be read with the number beside them."""
    high = (HIGH + 2 * ROOM) * largest
    narrow = {
        n: (_figures_wide(piece.number, largest) + 2 * ROOM * largest, high)
        for n, piece in enumerate(pieces)
        if piece.label_size < LEAST_SHARE * largest
    }
    if not narrow:
        return list(pieces)
    outlines = [[(x, lay_width_mm - y) for x, y in outline] for _, outline in placed]
    taken = []
    for n, piece in enumerate(pieces):
        if n not in narrow:
            half, up = _figures_wide(piece.number, piece.label_size) / 2, HIGH * piece.label_size / 2
            x, y = piece.label_x, piece.label_y
            taken.append((x - half, y - up, x + half, y + up))
    found = list(pieces)
    for one in callouts(outlines, narrow, (0.0, 0.0, length_mm, lay_width_mm), taken):
        left, low, right, up = one.box
        beside = NumberBeside(
            left, low, right - left, up - low, (left + right) / 2, (low + up) / 2, largest,
            path_data([one.start, one.tip]).removesuffix("Z"), *one.tip, largest * 0.12,
        )  # fmt: skip
        found[one.index] = replace(pieces[one.index], beside=beside)
    return found


def _figures_wide(number: int, size: float) -> float:
    return FIGURE * size * len(str(number))
