"""Outlines made ready for the solver: grown by half the gap, of few points, alike where they are alike."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import Polygon

from planner.core.outline import Point

#: Outlines are simplified outwards to about so many points before they go to the solver.
MOST_POINTS = 80
#: Farthest that an outline is moved outwards by simplifying (mm).
MOST_SIMPLIFIED_MM = 1.5
#: A corner of a grown outline is cut off at this times the growth.
_BEVEL = 1.2


def grown_outline(points: Sequence[Point], by_mm: float) -> tuple[Point, ...]:
    """The outline moved outwards by `by_mm`, with about 80 points at most where that can be had.

    It covers everything within `by_mm` of the original, and reaches nowhere more than MOST_SIMPLIFIED_MM
    beyond that; both are verified, and what is not simplified is returned where either fails. Sharp corners
    are cut off square, not drawn out to a point, so a slim tip does not grow longer than its due.
    """
    original = Polygon(points)
    within = original.buffer(by_mm)
    beyond = original.buffer(by_mm + MOST_SIMPLIFIED_MM)
    fallback = outer_ring(within)
    for step in (0.0, 0.05, 0.12, 0.25, 0.5):
        grown = original.buffer(by_mm + step, join_style="mitre", mitre_limit=_BEVEL)
        # Grown by a step and simplified by less than it, the line cannot come back into the piece.
        ring = outer_ring(grown.simplify(step * 0.95) if step else grown)
        shape = Polygon(ring)
        if not (shape.is_valid and shape.buffer(1e-6).covers(within) and beyond.covers(shape)):
            continue
        if len(ring) <= MOST_POINTS:
            return ring
        if len(ring) < len(fallback):
            fallback = ring
    return fallback


def outer_ring(shape: Polygon) -> tuple[Point, ...]:
    """The outer line; a hole that growing left inside is no use to anybody."""
    return tuple((float(x), float(y)) for x, y in shape.exterior.coords[:-1])


def rounded_from(origin_mm: float, value_mm: float) -> float:
    """How far a coordinate lies from the origin, to 0.01 mm, halves rounded up, once both are rounded to 0.001 mm.

    Rounded but once, 15.0948 and the 15.095 that is stored of it would differ.
    """
    thousandths = round(value_mm * 1000) - round(origin_mm * 1000)
    return (thousandths + 5) // 10 / 100


def canonical_ring(points: Sequence[Point]) -> tuple[Point, ...]:
    """The ring at its own origin, rounded to 0.01 mm, begun at its smallest point.

    The same for an outline and for what was stored of it, which is rounded to 0.001 mm, wherever it lies.
    """
    x0, y0 = min(x for x, _ in points), min(y for _, y in points)
    ring = [(rounded_from(x0, x), rounded_from(y0, y)) for x, y in points]
    first = ring.index(min(ring))
    return tuple(ring[first:] + ring[:first])
