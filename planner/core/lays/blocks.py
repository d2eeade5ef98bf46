"""Pieces that lie together bound into one outline, so that they are laid as one and taken apart again.

A block is laid across the cloth: each of its pieces is pushed against those before it until the gap is left, in the
order and standing (level at the start, at the end or in the middle) that wastes least. What lies between its pieces
counts as its own, so nothing else is laid there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations

from shapely.geometry import Polygon
from shapely.ops import unary_union

from planner.core.lays.check import not_side_by_side, placed
from planner.core.lays.grow import canonical_ring, outer_ring
from planner.core.lays.model import ItemToLay, MarkerJob, Placement
from planner.core.lays.skyline import between, clearance_mm, grown_by
from planner.core.lays.together import (
    StripeGroup,
    blocks_of,
    on_to_stripe_mm,
    stripe_groups,
    stripes_of_units,
    tied,
)
from planner.core.outline import Outline, Point, make_outline
from planner.core.too_wide import told_apart
from planner.core.units import Display

#: Blocks of more pieces than this are tried in only a few orders.
_MOST_ORDERED = 4

_Member = tuple[ItemToLay, float, float]


class BlockTooWide(ValueError):  # noqa: N818 - it says what happened
    """Pieces that must lie side by side are wider than the cloth, or find no place beside each other."""

    def __init__(self, items: Sequence[ItemToLay], width_mm: float, lay_width_mm: float) -> None:
        self.pieces = ", ".join(dict.fromkeys(item.piece for item in items))
        self.size = items[0].size
        self.width_mm, self.lay_width_mm = width_mm, lay_width_mm
        super().__init__(self.told_in("metric"))

    def told_in(self, display: Display) -> str:
        """The text with its widths in centimetres to the millimetre, or in inches to the sixteenth."""
        what = f"{self.pieces} in size {self.size} must lie side by side"
        if not math.isfinite(self.width_mm):
            return f"{what}, but cannot: they are too unlike in shape, or their stripes keep them apart"
        (wide,), lies = told_apart([self.width_mm], self.lay_width_mm, display)
        return f"{what}, which takes {wide}, but the cloth lies only {lies} wide"


@dataclass(frozen=True)
class Unit:
    """Pieces laid as one: `item` is the outline laid in their place, each member begins at (x, y) from its corner."""

    item: ItemToLay
    members: tuple[_Member, ...]


@dataclass(frozen=True)
class Bound:
    """A job in which units are laid, without rules but for the stripes the units lie on (by their indices)."""

    job: MarkerJob
    units: tuple[Unit, ...]
    stripes: tuple[StripeGroup, ...]

    def unbind(self, placements: Sequence[Placement]) -> tuple[Placement, ...]:
        """The members where their units were placed."""
        return tuple(p for placement in placements for p in self._members_of(placement))

    def rebind(self, placements: Sequence[Placement]) -> tuple[Placement, ...] | None:
        """The units where their members lie; None where some do not lie as they are bound here."""
        left = list(placements)
        found: list[Placement] = []
        for unit in self.units:
            for placement in _where(unit, left):
                members = [_taken(left, member) for member in self._members_of(placement)]
                if all(m is not None for m in members) and len({id(m) for m in members}) == len(members):
                    left = [p for p in left if all(p is not m for m in members)]
                    found.append(placement)
                    break
            else:
                return None
        return tuple(found) if not left else None

    def _members_of(self, placement: Placement) -> list[Placement]:
        unit = self.units[int(placement.piece)]
        x0, y0 = min(x for x, _ in placement.outline), min(y for _, y in placement.outline)
        turn = placement.rotation_deg
        laid = []
        for item, x, y in unit.members:
            if turn % 360 == 180:
                x = unit.item.outline.length_mm - x - item.outline.length_mm
                y = unit.item.outline.width_mm - y - item.outline.width_mm
            laid.append(placed(item, turn, x0 + x, y0 + y))
        return laid


def bind_blocks(job: MarkerJob) -> Bound:
    """Binds what must lie side by side. Raises BlockTooWide, and CannotMatch where stripes contradict each other."""
    return bind(job, blocks_of(job.items))


def bind_stripes_too(job: MarkerJob) -> Bound | None:
    """Binds what must lie on the same stripes as well, as far as it fits across; None where none of it does."""
    blocks = blocks_of(job.items)
    joined = list(blocks)
    helped = False
    for stripes in stripe_groups(job):
        touched = [group for group in joined if set(group) & set(stripes.indices)]
        together = tuple(sorted({*stripes.indices, *(i for group in touched for i in group)}))
        candidate = [*(group for group in joined if group not in touched), together]
        try:
            bind(job, [together], only=together)
        except BlockTooWide:
            continue
        joined, helped = candidate, True
    return bind(job, joined) if helped else None


def bind(job: MarkerJob, groups: Sequence[tuple[int, ...]], *, only: Sequence[int] | None = None) -> Bound:
    """The job with each group of items (by their indices) bound into one; all other items stand alone.

    Groups that lie alike are laid alike. `only` binds nothing but these items. Raises BlockTooWide where a group fits
    across the cloth in no order.
    """
    stripes = stripe_groups(job)
    grouped = {i for group in groups for i in group}
    alone = [(i,) for i in range(len(job.items)) if i not in grouped and (only is None or i in only)]
    known: dict[object, tuple[tuple[float, float], ...]] = {}
    units: list[Unit] = []
    unit_of: dict[int, tuple[int, float, float]] = {}
    for group in sorted([*groups, *alone]):
        spots = _spots(job, group, stripes, known)
        stripes = tied(stripes, group, spots)
        for i, (x, y) in zip(group, spots, strict=True):
            unit_of[i] = (len(units), x, y)
        units.append(_unit(job, group, spots, len(units)))
    plain = replace(job, items=tuple(u.item for u in units), repeat_length_mm=0.0, repeat_width_mm=0.0)
    return Bound(plain, tuple(units), stripes_of_units(job, stripes, unit_of))


def _spots(
    job: MarkerJob,
    group: Sequence[int],
    stripes: Sequence[StripeGroup],
    known: dict[object, tuple[tuple[float, float], ...]],
) -> tuple[tuple[float, float], ...]:
    """Where each of the group begins, the block's corner at (0, 0)."""
    if len(group) == 1:
        return ((0.0, 0.0),)
    phases = [_phase(i, stripes) for i in group]
    numbers = list(dict.fromkeys(number for number, _, _ in phases))
    key = tuple(
        (
            canonical_ring(job.items[i].outline.points),
            job.items[i].beside,
            numbers.index(number),
            along,
            across,
        )
        for i, (number, along, across) in zip(group, phases, strict=True)
    )
    if key not in known:
        known[key] = _Block(job, group, phases).best()
    return known[key]


_Phase = tuple[int | None, float | None, float | None]


def _phase(index: int, stripes: Sequence[StripeGroup]) -> _Phase:
    """The stripe group of an item by its number, with the item's offsets in it."""
    for number, group in enumerate(stripes):
        if index in group.indices:
            at = group.indices.index(index)
            return number, group.along[at], group.across[at]
    return None, None, None


class _Block:
    """The ways to lay one block, the least wasteful of which is wanted."""

    def __init__(self, job: MarkerJob, group: Sequence[int], phases: Sequence[_Phase]) -> None:
        self.job, self.phases = job, phases
        self.items = [job.items[i] for i in group]
        self.rings = [item.outline.at_origin().points for item in self.items]
        self.grown = [grown_by(ring, job.gap_mm) for ring in self.rings]
        self._known: dict[tuple[int, int, float], float] = {}

    def best(self) -> tuple[tuple[float, float], ...]:
        """The spots that make the smallest outline; BlockTooWide where none fits across the cloth."""
        narrowest = math.inf
        best: tuple[float, tuple[tuple[float, float], ...]] | None = None
        for order in self._orders():
            for standing in (0.0, 0.5, 1.0):
                spots = self._stacked(order, standing)
                if not self._lies_beside(spots):
                    continue
                width = max(y + i.outline.width_mm for i, (_, y) in zip(self.items, spots, strict=True))
                narrowest = min(narrowest, width)
                if width > self.job.lay_width_mm + 1e-6:
                    continue
                area = block_ring_area(self.rings, spots)
                if best is None or area < best[0] - 1e-6:
                    best = (area, spots)
        if best is None:
            raise BlockTooWide(self.items, narrowest, self.job.lay_width_mm)
        return best[1]

    def _orders(self) -> list[tuple[int, ...]]:
        numbers = range(len(self.items))
        if len(self.items) <= _MOST_ORDERED:
            return list(permutations(numbers))
        by_length = sorted(numbers, key=lambda i: -self.items[i].outline.length_mm)
        return [tuple(by_length), tuple(reversed(by_length)), tuple(numbers)]

    def _stacked(self, order: Sequence[int], standing: float) -> tuple[tuple[float, float], ...]:
        """One piece after the other, each pushed against those before it."""
        longest = max(item.outline.length_mm for item in self.items)
        spots: dict[int, Point] = {}
        anchors: dict[tuple[int | None, int], float] = {}
        for i in order:
            number, along, across = self.phases[i]
            x = (longest - self.items[i].outline.length_mm) * standing
            if along is not None:
                wanted = anchors.setdefault((number, 0), x + along) - along
                x = _nearest(x, wanted, self.job.repeat_length_mm)
            y = max([0.0, *(spots[j][1] + self._clearance(j, i, x - spots[j][0]) for j in spots)])
            if across is not None:
                wanted = anchors.setdefault((number, 1), y + across) - across
                y = on_to_stripe_mm(y, wanted, self.job.repeat_width_mm)
            spots[i] = (x, y)
        x0 = min(x for x, _ in spots.values())
        return tuple((spots[i][0] - x0, spots[i][1]) for i in range(len(self.items)))

    def _clearance(self, below: int, above: int, dx: float) -> float:
        key = (below, above, round(dx, 3))
        if key not in self._known:
            moved = [(x + dx, y) for x, y in self.rings[above]]
            self._known[key] = clearance_mm(self.grown[below], moved)
        return self._known[key]

    def _lies_beside(self, spots: Sequence[Point]) -> bool:
        placements = [placed(item, 0, x, y) for item, (x, y) in zip(self.items, spots, strict=True)]
        return not not_side_by_side(replace(self.job, items=tuple(self.items)), self.items, placements)


def _nearest(place: float, wanted: float, repeat: float) -> float:
    """The place nearest to `place` that lies whole repeats from `wanted`."""
    return wanted + round((place - wanted) / repeat) * repeat


def block_ring_area(rings: Sequence[Sequence[Point]], spots: Sequence[Point]) -> float:
    """The area in mm² of what a block takes up."""
    return float(Polygon(_block_ring(rings, spots)).area)


def _block_ring(rings: Sequence[Sequence[Point]], spots: Sequence[Point]) -> tuple[Point, ...]:
    """The outer line of the pieces at their spots with all that lies between any two of them."""
    laid = [[(px + x, py + y) for px, py in ring] for ring, (x, y) in zip(rings, spots, strict=True)]
    in_order = sorted(zip(laid, (y for _, y in spots), strict=True), key=lambda pair: pair[1])
    shapes = [Polygon(ring) for ring in laid]
    for n, (below, _) in enumerate(in_order):
        for above, _ in in_order[n + 1 :]:
            filled = between(below, above)
            if filled is not None:
                shapes.append(filled)
    joined = unary_union(shapes)
    if joined.geom_type != "Polygon":
        # Only where members do not even share a line across: their common hull then stands for them.
        joined = joined.convex_hull
    return outer_ring(joined)


def _unit(job: MarkerJob, group: Sequence[int], spots: Sequence[Point], number: int) -> Unit:
    items = [job.items[i] for i in group]
    first = items[0]
    outline = first.outline
    if len(items) > 1:
        ring = _block_ring([item.outline.at_origin().points for item in items], spots)
        outline = make_outline(ring)
    stands = ItemToLay(
        style=first.style, piece=str(number), size=first.size, garment_no=first.garment_no,
        mirrored=first.mirrored and len(items) == 1, may_turn=all(item.may_turn for item in items),
        outline=Outline(outline.points, outline.edges),
    )  # fmt: skip
    x0, y0, _, _ = outline.bounds_mm if len(items) > 1 else (0.0, 0.0, 0.0, 0.0)
    return Unit(stands, tuple((i, x - x0, y - y0) for i, (x, y) in zip(items, spots, strict=True)))


def _where(unit: Unit, placements: Sequence[Placement]) -> list[Placement]:
    """Where the unit would lie, judged by each placement of its first member."""
    item, x, y = unit.members[0]
    found = []
    for p in placements:
        if (p.style, p.piece, p.size, p.garment_no, p.mirrored, p.twin_no) != _named(item):
            continue
        x0, y0 = min(x for x, _ in p.outline), min(y for _, y in p.outline)
        dx, dy = x, y
        if p.rotation_deg % 360 == 180:
            dx = unit.item.outline.length_mm - x - item.outline.length_mm
            dy = unit.item.outline.width_mm - y - item.outline.width_mm
        found.append(placed(unit.item, p.rotation_deg, x0 - dx, y0 - dy))
    return found


def _taken(placements: Sequence[Placement], wanted: Placement) -> Placement | None:
    """The placement that is this one, to a hundredth of a millimetre."""
    x, y = min(wanted.outline)
    for p in placements:
        if replace(p, outline=wanted.outline) == wanted and math.dist(min(p.outline), (x, y)) < 0.01:
            return p
    return None


def _named(item: ItemToLay) -> tuple[str, str, str, int, bool, int]:
    return (item.style, item.piece, item.size, item.garment_no, item.mirrored, item.twin_no)
