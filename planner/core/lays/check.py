"""The exact judge of a marker: does every piece lie on the cloth, apart from the others, as the rule allows?

Nothing is shown, stored or printed as a marker that this has not passed. It knows nothing of how the
arrangement was found.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapely import STRtree
from shapely.geometry import Polygon

from planner.core.lays.model import ItemToLay, Marker, MarkerJob, Placement
from planner.core.outline import Outline, Point, signed_area_mm2

#: A tenth of a millimetre is finer than any pencil or knife on cloth.
TOLERANCE_MM = 0.1

#: What tells one item of a marker from another: style, piece, size, garment number, mirrored.
ItemKey = tuple[str, str, str, int, bool]


@dataclass(frozen=True, slots=True)
class OutsideCloth:
    """A piece reaches past the cloth by `by_mm`."""

    index: int
    by_mm: float


@dataclass(frozen=True, slots=True)
class Overlap:
    """Two pieces share `area_mm2` of cloth."""

    first: int
    second: int
    area_mm2: float


@dataclass(frozen=True, slots=True)
class GapTooSmall:
    """Two pieces lie `gap_mm` apart where `wanted_mm` was asked for."""

    first: int
    second: int
    gap_mm: float
    wanted_mm: float


@dataclass(frozen=True, slots=True)
class WronglyTurned:
    """A piece is turned by an angle that the cloth or the piece does not allow."""

    index: int
    rotation_deg: int


@dataclass(frozen=True, slots=True)
class MissingPiece:
    """An item of the job that is not placed, `count` times."""

    key: ItemKey
    count: int


@dataclass(frozen=True, slots=True)
class ExtraPiece:
    """A placement that no item of the job asked for."""

    index: int
    key: ItemKey


@dataclass(frozen=True, slots=True)
class NotCongruent:
    """A placed outline is not the item's outline, turned as stated and moved."""

    index: int
    off_by_mm: float


MarkerProblem = (
    OutsideCloth | Overlap | GapTooSmall | WronglyTurned | MissingPiece | ExtraPiece | NotCongruent
)


def key_of(piece: ItemToLay | Placement) -> ItemKey:
    """What an item and its placement have in common."""
    return (piece.style, piece.piece, piece.size, piece.garment_no, piece.mirrored)


def allowed_turns(job: MarkerJob, item: ItemToLay) -> tuple[int, ...]:
    """The turns in degrees that keep the grain: none on one-way cloth, else half a turn where allowed."""
    return (0,) if job.one_way or not item.may_turn else (0, 180)


def check_marker(job: MarkerJob, placements: Sequence[Placement]) -> list[MarkerProblem]:
    """Everything wrong with an arrangement, empty where it may be cut.

    The length is free: only x < 0 counts as outside along the cloth. Distances are judged to 0.1 mm.
    """
    problems = _wrong_pieces(job, placements)
    shapes = [Polygon(p.outline) for p in placements]
    for index, shape in enumerate(shapes):
        x0, y0, _, y1 = shape.bounds
        beyond = max(-x0, -y0, y1 - job.lay_width_mm)
        if beyond > TOLERANCE_MM:
            problems.append(OutsideCloth(index, beyond))
    problems += _too_near(shapes, job.gap_mm)
    return problems


def marker_from_placements(job: MarkerJob, placements: Sequence[Placement]) -> Marker:
    """The marker that placements make: moved so that x begins at 0, length and efficiency from the outlines.

    It does not judge; see :func:`check_marker`. Raises ValueError where nothing is placed.
    """
    if not placements:
        raise ValueError("a marker needs at least one piece")
    start = min(x for p in placements for x, _ in p.outline)
    moved = tuple(replace(p, outline=tuple((x - start, y) for x, y in p.outline)) for p in placements)
    length = max(x for p in moved for x, _ in p.outline)
    area = sum(abs(signed_area_mm2(p.outline)) for p in moved)
    return Marker(job.lay_width_mm, length, area / (job.lay_width_mm * length), moved)


def least_length_mm(job: MarkerJob) -> float:
    """No marker of this job is shorter: its area over the width, or its longest piece (mm)."""
    area = sum(item.outline.area_mm2 for item in job.items)
    return max(area / job.lay_width_mm, max(item.outline.length_mm for item in job.items))


def _wrong_pieces(job: MarkerJob, placements: Sequence[Placement]) -> list[MarkerProblem]:
    problems: list[MarkerProblem] = []
    open_items: dict[ItemKey, list[ItemToLay]] = defaultdict(list)
    for item in job.items:
        open_items[key_of(item)].append(item)
    for index, placement in enumerate(placements):
        candidates = open_items[key_of(placement)]
        if not candidates:
            problems.append(ExtraPiece(index, key_of(placement)))
            continue
        off_by = [_off_by_mm(item, placement) for item in candidates]
        best = off_by.index(min(off_by))
        item = candidates.pop(best)
        if not off_by[best] <= TOLERANCE_MM:
            problems.append(NotCongruent(index, off_by[best]))
        if placement.rotation_deg % 360 not in allowed_turns(job, item):
            problems.append(WronglyTurned(index, placement.rotation_deg))
    missing = Counter(key for key, items in open_items.items() for _ in items)
    problems += [MissingPiece(key, count) for key, count in sorted(missing.items())]
    return problems


def _off_by_mm(item: ItemToLay, placement: Placement) -> float:
    """How far the placed outline is from the item's, laid over each other (mm)."""
    if placement.rotation_deg % 180:
        return math.inf
    if len(placement.outline) < 3:
        return math.inf
    wanted = item.outline.turned(placement.rotation_deg).at_origin().points
    placed = Outline(placement.outline, ()).at_origin().points
    if len(wanted) == len(placed):
        apart = max(math.dist(a, b) for a, b in zip(wanted, placed, strict=True))
        if apart <= TOLERANCE_MM:
            return apart
    # The same line may begin at another point; then the lines must run within a hair of each other.
    return float(Polygon(wanted).boundary.hausdorff_distance(Polygon(placed).boundary))


def _too_near(shapes: Sequence[Polygon], gap_mm: float) -> list[MarkerProblem]:
    """Pairs that overlap, or lie nearer than the gap, by more than the tolerance."""
    problems: list[MarkerProblem] = []
    if not shapes:
        return problems
    tree = STRtree(shapes)
    # Shrunk by half the tolerance each, two outlines that still meet overlap by more than the tolerance.
    cores = [shape.buffer(-TOLERANCE_MM / 2) for shape in shapes]
    firsts, seconds = tree.query(shapes, predicate="dwithin", distance=max(gap_mm, 0.0) + TOLERANCE_MM)
    for first, second in sorted({(int(a), int(b)) for a, b in zip(firsts, seconds, strict=True) if a < b}):
        if cores[first].intersects(cores[second]):
            area = float(shapes[first].intersection(shapes[second]).area)
            problems.append(Overlap(first, second, area))
            continue
        apart = float(shapes[first].distance(shapes[second]))
        if apart < gap_mm - TOLERANCE_MM:
            problems.append(GapTooSmall(first, second, apart, gap_mm))
    return problems


def placed(item: ItemToLay, rotation_deg: int, x_mm: float, y_mm: float) -> Placement:
    """The item turned and moved so that its bounds begin at (x, y)."""
    turned = item.outline.turned(rotation_deg).at_origin().moved(x_mm, y_mm)
    points: tuple[Point, ...] = turned.points
    return Placement(
        item.style, item.piece, item.size, item.garment_no, item.mirrored, rotation_deg % 360, points,
        item.twin_no,
    )  # fmt: skip
