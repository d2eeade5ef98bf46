"""Arrangements of the same pieces in other sizes, to begin from: a style is mostly sewn again, in another mix.

Which wide piece lies beside which narrow one is what makes a lay short, and it mostly does so for the next size of each
too. So the pieces are laid where those of the example lie, of each kind the smallest where the smallest lay and so on;
and then again with neighbours in size in each other's place, for which of these come out shortest only a search tells.
Pieces may overlap then. Lengths are in the strip's unit.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import TypeAlias

import numpy as np
from shapely.geometry import Polygon

from planner.core.lays.model import Marker, MarkerJob
from planner.core.lays.poses import Array, Poses
from planner.core.lays.question import Group
from planner.core.lays.solver import Example, KindLike, Spot, Strip

#: Style, piece, and whether it is the mirrored one.
_Piece: TypeAlias = tuple[str, str, bool]
#: At most so many examples are tried for a marker, the best first.
MOST_EXAMPLES = 2
#: How far apart in size a piece and the one whose place it takes are: a standard deviation, in sizes.
_SIZES_OFF = 0.7
#: A strip that is that much narrower or wider than the example's says nothing of it.
_MOST_WIDER = 0.03


def example_of(job: MarkerJob, groups: Sequence[Group], strip: Strip, marker: Marker) -> Example | None:
    """Where the pieces of a marker lie, as an example for those of another job, as long as these should come out.

    None where they are not as many of the same pieces, the cloth is not about as wide, or nothing but rows is known.
    """
    if not is_example_for(marker, job.lay_width_mm):
        return None
    wanted: dict[_Piece, list[tuple[float, int]]] = defaultdict(list)
    for number, group in enumerate(groups):
        for item in group.items:
            wanted[item.style, item.piece, item.mirrored].append((item.outline.area_mm2, number))
    edge = (strip.height - job.lay_width_mm) / 2
    there: dict[_Piece, list[tuple[float, Spot]]] = defaultdict(list)
    for placement in marker.placements:
        outline = Polygon(placement.outline)
        x, y = outline.centroid.coords[0]
        spot = Spot(-1, float(placement.rotation_deg % 360), x, y + edge)
        there[placement.style, placement.piece, placement.mirrored].append((outline.area, spot))
    if {key: len(rows) for key, rows in wanted.items()} != {key: len(rows) for key, rows in there.items()}:
        return None
    growth = _area(wanted) / _area(there) * marker.lay_width_mm / job.lay_width_mm
    return Example(
        marker.length_mm * growth,
        tuple(_kind(rows, there[key], growth) for key, rows in wanted.items()),
    )


def is_example_for(marker: Marker, lay_width_mm: float) -> bool:
    """Whether it is nested, on cloth about as wide as that."""
    return marker.how == "nested" and abs(marker.lay_width_mm / lay_width_mm - 1) <= _MOST_WIDER


def _area(rows: Mapping[_Piece, Sequence[tuple[float, object]]]) -> float:
    return math.fsum(area for kind in rows.values() for area, _ in kind)


def _kind(wanted: list[tuple[float, int]], there: list[tuple[float, Spot]], growth: float) -> KindLike:
    wanted = sorted(wanted)
    sizes = list(dict.fromkeys(shape for _, shape in wanted))
    return KindLike(
        tuple(shape for _, shape in wanted),
        tuple(sizes.index(shape) for _, shape in wanted),
        tuple(
            (spot.dx * growth, spot.dy, spot.rotation_deg) for _, spot in sorted(there, key=lambda t: t[0])
        ),
    )


def laid_like(example: Example, poses: Poses, random: np.random.Generator) -> tuple[Array, list[int]]:
    """Reference points and quarter turns of all pieces, laid by the example, sizes next to each other by chance.

    A piece that may not lie as the one in the example lies in the first turn it may. Raises ValueError where the
    example is not one for these pieces.
    """
    points = np.zeros((len(poses.shape_of), 2))
    quarters = [-1] * len(poses.shape_of)
    free: dict[int, list[int]] = defaultdict(list)
    for copy, shape in enumerate(poses.shape_of):
        free[shape].append(copy)
    for kind in example.kinds:
        about = np.asarray(kind.ranks) + random.normal(0.0, _SIZES_OFF, len(kind.ranks))
        for number, (x, y, degrees) in zip(np.argsort(about), kind.spots, strict=True):
            shape = kind.shapes[number]
            if not free[shape]:
                raise ValueError("the example has other pieces")
            copy, quarter = free[shape].pop(), round(degrees / 90) % 4
            points[copy] = x, y
            quarters[copy] = quarter if quarter in poses.turns[shape] else poses.turns[shape][0]
    if -1 in quarters:
        raise ValueError("the example lacks pieces")
    return points, quarters
