"""Nesting ahead of the batch: while the worker has nothing else to do it lays what open orders will be cut in.

Orders tell days before which lays a batch will have. So these are planned as a batch of their own would be, and their
markers kept in the store: whoever then plans such a batch finds its lays laid, and one that differs finds lengths that
were nested and examples to begin from. Nothing of it is seen but that. It gives way to everything else.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.core.lays import kept_code
from planner.core.lays.cut_plans import Lengths
from planner.core.lays.plan import cloths_of
from planner.core.lays.problems import CannotPlan
from planner.core.missing import find_missing
from planner.core.planning import plan_batch
from planner.core.spec import Demand
from planner.cutting.ahead_store import AheadStore, GaveWay, forget_oldest
from planner.cutting.cut_plans import known_lengths
from planner.cutting.demand import batch_demand, demand_of
from planner.cutting.free_pieces import free_of
from planner.cutting.learning import learnt
from planner.cutting.models import Batch, BatchItem
from planner.cutting.plans_ahead import keep_plans, plans_ahead
from planner.cutting.stock import free_workshop
from planner.cutting.tasks import AHEAD, is_done_before, queue_ahead, waits_before
from planner.materials.models import Workroom
from planner.orders.models import LineQuantity

#: Of open orders so many garments are thought of as the next batch, those due first.
MOST_GARMENTS = 120
#: What was nested may make other lays the better ones; so often it is planned anew.
MOST_ROUNDS = 4
#: Nesting time for what will be cut (s): some for every garment, and not more together.
LEAST_SECONDS, SECONDS_A_GARMENT, MOST_SECONDS = 10.0, 4.0, 120.0


def nest_ahead() -> str:
    """Nests what batches being gathered, and orders in no batch yet, would be cut in; what was done, in a few words.

    Asks to be called again where it gave way. What is nested already is not nested again, so that it ends by itself.
    """
    if not Workroom.the().nests_ahead:
        return "switched off"
    if kept_code.is_awaited():
        return "the search is not ready"  # asked for again once it is
    store = AheadStore(_is_wanted_elsewhere)
    try:
        for demand in expected():
            _lay_all(demand, store)
    except GaveWay:
        queue_ahead()
        return f"gave way, {store.nested} nested"
    forget_oldest()
    return f"{store.nested} nested"


def expected() -> Iterator[tuple[Demand, ...]]:
    """What will be cut: that of each batch being gathered, the newest first, then what open orders still want."""
    for batch in Batch.objects.filter(state=Batch.State.GATHERING).order_by("-pk"):
        if wanted := batch_demand(batch).ordered:
            yield wanted
    if left := still_to_batch():
        yield left


def still_to_batch() -> tuple[Demand, ...]:
    """What open orders want and no batch holds, those due first, up to so many garments as make a large batch."""
    rows = LineQuantity.objects.still_to_batch().select_related("line__style", "line__colourway", "size")
    items, left = [], MOST_GARMENTS
    for row in rows.prefetch_related("line__options__detail")[:MOST_GARMENTS]:
        count = min(row.left, left)
        items.append(BatchItem(line=row.line, size=row.size, quantity=count))
        left -= count
        if not left:
            break
    # In the order of a batch, for plans go by it.
    items.sort(
        key=lambda item: (
            item.line.style.number,
            item.line.colourway.position,
            item.line_id,
            item.size.position,
        )
    )
    return demand_of(items).demand


def _lay_all(demand: Sequence[Demand], store: AheadStore) -> None:
    """Plans and nests until a plan finds all of its lays laid. Raises GaveWay."""
    for _ in range(MOST_ROUNDS):
        before = store.nested
        _lay(demand, store)
        if store.should_stop():
            raise GaveWay  # planning ends early then, and says nothing
        if store.nested == before:
            return


def _lay(demand: Sequence[Demand], store: AheadStore) -> None:
    """Plans the demand, as far as it can be planned, and nests its lays. Raises GaveWay."""
    shop = free_workshop({row.garment.style for row in demand})
    gaps = {one.garment for one in find_missing(demand, shop)}
    demand = [row for row in demand if row.garment not in gaps]
    if not demand:
        return
    cloths = set(cloths_of([row.garment for row in demand], shop))
    fabrics = {key.fabric for key in cloths}
    garments = sum(row.quantity for row in demand)
    try:
        plan = plan_batch(
            demand,
            shop,
            batch="",
            seconds=min(MOST_SECONDS, LEAST_SECONDS + SECONDS_A_GARMENT * garments),
            lengths=Lengths(known_lengths(fabrics), learnt(fabrics), plans=plans_ahead(fabrics)),
            stock=free_of(None, cloths, shop),
            should_stop=store.should_stop,
            nest_singles=True,
            store=store,
        )
    except CannotPlan:
        return  # what stands in the way is told to whoever plans it
    keep_plans(plan.facts)


def _is_wanted_elsewhere() -> bool:
    return waits_before(AHEAD) or is_done_before(AHEAD)
