"""Pieces, styles and lays as SVG at true scale: one unit of the drawing is one millimetre.

A piece stands upright, turned so that its grain runs up the sheet (x along the grain points up, y across it to the
left) and never mirrored; a lay lies with the cloth running to the right. Each piece and size is a group with the
attributes ``data-piece``, ``data-size``, ``data-count``, ``data-pair`` and ``data-role``. In it stand the closed
outline (``data-part="outline"``, filled, without a line), one path for each edge (``data-edge`` its name) and the
marks (``data-part`` says what each is). Cut lines are dashed, sew lines solid, an arrow is the grain and a short bar a
notch. Plain shapes and attributes only, so that any vector program opens it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from xml.etree import ElementTree as ET

from shapely.geometry import LineString, MultiLineString
from shapely.geometry import Point as ShapelyPoint

from planner.core.outline import Point
from planner.core.pattern_files.lay_labels import words_on
from planner.core.pattern_files.to_write import (
    Bounds,
    LayToWrite,
    PieceToWrite,
    StyleToWrite,
    grain_line,
    notch_bar,
    placed_pieces,
    spread,
)

Place = Callable[[Point], Point]

SVG_NAMESPACE = "http://www.w3.org/2000/svg"
INK = "#1c1a17"
PAPER = "#ffffff"
LINE_MM = 0.5
#: Margin round the drawing (mm).
MARGIN_MM = 10.0
#: A drill hole is drawn with this radius (mm).
HOLE_MM = 1.5
#: Length of a grain arrow's head (mm).
HEAD_MM = 12.0
#: Clear space between the grain line and what is written beside it (mm).
BESIDE_GRAIN_MM = 4.0
DASHES = {"cut": "8 4", "mark": "2 3"}


def style_as_svg(style: StyleToWrite) -> bytes:
    """All pieces of a style in all their sizes as an SVG file: a row a piece, its sizes from left to right.

    Raises ValueError where a piece stands there twice in one size.
    """
    if len({(piece.name, piece.size) for piece in style.pieces}) != len(style.pieces):
        raise ValueError("a piece stands in the style twice in the same size")
    boxes = [_upright_box(piece.outline.bounds_mm) for piece in style.pieces]
    moves = spread([(piece.name, box) for piece, box in zip(style.pieces, boxes, strict=True)])
    corners = [
        (box[i] + dx, box[i + 1] + dy) for box, (dx, dy) in zip(boxes, moves, strict=True) for i in (0, 2)
    ]
    root = _sheet(style.name, corners, style=True, sample_size=style.sample_size)
    ids: set[str] = set()
    for piece, move in zip(style.pieces, moves, strict=True):
        group = _group(root, piece, ids)
        group.set("transform", f"translate({_number(move[0])} {_number(move[1])})")
        _draw(group, piece, _upright, lying=False)
    return _as_bytes(root)


def lay_as_svg(lay: LayToWrite) -> bytes:
    """A lay as an SVG file: the cloth from left to right, y across it upwards, every piece where it lies."""

    def place(point: Point) -> Point:
        return point[0], lay.width_mm - point[1]

    root = _sheet(lay.name, [(0.0, 0.0), (lay.length_mm, lay.width_mm)])
    corners = [(0, 0), (lay.length_mm, 0), (lay.length_mm, lay.width_mm), (0, lay.width_mm)]
    # Outside the groups of pieces: without looks of its own it would be filled with black.
    cloth = _path(root, corners, "cloth", stroke=INK, fill="none")
    cloth.set("d", cloth.get("d", "") + "Z")
    cloth.set("stroke-width", _number(LINE_MM))
    ids: set[str] = set()
    for piece in placed_pieces(lay):
        _draw(_group(root, piece, ids), piece, place, lying=True)
    return _as_bytes(root)


def _upright(point: Point) -> Point:
    """From an outline's coordinates to the sheet's, where y points down: a quarter turn, not a mirror image."""
    return -point[1], -point[0]


def _upright_box(bounds: Bounds) -> Bounds:
    x0, y0, x1, y1 = bounds
    return -y1, -x1, -y0, -x0


def _sheet(title: str, corners: Sequence[Point], *, style: bool = False, sample_size: str = "") -> ET.Element:
    """The root: width and height in mm and a view box in mm round these corners, with a margin."""
    xs, ys = zip(*(corners or [(0.0, 0.0)]), strict=True)
    left, top = min(xs) - MARGIN_MM, min(ys) - MARGIN_MM
    width, height = max(xs) - left + MARGIN_MM, max(ys) - top + MARGIN_MM
    root = ET.Element(
        "svg",
        {
            "xmlns": SVG_NAMESPACE,
            "version": "1.1",
            "width": f"{_number(width)}mm",
            "height": f"{_number(height)}mm",
            "viewBox": " ".join(map(_number, (left, top, width, height))),
        },
    )
    if style:
        root.set("data-style", _printable(title))
    if sample_size:
        root.set("data-sample-size", _printable(sample_size))
    ET.SubElement(root, "title").text = _printable(title)
    return root


def _group(root: ET.Element, piece: PieceToWrite, ids: set[str]) -> ET.Element:
    """The group of a piece in one size, with all that is known of it but its shape."""
    wished = "".join(c if c.isalnum() or c in "_-." else "-" for c in f"{piece.name}_{piece.size}".strip("_"))
    wished = wished if wished[:1].isalpha() else f"piece-{wished}"
    name, number = wished, 1
    while name in ids:
        number += 1
        name = f"{wished}-{number}"
    ids.add(name)
    known = {
        "id": name,
        "data-piece": _printable(piece.name),
        "data-size": _printable(piece.size),
        "data-count": str(piece.count or ""),
        "data-pair": "yes" if piece.pair else "",
        "data-role": _printable(piece.role),
    }
    looks = {"fill": "none", "stroke": INK, "stroke-width": _number(LINE_MM), "stroke-linejoin": "round"}
    group = ET.SubElement(root, "g", {key: value for key, value in known.items() if value} | looks)
    ET.SubElement(group, "title").text = _printable(piece.label)
    return group


def _draw(group: ET.Element, piece: PieceToWrite, place: Place, *, lying: bool) -> None:
    outline, marks = piece.outline, piece.marks
    whole = _path(group, map(place, outline.points), "outline", stroke="none", fill=PAPER)
    whole.set("d", whole.get("d", "") + "Z")
    for index, edge in enumerate(outline.edges):
        path = _path(group, map(place, outline.edge_path(index)), "edge", dashes="cut")
        path.set("data-edge", _printable(edge.name))
    _draw_grain(group, piece, place)
    for notch in marks.notches:
        bar = _path(group, map(place, notch_bar(outline, notch)), "notch")
        bar.set("data-kind", _printable(notch.kind))
        if notch.depth_mm > 0:
            bar.set("data-depth", _number(notch.depth_mm))
    for ring in marks.cutouts:
        hole = _path(group, map(place, ring), "cutout", dashes="cut")
        hole.set("d", hole.get("d", "") + "Z")
    for line in marks.lines:
        _path(group, map(place, line), "internal", dashes="mark")
    for line in marks.sew_lines:
        _path(group, map(place, line), "sew")
    for line in marks.stripe_lines:
        _path(group, map(place, line), "stripe", dashes="mark")
    for hole_at in marks.holes:
        x, y = map(_number, place(hole_at))
        ET.SubElement(group, "circle", {"data-part": "hole", "cx": x, "cy": y, "r": _number(HOLE_MM)})
    (_draw_lying_label if lying else _draw_label)(group, piece, place)


def _draw_grain(group: ET.Element, piece: PieceToWrite, place: Place) -> None:
    """The grain as one line, and the heads of its arrow."""
    a, b = grain_line(piece.outline)
    _path(group, (place(a), place(b)), "grain")
    head = min(HEAD_MM, math.dist(a, b) / 4)
    for tip, back in ((a, head), (b, -head)):
        wings = [(tip[0] + back, tip[1] + head / 3), tip, (tip[0] + back, tip[1] - head / 3)]
        _path(group, map(place, wings), "arrow")


def _draw_label(group: ET.Element, piece: PieceToWrite, place: Place) -> None:
    """Name, size and count, and below them the note, to the right of the grain line of an upright piece.

    They fit the piece, as long as they can still be read then.
    """
    (x0, y), (x1, _) = grain_line(piece.outline)
    middle = (x0 + x1) / 2
    count = f"cut {piece.count}" + (" (pair)" if piece.pair else "") if piece.count else ""
    known = ", ".join(filter(None, (piece.label, count, piece.role)))
    lines = [words for words in (known, piece.note) if words]
    wide = _clear_to_the_right_mm(piece, (middle, y)) - 2 * BESIDE_GRAIN_MM
    high = (x1 - x0) / 1.4 / max(1, len(lines))
    # A letter is about half as wide as it is high.
    height = max(2.0, min(12.0, 1.8 * wide / max([1, *map(len, lines)]), high))
    for row, words in enumerate(lines):
        _text(group, words, place((middle - 1.3 * row * height, y - BESIDE_GRAIN_MM)), height, "start")


def _draw_lying_label(group: ET.Element, piece: PieceToWrite, place: Place) -> None:
    """Number, name and size of a piece of a lay on one side of its grain line, all else on the other."""
    for words in words_on(piece.outline, grain_line(piece.outline), piece.label, piece.note):
        at = place(words.at)
        text = _text(group, words.text, at, words.size_mm, "middle")
        if words.is_upright:
            text.set("transform", f"rotate(-90 {_number(at[0])} {_number(at[1])})")


def _text(group: ET.Element, words: str, at: Point, height: float, anchor: str) -> ET.Element:
    looks = {
        "x": _number(at[0]),
        "y": _number(at[1]),
        "font-family": "sans-serif",
        "font-size": _number(height),
        "text-anchor": anchor,
        "fill": INK,
        "stroke": "none",
    }
    text = ET.SubElement(group, "text", looks)
    text.text = _printable(words)
    return text


def _clear_to_the_right_mm(piece: PieceToWrite, at: Point) -> float:
    """How far it is from a point within an upright piece to the first line on its right, cut or sewn."""
    ring = [*piece.outline.points, piece.outline.points[0]]
    lines = MultiLineString([ring, *(line for line in piece.marks.sew_lines if len(line) > 1)])
    ray = LineString([at, (at[0], piece.outline.bounds_mm[1] - 1.0)])
    return float(ShapelyPoint(at).distance(ray.intersection(lines)))


def _path(
    group: ET.Element,
    points: Iterable[Point],
    part: str,
    *,
    dashes: str = "",
    stroke: str = "",
    fill: str = "",
) -> ET.Element:
    """An open path, with its part and where given its looks."""
    looks = {"stroke-dasharray": DASHES.get(dashes, ""), "stroke": stroke, "fill": fill}
    d = "M" + "L".join(f"{_number(x)} {_number(y)}" for x, y in points)
    present = {key: value for key, value in looks.items() if value}
    return ET.SubElement(group, "path", {"data-part": part, "d": d} | present)


def _number(value: float) -> str:
    """To the tenth of a micrometre, without needless digits and never in powers of ten."""
    # Adding nought takes the sign from a rounded −0.
    return f"{round(value, 4) + 0.0:.4f}".rstrip("0").rstrip(".")


def _printable(text: str) -> str:
    """Without the control characters that XML must not hold, whatever the escape."""
    return "".join(c if c.isprintable() else " " for c in text)


def _as_bytes(root: ET.Element) -> bytes:
    ET.indent(root)
    content: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return content + b"\n"
