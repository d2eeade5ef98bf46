"""A marker at true scale, window by window: cut lines, notches, holes, grain, and what each piece is.

Lay measures are mm, paper measures are points; one millimetre of the lay is one millimetre on paper. Whatever is drawn
stands where it lies on the cloth, so that two sheets that overlap show the same there; only the names in the corners
of a piece that go with one sheet keep clear of what it shares.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from reportlab.lib.units import mm as POINTS_PER_MM  # noqa: N812
from reportlab.pdfgen.canvas import Canvas
from shapely.errors import GEOSException
from shapely.geometry import box

from planner.core.lays.marks import notch_ends
from planner.papers.data import LayPaper, Point
from planner.papers.layers import edges_in_words, is_selvedge
from planner.papers.marker_words import SMALLEST, MarkerPiece, at_mm
from planner.papers.marks import HAIR, INK, SOFT, arrow_head
from planner.papers.piece_labels import chord_along, widest_place
from planner.papers.tiling import Window
from planner.papers.typefaces import draw_text, width_of

#: A notch whose depth nobody named is drawn this deep (mm).
NOTCH_MM = 5.0
CUT_WEIGHT, CUT_DASH = 1.1, (9, 4)
#: A part of a piece that is cut off by the edge of a sheet is named if a circle this large fits into it (mm).
LEAST_PART_MM = 9.0
#: The edges of the cloth are named so often (points).
EDGE_NAMES_EVERY = 360.0


def draw_window(
    canvas: Canvas,
    lay: LayPaper,
    pieces: Sequence[MarkerPiece],
    window: Window,
    *,
    overlap_mm: float = 0.0,
    registration: Sequence[Point] = (),
    seams: tuple[Sequence[float], Sequence[float]] = ((), ()),
) -> None:
    """Draw this part of the marker; the canvas stands so that the window's lower left corner is its origin."""
    x0, y0, x1, y1 = window
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(0, 0, (x1 - x0) * POINTS_PER_MM, (y1 - y0) * POINTS_PER_MM)
    canvas.clipPath(clip, stroke=0, fill=0)
    canvas.translate(-x0 * POINTS_PER_MM, -y0 * POINTS_PER_MM)
    _cloth(canvas, lay)
    _seams(canvas, window, seams)
    for one in pieces:
        if one.reaches(window):
            _piece(canvas, one, one_way=lay.one_way)
            if overlap_mm:
                _name_part(canvas, one, window, overlap_mm)
    # Over the cut lines of other pieces, which may lie where there is room for it.
    for one in pieces:
        if one.reaches(window):
            one.draw_beside(canvas)
    for point in registration:
        if x0 - 5 <= point[0] <= x1 + 5 and y0 - 5 <= point[1] <= y1 + 5:
            _registration_mark(canvas, point)
    canvas.restoreState()
    canvas.setFillColor(INK)


def _cloth(canvas: Canvas, lay: LayPaper) -> None:
    """Selvedges as double lines (a fold or a slit edge as a single one), begin and end of the marker as dots."""
    long, wide = at_mm((lay.marker_length_mm, lay.lay_width_mm))
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(1.0)
    canvas.line(0, wide, long, wide)
    canvas.line(0, 0, long, 0)
    canvas.setLineWidth(0.4)
    upper, lower = edges_in_words(lay.mode, is_tube=lay.is_tube)
    if is_selvedge(upper):
        canvas.line(0, wide - 2.4, long, wide - 2.4)
    if is_selvedge(lower):
        canvas.line(0, 2.4, long, 2.4)
    _edge_names(canvas, lay, long, wide)
    canvas.saveState()
    canvas.setLineWidth(0.9)
    canvas.setDash(1, 3)
    canvas.line(0, 0, 0, wide)
    canvas.line(long, 0, long, wide)
    canvas.restoreState()


def _edge_names(canvas: Canvas, lay: LayPaper, long: float, wide: float) -> None:
    """What the edges are, again and again along them, on their outer side."""
    upper, lower = edges_in_words(lay.mode, is_tube=lay.is_tube)
    canvas.setFillColor(INK)
    x = 12.0
    while x < long - 40:
        draw_text(canvas, x, wide + 3.5, upper, 7)
        draw_text(canvas, x, -8.5, lower, 7)
        x += EDGE_NAMES_EVERY


def _seams(canvas: Canvas, window: Window, seams: tuple[Sequence[float], Sequence[float]]) -> None:
    """Where sheets are joined: thin lines of dots and dashes through the middles of the overlaps."""
    x0, y0, x1, y1 = (value * POINTS_PER_MM for value in window)
    canvas.saveState()
    canvas.setStrokeColor(HAIR)
    canvas.setLineWidth(0.5)
    canvas.setDash([10, 3, 1.5, 3])
    # Dashes are counted from the lay's own zero, or neighbours would show them in different places.
    for x in seams[0]:
        canvas.line(x * POINTS_PER_MM, _dash_start(y0), x * POINTS_PER_MM, y1)
    for y in seams[1]:
        canvas.line(_dash_start(x0), y * POINTS_PER_MM, x1, y * POINTS_PER_MM)
    canvas.restoreState()


def _dash_start(at: float) -> float:
    return math.floor(at / 17.5) * 17.5


def _registration_mark(canvas: Canvas, point: Point) -> None:
    """A diamond with a cross through it."""
    x, y = at_mm(point)
    half = 3.0 * POINTS_PER_MM
    path = canvas.beginPath()
    path.moveTo(x - half, y)
    for px, py in ((x, y + half), (x + half, y), (x, y - half)):
        path.lineTo(px, py)
    path.close()
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.6)
    canvas.drawPath(path, stroke=1, fill=0)
    canvas.line(x - 1.4 * half, y, x + 1.4 * half, y)
    canvas.line(x, y - 1.4 * half, x, y + 1.4 * half)


def _piece(canvas: Canvas, one: MarkerPiece, *, one_way: bool) -> None:
    piece = one.piece
    canvas.saveState()
    canvas.setStrokeColor(INK)
    canvas.setLineJoin(1)
    canvas.setLineWidth(CUT_WEIGHT)
    canvas.setDash(*CUT_DASH)
    _line(canvas, piece.outline, closed=True)
    for ring in piece.marks.cutouts:
        _line(canvas, ring, closed=True)
    canvas.setLineWidth(0.6)
    canvas.setDash(1.5, 3)
    for path in (*piece.marks.lines, *piece.marks.stripe_lines):
        _line(canvas, path, closed=False)
    canvas.setDash()
    canvas.setLineWidth(1.7)
    for notch in piece.marks.notches:
        a, b = map(at_mm, notch_ends(notch, NOTCH_MM))
        canvas.line(*a, *b)
    canvas.setLineWidth(0.8)
    for hole in piece.marks.holes:
        x, y = at_mm(hole)
        canvas.circle(x, y, 4, stroke=1, fill=0)
        canvas.line(x - 6, y, x + 6, y)
        canvas.line(x, y - 6, x, y + 6)
    canvas.restoreState()
    if one.beside is None:
        one.words.draw(canvas)
    _grain(canvas, one, one_way=one_way)


def _line(canvas: Canvas, points: Sequence[Point], *, closed: bool) -> None:
    if len(points) < 2:
        return
    path = canvas.beginPath()
    path.moveTo(*at_mm(points[0]))
    for point in points[1:]:
        path.lineTo(*at_mm(point))
    if closed:
        path.close()
    canvas.drawPath(path, stroke=1, fill=0)


def _grain(canvas: Canvas, one: MarkerPiece, *, one_way: bool) -> None:
    """The grain as an arrow beside the words: one head on one-way cloth, two where the piece may be turned."""
    (cx, cy), radius = one.words.centre, one.widest[1]
    words = one.words
    beside = words.reach / POINTS_PER_MM + min(3.0 if words.is_across else 4.0, max(0.3 * radius - 1.0, 0.8))
    for y in (cy + beside, cy - beside, cy):
        left, right = chord_along(one.piece.outline, (cx, y))
        if right - left > min(60.0, 1.2 * radius):
            break
    inset = max(0.14 * (right - left), 2.0)
    left, right, y = (left + inset) * POINTS_PER_MM, (right - inset) * POINTS_PER_MM, y * POINTS_PER_MM
    if right - left < 4:
        return
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.9)
    canvas.line(left, y, right, y)
    turned = one.piece.rotation_deg % 360 == 180
    head = min(11.0, (right - left) / 3, 1.5 * radius * POINTS_PER_MM)
    if not turned or not one_way:
        arrow_head(canvas, right, y, 0, length=head)
    if turned or not one_way:
        arrow_head(canvas, left, y, math.pi, length=head)


def _name_part(canvas: Canvas, one: MarkerPiece, window: Window, overlap_mm: float) -> None:
    """The name on a part of a piece whose words stand on another sheet."""
    x0, y0, x1, y1 = window
    cx, cy = one.words.centre
    if x0 <= cx <= x1 and y0 <= cy <= y1:
        return
    try:
        own = one.polygon.intersection(
            box(x0 + overlap_mm, y0 + overlap_mm, x1 - overlap_mm, y1 - overlap_mm)
        )
    except GEOSException:
        return
    for part in getattr(own, "geoms", [own]):
        if part.geom_type != "Polygon" or part.area < LEAST_PART_MM**2:
            continue
        centre, radius = widest_place(part.exterior.coords)
        text = f"{one.piece.number} · {one.piece.name} {one.piece.size}"
        size = min(10.0, 1.7 * radius * POINTS_PER_MM / width_of(text, 1.0))
        if radius < LEAST_PART_MM or size < SMALLEST:
            text = str(one.piece.number)
            size = min(10.0, 1.4 * radius * POINTS_PER_MM / width_of(text, 1.0))
        if size >= SMALLEST:
            canvas.setFillColor(SOFT)
            x, y = at_mm(centre)
            draw_text(canvas, x, y - size * 0.36, text, size, align="centre")
            canvas.setFillColor(INK)
