"""The exact judge of a marker: does every piece lie on the cloth, apart from the others, as the rule allows?

Nothing is shown, stored or printed as a marker that this has not passed. It knows nothing of how the
arrangement was found.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from shapely import STRtree
from shapely.geometry import Polygon

from planner.core.lays.misplaced import (
    ExtraPiece,
    GapTooSmall,
    ItemKey,
    MarkerProblem,
    MissingPiece,
    NotCongruent,
    NotSideBySide,
    OutsideCloth,
    Overlap,
    StripesApart,
    WronglyTurned,
    WrongTwin,
)
from planner.core.lays.model import ItemToLay, Marker, MarkerJob, Placement
from planner.core.lays.signs import garments_of
from planner.core.lays.skyline import between
from planner.core.lays.together import (
    blocks_of,
    matched_across,
    matched_along,
    off_stripe_mm,
    point_from_corner,
)
from planner.core.outline import Outline, Point, signed_area_mm2

#: A tenth of a millimetre is finer than any pencil or knife on cloth.
TOLERANCE_MM = 0.1
#: Stripes that are no farther apart than this run on (mm).
STRIPE_MM = 1.0
#: Neighbours that lie side by side share at least this much of the shorter one's length.
LEVEL_SHARE = 0.75
#: ... and are no farther apart than this beyond the gap, and the repeat across where there is one (mm).
NEAR_MM = 30.0


def key_of(piece: ItemToLay | Placement) -> ItemKey:
    """What an item and its placement have in common."""
    return (piece.style, piece.piece, piece.size, piece.garment_no, piece.mirrored)


def allowed_turns(job: MarkerJob, item: ItemToLay) -> tuple[int, ...]:
    """The turns in degrees that keep the grain: none on one-way cloth, else half a turn where allowed."""
    return (0,) if job.one_way or not item.may_turn else (0, 180)


def check_marker(job: MarkerJob, placements: Sequence[Placement]) -> list[MarkerProblem]:
    """Everything wrong with an arrangement, empty where it may be cut.

    The length is free: only x < 0 counts as outside along the cloth. Distances are judged to 0.1 mm, stripes to 1 mm.
    What must lie together is looked at only where every piece is the right one.
    """
    problems, items = _wrong_pieces(job, placements)
    shapes = [Polygon(p.outline) for p in placements]
    for index, shape in enumerate(shapes):
        x0, y0, _, y1 = shape.bounds
        beyond = max(-x0, -y0, y1 - job.lay_width_mm)
        if beyond > TOLERANCE_MM:
            problems.append(OutsideCloth(index, beyond))
    problems += _too_near(shapes, job.gap_mm)
    right = [item for item in items if item is not None]
    if len(right) == len(placements):
        problems += not_side_by_side(job, right, placements)
        problems += _off_stripes(job, right, placements)
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


def not_side_by_side(
    job: MarkerJob, items: Sequence[ItemToLay], placements: Sequence[Placement]
) -> list[MarkerProblem]:
    """What is wrong with the pieces that must lie side by side; `placements[i]` places `items[i]`.

    The pieces of a block, taken in the order of their middles across the cloth, lie side by side where each two
    neighbours point the same way, share three quarters of the shorter one's length along the cloth, are no more than
    30 mm farther apart than the gap (and the repeat across), and no other piece lies between them: on a line across
    the cloth that meets both, between the upper edge of the one and the lower edge of the other.
    """
    blocks = blocks_of(items)
    if not blocks:
        return []
    problems: list[MarkerProblem] = []
    shapes = [Polygon(p.outline) for p in placements]
    for block in blocks:
        members = sorted(block, key=lambda i: shapes[i].bounds[1] + shapes[i].bounds[3])
        for first, second in pairwise(members):
            others = [i for i in range(len(placements)) if i not in block]
            wrong = _why_not_beside(job, placements, shapes, first, second, others)
            if wrong is not None:
                problems.append(wrong)
    return problems


def _why_not_beside(
    job: MarkerJob,
    placements: Sequence[Placement],
    shapes: Sequence[Polygon],
    first: int,
    second: int,
    others: Sequence[int],
) -> NotSideBySide | None:
    if (placements[first].rotation_deg - placements[second].rotation_deg) % 360:
        return NotSideBySide(first, second, "turned")
    one, two = shapes[first], shapes[second]
    (a0, b0, a1, b1), (c0, d0, c1, d1) = one.bounds, two.bounds
    if min(a1, c1) - max(a0, c0) < LEVEL_SHARE * min(a1 - a0, c1 - c0) - TOLERANCE_MM:
        return NotSideBySide(first, second, "not level")
    if one.distance(two) > job.gap_mm + job.repeat_width_mm + NEAR_MM + TOLERANCE_MM:
        return NotSideBySide(first, second, "apart")
    gap = between(placements[first].outline, placements[second].outline)
    if gap is None:
        return None
    gap = gap.buffer(-TOLERANCE_MM)
    low, high = min(b0, d0), max(b1, d1)
    for other in others:
        _, y0, _, y1 = shapes[other].bounds
        if y0 < high and y1 > low and gap.intersects(shapes[other].buffer(-TOLERANCE_MM)):
            return NotSideBySide(first, second, "between", other)
    return None


def _off_stripes(
    job: MarkerJob, items: Sequence[ItemToLay], placements: Sequence[Placement]
) -> list[MarkerProblem]:
    """Pieces of a garment whose match points of one name do not lie where the first one's does, within the repeat."""
    firsts: dict[tuple[int, str], tuple[int, Point]] = {}
    problems: list[MarkerProblem] = []
    for index, (item, placement) in enumerate(zip(items, placements, strict=True)):
        x0, y0 = min(x for x, _ in placement.outline), min(y for _, y in placement.outline)
        for point in item.matches:
            is_along, is_across = matched_along(job, point.name), matched_across(job, point.name)
            if not (is_along or is_across):
                continue
            dx, dy = point_from_corner(item, point, placement.rotation_deg)
            spot = (x0 + dx, y0 + dy)
            for number in garments_of(item):
                first, there = firsts.setdefault((number, point.name), (index, spot))
                along = off_stripe_mm(spot[0] - there[0], job.repeat_length_mm) if is_along else 0.0
                across = off_stripe_mm(spot[1] - there[1], job.repeat_width_mm) if is_across else 0.0
                turned = (placement.rotation_deg - placements[first].rotation_deg) % 360
                if max(along, across) > STRIPE_MM or turned:
                    far = (0.0, 0.0) if turned else (along, across)
                    problems.append(StripesApart(first, index, point.name, *far))
    return problems


def _wrong_pieces(
    job: MarkerJob, placements: Sequence[Placement]
) -> tuple[list[MarkerProblem], list[ItemToLay | None]]:
    """Problems of single pieces, and the item that each placement places."""
    problems: list[MarkerProblem] = []
    items: list[ItemToLay | None] = []
    open_items: dict[ItemKey, list[ItemToLay]] = defaultdict(list)
    for item in job.items:
        open_items[key_of(item)].append(item)
    for index, placement in enumerate(placements):
        candidates = open_items[key_of(placement)]
        if not candidates:
            problems.append(ExtraPiece(index, key_of(placement)))
            items.append(None)
            continue
        off_by = [_off_by_mm(item, placement) for item in candidates]
        # Of pieces alike, the one that is shared with the same garment.
        ranked = [(i.twin_no != placement.twin_no, off) for i, off in zip(candidates, off_by, strict=True)]
        best = ranked.index(min(ranked))
        item = candidates.pop(best)
        items.append(item)
        if item.twin_no != placement.twin_no:
            problems.append(WrongTwin(index, placement.twin_no))
        if not off_by[best] <= TOLERANCE_MM:
            problems.append(NotCongruent(index, off_by[best]))
        if placement.rotation_deg % 360 not in allowed_turns(job, item):
            problems.append(WronglyTurned(index, placement.rotation_deg))
    missing = Counter(key for key, left in open_items.items() for _ in left)
    problems += [MissingPiece(key, count) for key, count in sorted(missing.items())]
    return problems, items


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
