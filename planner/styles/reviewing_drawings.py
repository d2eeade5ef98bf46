"""Pieces of a file drawn for its review: all sizes over each other, with grain, notches and inner lines."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import LineString

from planner.common.drawing import path_data
from planner.core.outline import Outline, Point
from planner.core.pattern_files.model import Marks, Mend, Path
from planner.core.pattern_files.to_write import grain_line, notch_bar
from planner.styles.drawings import NestLine

#: The drawings at the top of the page are so much smaller than those beside the questions.
SMALL = 0.42
_MARGIN_PX = 13
_HEAD_PX = 5
#: Drawn lines may miss the true ones by this (mm): less than a pixel, and a large file stays a small page.
_COARSE_MM = 0.7
#: Sizes whose common frame is larger than the largest of them by this factor do not share an origin.
_APART = 1.4
_LEAST_PX = 70
#: A notch is drawn at least this deep, or nobody sees it.
_NOTCH_PX = 9


@dataclass(frozen=True)
class Sheet:
    """One piece to be drawn: outlines by size, the size whose marks are shown, what it replaces in that size."""

    outlines: Mapping[str, Outline]
    shown: str
    marks: Marks
    mends: tuple[tuple[str, Mend], ...] = ()
    before: Outline | None = None


@dataclass(frozen=True)
class ReviewDrawing:
    """SVG data, one unit a millimetre, the grain upright; sizes from the largest to the smallest."""

    view_box: str
    width_px: int
    height_px: int
    lines: tuple[NestLine, ...]
    grain: str
    grain_heads: str
    notches: str
    inner: str
    cutouts: str
    sewn: str
    holes: tuple[Point, ...]
    mends: tuple[tuple[float, float, int], ...]
    as_drawn: str
    ring_mm: float
    hole_mm: float
    before: str

    @property
    def small_px(self) -> tuple[int, int]:
        """Width and height of the small drawing at the top of the page."""
        return round(self.width_px * SMALL), round(self.height_px * SMALL)


def review_drawings(sheets: Sequence[Sheet], *, most_px: int) -> list[ReviewDrawing]:
    """All to one scale: the longest side of the largest takes `most_px`."""
    frames = [_Frame(sheet) for sheet in sheets]
    longest = max((max(frame.width, frame.height) for frame in frames), default=1.0)
    return [frame.drawn((most_px - 2 * _MARGIN_PX) / longest) for frame in frames]


class _Frame:
    """The box round all sizes of a piece, and how its millimetres become those of the page."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.moves = _moves(sheet.outlines)
        shown = sheet.outlines[sheet.shown]
        boxes = [_moved(shape.bounds_mm, self.moves[size]) for size, shape in sheet.outlines.items()]
        self.before_move = _onto(sheet.before, shown, self.moves[sheet.shown]) if sheet.before else (0.0, 0.0)
        for size, mend in sheet.mends:
            if mend.drawn and size == sheet.shown:
                boxes.append(_moved(_box(mend.drawn), self.moves[size]))
        if sheet.before:
            boxes.append(_moved(sheet.before.bounds_mm, self.before_move))
        self.low_x, self.low_y = min(box[0] for box in boxes), min(box[1] for box in boxes)
        self.high_x, self.high_y = max(box[2] for box in boxes), max(box[3] for box in boxes)
        self.coarse_mm = min(_COARSE_MM, max(self.high_x - self.low_x, self.high_y - self.low_y) / 800)
        self.width = self.high_y - self.low_y
        self.height = self.high_x - self.low_x

    def at(self, point: Point, move: Point) -> Point:
        """Where a point of the outline stands on the page: x upwards, y to the left."""
        return self.high_y - point[1] - move[1], self.high_x - point[0] - move[0]

    def ring(self, shape: Outline, move: Point) -> str:
        points = shape.points
        if len(points) > 12:
            coarse = LineString([*points, points[0]]).simplify(self.coarse_mm).coords
            points = tuple((x, y) for x, y in list(coarse)[:-1])
        return path_data(self.at(point, move) for point in points)

    def lines(self, paths: Iterable[Path], move: Point) -> str:
        return "".join(
            "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in (self.at(point, move) for point in path))
            for path in paths
            if len(path) > 1
        )

    def drawn(self, px_per_mm: float) -> ReviewDrawing:
        sheet, move = self.sheet, self.moves[self.sheet.shown]
        shown = sheet.outlines[sheet.shown]
        in_order = sorted(sheet.outlines.items(), key=lambda item: -item[1].area_mm2)
        grain = tuple(self.at(point, move) for point in grain_line(shown))
        marks = sheet.marks
        scale = max(px_per_mm, _LEAST_PX / max(self.width, self.height))
        margin = _MARGIN_PX / scale
        return ReviewDrawing(
            view_box=" ".join(
                f"{figure:.2f}"
                for figure in (-margin, -margin, self.width + 2 * margin, self.height + 2 * margin)
            ),
            width_px=round(self.width * scale) + 2 * _MARGIN_PX,
            height_px=round(self.height * scale) + 2 * _MARGIN_PX,
            lines=tuple(
                NestLine(size, self.ring(shape, self.moves[size]), size == sheet.shown)
                for size, shape in in_order
            ),
            grain=self.lines([grain_line(shown)], move),
            grain_heads=_heads(grain, _HEAD_PX / scale),
            hole_mm=round(3 / scale, 2),
            notches=self.lines(
                (
                    notch_bar(shown, replace(n, depth_mm=max(n.depth_mm, _NOTCH_PX / scale)))
                    for n in marks.notches
                ),
                move,
            ),
            inner=self.lines([*marks.lines, *marks.stripe_lines], move),
            cutouts=self.lines([(*path, path[0]) for path in marks.cutouts if path], move),
            sewn=self.lines(marks.sew_lines, move),
            holes=tuple((round(x, 1), round(y, 1)) for x, y in (self.at(p, move) for p in marks.holes)),
            mends=tuple(
                (round(x, 1), round(y, 1), number)
                for number, (size, mend) in enumerate(sheet.mends, 1)
                for x, y in (self.at(place, self.moves[size]) for place in mend.crossings or (mend.at,))
            ),
            as_drawn=self.lines(
                [
                    (*mend.drawn, mend.drawn[0])
                    for size, mend in sheet.mends
                    if mend.drawn and size == sheet.shown
                ],
                move,
            ),
            ring_mm=round(11 / scale, 1),
            before=self.ring(sheet.before, self.before_move) if sheet.before else "",
        )


def _box(points: Path) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def _moved(box: tuple[float, float, float, float], move: Point) -> tuple[float, float, float, float]:
    return box[0] + move[0], box[1] + move[1], box[2] + move[0], box[3] + move[1]


def _moves(outlines: Mapping[str, Outline]) -> dict[str, Point]:
    """Nothing where the sizes share an origin; else each is set on the middle of the others."""
    boxes = {size: shape.bounds_mm for size, shape in outlines.items()}
    along = max(b[2] for b in boxes.values()) - min(b[0] for b in boxes.values())
    across = max(b[3] for b in boxes.values()) - min(b[1] for b in boxes.values())
    longest = max(shape.length_mm for shape in outlines.values())
    widest = max(shape.width_mm for shape in outlines.values())
    if along <= _APART * longest and across <= _APART * widest:
        return dict.fromkeys(outlines, (0.0, 0.0))
    return {size: (-(b[0] + b[2]) / 2, -(b[1] + b[3]) / 2) for size, b in boxes.items()}


def _onto(old: Outline, new: Outline, move: Point) -> Point:
    """How far the old outline moves so that both have one lower left corner."""
    was, will = old.bounds_mm, new.bounds_mm
    return will[0] - was[0] + move[0], will[1] - was[1] + move[1]


def _heads(grain: tuple[Point, ...], size: float) -> str:
    """An arrow head at both ends of an upright line, no longer than a third of it."""
    (x, low), (_, high) = grain
    size = min(size, abs(low - high) / 6)
    top, bottom = min(low, high), max(low, high)
    return (
        f"M{x:.2f} {top:.2f}l{-size:.2f} {2.2 * size:.2f}h{2 * size:.2f}Z"
        f"M{x:.2f} {bottom:.2f}l{-size:.2f} {-2.2 * size:.2f}h{2 * size:.2f}Z"
    )
