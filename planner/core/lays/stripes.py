"""Pieces onto the stripes: what was nested without a thought for the cloth's pattern is moved on to it.

Along the cloth only: each piece keeps its place across. Where the pattern must meet across the cloth as well, pieces
are bound together (:mod:`planner.core.lays.blocks`) or laid in rows (:mod:`planner.core.lays.rows`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from shapely.affinity import translate
from shapely.geometry import Polygon

from planner.core.lays.blocks import Bound
from planner.core.lays.check import TOLERANCE_MM
from planner.core.lays.model import Placement
from planner.core.lays.together import CannotMatch, on_to_stripe_mm

#: How exactly a piece is pushed up to the one before it (mm).
_FINE_MM = 0.05
#: What is kept of the gap beyond what the check asks for (mm).
_SPARE_MM = 0.01


@dataclass
class Anchors:
    """Where the stripes of each group of units run, as soon as its first unit lies.

    `repeat_length_mm`, `repeat_width_mm` are those of the cloth. A unit is named by its index.
    """

    bound: Bound
    repeat_length_mm: float
    repeat_width_mm: float
    along: dict[int, float] = field(default_factory=dict)
    across: dict[int, float] = field(default_factory=dict)

    def from_x(self, unit: int, x_mm: float) -> float:
        """The first place along the cloth from x on that is right for the unit."""
        group, offset, _ = self._of(unit)
        if group is None or offset is None:
            return x_mm
        return on_to_stripe_mm(
            x_mm, self.along.setdefault(group, x_mm + offset) - offset, self.repeat_length_mm
        )

    def from_y(self, unit: int, y_mm: float) -> float:
        """The first place across the cloth from y on that is right for the unit."""
        group, _, offset = self._of(unit)
        if group is None or offset is None:
            return y_mm
        return on_to_stripe_mm(
            y_mm, self.across.setdefault(group, y_mm + offset) - offset, self.repeat_width_mm
        )

    def settle_across(self) -> None:
        """Chooses where the stripes of each group run so that each of its units fits across the cloth.

        Raises CannotMatch where there is no such place.
        """
        width = self.bound.job.lay_width_mm
        for number, group in enumerate(self.bound.stripes):
            bound_to = [
                (offset, max(width - self.bound.units[i].item.outline.width_mm, 0.0))
                for i, offset in zip(group.indices, group.across, strict=True)
                if offset is not None
            ]
            # If any place will do, then one at which some unit lies at an edge of the cloth.
            places = [edge + offset for offset, room in bound_to for edge in (0.0, room)]
            for place in places:
                fits = all(
                    on_to_stripe_mm(0.0, place - offset, self.repeat_width_mm) <= room + 1e-6
                    for offset, room in bound_to
                )
                if fits:
                    self.across[number] = place
                    break
            else:
                if bound_to:
                    raise CannotMatch("the pieces are too wide to lie on the same stripes across the cloth")

    def _of(self, unit: int) -> tuple[int | None, float | None, float | None]:
        for number, group in enumerate(self.bound.stripes):
            if unit in group.indices:
                at = group.indices.index(unit)
                return number, group.along[at], group.across[at]
        return None, None, None


def without_turning(bound: Bound) -> Bound:
    """The same units, those on stripes never turned: stripes of pieces turned two ways meet at one point only."""
    striped = {i for group in bound.stripes for i in group.indices}
    items = tuple(
        replace(item, may_turn=item.may_turn and i not in striped) for i, item in enumerate(bound.job.items)
    )
    return replace(bound, job=replace(bound.job, items=items))


def moved_onto_stripes(
    bound: Bound, placements: Sequence[Placement], *, repeat_length_mm: float
) -> tuple[Placement, ...]:
    """Units moved along the cloth, in their order, until each lies on its stripe and clear of those before it.

    `placements` are of `bound.job`, none of a striped unit turned. The stripes of a group run where its first unit
    lies. Each piece begins its way where it was nested, so little more length is taken than the moves ask for.
    """
    anchors = Anchors(bound, repeat_length_mm, 0.0)
    done: list[Placement] = []
    shapes: list[Polygon] = []
    gap = bound.job.gap_mm
    for placement in sorted(placements, key=lambda p: min(x for x, _ in p.outline)):
        shape = Polygon(placement.outline)
        start = float(shape.bounds[0])
        unit = int(placement.piece)
        striped = any(
            unit in group.indices and group.along[group.indices.index(unit)] is not None
            for group in bound.stripes
        )
        if striped:
            x = anchors.from_x(unit, start)
            while _clashes(shapes, translate(shape, x - start), gap):
                x += repeat_length_mm
            push = x - start
        else:
            push = _push(shapes, shape, gap)
        done.append(replace(placement, outline=tuple((x + push, y) for x, y in placement.outline)))
        shapes.append(Polygon(done[-1].outline))
    return tuple(done)


def _push(shapes: Sequence[Polygon], shape: Polygon, gap_mm: float) -> float:
    """How far a shape is pushed along to be clear of the others: doubling, then halved back to a hair."""
    if not _clashes(shapes, shape, gap_mm):
        return 0.0
    low, high = 0.0, 1.0
    while _clashes(shapes, translate(shape, high), gap_mm):
        low, high = high, high * 2
    while high - low > _FINE_MM:
        middle = (low + high) / 2
        if _clashes(shapes, translate(shape, middle), gap_mm):
            low = middle
        else:
            high = middle
    return high


def _clashes(shapes: Sequence[Polygon], shape: Polygon, gap_mm: float) -> bool:
    """Whether a shape lies nearer to another than the gap, or over it by more than a hair."""
    x0, y0, x1, y1 = shape.bounds
    core = None
    for other in reversed(shapes):
        a0, b0, a1, b1 = other.bounds
        if a0 > x1 + gap_mm or a1 < x0 - gap_mm or b0 > y1 + gap_mm or b1 < y0 - gap_mm:
            continue
        if gap_mm > TOLERANCE_MM:
            if shape.distance(other) < gap_mm - TOLERANCE_MM + _SPARE_MM:
                return True
            continue
        core = core or shape.buffer(-TOLERANCE_MM / 4)
        if core.intersects(other):
            return True
    return False
