"""A marker shared out over sheets that overlap, so that they can be joined again. All lengths are mm of the lay."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from string import ascii_uppercase

from shapely import STRtree
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from planner.papers.data import Point

#: x_min, y_min, x_max, y_max.
Window = tuple[float, float, float, float]
#: The edges of the cloth are drawn too, and named on their outer side.
LINE_ROOM_MM = 4.0


@dataclass(frozen=True)
class Tile:
    """One sheet: its row from the top, its column from the left, both from 0, and the part of the lay it shows."""

    row: int
    column: int
    window: Window

    @property
    def name(self) -> str:
        """Row letter and column number: "B3"."""
        return f"{row_letters(self.row)}{self.column + 1}"


@dataclass(frozen=True)
class Tiling:
    """Sheets in `rows` and `columns`, each overlapping its neighbours by `overlap_mm`.

    `tiles` are those that hold a part of a piece; the others need not be printed.
    """

    rows: int
    columns: int
    overlap_mm: float
    tiles: tuple[Tile, ...]
    everywhere: tuple[Tile, ...]

    def at(self, row: int, column: int) -> Tile | None:
        """The sheet there, None where there is none or it holds nothing."""
        return next((tile for tile in self.tiles if (tile.row, tile.column) == (row, column)), None)

    @property
    def blank(self) -> tuple[Window, ...]:
        """The cells of the sheets that hold nothing."""
        printed = {(tile.row, tile.column) for tile in self.tiles}
        return tuple(self.cell(tile) for tile in self.everywhere if (tile.row, tile.column) not in printed)

    def cell(self, tile: Tile) -> Window:
        """The part of a sheet that no neighbour is nearer to: up to the middles of its overlaps."""
        x0, y0, x1, y1 = tile.window
        half = self.overlap_mm / 2
        return (
            x0 + (half if tile.column > 0 else 0.0),
            y0 + (half if tile.row < self.rows - 1 else 0.0),
            x1 - (half if tile.column < self.columns - 1 else 0.0),
            y1 - (half if tile.row > 0 else 0.0),
        )

    def holding(self, shapes: Sequence[BaseGeometry]) -> Tiling:
        """The same with the sheets besides into whose cells one of these reaches."""
        tree = STRtree(shapes)
        tiles = (
            tile
            for tile in self.everywhere
            if tile in self.tiles or len(tree.query(box(*self.cell(tile)), predicate="intersects"))
        )
        return replace(self, tiles=tuple(tiles))

    def joins(self, tile: Tile) -> dict[str, Tile]:
        """The neighbours that are printed: "left", "right", "above", "below"."""
        beside = {"left": (0, -1), "right": (0, 1), "above": (-1, 0), "below": (1, 0)}
        found = {side: self.at(tile.row + down, tile.column + on) for side, (down, on) in beside.items()}
        return {side: there for side, there in found.items() if there is not None}

    @property
    def seams(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Where the middles of the overlaps run: x of those across the lay, y of those along it."""
        first = [tile.window for tile in self.everywhere if tile.row == 0]
        lower = [tile.window for tile in self.everywhere if tile.column == 0]
        half = self.overlap_mm / 2
        return tuple(w[2] - half for w in first[:-1]), tuple(w[1] + half for w in lower[:-1])

    @property
    def registration(self) -> tuple[Point, ...]:
        """Points that two neighbours share: twice on each side of a sheet, in the middle of the overlap."""
        xs, ys = self.seams
        rows = [tile.window for tile in self.everywhere if tile.column == 0]
        columns = [tile.window for tile in self.everywhere if tile.row == 0]
        return tuple(
            [(x, w[1] + share * (w[3] - w[1])) for x in xs for w in rows for share in (0.25, 0.75)]
            + [(w[0] + share * (w[2] - w[0]), y) for y in ys for w in columns for share in (0.25, 0.75)]
        )


def row_letters(row: int) -> str:
    """A to Z, then AA, AB and so on; rows count from 0."""
    letters, number = "", row + 1
    while number > 0:
        number, rest = divmod(number - 1, len(ascii_uppercase))
        letters = ascii_uppercase[rest] + letters
    return letters


def tiling(
    outlines: Sequence[Sequence[Point]],
    length_mm: float,
    width_mm: float,
    sheet: tuple[float, float],
    overlap_mm: float,
) -> Tiling:
    """The fewest sheets, each showing `sheet` (along the lay, across it), that cover a marker; it lies in their middle.

    A sheet holds something where a piece reaches into its cell: the part that no neighbour is nearer to. Raises
    ValueError where a sheet shows no more than its overlap.
    """
    if not min(sheet) > overlap_mm:
        raise ValueError("a sheet must be larger than its overlap")
    along, across = (
        _spans(whole + 2 * LINE_ROOM_MM, one, overlap_mm)
        for whole, one in zip((length_mm, width_mm), sheet, strict=True)
    )
    everywhere = []
    for row in range(len(across)):
        for column in range(len(along)):
            (x0, x1), (y0, y1) = along[column], across[-1 - row]
            window = (x0 - LINE_ROOM_MM, y0 - LINE_ROOM_MM, x1 - LINE_ROOM_MM, y1 - LINE_ROOM_MM)
            everywhere.append(Tile(row, column, window))
    none = Tiling(len(across), len(along), overlap_mm, (), tuple(everywhere))
    return none.holding([Polygon(outline) for outline in outlines if len(outline) > 2])


def _spans(whole_mm: float, one_mm: float, overlap_mm: float) -> list[tuple[float, float]]:
    """Overlapping spans of one length that cover the whole, which lies in their middle."""
    step = one_mm - overlap_mm
    count = max(1, math.ceil((whole_mm - overlap_mm) / step - 1e-9))
    start = (whole_mm - (count * step + overlap_mm)) / 2
    return [(start + n * step, start + n * step + one_mm) for n in range(count)]
