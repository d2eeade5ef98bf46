"""The question that a marker is to those who search: shapes on a strip, and the answer turned back into a marker.

Shapes are outlines grown by half the gap and simplified outwards (`grow.py`), on a strip that much wider at both edges;
pieces with one and the same outline are asked for together.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from planner.core.lays.check import allowed_turns, key_of, placed
from planner.core.lays.grow import canonical_ring, grown_outline, outer_ring
from planner.core.lays.misplaced import ItemKey
from planner.core.lays.model import ItemToLay, Marker, MarkerJob, Placement
from planner.core.lays.solver import Arrangement, Shape, Spot, Strip
from planner.core.outline import Point

#: What is asked for beyond the gap, so that a searcher's 32-bit rounding never eats into it (mm).
EXTRA_GAP_MM = 0.02


@dataclass(frozen=True)
class Group:
    """Items with one and the same outline and turns, and the shape that is searched a place for each.

    The shape begins at (`margin_x`, `margin_y`) before the items' own bounds.
    """

    items: tuple[ItemToLay, ...]
    shape: Shape
    margin_x: float
    margin_y: float


def grouped(job: MarkerJob) -> tuple[Group, ...]:
    """The job's items by outline and allowed turns."""
    alike: dict[tuple[object, ...], list[ItemToLay]] = {}
    for item in job.items:
        key = (canonical_ring(item.outline.points), allowed_turns(job, item))
        alike.setdefault(key, []).append(item)
    return tuple(_group(job, items) for items in alike.values())


def _group(job: MarkerJob, items: list[ItemToLay]) -> Group:
    points = items[0].outline.at_origin().points
    grown = grown_outline(points, _margin_mm(job))
    if _height(grown) > job.lay_width_mm + 2 * _margin_mm(job):
        # A piece across the whole cloth has no room for being simplified.
        grown = outer_ring(Polygon(points).buffer(_margin_mm(job), quad_segs=4))
    margin_x, margin_y = -min(x for x, _ in grown), -min(y for _, y in grown)
    ring = tuple((x + margin_x, y + margin_y) for x, y in grown)
    turns = tuple(float(t) for t in allowed_turns(job, items[0]))
    return Group(tuple(items), Shape(ring, len(items), turns), margin_x, margin_y)


def strip_for(job: MarkerJob, groups: Sequence[Group], widened: float) -> Strip:
    """The strip that is searched: shapes grown by half the gap, on a strip that much wider at both edges.

    `widened` is a share by which the strip is made wider still.
    """
    highest = max(_height(g.shape.points) for g in groups)
    # The library panics over a shape as high as the strip: a piece across the whole cloth gets a hair more.
    height = max(job.lay_width_mm + 2 * _margin_mm(job), highest * (1 + 2e-5) + 0.005)
    return Strip(height * (1 + widened), 0.0, tuple(g.shape for g in groups))


def _margin_mm(job: MarkerJob) -> float:
    return (job.gap_mm + EXTRA_GAP_MM) / 2


def _height(ring: Sequence[Point]) -> float:
    return max(y for _, y in ring) - min(y for _, y in ring)


def placements_of(
    job: MarkerJob, groups: Sequence[Group], strip: Strip, arrangement: Arrangement
) -> list[Placement] | None:
    """The items' own outlines where the shapes were put; None where they were turned or counted wrongly."""
    edge = (strip.height - job.lay_width_mm) / 2
    spots: list[list[tuple[float, float, int]]] = [[] for _ in groups]
    for spot in arrangement:
        group = groups[spot.shape]
        rotation = round(spot.rotation_deg) % 360
        outline = group.items[0].outline
        if rotation == 0:
            x, y = spot.dx + group.margin_x, spot.dy + group.margin_y
        elif rotation == 180:
            x = spot.dx - group.margin_x - outline.length_mm
            y = spot.dy - group.margin_y - outline.width_mm
        else:
            return None
        room = job.lay_width_mm - outline.width_mm
        spots[spot.shape].append((x, _onto_cloth(y - edge, room, by_mm=edge), rotation))
    if any(len(s) != len(g.items) for s, g in zip(spots, groups, strict=True)):
        return None
    # Garments take their places in the order along the cloth, so the pieces of one lie near each other.
    return [
        placed(item, rotation, x, y)
        for group, taken in zip(groups, spots, strict=True)
        for item, (x, y, rotation) in zip(
            sorted(group.items, key=lambda i: i.garment_no), sorted(taken), strict=True
        )
    ]


def _onto_cloth(y_mm: float, room_mm: float, *, by_mm: float) -> float:
    """Puts a piece back onto the cloth that rounding or a slightly wider strip let out over its edge, by at most
    `by_mm`."""
    if -by_mm <= y_mm < 0.0:
        return 0.0
    return max(room_mm, 0.0) if room_mm < y_mm <= room_mm + by_mm else y_mm


def arrangement_of(
    job: MarkerJob, groups: Sequence[Group], strip: Strip, marker: Marker
) -> Arrangement | None:
    """The other way round: where the shapes lie in a marker of this job; None where its pieces are not the job's."""
    edge = (strip.height - job.lay_width_mm) / 2
    open_groups: dict[ItemKey, list[int]] = defaultdict(list)
    for number, group in enumerate(groups):
        for item in group.items:
            open_groups[key_of(item)].append(number)
    spots = []
    for placement in marker.placements:
        numbers = open_groups[key_of(placement)]
        if not numbers:
            return None
        number = numbers.pop()
        group = groups[number]
        x, y = min(x for x, _ in placement.outline), min(y for _, y in placement.outline)
        if placement.rotation_deg % 360 == 0:
            dx, dy = x - group.margin_x, y - group.margin_y
        else:
            outline = group.items[0].outline
            dx, dy = x + group.margin_x + outline.length_mm, y + group.margin_y + outline.width_mm
        spots.append(Spot(number, float(placement.rotation_deg % 360), dx, dy + edge))
    return None if any(open_groups.values()) else tuple(spots)
