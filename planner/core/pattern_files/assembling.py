"""From what a file draws of each piece and size to the pieces that are handed out.

Readers make :class:`Shape` objects, in mm, as the file has them; :func:`assembled` unfolds them, turns them to their
grain, gives their edges the same order in all sizes, measures the seam allowance, and leaves out what needs somebody's
word.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely.geometry import MultiLineString, Polygon

from planner.core.outline import LARGEST_MM, Outline, OutlineError, Point, path_length_mm
from planner.core.pattern_files.folding import Mirror, mirrored_across, on_boundary, unfolded
from planner.core.pattern_files.model import (
    MOST_POINTS_A_PIECE,
    Finding,
    Level,
    Marks,
    Mend,
    Path,
    ReadPiece,
)
from planner.core.pattern_files.ring_edges import lined_up
from planner.core.pattern_files.ring_mending import mended_crossing
from planner.core.pattern_files.rings import (
    Ring,
    RingError,
    moved,
    ring_outline,
    turn_to_grain_deg,
    turned,
)

NO_MARKS = Marks()
#: A sew line further from the cut line than this belongs to another edge (mm).
LARGEST_ALLOWANCE_MM = 60.0
#: The allowance of a piece with more edges than this is not measured; garments have four to twelve.
MOST_EDGES_MEASURED = 200
#: Notches nearer than this to their own mirror image stand on the fold (mm).
ON_FOLD_MM = 0.5


@dataclass(frozen=True)
class Shape:
    """One piece in one size as the file draws it: mm, in the file's own frame.

    `ring` is half the piece where there is a `mirror`. `grain_deg` is None where the file draws no grain.
    """

    name: str
    size: str
    ring: Ring
    marks: Marks = NO_MARKS
    mirror: Mirror | None = None
    grain_deg: float | None = None
    count: int | None = None
    pair: bool | None = None
    count_guess: int | None = None
    pair_guess: bool | None = None
    role_guess: str = ""


@dataclass
class Remarks:
    """The findings of a file while it is read; what is true of a piece in all its sizes is said once."""

    #: A dict for its keys: with thousands of pieces each new finding would be held against all the others.
    _said: dict[Finding, None] = field(default_factory=dict)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All of them, in the order in which they were found."""
        return tuple(self._said)

    def add(self, kind: str, level: Level, text: str, *, piece: str = "", size: str = "") -> None:
        """Adds a finding; the piece and size are put in front of its text."""
        self._said[Finding(kind, level, piece, size, f"{who(piece, size)}{text}")] = None

    def drop(self, kind: str) -> None:
        """Forgets the findings of one kind."""
        self._said = {finding: None for finding in self._said if finding.kind != kind}


def who(piece: str, size: str) -> str:
    """`Front, size M: ` to begin a sentence with; "" for the whole file."""
    if not piece:
        return ""
    return f"{piece}, size {size}: " if size else f"{piece}: "


def assembled(shapes: Sequence[Shape], remarks: Remarks, *, mend: bool) -> list[ReadPiece]:
    """The pieces of a file, in its order. What cannot be made is left out, with a finding that says why."""
    drafts: dict[str, list[_Draft]] = {}
    for shape in shapes:
        draft = _drafted(shape, remarks, mend=mend)
        if draft:
            drafts.setdefault(shape.name, []).append(draft)
    pieces: list[ReadPiece] = []
    for sizes in drafts.values():
        pieces.extend(_nested(_with_edges_alike(sizes), remarks))
    order = {(shape.name, shape.size): i for i, shape in enumerate(shapes)}
    return sorted(pieces, key=lambda piece: order[piece.name, piece.size])


def say_missing_sizes(shapes: Sequence[Shape], remarks: Remarks) -> None:
    """A finding for each piece that is not there in some of the sizes that others have.

    Pieces without a size are for all of them; what a finding already speaks of is not said again.
    """
    sizes = list(dict.fromkeys(shape.size for shape in shapes if shape.size))
    there = {(shape.name, shape.size) for shape in shapes} | {(f.piece, f.size) for f in remarks.findings}
    for_all = {shape.name for shape in shapes if not shape.size}
    for name in dict.fromkeys(shape.name for shape in shapes if shape.name not in for_all):
        missing = [size for size in sizes if (name, size) not in there]
        if missing:
            text = f"the file does not hold it in size {', '.join(missing)}"
            remarks.add("size missing", "missing", text, piece=name)


@dataclass(frozen=True)
class _Draft:
    """A shape turned to its grain: the ring and marks, or already the outline where it was unfolded."""

    shape: Shape
    ring: Ring
    marks: Marks
    outline: Outline | None
    box: tuple[float, float, float, float]


def _drafted(shape: Shape, remarks: Remarks, *, mend: bool) -> _Draft | None:
    try:
        ring = _checked(shape.ring)
        if not ring.gaps or mend:
            return _turned_draft(replace(shape, ring=ring))
    except RingError as fault:
        remarks.add(fault.kind, "refused", str(fault), piece=shape.name, size=shape.size)
        return None
    except OutlineError as fault:
        remarks.add("outline", "refused", str(fault), piece=shape.name, size=shape.size)
        return None
    for gap in ring.gaps:
        text = f"{gap.text}. May it be mended like that?"
        remarks.add(gap.kind, "ask", text, piece=shape.name, size=shape.size)
    return None


def _checked(ring: Ring) -> Ring:
    """The ring, or what is proposed for it where it crosses itself. Raises RingError for what cannot be a piece."""
    if len(ring.points) > MOST_POINTS_A_PIECE:
        text = f"more than {MOST_POINTS_A_PIECE:,} points, which is more than is read"
        raise RingError("too many points", text)
    if _extent(ring.points) > LARGEST_MM:
        raise RingError("too large", "it would be larger than 20 m: are the units right?")
    if Polygon(ring.points).is_valid:
        return ring
    mended = mended_crossing(ring)
    if mended is None:
        raise RingError("crossing", "the outline crosses itself, and no mend can be proposed")
    return mended


def _turned_draft(shape: Shape) -> _Draft:
    """Turned to its grain and, where it is half a piece, unfolded."""
    # Brought near (0, 0) first: a piece drawn far away would lose digits and be taken for an impossible one.
    x0, y0 = min(x for x, _ in shape.ring.points), min(y for _, y in shape.ring.points)
    degrees = turn_to_grain_deg(shape.grain_deg or 0.0)

    def place(points: Iterable[Point]) -> Path:
        return turned(moved(list(points), -x0, -y0), degrees)

    ring = replace(shape.ring, points=place(shape.ring.points), gaps=_placed_mends(shape.ring.gaps, place))
    marks = placed_marks(shape.marks, place, degrees)
    outline: Outline | None = None
    if shape.mirror:
        start, end = place(shape.mirror)
        mirror = on_boundary(ring, (start, end))
        outline = unfolded(ring, mirror)
        marks = _doubled(marks, mirror)
    points = outline.points if outline else ring.points
    shift = place([(0.0, 0.0)])[0]
    xs, ys = [x - shift[0] for x, _ in points], [y - shift[1] for _, y in points]
    return _Draft(shape, ring, marks, outline, (min(xs), min(ys), max(xs), max(ys)))


def _placed_mends(mends: Sequence[Mend], place: Callable[[Iterable[Point]], Path]) -> tuple[Mend, ...]:
    return tuple(mend.moved(place) for mend in mends)


def placed_marks(marks: Marks, place: Callable[[Iterable[Point]], Path], degrees: float) -> Marks:
    """Marks moved by `place`, which turns by so many degrees."""
    return marks.placed(place, lambda angle: angle + degrees)


def _doubled(marks: Marks, mirror: Mirror) -> Marks:
    """The marks of half a piece and their mirror image; what lies on the fold stands there once."""
    (px, py), (qx, qy) = mirror
    fold_deg = math.degrees(math.atan2(qy - py, qx - px))

    def both(paths: Sequence[Path]) -> tuple[Path, ...]:
        doubled: list[Path] = []
        for path in paths:
            image = mirrored_across(path, mirror)
            same = all(math.dist(a, b) <= ON_FOLD_MM for a, b in zip(path, image, strict=True))
            doubled.extend([path] if same else [path, image])
        return tuple(doubled)

    notches = list(marks.notches)
    for n in marks.notches:
        ((x, y),) = mirrored_across([(n.x, n.y)], mirror)
        if math.dist((x, y), (n.x, n.y)) > ON_FOLD_MM:
            angle = None if n.angle_deg is None else (2 * fold_deg - n.angle_deg) % 360.0
            notches.append(replace(n, x=x, y=y, angle_deg=angle))
    holes = [path[0] for path in both([(hole,) for hole in marks.holes])]
    return Marks(
        notches=tuple(notches),
        lines=both(marks.lines),
        cutouts=both(marks.cutouts),
        holes=tuple(holes),
        sew_lines=both(marks.sew_lines),
        stripe_lines=both(marks.stripe_lines),
    )


def _with_edges_alike(drafts: Sequence[_Draft]) -> list[_Draft]:
    """Edge 1 of whole pieces at the same corner in every size; unfolded ones begin at their fold anyway."""
    whole = [draft for draft in drafts if draft.outline is None]
    rings = iter(lined_up([draft.ring for draft in whole]))
    return [replace(draft, ring=next(rings)) if draft.outline is None else draft for draft in drafts]


def _nested(drafts: Sequence[_Draft], remarks: Remarks) -> list[ReadPiece]:
    """The sizes of one piece lying on each other as in the file where they do so there.

    Sizes that were drawn apart are set with their lower ends level and their middles over each other, as a nest is
    stacked on the hem and the fold.
    """
    first = drafts[0].box
    stacked = all(_overlap(first, draft.box) for draft in drafts)
    x0, y0 = min(d.box[0] for d in drafts), min(d.box[1] for d in drafts)
    widest = max(d.box[3] - d.box[1] for d in drafts)
    pieces: list[ReadPiece] = []
    for draft in drafts:
        beside = (0.0, (widest - (draft.box[3] - draft.box[1])) / 2)
        at = (draft.box[0] - x0, draft.box[1] - y0) if stacked else beside
        try:
            pieces.append(_finished(draft, at))
        except OutlineError as fault:
            shape = draft.shape
            remarks.add("outline", "refused", str(fault), piece=shape.name, size=shape.size)
    return pieces


def _finished(draft: _Draft, at: Point) -> ReadPiece:
    shape = draft.shape
    outline = draft.outline or ring_outline(draft.ring)
    x0, y0, _, _ = outline.bounds_mm
    dx, dy = at[0] - x0, at[1] - y0

    def place(points: Iterable[Point]) -> Path:
        return moved(list(points), dx, dy)

    outline = outline.moved(dx, dy)
    marks = placed_marks(draft.marks, place, 0.0)
    return ReadPiece(
        name=shape.name,
        size=shape.size,
        outline=outline,
        marks=marks,
        unfolded=shape.mirror is not None,
        grain_deg=shape.grain_deg or 0.0,
        count=shape.count,
        pair=shape.pair,
        count_guess=shape.count_guess,
        pair_guess=shape.pair_guess,
        role_guess=shape.role_guess,
        mends=_placed_mends(draft.ring.gaps, place),
        allowance_mm=allowances_mm(outline, marks.sew_lines) if marks.sew_lines else None,
    )


def allowances_mm(outline: Outline, sew_lines: Sequence[Path]) -> dict[str, float]:
    """How far the sew line lies from each edge of the cut line in mm, where one runs beside it; by edge name."""
    sewn = MultiLineString([list(path) for path in sew_lines if len(path) > 1])
    if sewn.is_empty or len(outline.edges) > MOST_EDGES_MEASURED:
        return {}
    measured: dict[str, list[float]] = {}
    for index, edge in enumerate(outline.edges):
        distance = _beside(outline.edge_path(index), sewn)
        if distance is not None:
            measured.setdefault(edge.name, []).append(distance)
    return {name: round(statistics.fmean(values), 2) for name, values in measured.items()}


def _beside(edge: Path, sewn: MultiLineString) -> float | None:
    """Distance of a sew line that runs alongside an edge; None where none does."""
    length = path_length_mm(edge)
    line = shapely.linestrings(list(edge))
    shares = (0.2, 0.35, 0.5, 0.65, 0.8)
    distances: list[float] = []
    for share in shares:
        here = shapely.line_interpolate_point(line, share * length)
        before = shapely.line_interpolate_point(line, max(0.0, share * length - 0.5))
        after = shapely.line_interpolate_point(line, min(length, share * length + 0.5))
        tangent = (after.x - before.x, after.y - before.y)
        across = shapely.shortest_line(here, sewn)
        (ax, ay), (bx, by) = across.coords[0], across.coords[-1]
        distance = math.dist((ax, ay), (bx, by))
        if distance > LARGEST_ALLOWANCE_MM:
            continue
        along = abs((bx - ax) * tangent[0] + (by - ay) * tangent[1]) / (math.hypot(*tangent) or 1.0)
        if distance < 0.05 or along <= 0.3 * distance:
            distances.append(distance)
    return float(statistics.median(distances)) if len(distances) >= 3 else None


def _overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    """True where two boxes lie on each other by more than half of the smaller one, each way."""
    return all(
        min(a[i + 2], b[i + 2]) - max(a[i], b[i]) > 0.5 * min(a[i + 2] - a[i], b[i + 2] - b[i])
        for i in (0, 1)
    )


def _extent(points: Sequence[Point]) -> float:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return max(max(xs) - min(xs), max(ys) - min(ys))
