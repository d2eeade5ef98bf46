"""Between the rows of a batch's cut plans and the core: what is known, what is wished for, what came of it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from django.db.models import Min

from planner.core.lays import cut_plans as core
from planner.core.lays.cloth_limits import layers_allowed
from planner.core.lays.cut_plans import FabricPlan, Lengths
from planner.core.lays.from_stock import Stock
from planner.core.lays.kinds import main_cloth
from planner.core.lays.learnt import Learnt, Sample, learnt_with
from planner.core.lays.model import LENGTHS, PlannedLay
from planner.core.lays.nestings import HOW_OWN
from planner.core.lays.stored import marker_key
from planner.core.lays.wishes import Kind, PlanFacts, Wishes, facts_from_json, facts_to_json
from planner.core.spec import ClothKey, Demand, Garment, Workshop
from planner.cutting.learning import learnt
from planner.cutting.models import CutPlan, Marker, PlanChoice
from planner.cutting.stored import StoredLay
from planner.cutting.too_long import too_long

#: Lengths of so many markers are looked up, the newest first: of the fabric, and of all.
MOST_LENGTHS = 500

#: What makes two lays the same for the cutter: the marker, the ends, and what is spread of each cloth for whom.
Shape = tuple[str, str, float, frozenset[tuple[ClothKey, frozenset[tuple[Garment, int]], int]]]


def shape_of(lay: PlannedLay, key: str = "") -> Shape:
    """What a lay cuts and how, without its number, the order of its plies and the rolls they come from."""
    spreads: Counter[tuple[ClothKey, frozenset[tuple[Garment, int]]]] = Counter()
    for plies in lay.plies:
        spreads[plies.cloth, frozenset(Counter(plies.slots).items())] += plies.spreads
    plies_of = frozenset((cloth, slots, count) for (cloth, slots), count in spreads.items())
    return key or marker_key(lay.job), lay.mode, round(lay.end_allowance_mm, 3), plies_of


def is_same(one: Iterable[PlannedLay], other: Iterable[PlannedLay]) -> bool:
    """Whether two plans are cut alike."""
    return Counter(map(shape_of, one)) == Counter(map(shape_of, other))


def known_lengths(fabrics: Collection[str], keys: Collection[str] = ()) -> dict[str, float]:
    """Marker lengths that were nested (mm), by the key of the marker, the shortest of each. Two queries, three with
    `keys`.

    Read are the newest few hundred markers of these fabrics, and the newest of all: markers that were tried and given
    up again, such as one too long for the table, belong to no lay. Those with the `keys` are read however old they are.
    """
    final = Marker.objects.filter(
        state__in=[Marker.State.READY, Marker.State.STOPPED], length_mm__isnull=False
    ).order_by("-pk")
    own = final.filter(lays__cloths__fabric_colour__fabric__name__in=list(fabrics))
    found = nested_lengths(keys)
    for rows in (own, final):
        for key, length_mm in rows.values_list("key", "length_mm")[:MOST_LENGTHS]:
            found[key] = min(length_mm, found.get(key, length_mm))
    return found


def nested_lengths(keys: Collection[str]) -> dict[str, float]:
    """The shortest length (mm) that was nested of each of these markers; those not nested are left out. One query."""
    if not keys:
        return {}
    final = Marker.objects.filter(
        key__in=list(keys), state__in=[Marker.State.READY, Marker.State.STOPPED], length_mm__isnull=False
    )
    return dict(final.order_by().values_list("key").annotate(least=Min("length_mm")))


def lengths_for(
    fabrics: Collection[str], *, besides: int | None = None, keys: Collection[str] = ()
) -> Lengths:
    """All that is known of marker lengths of these fabrics, and of the markers with these `keys`.

    Nothing is learnt from lays of the batch `besides`.
    """
    return Lengths(known_lengths(fabrics, keys), learnt(fabrics, besides=besides))


def with_plans(known: Lengths, plans: Iterable[CutPlan]) -> Lengths:
    """What is known, with the plans found so far for these fabrics of a batch, from which the search begins."""
    told = {
        plan.fabric.name: (*filter(None, [facts.before]), *facts.plans)
        for plan in plans
        if (facts := facts_of(plan)) is not None
    }
    return replace(known, plans=told)


def with_own(known: Lengths, lays: Sequence[StoredLay], shop: Workshop) -> Lengths:
    """What is known, where the nested ones of these lays tell what others of their fabrics will reach.

    Without this a marker that was never nested would always look a little better than those nested for a few seconds.
    Lays that came out badly are no reason against larger markers, see `learnt_with`.
    """
    nested: dict[str, list[Sample]] = defaultdict(list)
    for lay in lays:
        row = lay.row.marker
        if row.is_final and row.efficiency:
            in_rows = lay.marker is None or lay.marker.how == "rows"
            sample = Sample(lay.planned.garments_per_marker, row.efficiency, in_rows=in_rows)
            nested[lay.planned.fabric].append(sample)
    long_ones = {lay.planned.fabric for lay in too_long(lays, shop)}
    own = {
        name: learnt_with(known.learnt.get(name, Learnt()), samples, HOW_OWN, all_count=name in long_ones)
        for name, samples in nested.items()
    }
    return replace(known, learnt={**known.learnt, **own})


def tool_plies(fabric: str, shop: Workshop) -> int:
    """The most layers of a fabric that the tool cuts."""
    cloths = [cloth for key, cloth in shop.cloths.items() if key.fabric == fabric]
    return max((layers_allowed(cloth, shop) for cloth in cloths), default=shop.most_plies)


def wishes_of(plan: CutPlan, choices: Iterable[PlanChoice], kept: Sequence[PlannedLay] = ()) -> Wishes:
    """What the maker wants of a fabric's plan; `kept` are the lays to leave as they are."""
    sets: dict[str, list[frozenset[Kind]]] = defaultdict(list)
    for choice in choices:
        sets[choice.kind].append(kinds_of(choice))
    from_stock = plan.aim == CutPlan.Aim.FROM_STOCK
    return Wishes(
        CutPlan.Aim.MONEY.value if from_stock else plan.aim,  # type: ignore[arg-type]
        plan.most_plies,
        tuple(sets[PlanChoice.Kind.TOGETHER]),
        tuple(sets[PlanChoice.Kind.APART]),
        tuple(kept),
        from_stock,
    )


def kinds_of(choice: PlanChoice) -> frozenset[Kind]:
    """The kinds a choice is about."""
    return frozenset((str(style), str(size)) for style, size in choice.kinds)


def colours_by_kind(lays: Iterable[PlannedLay]) -> dict[Kind, set[str]]:
    """The colours that each kind is cut from."""
    found: dict[Kind, set[str]] = defaultdict(set)
    for lay in lays:
        for plies in lay.plies:
            for garment in plies.slots:
                found[garment.style, garment.size].add(plies.cloth.colour)
    return found


def decide(
    demand: Sequence[Demand],
    shop: Workshop,
    *,
    wishes: Mapping[str, Wishes],
    lengths: Lengths,
    only: Collection[str] | None,
    seconds: float,
    compare: bool = False,
    explain: bool = True,
    stock: Stock | None = None,
) -> tuple[FabricPlan, ...]:
    """The best plan found of every fabric (or those in `only`). Raises CannotPlan where there is none.

    With `compare` the facts also say what other aims would come to and what each wish costs; without `explain` only as
    much of it as may change the choice. With `stock` they say what is bought because no piece there is long enough;
    plans from stock need it.
    """
    return core.plan_fabrics(
        demand, shop, wishes=wishes, lengths=lengths, only=only, stock=stock, seconds=seconds, compare=compare,
        explain=explain,
    )  # fmt: skip


def in_cutting_order(lays: Iterable[PlannedLay]) -> list[PlannedLay]:
    """Lays as they are best cut: the fabric that takes most cloth first, of each its longest lays first.

    Long plies are cut while the rolls are full; short ones come out of the ends that leaves. Common practice.
    """
    by_fabric: dict[str, list[PlannedLay]] = defaultdict(list)
    for lay in lays:
        by_fabric[lay.fabric].append(lay)
    most = sorted(by_fabric.values(), key=lambda group: -sum(map(_cloth_mm, group)))
    return [lay for group in most for lay in sorted(group, key=_longest_first)]


def _cloth_mm(lay: PlannedLay) -> float:
    return lay.spreads * LENGTHS[lay.mode] * (lay.estimated_length_mm + 2 * lay.end_allowance_mm)


def _longest_first(lay: PlannedLay) -> tuple[float, int]:
    return -round(lay.estimated_length_mm), -lay.spreads


def store_facts(plan: CutPlan, facts: PlanFacts) -> None:
    """Sets what a plan says of itself; not saved."""
    plan.facts = facts_to_json(facts)
    plan.is_proven = facts.gap_share is None
    plan.gap_share = facts.gap_share
    plan.method = facts.method[:80]


def first_state(facts: PlanFacts) -> CutPlan.State:
    """A plan that is proven best is nested at once; any other is improved by the worker first."""
    return CutPlan.State.NESTING if facts.gap_share is None else CutPlan.State.QUICK


def facts_of(plan: CutPlan) -> PlanFacts | None:
    """What the plan says of itself; None where nothing is known, or it was written by an earlier version."""
    if not plan.facts:
        return None
    try:
        return facts_from_json(plan.facts)
    except (KeyError, TypeError, ValueError):
        return None


def aim_by_anew(plan: CutPlan) -> str:
    """Who chose the aim of a plan that is planned anew. Nobody yet, where a plan from stock was turned back to the
    least money: with other stock that may be otherwise now.
    """
    is_open = plan.aim == CutPlan.Aim.MONEY and plan.aim_by == CutPlan.AimBy.STOCK
    return CutPlan.AimBy.NOBODY.value if is_open else plan.aim_by


def is_from_stock(facts: PlanFacts) -> bool:
    """Whether the plan is made of plies that fit what lies in stock."""
    return facts.stock is not None and facts.stock.is_aim


def single_keys(plans: Iterable[CutPlan]) -> set[str]:
    """The keys of the markers of single sizes that these plans are held against."""
    told = (facts_of(plan) for plan in plans)
    return {one.key for facts in told if facts is not None for one in facts.single_lays}


def extras(lays: Iterable[PlannedLay], demand: Sequence[Demand], shop: Workshop) -> dict[Garment, int]:
    """How many of each garment the lays of its main cloth cut beyond what is ordered."""
    cut: dict[ClothKey, Counter[Garment]] = defaultdict(Counter)
    for lay in lays:
        for cloth in lay.cloths:
            cut[cloth] += lay.cut_from(cloth)
    wanted: Counter[Garment] = Counter()
    for row in demand:
        wanted[row.garment] += row.quantity
    found = {}
    for garment, quantity in wanted.items():
        more = cut[main_cloth(garment, shop)][garment] - quantity
        if more > 0:
            found[garment] = more
    return found
