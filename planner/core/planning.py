"""The main job without a screen: from demand to nested lays, needs and bundles."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from planner.core.cloth import as_cut, lay_width_mm
from planner.core.lays.model import LENGTHS, Marker, MarkerJob, PlannedLay
from planner.core.lays.nest import NestingFailed, nest, seconds_for
from planner.core.lays.plan import (
    CannotPlan,
    PlanProblem,
    fits_table,
    numbered,
    plan_lays,
    resplit,
)
from planner.core.lays.stored import marker_for, marker_key
from planner.core.needs import ClothNeed, Needs, find_missing, work_out_needs
from planner.core.spec import Cloth, ClothKey, Demand, Garment, Workshop

#: Nesting of a whole batch takes no longer than this where nobody says otherwise (s).
MOST_SECONDS = 40.0
#: A lay is split again at most so often because it came out too long.
_MOST_RESPLITS = 6

#: Markers found so far with the jobs they answer, by the key of the question.
Known = dict[str, tuple[MarkerJob, Marker]]


@dataclass(frozen=True)
class NestedLay:
    """A lay with its verified marker. Its number is `planned.section`, counted through the batch from 1."""

    planned: PlannedLay
    marker: Marker

    @property
    def number(self) -> int:
        """The number of the lay in the batch, from 1."""
        return self.planned.section

    @property
    def cloth_mm(self) -> float:
        """Cloth on the table for the spreads of all colours, end allowances included (mm)."""
        return self.planned.spreads * self.spread_mm

    @property
    def spread_mm(self) -> float:
        """Cloth that one spread takes: one length, or two face to face, with both end allowances (mm)."""
        return LENGTHS[self.planned.mode] * (self.marker.length_mm + 2 * self.planned.end_allowance_mm)

    def cloth_mm_of(self, cloth: ClothKey) -> float:
        """Cloth on the table for the spreads of one colour (mm)."""
        return self.planned.spreads_of(cloth) * self.spread_mm


@dataclass(frozen=True)
class PlannedCloth:
    """One cloth of the plan, with the lays it has plies in. `usable_width_mm` is as it lies on the table."""

    cloth: Cloth
    usable_width_mm: float
    lays: tuple[NestedLay, ...]
    need: ClothNeed

    @property
    def lay_m(self) -> float:
        """Metres of this cloth on the table in all lays."""
        return sum(lay.cloth_mm_of(self.cloth.key) for lay in self.lays) / 1000


@dataclass(frozen=True, slots=True)
class PlannedBundle:
    """Pieces for `quantity` garments, tied together.

    `lay` is the lay of the garment's main cloth; `lays` are all lays its pieces come from. All its pieces from the main
    cloth are of one `shade_lot`, "" where that is not known.
    """

    number: str
    garment: Garment
    quantity: int
    lay: int
    lays: tuple[int, ...]
    shade_lot: str = ""


@dataclass(frozen=True)
class Plan:
    """Everything that is decided about a batch before the cloth is touched."""

    batch: str
    demand: tuple[Demand, ...]
    cloths: tuple[PlannedCloth, ...]
    needs: Needs
    bundles: tuple[PlannedBundle, ...]

    @property
    def lays(self) -> tuple[NestedLay, ...]:
        """All lays of the batch in their order, each once."""
        once = {lay.number: lay for cloth in self.cloths for lay in cloth.lays}
        return tuple(once[number] for number in sorted(once))


@dataclass(frozen=True)
class Progress:
    """A better marker for the lay `planned`; `done` of `lays` lays are finished."""

    planned: PlannedLay
    marker: Marker
    done: int
    lays: int


def plan_batch(
    demand: Sequence[Demand],
    shop: Workshop,
    *,
    batch: str,
    seconds: float | None = None,
    seed: int = 0,
    on_progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Plan:
    """Plans a batch: lays, nested markers, needs and bundles.

    `seconds` is the nesting time for all lays together, shared by their piece counts, at least a second for
    each lay; None is what the batch needs, at most 40. Lays that ask the same (one style in two colours) are
    nested once. A lay that comes out too long for the table is split, which takes up to half its time again.
    After `should_stop` every lay keeps the best found so far.

    Raises CannotPlan with everything that is missing or does not fit.
    """
    missing = find_missing(demand, shop)
    if missing:
        raise CannotPlan([PlanProblem(m.garment, m.text) for m in missing])
    if not any(row.quantity > 0 for row in demand):
        raise CannotPlan([PlanProblem(None, "nothing is wanted: there is no quantity above zero")])
    planned = plan_lays(demand, shop)
    known: Known = {}
    counts = {marker_key(lay.job): len(lay.job.items) for lay in planned}
    pieces = sum(counts.values())
    total = sum(seconds_for(count) for count in counts.values())
    budget = min(total, MOST_SECONDS) if seconds is None else seconds
    lays: list[NestedLay] = []
    for done, lay in enumerate(planned):
        share = max(1.0, budget * len(lay.job.items) / pieces)

        def tell(part: PlannedLay, marker: Marker, done: int = done) -> None:
            if on_progress:
                on_progress(Progress(part, marker, done, len(planned)))

        lays += nest_lay(
            lay, shop, seconds=share, seed=seed, on_progress=tell, should_stop=should_stop, known=known
        )
    sections = numbered([lay.planned for lay in lays])
    nested = [NestedLay(part, lay.marker) for part, lay in zip(sections, lays, strict=True)]
    return _gathered(tuple(demand), shop, batch, nested)


def nest_lay(
    planned: PlannedLay,
    shop: Workshop,
    *,
    seconds: float,
    seed: int = 0,
    on_progress: Callable[[PlannedLay, Marker], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    known: Known | None = None,
    resplits: int = _MOST_RESPLITS,
) -> list[NestedLay]:
    """The lay nested; as several lays where it comes out too long for the table. Sections are as planned.

    A question answered in `known` is not asked again; new answers are added to it.

    Raises CannotPlan where even a single garment does not fit, or a marker cannot be nested at all.
    """

    def tell(marker: Marker) -> None:
        if on_progress:
            on_progress(planned, marker)

    known = {} if known is None else known
    key = marker_key(planned.job)
    marker = marker_for(planned.job, known[key][1], known[key][0]) if key in known else None
    if marker is not None:
        tell(marker)
    else:
        try:
            marker = nest(planned.job, seconds=seconds, seed=seed, on_progress=tell, should_stop=should_stop)
        except NestingFailed as fault:
            raise CannotPlan([PlanProblem(None, str(fault))]) from fault
        known[key] = (planned.job, marker)
    if fits_table(marker, planned, shop):
        return [NestedLay(planned, marker)]
    parts = resplit(planned, shop, marker=marker)
    if resplits == 0:
        text = f"a lay of {planned.fabric} cannot be made short enough for the table"
        raise CannotPlan([PlanProblem(None, text)])
    pieces = sum(len(part.job.items) for part in parts)
    lays: list[NestedLay] = []
    for part in parts:
        share = max(1.0, seconds / 2 * len(part.job.items) / pieces)
        lays += nest_lay(
            part,
            shop,
            seconds=share,
            seed=seed,
            on_progress=on_progress,
            should_stop=should_stop,
            known=known,
            resplits=resplits - 1,
        )
    return lays


def main_cloth(garment: Garment, shop: Workshop) -> ClothKey:
    """The cloth the garment is bundled by: that of the role with the largest area, the first of equals."""
    style = shop.styles[garment.style]
    cloths = style.colourways[garment.colourway].cloths
    areas: dict[str, float] = defaultdict(float)
    for piece in style.pieces_for(garment.options):
        cloth = cloths[piece.role]
        outline = as_cut(piece.cut_outline(garment.size, cloth), shop.cloths[cloth])
        areas[piece.role] += piece.count * outline.area_mm2
    return cloths[max(areas, key=lambda role: areas[role])]


def make_bundles(
    demand: Sequence[Demand], shop: Workshop, lays: Sequence[PlannedLay], *, batch: str
) -> tuple[PlannedBundle, ...]:
    """Bundles of at most `shop.bundle_size` garments alike, each from one lay of the garments' main cloth.

    The garments a lay holds are shared out evenly over as few bundles as will do. Numbers are
    batch-01, batch-02 and so on in the order of the lays.
    """
    rest: dict[tuple[Garment, ClothKey], list[tuple[int, int]]] = defaultdict(list)
    for lay in lays:
        for cloth in lay.cloths:
            for garment, count in lay.cut_from(cloth).items():
                rest[(garment, cloth)].append((lay.section, count))
    wanted = [row.garment for row in demand if row.quantity > 0]
    mains = {garment: main_cloth(garment, shop) for garment in wanted}
    others: dict[Garment, list[ClothKey]] = defaultdict(list)
    for garment, cloth in rest:
        if cloth != mains[garment]:
            others[garment].append(cloth)
    bundles: list[PlannedBundle] = []
    for lay, garment, count in _cut_from_mains(lays, mains):
        for quantity in _shared_out(count, shop.bundle_size):
            from_lays = {lay.section}
            for cloth in others[garment]:
                from_lays |= _draw(rest[(garment, cloth)], quantity)
            number = f"{batch}-{len(bundles) + 1:02d}"
            bundles.append(PlannedBundle(number, garment, quantity, lay.section, tuple(sorted(from_lays))))
    return tuple(bundles)


def _cut_from_mains(
    lays: Sequence[PlannedLay], mains: Mapping[Garment, ClothKey]
) -> Iterator[tuple[PlannedLay, Garment, int]]:
    """How many of each garment every lay cuts from its main cloth."""
    for lay in lays:
        for cloth in lay.cloths:
            for garment, count in lay.cut_from(cloth).items():
                if mains[garment] == cloth:
                    yield lay, garment, count


def _shared_out(count: int, most: int) -> list[int]:
    """12 with at most 10 is 6 and 6."""
    parts = -(-count // max(1, most))
    return [count // parts + (1 if n < count % parts else 0) for n in range(parts)]


def _draw(stock: list[tuple[int, int]], quantity: int) -> set[int]:
    """Takes so many garments from the lays in their order; the sections they came from."""
    sections: set[int] = set()
    while quantity > 0:
        section, there = stock.pop(0)
        sections.add(section)
        if there > quantity:
            stock.insert(0, (section, there - quantity))
        quantity -= there
    return sections


def _gathered(demand: tuple[Demand, ...], shop: Workshop, batch: str, lays: Sequence[NestedLay]) -> Plan:
    """The plan from its nested lays."""
    by_cloth: dict[ClothKey, list[NestedLay]] = defaultdict(list)
    for lay in lays:
        for key in lay.planned.cloths:
            by_cloth[key].append(lay)
    metres = {key: sum(lay.cloth_mm_of(key) for lay in group) / 1000 for key, group in by_cloth.items()}
    needs = work_out_needs(demand, shop, nested_lay_m=metres)
    need_of = {need.cloth: need for need in needs.cloths}
    cloths = tuple(
        PlannedCloth(shop.cloths[key], lay_width_mm(shop.cloths[key]), tuple(group), need_of[key])
        for key, group in by_cloth.items()
    )
    _assert_demand_met(demand, lays)
    bundles = make_bundles(demand, shop, [lay.planned for lay in lays], batch=batch)
    return Plan(batch, demand, cloths, needs, bundles)


def _assert_demand_met(demand: Sequence[Demand], lays: Sequence[NestedLay]) -> None:
    """Every cloth of a garment must cut it exactly as often as it is wanted; else the plan is refused."""
    wanted: Counter[Garment] = Counter()
    for row in demand:
        wanted[row.garment] += row.quantity
    cut: dict[ClothKey, Counter[Garment]] = defaultdict(Counter)
    for lay in lays:
        for cloth in lay.planned.cloths:
            cut[cloth] += lay.planned.cut_from(cloth)
    for counts in cut.values():
        for garment, count in counts.items():
            if count != wanted[garment]:
                raise AssertionError(f"{count} cut of {garment}, {wanted[garment]} wanted")
