"""The main job without a screen: from demand to nested lays, needs and bundles."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from planner.core.cloth import lay_width_mm
from planner.core.lays.cut_plans import Lengths
from planner.core.lays.from_stock import Stock
from planner.core.lays.kinds import cloths_of_garment
from planner.core.lays.kinds import main_cloth as main_cloth
from planner.core.lays.model import PlannedLay
from planner.core.lays.nested_lay import NestedLay as NestedLay
from planner.core.lays.nested_lay import Progress as Progress
from planner.core.lays.problems import CannotPlan, PlanProblem, ToldByCause, TooWideForCloth
from planner.core.lays.settle import MOST_SECONDS as MOST_SECONDS
from planner.core.lays.settle import Settler
from planner.core.lays.store import Store
from planner.core.lays.wishes import PlanFacts, Wishes
from planner.core.needs import ClothNeed, Missing, Needs, find_missing, work_out_needs
from planner.core.spec import Cloth, ClothKey, Demand, Garment, Workshop


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
    """Everything that is decided about a batch before the cloth is touched; `facts` are those of each fabric's plan."""

    batch: str
    demand: tuple[Demand, ...]
    cloths: tuple[PlannedCloth, ...]
    needs: Needs
    bundles: tuple[PlannedBundle, ...]
    facts: Mapping[str, PlanFacts] = field(default_factory=dict)

    @property
    def lays(self) -> tuple[NestedLay, ...]:
        """All lays of the batch in their order, each once."""
        once = {lay.number: lay for cloth in self.cloths for lay in cloth.lays}
        return tuple(once[number] for number in sorted(once))


def plan_batch(
    demand: Sequence[Demand],
    shop: Workshop,
    *,
    batch: str,
    seconds: float | None = None,
    seed: int = 0,
    wishes: Mapping[str, Wishes] | None = None,
    lengths: Lengths | None = None,
    on_progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    nest_singles: bool = False,
    stock: Stock | None = None,
    store: Store | None = None,
) -> Plan:
    """Plans a batch: which garments share a marker, nested markers, needs and bundles.

    The cut plan begins with estimated lengths; its markers are nested, and it is planned again with the lengths that
    came out, until all markers chosen are nested ones. `seconds` is the nesting time for all markers together, at least
    a second for each; None is what the batch needs, at most `MOST_SECONDS` and those. Markers that ask the same are
    nested once. After `should_stop` every lay keeps the best found so far. The single sizes that the plan is held
    against are nested too in the time that is then left, or with `nest_singles` all of them, however long that takes;
    those not nested are estimates. With the `stock` of the cloths a plan for the least money is made from what lies
    there where that spends less today. What the `store` knows is not nested again, and it is told what was nested.

    Raises CannotPlan with everything that is missing or does not fit.
    """
    missing = find_missing(demand, shop)
    if missing:
        raise CannotPlan([_as_problem(one) for one in missing])
    if not any(row.quantity > 0 for row in demand):
        raise CannotPlan([PlanProblem(None, "nothing is wanted: there is no quantity above zero")])
    settler = Settler(
        demand, shop, wishes or {}, lengths or Lengths(), seconds, seed, on_progress, should_stop,
        nest_singles=nest_singles, stock=stock, store=store,
    )  # fmt: skip
    plans, lays = settler.settle()
    extra: Counter[Garment] = Counter()
    for plan in plans:
        extra.update(plan.extra)
    return _gathered(
        with_extra(demand, extra), shop, batch, lays, {plan.fabric: plan.facts for plan in plans}
    )


def _as_problem(one: Missing) -> PlanProblem:
    wide = one.too_wide
    if wide is None:
        return ToldByCause(one.garment, one.text, one)
    return TooWideForCloth(one.garment, one.text, wide.piece, wide.across_mm, wide.lies_mm, wide)


def with_extra(demand: Sequence[Demand], extra: Mapping[Garment, int]) -> tuple[Demand, ...]:
    """The demand as it is cut: what is cut besides is added to the first row of its garment."""
    left = dict(extra)
    return tuple(replace(row, quantity=row.quantity + left.pop(row.garment, 0)) for row in demand)


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
        for quantity in even_parts(count, shop.bundle_size):
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


def even_parts(count: int, most: int) -> list[int]:
    """Garments shared out over the fewest bundles of at most `most`, as evenly as can be: 12 with at most 10 is 6 and
    6."""
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


def _gathered(
    demand: tuple[Demand, ...],
    shop: Workshop,
    batch: str,
    lays: Sequence[NestedLay],
    facts: Mapping[str, PlanFacts],
) -> Plan:
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
    _assert_demand_met(demand, shop, lays)
    bundles = make_bundles(demand, shop, [lay.planned for lay in lays], batch=batch)
    return Plan(batch, demand, cloths, needs, bundles, facts)


def _assert_demand_met(demand: Sequence[Demand], shop: Workshop, lays: Sequence[NestedLay]) -> None:
    """Every cloth of a garment must cut it exactly as often as it is wanted, and no other; else the plan is refused."""
    wanted: Counter[tuple[Garment, ClothKey]] = Counter()
    for row in demand:
        for cloth in cloths_of_garment(row.garment, shop):
            wanted[row.garment, cloth] += row.quantity
    cut: Counter[tuple[Garment, ClothKey]] = Counter()
    for lay in lays:
        for cloth in lay.planned.cloths:
            for garment, count in lay.planned.cut_from(cloth).items():
                cut[garment, cloth] += count
    for one in wanted | cut:
        if cut[one] != wanted[one]:
            garment, key = one
            raise AssertionError(
                f"{cut[one]} cut of {garment} from {key.fabric} {key.colour}, {wanted[one]} wanted"
            )
