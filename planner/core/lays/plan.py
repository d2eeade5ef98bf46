"""Which garments share a marker, and how many plies it is cut from."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from planner.core.cloth import as_cut, lay_width_mm
from planner.core.lays.model import ItemToLay, Marker, MarkerJob, PlannedLay, Plies
from planner.core.needs import DEFAULT_EFFICIENCY
from planner.core.spec import Cloth, ClothKey, Demand, Garment, PieceSpec, Workshop


@dataclass(frozen=True, slots=True)
class PlanProblem:
    """Why something cannot be planned, in plain words; `garment` where it is about one."""

    garment: Garment | None
    text: str


@dataclass(frozen=True, slots=True)
class TooWideForCloth(PlanProblem):
    """A piece does not fit across its cloth."""

    piece: str
    width_mm: float
    lay_width_mm: float


@dataclass(frozen=True, slots=True)
class TooLongForTable(PlanProblem):
    """The pieces of one garment make a longer lay than the table holds."""

    cloth: ClothKey
    length_mm: float
    table_length_mm: float


class CannotPlan(Exception):  # noqa: N818 - it says what happened
    """The demand cannot be planned; `problems` says why, one by one."""

    def __init__(self, problems: Sequence[PlanProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(p.text for p in problems))


#: Counts of garments, in the order they are to be numbered.
Garments = Mapping[Garment, int]


def plan_lays(
    demand: Sequence[Demand],
    shop: Workshop,
    *,
    efficiency: Mapping[ClothKey, float] | None = None,
) -> tuple[PlannedLay, ...]:
    """The lays that meet the demand exactly, cloth by cloth: which garments share a marker, how many spreads.

    The one place that decides this. For now by a plain rule: all garments of a cloth in one open lay of one
    spread where its estimated length fits the table; else whole sizes together as far as they fit; a size
    that does not fit alone is cut from several spreads (at most `shop.most_plies`) of a smaller marker, with
    a lay for the remainder. An exact plan is to replace the rule behind this same function.

    Lengths are estimated from piece areas at `efficiency` (a fraction for each cloth, 0.78 where it is not
    given), for only nesting tells them; see :func:`fits_table` and :func:`resplit`. Sections are numbered
    through from 1. Raises CannotPlan where a piece is wider than its cloth, or one garment alone is certainly
    longer than the table. Expects demand without gaps (`needs.find_missing`).
    """
    totals = _totals(demand, shop)
    problems: list[PlanProblem] = []
    lays: list[PlannedLay] = []
    for cloth_key in cloths_of(totals, shop):
        cloth = shop.cloths[cloth_key]
        garments = {g: n for g, n in totals.items() if _pieces_on(cloth_key, g, shop)}
        problems += _certain_misfits(garments, cloth, shop)
        if not problems:
            share = (efficiency or {}).get(cloth_key, DEFAULT_EFFICIENCY)
            lays += _lays_of(garments, cloth, shop, share)
    if problems:
        raise CannotPlan(problems)
    return numbered(lays)


def resplit(planned: PlannedLay, shop: Workshop, *, marker: Marker) -> tuple[PlannedLay, ...]:
    """The lay again as several, because its nested marker came out too long for the table.

    Plans its garments with the efficiency the nesting really reached. The sections are numbered from the
    lay's own; see :func:`numbered`. Raises CannotPlan where the marker holds a single garment.
    """
    if planned.garments_per_marker == 1:
        garment = planned.plies[0].slots[0]
        raise CannotPlan([_too_long(garment, shop.cloths[planned.cloths[0]], marker.length_mm, shop)])
    parts: list[PlannedLay] = []
    for key in planned.cloths:
        # A hair less than was reached, so that the same lay is never thought to fit again.
        parts += _lays_of(planned.cut_from(key), shop.cloths[key], shop, marker.efficiency * 0.99)
    return numbered(parts, first=planned.section)


def fits_table(marker: Marker, planned: PlannedLay, shop: Workshop) -> bool:
    """Whether the marker with both its end allowances lies on the table."""
    return marker.length_mm + 2 * planned.end_allowance_mm <= shop.table_length_mm + 1e-6


def numbered(lays: Sequence[PlannedLay], *, first: int = 1) -> tuple[PlannedLay, ...]:
    """The lays with their sections numbered through."""
    return tuple(replace(lay, section=n) for n, lay in enumerate(lays, first))


def cloths_of(garments: Garments, shop: Workshop) -> tuple[ClothKey, ...]:
    """The cloths these garments are cut from, in the order they are met."""
    keys: dict[ClothKey, None] = {}
    for garment in garments:
        style = shop.styles[garment.style]
        colourway = style.colourways[garment.colourway]
        for piece in style.pieces_for(garment.options):
            keys.setdefault(colourway.cloths[piece.role])
    return tuple(keys)


def items_of(garment: Garment, garment_no: int, cloth: Cloth, shop: Workshop) -> Iterator[ItemToLay]:
    """The outlines to lay for one garment from one cloth, open: the second half of a pair mirrored."""
    for piece in _pieces_on(cloth.key, garment, shop):
        outline = as_cut(piece.cut_outline(garment.size, cloth.key), cloth)
        straight = piece.count - piece.count // 2 if piece.pair else piece.count
        for n in range(piece.count):
            mirrored = n >= straight
            yield ItemToLay(
                style=garment.style,
                piece=piece.name,
                size=garment.size,
                garment_no=garment_no,
                mirrored=mirrored,
                may_turn=piece.may_turn,
                outline=outline.mirrored() if mirrored else outline,
            )


def _totals(demand: Sequence[Demand], shop: Workshop) -> dict[Garment, int]:
    """Quantities by garment, in the order of style, size and then the rest."""
    totals: Counter[Garment] = Counter()
    for row in demand:
        totals[row.garment] += row.quantity
    return {g: totals[g] for g in sorted(totals, key=lambda g: _place(g, shop)) if totals[g] > 0}


def _place(garment: Garment, shop: Workshop) -> tuple[str, int, str, tuple[tuple[str, str], ...]]:
    size_no = shop.styles[garment.style].sizes.index(garment.size)
    return (garment.style, size_no, garment.colourway, garment.options)


def _pieces_on(key: ClothKey, garment: Garment, shop: Workshop) -> list[PieceSpec]:
    style = shop.styles[garment.style]
    cloths = style.colourways[garment.colourway].cloths
    return [p for p in style.pieces_for(garment.options) if cloths[p.role] == key]


def _certain_misfits(garments: Garments, cloth: Cloth, shop: Workshop) -> list[PlanProblem]:
    """What no arrangement can help: a piece wider than the cloth, a garment longer than the table."""
    problems: list[PlanProblem] = []
    width = lay_width_mm(cloth)
    for garment in garments:
        items = list(items_of(garment, 1, cloth, shop))
        for item in items:
            across = item.outline.width_mm
            if across > width + 1e-6:
                text = (
                    f"{item.piece} of style {garment.style} in size {garment.size} is {across:.0f} mm wide, "
                    f"but {cloth.key.fabric} {cloth.key.colour} lies only {width:.0f} mm wide"
                )
                problems.append(TooWideForCloth(garment, text, item.piece, across, width))
                break
        else:
            least = _least_length_mm(items, width)
            if least + 2 * cloth.end_allowance_mm > shop.table_length_mm:
                problems.append(_too_long(garment, cloth, least, shop))
    return problems


def _too_long(garment: Garment, cloth: Cloth, length_mm: float, shop: Workshop) -> TooLongForTable:
    ply = length_mm + 2 * cloth.end_allowance_mm
    text = (
        f"style {garment.style} in size {garment.size} needs a lay of {ply:.0f} mm in {cloth.key.fabric} "
        f"{cloth.key.colour}, but the table is {shop.table_length_mm:.0f} mm long"
    )
    return TooLongForTable(garment, text, cloth.key, length_mm, shop.table_length_mm)


def _least_length_mm(items: Sequence[ItemToLay], width_mm: float) -> float:
    area = sum(item.outline.area_mm2 for item in items)
    return max(area / width_mm, max(item.outline.length_mm for item in items))


class _Estimate:
    """Estimated marker lengths of one cloth, the single garments reckoned once."""

    def __init__(self, cloth: Cloth, shop: Workshop, efficiency: float) -> None:
        self.cloth, self.shop, self.efficiency = cloth, shop, efficiency
        self.width_mm = lay_width_mm(cloth)
        self._known: dict[Garment, tuple[float, float]] = {}

    def length_mm(self, garments: Garments) -> float:
        """Area over width and efficiency, and never less than the longest piece."""
        area, longest = 0.0, 0.0
        for garment, count in garments.items():
            if garment not in self._known:
                items = list(items_of(garment, 1, self.cloth, self.shop))
                self._known[garment] = (
                    sum(i.outline.area_mm2 for i in items),
                    max(i.outline.length_mm for i in items),
                )
            area += count * self._known[garment][0]
            longest = max(longest, self._known[garment][1])
        return max(area / (self.width_mm * self.efficiency), longest)

    def fits(self, garments: Garments) -> bool:
        return self.length_mm(garments) + 2 * self.cloth.end_allowance_mm <= self.shop.table_length_mm


def _lays_of(garments: Garments, cloth: Cloth, shop: Workshop, efficiency: float) -> list[PlannedLay]:
    """Lays of one cloth by the plain rule of :func:`plan_lays`."""
    estimate = _Estimate(cloth, shop, efficiency)
    # Whole sizes travel together: one size is cut, bundled and sewn together.
    sizes: dict[tuple[str, str], dict[Garment, int]] = {}
    for garment, count in garments.items():
        sizes.setdefault((garment.style, garment.size), {})[garment] = count
    found: list[tuple[Garments, int]] = []
    gathered: dict[Garment, int] = {}
    for size in sizes.values():
        for marker, spreads in _cut_down(size, estimate, shop.most_plies):
            if spreads > 1:
                found.append((marker, spreads))
                continue
            together = _sum(gathered, marker)
            if gathered and not estimate.fits(together):
                found.append((gathered, 1))
                together = dict(marker)
            gathered = together
    if gathered:
        found.append((gathered, 1))
    return [_planned(marker, spreads, estimate) for marker, spreads in found]


def _cut_down(size: Garments, estimate: _Estimate, most_plies: int) -> list[tuple[Garments, int]]:
    """Markers with their spreads that hold the garments of one size exactly, each fitting the table."""
    if estimate.fits(size):
        return [(size, 1)]
    left = dict(size)
    found: list[tuple[Garments, int]] = []
    while left:
        marker, spreads = _next_marker(left, estimate, most_plies)
        found.append((marker, spreads))
        left = {g: n - marker.get(g, 0) * spreads for g, n in left.items()}
        left = {g: n for g, n in left.items() if n}
    return found


def _next_marker(left: Garments, estimate: _Estimate, most_plies: int) -> tuple[Garments, int]:
    """The fewest spreads whose marker fits; at the most spreads, as many garments as fit (at least one)."""
    if estimate.fits(left):
        return left, 1
    for spreads in range(2, most_plies + 1):
        share = {g: n // spreads for g, n in left.items() if n // spreads}
        if share and estimate.fits(share):
            return share, spreads
    spreads = max(1, min(most_plies, max(left.values())))
    marker: dict[Garment, int] = {}
    for garment, count in left.items():
        for _ in range(count // spreads):
            more = _sum(marker, {garment: 1})
            if marker and not estimate.fits(more):
                return marker, spreads
            marker = more
    return marker, spreads


def _sum(one: Garments, other: Garments) -> dict[Garment, int]:
    return dict(Counter(one) + Counter(other))


def _planned(garments: Garments, spreads: int, estimate: _Estimate) -> PlannedLay:
    cloth, shop = estimate.cloth, estimate.shop
    slots = tuple(g for g, count in garments.items() for _ in range(count))
    items = tuple(i for no, g in enumerate(slots, 1) for i in items_of(g, no, cloth, shop))
    job = MarkerJob(estimate.width_mm, cloth.one_way, shop.piece_gap_mm, items)
    length = estimate.length_mm(garments)
    return PlannedLay(
        section=0,
        plies=(Plies(cloth.key, spreads, slots),),
        mode="open",
        lay_width_mm=estimate.width_mm,
        end_allowance_mm=cloth.end_allowance_mm,
        job=job,
        estimated_length_mm=math.ceil(length * 10) / 10,
    )
