"""Where the pattern of the cloth must meet over a seam: the points of each piece that lie at the same place in it."""

from __future__ import annotations

from collections.abc import Sequence

from planner.core.lays.model import MatchPoint
from planner.core.lays.together import ACROSS, ALONG
from planner.core.outline import Outline, Point
from planner.core.spec import Cloth, Garment, SeamSpec, Workshop


def matched_seams(garment: Garment, cloth: Cloth, shop: Workshop) -> tuple[SeamSpec, ...]:
    """Seams the cloth's pattern runs on over, where it has one."""
    if not (cloth.repeat_length_mm or cloth.repeat_width_mm):
        return ()
    return tuple(s for s in shop.styles[garment.style].seams_for(garment.options) if s.match)


def match_points(piece: str, outline: Outline, seams: Sequence[SeamSpec]) -> tuple[MatchPoint, ...]:
    """Where the pattern must meet that of the other pieces of each seam.

    Along the cloth: the upper end of the edge (larger x, towards the neck), so front and back side seams agree at the
    underarm; of several such edges in a piece, the mean. Across it: a piece with two such edges, a whole front, takes
    the line in the middle between their ends, so that a pattern that is the same to left and right of a stripe meets
    at both sides; an edge that runs across, as a yoke's, takes its own middle. A single edge along the cloth is not
    matched across, since its own mirror image could not be.
    """
    found: list[MatchPoint] = []
    for seam in seams:
        names = dict.fromkeys(ref.edge for ref in seam.edges if ref.piece == piece)
        paths = [path for name in names for path in outline.edge_paths(name)]
        if not paths:
            continue
        tops = [max(path) for path in paths]
        along = _mean(tops)
        found.append(MatchPoint(ALONG + seam.name, *along))
        if all(_runs_across(path) for path in paths):
            middles = [((p[0][0] + p[-1][0]) / 2, (p[0][1] + p[-1][1]) / 2) for p in paths]
            found.append(MatchPoint(ACROSS + seam.name, *_mean(middles)))
        elif len(paths) == 2:
            found.append(MatchPoint(ACROSS + seam.name, *along))
    return tuple(found)


def _mean(points: Sequence[Point]) -> Point:
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)


def _runs_across(path: Sequence[Point]) -> bool:
    (x0, y0), (x1, y1) = path[0], path[-1]
    return abs(y1 - y0) > abs(x1 - x0)
