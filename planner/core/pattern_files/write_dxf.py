"""Pieces, styles and lays as DXF (Release 12), layered as ASTM D6673 lays them out, in millimetres.

One BLOCK for each piece and size, placed by one INSERT; x runs along the grain. The boundary is one open POLYLINE on
layer 1 for each edge, so that edges survive. The standard has no place for the name of an edge: it is carried as a
TEXT on layer 15 with the value ``Edge: <name>``, placed halfway along its edge, inside the block. Other programs show
it as a remark; our own reader gives the edge nearest to it that name.
"""

from __future__ import annotations

import io
import math
import string
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from planner.core.outline import Outline, Point, halfway_along
from planner.core.pattern_files.model import Path
from planner.core.pattern_files.to_write import (
    NOTCH_MM,
    LayToWrite,
    PieceToWrite,
    StyleToWrite,
    grain_line,
    placed_pieces,
    spread,
)

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout

#: Layers of ASTM D6673 that are written.
BOUNDARY, TURN, CURVE, NOTCH, GRAIN = "1", "2", "3", "4", "7"
INTERNAL, STRIPE, CUTOUT, DRILL, SEW, REMARK = "8", "9", "11", "13", "14", "15"
#: Kinds of notch with a layer of their own; all others stand on layer 4.
NOTCH_LAYERS = {"T": "80", "castle": "81", "check": "82", "U": "83"}
#: Not a layer of the standard: the edge of the cloth under a lay.
CLOTH = "cloth"
#: A bend sharper than this is a turn point (degrees).
CORNER_DEG = 30.0
TEXT_MM = 6.0
#: What a block's name is made of.
BLOCK_LETTERS = frozenset(string.ascii_letters + string.digits + " ._-+()&#")
#: A TEXT of Release 12 holds no more than this.
LONGEST_TEXT = 250


def style_as_dxf(style: StyleToWrite) -> bytes:
    """All pieces of a style in all their sizes as a DXF file, spread out so that none lies on another.

    Raises ValueError where a piece stands there twice in one size.
    """
    once = {(piece.name, piece.size) for piece in style.pieces}
    if len(once) != len(style.pieces):
        raise ValueError("a piece stands in the style twice in the same size")
    doc = _drawing(style.name, style.sample_size)
    _add_blocks(doc, style.pieces, spread([(p.name, p.outline.bounds_mm) for p in style.pieces]))
    return _as_bytes(doc)


def lay_as_dxf(lay: LayToWrite) -> bytes:
    """A lay as a DXF file: each placed piece a block, standing where it lies on the cloth.

    The cloth itself is a rectangle on a layer of its own outside the blocks, from (0, 0).
    """
    doc = _drawing(lay.name, "")
    pieces = placed_pieces(lay)
    moved = [(piece.outline.bounds_mm[0], piece.outline.bounds_mm[1]) for piece in pieces]
    _add_blocks(doc, [_at_origin(piece) for piece in pieces], moved)
    corners = [(0.0, 0.0), (lay.length_mm, 0.0), (lay.length_mm, lay.width_mm), (0.0, lay.width_mm)]
    doc.modelspace().add_polyline2d(corners, close=True, dxfattribs={"layer": CLOTH})
    return _as_bytes(doc)


def _at_origin(piece: PieceToWrite) -> PieceToWrite:
    """The piece with its marks, shifted so that its bounds begin at (0, 0)."""
    left, low, _, _ = piece.outline.bounds_mm

    def place(points: Sequence[Point]) -> Path:
        return tuple((x - left, y - low) for x, y in points)

    marks = piece.marks.placed(place, lambda degrees: degrees)
    return replace(piece, outline=piece.outline.at_origin(), marks=marks)


def _drawing(style_name: str, sample_size: str) -> Drawing:
    """An empty drawing with the texts on the whole style, below the pieces."""
    from ezdxf.document import Drawing  # imported here because it is slow and most requests never need it
    from ezdxf.lldxf.const import DXF12

    doc = Drawing.new(DXF12)
    texts = [
        f"Style Name: {style_name}",
        "Product: Notchbook",
        "Version: ASTM D6673-10",
        f"Sample Size: {sample_size}" if sample_size else "",
        "Units: METRIC",
        "Curve Tolerance: 0.1",
    ]
    _stack(doc.modelspace(), texts, (0.0, -2 * TEXT_MM), BOUNDARY)
    return doc


def _add_blocks(doc: Drawing, pieces: Sequence[PieceToWrite], moves: Sequence[Point]) -> None:
    taken: set[str] = set()
    for piece, move in zip(pieces, moves, strict=True):
        name = _block_name(piece, taken)
        _draw(doc.blocks.new(name), piece)
        doc.modelspace().add_blockref(name, move, dxfattribs={"layer": BOUNDARY})


def _block_name(piece: PieceToWrite, taken: set[str]) -> str:
    """`<piece>_<size>` in letters that every program takes in a block's name, and not taken yet.

    The true name stands in the block's texts.
    """
    wished = f"{piece.name}_{piece.size}" if piece.size else piece.name
    bare = (c for c in unicodedata.normalize("NFKD", wished) if not unicodedata.combining(c))
    plain = "".join(c if c in BLOCK_LETTERS else "-" for c in bare).strip()[:LONGEST_TEXT] or "piece"
    name, number = plain, 1
    # Names of blocks are the same name in large and small letters.
    while name.lower() in taken:
        number += 1
        name = f"{plain}~{number}"
    taken.add(name.lower())
    return name


def _draw(block: BaseLayout, piece: PieceToWrite) -> None:
    outline, marks = piece.outline, piece.marks
    middle = outline.polygon.representative_point()
    _stack(block, _piece_texts(piece), (middle.x, middle.y - TEXT_MM), BOUNDARY)
    _draw_boundary(block, outline)
    block.add_line(*grain_line(outline), dxfattribs={"layer": GRAIN})
    for notch in marks.notches:
        # z is the depth and the thickness the width: a slit has none.
        attributes = {
            "layer": NOTCH_LAYERS.get(notch.kind, NOTCH),
            "thickness": 0.0 if notch.kind == "slit" else notch.depth_mm or NOTCH_MM,
        }
        if notch.angle_deg is not None:
            attributes["angle"] = notch.angle_deg
        block.add_point((notch.x, notch.y, notch.depth_mm), dxfattribs=attributes)
    drawn = {INTERNAL: marks.lines, STRIPE: marks.stripe_lines, CUTOUT: marks.cutouts, SEW: marks.sew_lines}
    for layer, paths in drawn.items():
        for path in paths:
            # A cut-out is a ring, whether or not its first point is repeated; a line is a ring if it ends there.
            closed = layer == CUTOUT or path[0] == path[-1]
            points = path[:-1] if closed and len(path) > 1 and path[0] == path[-1] else path
            block.add_polyline2d(points, close=closed, dxfattribs={"layer": layer})
    for hole in marks.holes:
        block.add_point(hole, dxfattribs={"layer": DRILL})


def _piece_texts(piece: PieceToWrite) -> list[str]:
    return [
        f"Piece Name: {piece.name}",
        f"Size: {piece.size}" if piece.size else "",
        f"Quantity: {_quantity(piece.count, pair=piece.pair)}" if piece.count else "",
        f"Material: {piece.role}" if piece.role else "",
        f"Annotation: {piece.note}" if piece.note else "",
    ]


def _quantity(count: int, *, pair: bool) -> str:
    """`2`, or for a pair right and left apart: `1,1`."""
    return f"{count - count // 2},{count // 2}" if pair else str(count)


def _draw_boundary(block: BaseLayout, outline: Outline) -> None:
    """One open polyline and the name for each edge; turn points at their ends and at corners, curve points else."""
    starts = {edge.start for edge in outline.edges}
    for index, edge in enumerate(outline.edges):
        path = outline.edge_path(index)
        block.add_polyline2d(path, dxfattribs={"layer": BOUNDARY})
        _stack(block, [f"Edge: {edge.name}"], halfway_along(path), REMARK, height_mm=TEXT_MM / 2)
    n = len(outline.points)
    for i, point in enumerate(outline.points):
        before, after = outline.points[i - 1], outline.points[(i + 1) % n]
        turns = i in starts or _bend_deg(before, point, after) > CORNER_DEG
        block.add_point(point, dxfattribs={"layer": TURN if turns else CURVE})


def _bend_deg(a: Point, b: Point, c: Point) -> float:
    """By how many degrees the way from a over b to c turns aside at b."""
    into = math.atan2(b[1] - a[1], b[0] - a[0])
    out_of = math.atan2(c[1] - b[1], c[0] - b[0])
    turn = math.degrees(out_of - into) % 360.0
    return min(turn, 360.0 - turn)


def _stack(
    space: BaseLayout, texts: Iterable[str], at: Point, layer: str, *, height_mm: float = TEXT_MM
) -> None:
    """Texts one below the other from this point; empty ones are left out."""
    for line, text in enumerate(text for text in texts if text):
        place = (at[0], at[1] - 1.5 * line * height_mm)
        space.add_text(_plain(text), height=height_mm, dxfattribs={"layer": layer, "insert": place})


def _plain(text: str) -> str:
    """Without line breaks and other control characters, which would tear the file apart, and beyond ASCII as codes."""
    plain = "".join(c if c.isprintable() else " " for c in text)[:LONGEST_TEXT].rstrip(" ^")
    return "".join(c if c.isascii() else f"\\U+{ord(c):04X}" if ord(c) <= 0xFFFF else "?" for c in plain)


def _as_bytes(doc: Drawing) -> bytes:
    """The drawing without what only its library needs.

    Tables and the blocks of model and paper space are left out, as programs of the trade expect of a pattern file;
    so are dates, for the same pieces always give the same bytes. Letters beyond ASCII are written as ``\\U+XXXX``.
    """
    from ezdxf.lldxf.const import DXF12
    from ezdxf.lldxf.tagwriter import TagWriter

    stream = io.StringIO()
    tags = TagWriter(stream, write_handles=False, dxfversion=DXF12)
    tags.write_str("  0\nSECTION\n  2\nHEADER\n  9\n$ACADVER\n  1\nAC1009\n  0\nENDSEC\n")
    tags.write_str("  0\nSECTION\n  2\nBLOCKS\n")
    for record in doc.block_records:
        if record.is_block_layout:
            record.export_block_definition(tags)
    tags.write_str("  0\nENDSEC\n  0\nSECTION\n  2\nENTITIES\n")
    doc.modelspace().entity_space.export_dxf(tags)
    tags.write_str("  0\nENDSEC\n  0\nEOF\n")
    return stream.getvalue().encode("ascii")
