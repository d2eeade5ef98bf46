"""The SVG reader: drawings from vector programs, and our own SVG files, as pieces.

Which lines make a piece and how names give sizes stands in :mod:`svg_pieces`. What a line or its layer is called
says more: "grain" is the grain line, "fold" or "mirror" the fold of a half piece, "notch", "internal" and "sew" marks.

A sheet is seen from its front with y pointing down, an outline has y up: everything is turned, never mirrored. A
piece is turned until its grain runs along x. In a file without a grain line a pattern is taken to be drawn upright,
its grain running up the sheet: then x of the outline points up the sheet and y to its left. Every outline is moved so
that its bounds begin at (0, 0).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from planner.core.outline import Outline, OutlineError, Point
from planner.core.pattern_files.folding import Mirror, mirrored_across, unfolded
from planner.core.pattern_files.model import (
    MOST_PIECES,
    MOST_POINTS_A_PIECE,
    Finding,
    Level,
    Marks,
    Mend,
    Notch,
    Path,
    PatternFileError,
    ReadPattern,
    ReadPiece,
)
from planner.core.pattern_files.rings import (
    Ring,
    RingError,
    cut_at_corners,
    line_angle_deg,
    lined_up,
    mended_crossing,
    moved,
    places_on,
    ring_outline,
    turn_to_grain_deg,
    turned,
)
from planner.core.pattern_files.svg_draw import Drawn, Sheet, draw_sheet
from planner.core.pattern_files.svg_pieces import Found, find_pieces
from planner.core.pattern_files.svg_xml import Element, parse_svg

#: A pattern without a grain line is drawn upright (degrees from the sheet's x axis).
UPRIGHT_DEG = 90.0
#: A grain or fold line shorter than this says nothing (mm).
SHORTEST_LINE_MM = 1.0
#: Marks nearer than this to the fold are their own mirror image (mm).
ON_FOLD_MM = 0.5
#: A garment has no more of one piece than this.
MOST_OF_ONE_PIECE = 200


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
    found = find_pieces(sheet)
    if len(found) > MOST_PIECES:
        raise PatternFileError(f"{name}: the drawing has more than {MOST_PIECES:,} outlines")
    reader = _Pieces(sheet, mend=mend)
    pieces = reader.read(_without_doubles(found, sheet))
    if not pieces and not any(finding.level == "ask" for finding in sheet.findings):
        refused = next((f for f in sheet.findings if f.level == "refused"), None)
        raise PatternFileError(f"{name}: {_sentence(refused)}")
    _say_what_is_open(pieces, found, sheet)
    return _pattern(root, name, sheet, pieces)


def _sentence(refused: Finding | None) -> str:
    if refused is None:
        return "the drawing holds no closed outline"
    whose = " ".join(filter(None, (refused.piece, refused.size)))
    return (
        f"no piece can be read; {whose}: {refused.text}" if whose else f"no piece can be read: {refused.text}"
    )


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
        findings=tuple(sheet.findings),
    )


def _without_doubles(found: Sequence[Found], sheet: Sheet) -> list[Found]:
    """Each piece once in each size: the first stands."""
    unnamed = [piece for piece in found if piece.name == "piece"]
    if len(unnamed) > 1:
        for number, piece in enumerate(unnamed, 1):
            piece.name = f"piece {number}"
    kept: dict[tuple[str, str], Found] = {}
    for piece in found:
        if (piece.name, piece.size) in kept:
            text = "the drawing has this piece twice in this size; the second was left out"
            sheet.findings.append(Finding("duplicate", "refused", piece.name, piece.size, text))
        else:
            kept[piece.name, piece.size] = piece
    return list(kept.values())


def _say_what_is_open(pieces: Sequence[ReadPiece], found: Sequence[Found], sheet: Sheet) -> None:
    """What a drawing never says, once for the whole file."""
    taken_from_names = next((p for p in found if p.size and "data-size" not in p.known), None)
    if taken_from_names:
        sheet.note(
            "sizes",
            "assumed",
            "sizes were taken from the names of groups and lines: one of them is "
            f"“{taken_from_names.name}” in size “{taken_from_names.size}”",
        )
    if any(piece.count is None for piece in pieces):
        sheet.note("no count", "missing", "the file does not say how many of each piece are cut")
    if any(not piece.marks.sew_lines for piece in pieces):
        sheet.note(
            "no sew line",
            "missing",
            "the file does not say whether the seam allowance lies within the outline",
        )


@dataclass(frozen=True)
class _Frame:
    """From the sheet to a piece's own coordinates: turned to its grain, then moved."""

    degrees: float
    dx: float = 0.0
    dy: float = 0.0

    def path(self, points: Sequence[Point]) -> Path:
        return moved(turned(points, self.degrees), self.dx, self.dy)

    def point(self, point: Point) -> Point:
        return self.path([point])[0]


class _Pieces:
    """Makes pieces of what was found; what cannot be made is said in the sheet's findings."""

    def __init__(self, sheet: Sheet, *, mend: bool) -> None:
        self.sheet = sheet
        self.mend = mend

    def read(self, found: Sequence[Found]) -> list[ReadPiece]:
        for piece in found:
            if not piece.ring.starts:
                piece.ring = cut_at_corners(piece.ring)
        _line_up(found)
        return [made for piece in found if (made := self._piece(piece)) is not None]

    def _note(self, piece: Found, kind: str, level: Level, text: str) -> None:
        self.sheet.findings.append(Finding(kind, level, piece.name, piece.size, text))

    def _piece(self, found: Found) -> ReadPiece | None:
        if len(found.ring.points) > MOST_POINTS_A_PIECE:
            text = f"the outline has more than {MOST_POINTS_A_PIECE:,} points"
            self._note(found, "too many points", "refused", text)
            return None
        grain_deg = self._grain_deg(found)
        mirror = _longest_line(found, "fold")
        try:
            outline, mends, frame = self._outline(found, _Frame(turn_to_grain_deg(grain_deg)), mirror)
        except (OutlineError, RingError) as error:
            self._note(found, getattr(error, "kind", "outline"), "refused", str(error))
            return None
        if mends and not self.mend:
            for needed in mends:
                self._note(found, needed.kind, "ask", needed.text)
            return None
        known = found.known
        count = _count(known.get("data-count", ""))
        return ReadPiece(
            name=found.name,
            size=found.size,
            outline=outline,
            marks=_marks(found, outline, frame, mirror),
            unfolded=mirror is not None,
            grain_deg=grain_deg,
            count=count,
            pair=known.get("data-pair") == "yes" if count is not None else None,
            role_guess=known.get("data-role", ""),
            mends=mends,
        )

    def _grain_deg(self, found: Found) -> float:
        line = _longest_line(found, "grain")
        if line is not None:
            return line_angle_deg(*line)
        self._note(
            found, "no grain", "assumed", "there is no grain line: the piece was taken to be drawn upright"
        )
        return UPRIGHT_DEG

    def _outline(
        self, found: Found, frame: _Frame, mirror: Mirror | None
    ) -> tuple[Outline, tuple[Mend, ...], _Frame]:
        """The outline at its own origin, the mends it needed, and the way from the sheet to it."""
        ring = found.ring
        if mirror is not None:
            whole = unfolded(ring, mirror)
            ring = Ring(
                whole.points,
                tuple(e.start for e in whole.edges),
                ring.gaps,
                tuple(e.name for e in whole.edges),
            )
        points = turned(ring.points, frame.degrees)
        frame = replace(frame, dx=-min(x for x, _ in points), dy=-min(y for _, y in points))
        gaps = tuple(_at(gap, frame.point(gap.at)) for gap in ring.gaps)
        local = replace(ring, points=frame.path(ring.points), gaps=gaps)
        try:
            return ring_outline(local), gaps, frame
        except OutlineError:
            mended = mended_crossing(local)
            if mended is None:
                raise
        outline = ring_outline(mended)
        x0, y0, _, _ = outline.bounds_mm
        frame = replace(frame, dx=frame.dx - x0, dy=frame.dy - y0)
        return outline.at_origin(), mended.gaps, frame


def _at(gap: Mend, at: Point) -> Mend:
    """A mend told in the piece's own coordinates."""
    what = gap.text.partition(" near (")[0]
    return replace(gap, at=at, text=f"{what} near ({at[0]:.1f}, {at[1]:.1f}) mm")


def _line_up(found: Sequence[Found]) -> None:
    """Edge 1 begins at the same corner in every size of a piece whose edges have no names."""
    by_name: dict[str, list[Found]] = {}
    for piece in found:
        if not piece.ring.names:
            by_name.setdefault(piece.name, []).append(piece)
    for sizes in by_name.values():
        for piece, ring in zip(sizes, lined_up([piece.ring for piece in sizes]), strict=True):
            piece.ring = ring


def _count(text: str) -> int | None:
    count = int(text) if text.isascii() and text.isdecimal() and len(text) < 6 else 0
    return count if 0 < count <= MOST_OF_ONE_PIECE else None


def _longest_line(found: Found, part: str) -> Mirror | None:
    """The ends of the longest line of this kind; None where none is long enough."""
    lines = [_furthest(drawn.points) for drawn in found.marks if drawn.part == part and len(drawn.points) > 1]
    longest = max(lines, key=lambda line: math.dist(*line), default=None)
    return longest if longest is not None and math.dist(*longest) >= SHORTEST_LINE_MM else None


def _furthest(points: Path) -> Mirror:
    """The two ends of a line, or of an arrow drawn round: the point furthest from the middle, and that from it."""
    middle = (sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points))
    a = max(points, key=lambda p: math.dist(p, middle))
    return a, max(points, key=lambda p: math.dist(p, a))


def _marks(found: Found, outline: Outline, frame: _Frame, mirror: Mirror | None) -> Marks:
    """The marks of a piece in its own coordinates; of an unfolded half on both sides."""

    def lines(*parts: str) -> tuple[Path, ...]:
        paths = [_whole(drawn) for drawn in found.marks if drawn.part in parts]
        paths += found.inner if "internal" in parts else []
        return tuple(frame.path(path) for path in _both_sides(paths, mirror))

    holes = [(_centre(drawn.points),) for drawn in found.marks if drawn.part == "hole"]
    notches = []
    for drawn in found.marks:
        if drawn.part == "notch":
            for path in _both_sides([drawn.points], mirror):
                notches.append(_notch(drawn, frame.path(path), outline))
    return Marks(
        notches=tuple(notches),
        lines=lines("internal"),
        cutouts=lines("cutout"),
        holes=tuple(frame.point(hole[0]) for hole in _both_sides(holes, mirror)),
        sew_lines=lines("sew"),
        stripe_lines=lines("stripe"),
    )


def _whole(drawn: Drawn) -> Path:
    """A closed line with its first point repeated, except a cut-out, which is closed by what it is."""
    return (*drawn.points, drawn.points[0]) if drawn.closed and drawn.part != "cutout" else drawn.points


def _both_sides(paths: Sequence[Path], mirror: Mirror | None) -> list[Path]:
    """Paths and, on a half piece, their mirror images, but for those that are their own."""
    if mirror is None:
        return list(paths)
    images = [(path, mirrored_across(path, mirror)) for path in paths]
    apart = [image for path, image in images if max(map(math.dist, path, image)) > ON_FOLD_MM]
    return [*paths, *apart]


def _notch(drawn: Drawn, path: Path, outline: Outline) -> Notch:
    """A notch drawn as a bar is a slit from its end at the cut line; one with more points is a V."""
    bar = len(path) == 2
    if bar:
        distances = [place.distance_mm for place in places_on(outline.points, path)]
        at, tip = path if distances[0] <= distances[1] else path[::-1]
    else:
        at = _centre((path[0], path[-1]))
        tip = max(path, key=lambda p: math.dist(p, at))
    reach = math.dist(at, tip)
    angle = math.degrees(math.atan2(tip[1] - at[1], tip[0] - at[0])) if reach > 0 else None
    depth = reach
    kind = drawn.attributes.get("data-kind", "slit" if bar else "V")[:20]
    if "data-kind" in drawn.attributes:
        # Our own file draws a notch without a depth as a bar all the same.
        depth = reach if "data-depth" in drawn.attributes else 0.0
    return Notch(*at, kind=kind, depth_mm=depth, angle_deg=angle)


def _centre(points: Path) -> Point:
    xs, ys = zip(*points, strict=True)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
