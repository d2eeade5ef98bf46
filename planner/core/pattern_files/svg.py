"""The SVG reader: drawings from vector programs, and our own SVG files, as pieces.

Which lines make a piece and how names give sizes stands in :mod:`svg_pieces` and :mod:`svg_names`. What a line or its
layer is called says more: "grain" is the grain line, "fold" or "mirror" the fold of a half piece, "notch", "internal"
and "sew" marks.

A sheet is seen from its front with y pointing down, an outline has y up: everything is turned, never mirrored. A
piece is turned until its grain runs along x. In a file without a grain line a pattern is taken to be drawn upright,
its grain running up the sheet: then x of the outline points up the sheet and y to its left. Every outline is moved
near (0, 0); sizes of a piece that lie on each other in the drawing keep doing so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from planner.core.pattern_files.assembling import Shape, assembled, say_missing_sizes
from planner.core.pattern_files.duplicates import as_large, once_each, refuse_empty
from planner.core.pattern_files.folding import Mirror
from planner.core.pattern_files.model import (
    MOST_PIECES,
    Marks,
    Notch,
    Path,
    PatternFileError,
    ReadPattern,
    ReadPiece,
)
from planner.core.pattern_files.ring_edges import cut_at_corners
from planner.core.pattern_files.rings import line_angle_deg, middle_of, places_on
from planner.core.pattern_files.svg_draw import Drawn, Sheet, draw_sheet
from planner.core.pattern_files.svg_pieces import Found, find_pieces
from planner.core.pattern_files.svg_xml import Element, parse_svg
from planner.core.pattern_files.texts import MOST_OF_ONE_PIECE

#: A pattern without a grain line is drawn upright (degrees from the sheet's x axis).
UPRIGHT_DEG = 90.0
#: A grain or fold line shorter than this says nothing (mm).
SHORTEST_LINE_MM = 1.0


def read_svg(
    content: bytes, *, name: str, units: Literal["mm", "in"] | None = None, mend: bool = False
) -> ReadPattern:
    """Pieces of an SVG drawing, outlines in mm.

    `name` is the file's name, for messages. The scale comes from width and height against the view box; `units`, the
    maker's own answer, wins over it and says what one unit of the drawing is. Pieces that need a mend are given only
    with `mend`, else a finding of the level "ask" stands in their place. Raises PatternFileError where the file is
    no SVG drawing, is not safe to read, passes a limit, or holds no outline.
    """
    root = parse_svg(content, name=name)
    sheet = draw_sheet(root, name=name, units=units)
    try:
        found = find_pieces(sheet)
    except PatternFileError as error:
        raise PatternFileError(f"{name}: {error}") from error
    if len(found) > MOST_PIECES:
        raise PatternFileError(f"{name}: the drawing has more than {MOST_PIECES:,} outlines")
    _numbered(found)
    _left_and_right(found)
    found = once_each(
        found,
        sheet.remarks,
        alike=as_large,
        again=lambda n: f"drawn {n} times with this name and size",
        different=lambda n: f"{n} different outlines have this name and size",
    )
    shapes = [_shape(piece, sheet) for piece in found]
    say_missing_sizes(shapes, sheet.remarks)
    pieces = assembled(shapes, sheet.remarks, mend=mend)
    refuse_empty(pieces, sheet.remarks.findings, name)
    _say_what_is_open(pieces, found, sheet)
    return _pattern(root, name, sheet, pieces)


def _pattern(root: Element, name: str, sheet: Sheet, pieces: Sequence[ReadPiece]) -> ReadPattern:
    return ReadPattern(
        file_name=name,
        format="SVG",
        units=sheet.units,
        asks_units=False,
        sizes=tuple(dict.fromkeys(piece.size for piece in pieces)),
        sample_size=root.get("data-sample-size"),
        style_name=root.get("data-style"),
        pieces=tuple(pieces),
        findings=sheet.remarks.findings,
    )


def _numbered(found: Sequence[Found]) -> None:
    """Pieces without any name are numbered."""
    unnamed = [piece for piece in found if not piece.name]
    for number, piece in enumerate(unnamed, 1):
        piece.name = f"piece {number}" if len(unnamed) > 1 else "piece"


def _left_and_right(found: Sequence[Found]) -> None:
    """The L of "sleeve L" is no size where there is a "sleeve R" and the sleeve comes in no other size."""
    sizes: dict[str, set[str]] = {}
    for piece in found:
        sizes.setdefault(piece.name.lower(), set()).add(piece.size)
    for piece in found:
        if "data-piece" in piece.known or sizes[piece.name.lower()] != {"L"}:
            continue
        for between in (" ", "_", "-", "."):
            if sizes.get(f"{piece.name}{between}r".lower()) == {""}:
                piece.name, piece.size = f"{piece.name}{between}L", ""


def _say_what_is_open(pieces: Sequence[ReadPiece], found: Sequence[Found], sheet: Sheet) -> None:
    """What a drawing leaves open."""
    from_name = next((p for p in found if p.size and "data-size" not in p.known), None)
    if from_name:
        text = f"one of them is “{from_name.name}” in size “{from_name.size}”"
        sheet.note("sizes", "assumed", f"sizes were taken from the names of groups and lines: {text}")
    for piece in pieces:
        if piece.count is None:
            sheet.note("no count", "ask", "the file does not say how often it is cut", piece=piece.name)
        if not piece.marks.sew_lines:
            text = "no sew line, so the file does not say whether the seam allowance is included"
            sheet.note("no sew line", "ask", text, piece=piece.name)


def _shape(found: Found, sheet: Sheet) -> Shape:
    """A piece in one size for the assembling that all readers share."""
    grain = _longest_line(found, "grain")
    if grain is None:
        text = "no grain line; the piece is taken to be drawn upright, the grain up the sheet"
        sheet.note("no grain", "assumed", text, piece=found.name)
    count = _count(found.known.get("data-count", ""))
    return Shape(
        name=found.name,
        size=found.size,
        ring=found.ring if found.ring.starts else cut_at_corners(found.ring),
        marks=_marks(found),
        mirror=_longest_line(found, "fold"),
        grain_deg=line_angle_deg(*grain) if grain else UPRIGHT_DEG,
        count=count,
        pair=found.known.get("data-pair") == "yes" if count is not None else None,
        role_guess=found.known.get("data-role", ""),
    )


def _count(text: str) -> int | None:
    count = int(text) if text.isascii() and text.isdecimal() and len(text) < 6 else 0
    return count if 0 < count <= MOST_OF_ONE_PIECE else None


def _longest_line(found: Found, part: str) -> Mirror | None:
    """The ends of the longest line of this kind; None where none is long enough."""
    lines = [_furthest(drawn.points) for drawn in found.marks if drawn.part == part and len(drawn.points) > 1]
    longest = max(lines, key=lambda line: math.dist(*line), default=None)
    return longest if longest is not None and math.dist(*longest) >= SHORTEST_LINE_MM else None


def _furthest(points: Path) -> Mirror:
    """The ends of a line, or of an arrow drawn all round: the point furthest from the middle, and that from it."""
    middle = middle_of(points)
    a = max(points, key=lambda p: math.dist(p, middle))
    return a, max(points, key=lambda p: math.dist(p, a))


def _marks(found: Found) -> Marks:
    """The marks of a piece, where they stand on the sheet."""

    def lines(part: str) -> tuple[Path, ...]:
        # A closed line comes back to its first point.
        return tuple(
            (*drawn.points, drawn.points[0]) if drawn.closed else drawn.points
            for drawn in found.marks
            if drawn.part == part
        )

    return Marks(
        notches=tuple(_notch(drawn, found.ring.points) for drawn in found.marks if drawn.part == "notch"),
        lines=(*lines("internal"), *found.inner),
        cutouts=lines("cutout"),
        holes=tuple(middle_of(drawn.points) for drawn in found.marks if drawn.part == "hole"),
        sew_lines=lines("sew"),
        stripe_lines=lines("stripe"),
    )


def _notch(drawn: Drawn, ring: Path) -> Notch:
    """A bar is a slit from its end at the cut line, a bent line a V, a closed one only says where it stands."""
    path = drawn.points
    if drawn.closed:
        return Notch(*middle_of(path))
    bar = len(path) == 2
    if bar:
        near, far = (place.distance_mm for place in places_on(ring, path))
        at, tip = path if near <= far else path[::-1]
    else:
        at = middle_of((path[0], path[-1]))
        tip = max(path, key=lambda p: math.dist(p, at))
    depth_mm = math.dist(at, tip)
    angle_deg = math.degrees(math.atan2(tip[1] - at[1], tip[0] - at[0])) % 360.0 if depth_mm > 0 else None
    kind = drawn.attributes.get("data-kind", "")[:20]
    if kind and "data-depth" not in drawn.attributes:
        # Our own files draw a notch of unknown depth as a bar all the same.
        depth_mm = 0.0
    return Notch(*at, kind=kind or ("slit" if bar else "V"), depth_mm=depth_mm, angle_deg=angle_deg)
