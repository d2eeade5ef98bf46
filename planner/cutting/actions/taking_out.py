"""Garments of an order taken out of a batch that is being cut, as far as nothing of them is cut or begun.

Their bundles go, the lays they were to come from are planned anew for what stays, and the order has them to give again.
Notions that were taken out of the stock for them are put back.
What is cut stays, with number and token of every other bundle.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from planner.core.lays.model import PlannedLay
from planner.core.lays.plan import CannotPlan
from planner.core.spec import ClothKey, Garment
from planner.cutting.actions.anew import move_bundles, queue_rolls_of
from planner.cutting.actions.anew_weighed import planned_for
from planner.cutting.actions.laying import drop_lays, garment_of_item, lock
from planner.cutting.actions.notions_out import put_surplus_back
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.actions.rest import Counts, uncut_of, write_numbered_on
from planner.cutting.actions.since_seen import SEE_NOW, told_so_far
from planner.cutting.actions.table import move_batch_on
from planner.cutting.batch_days import follow_orders
from planner.cutting.demand import BatchDemand, batch_demand
from planner.cutting.models import Batch, BatchItem, Bundle, Lay
from planner.cutting.plan_now import may_be_planned_anew
from planner.cutting.roll_rows import write_to_buy
from planner.cutting.stored import garment_of, shop_of, stored_lay
from planner.materials.models import Workroom
from planner.orders.models import Order

NOT_SO_MANY = "So many of these garments are not left that are not begun; nothing was changed."
NOTHING_LEFT = "Nothing of this order is left in the batch that is not begun; nothing was changed."


@dataclass(frozen=True)
class TakenOut:
    """The result. With a problem nothing was changed. `gone` are the numbers of lays that were planned anew or are not
    cut any more, `lays` those of their replacements; `notions` is how many kinds of notions were put back.
    """

    garments: int = 0
    gone: tuple[int, ...] = ()
    lays: tuple[int, ...] = ()
    notions: int = 0
    problem: str = ""


@dataclass(frozen=True)
class _Chosen:
    """What is taken out: how many of each item and bundle (pk); and what each lay concerned still cuts then."""

    items: Mapping[int, int] = field(default_factory=dict)
    bundles: Mapping[int, int] = field(default_factory=dict)
    left: Mapping[int, Counts] = field(default_factory=dict)

    @property
    def garments(self) -> int:
        return sum(self.items.values())


class _CannotTell(Exception):  # noqa: N818 - it says what happened
    """It cannot be told which lay cuts how many pieces of a bundle."""


def items_to_take_out(batch: Batch) -> dict[int, list[tuple[BatchItem, int]]]:
    """For each item of an order (pk, with its line, style and colourway) how many garments are held of which nothing is
    cut or begun.
    """
    lays = _lays_not_begun(batch)
    free = _free_bundles(batch, lays)
    of_order: dict[int, list[BatchItem]] = defaultdict(list)
    for item in _items(batch):
        of_order[item.line.order_id].append(item)
    found = {}
    for order, items in of_order.items():
        taken, _ = _taken(items, free)
        found[order] = [(item, taken.get(item.pk, 0)) for item in items]
    return found


def take_out(
    batch: Batch,
    order: Order,
    person: User | None,
    now: datetime,
    wanted: Mapping[int, int] | None = None,
) -> TakenOut:
    """Takes what is not begun of an order out of a batch that is being cut: all of it, or as many as are `wanted` of
    each item (pk).
    """
    if batch.state != Batch.State.CUTTING:
        return TakenOut(problem="Nothing of this batch is being cut; nothing was changed.")
    demand = batch_demand(batch)
    shop = shop_of(batch, demand)
    try:
        chosen = _choose(batch, order, wanted)
    except _CannotTell:
        return TakenOut(
            problem="Which lay cuts what of these garments cannot be told apart; nothing was changed."
        )
    if not chosen.garments:
        return TakenOut(problem=NOTHING_LEFT)
    if wanted is not None and dict(chosen.items) != {pk: count for pk, count in wanted.items() if count}:
        return TakenOut(problem=NOT_SO_MANY)
    lays = [lay for lay in batch.lays.order_by("number").with_everything() if lay.pk in chosen.left]
    seen = {lay.pk: told_so_far(lay) for lay in lays}
    by_fabric: dict[str, list[Lay]] = defaultdict(list)
    for lay in lays:
        by_fabric[lay.cloths.all()[0].fabric_colour.fabric.name].append(lay)
    planned: list[PlannedLay] = []
    # Nothing is locked while it thinks.
    try:
        for fabric, own in by_fabric.items():
            rest = sum((chosen.left[lay.pk] for lay in own), Counter())
            if rest:
                planned += planned_for(batch, fabric, [stored_lay(lay) for lay in own], rest, shop)
    except CannotPlan as refusal:
        told = refusal.told_in(Workroom.the().display)
        return TakenOut(problem=f"What stays cannot be planned anew: {told}. Nothing was changed.")
    with transaction.atomic():
        done = _write(batch, order, wanted, chosen, seen, planned, demand)
        if done.problem:
            return done
        why = f"garments were taken out of {batch.number}"
        return replace(done, notions=put_surplus_back(batch, person, now, why=why))


def _write(
    batch: Batch,
    order: Order,
    wanted: Mapping[int, int] | None,
    chosen: _Chosen,
    seen: Mapping[int, str],
    planned: Sequence[PlannedLay],
    demand: BatchDemand,
) -> TakenOut:
    """Takes out what was chosen, unless something was told or changed since. Call it within a transaction."""
    batch = lock(batch)
    lays = list(batch.lays.filter(pk__in=list(seen)).order_by("number").with_everything())
    as_seen = {lay.pk: told_so_far(lay) for lay in lays if may_be_planned_anew(lay)}
    if batch.state != Batch.State.CUTTING or as_seen != seen or _choose(batch, order, wanted) != chosen:
        return TakenOut(problem=f"Something of this batch was told or changed meanwhile. {SEE_NOW}")
    rows, places = write_numbered_on(batch, planned, demand)
    for row in rows:
        write_to_buy(list(row.cloths.all()))
    _shrink(batch, chosen, extra_first=wanted is None)
    follow_orders(Batch.objects.filter(pk=batch.pk))
    for lay in lays:
        move_bundles(lay, chosen.left[lay.pk], places)
    assert not Bundle.objects.filter(lay__in=lays).exists()
    gone = tuple(lay.number for lay in lays)
    drop_lays(lays)
    move_batch_on(batch)
    refresh_needs(batch)
    queue_rolls_of(batch, rows, lays)
    return TakenOut(chosen.garments, gone, tuple(row.number for row in rows))


def _shrink(batch: Batch, chosen: _Chosen, *, extra_first: bool) -> None:
    """Makes items and bundles smaller by what is taken out; nothing is left of most.

    What is cut beyond the order is given up first; where she says how many of a size are not made it is these that were
    ordered.
    """
    for item in batch.items.filter(pk__in=list(chosen.items)):
        left = item.quantity + item.extra - chosen.items[item.pk]
        ordered = item.quantity - chosen.items[item.pk]
        item.quantity = ordered if ordered > 0 and not extra_first else min(item.quantity, left)
        item.extra = left - item.quantity
        item.save(update_fields=["quantity", "extra"]) if left else item.delete()
    for bundle in batch.bundles.filter(pk__in=list(chosen.bundles)):
        bundle.quantity -= chosen.bundles[bundle.pk]
        bundle.save(update_fields=["quantity"]) if bundle.quantity else bundle.delete()


def _choose(batch: Batch, order: Order, wanted: Mapping[int, int] | None) -> _Chosen:
    """Raises _CannotTell."""
    lays = _lays_not_begun(batch)
    items, bundles = _taken(_items(batch, order.pk), _free_bundles(batch, lays), wanted)
    uncut = {lay.pk: uncut_of(lay) for lay in lays}
    gone = _gone_of(uncut, _bundles(batch), bundles)
    return _Chosen(items, bundles, {pk: uncut[pk] - counts for pk, counts in gone.items()})


def _items(batch: Batch, order_pk: int | None = None) -> list[BatchItem]:
    rows = batch.items.select_related("line__style", "line__colourway", "line__order", "size")
    rows = rows.prefetch_related("line__options__detail").order_by("pk")
    return list(rows if order_pk is None else rows.filter(line__order=order_pk))


def _bundles(batch: Batch) -> list[Bundle]:
    rows = batch.bundles.select_related("style", "colourway", "size")
    return list(rows.prefetch_related("options__detail", "lays").order_by("pk"))


def _lays_not_begun(batch: Batch) -> list[Lay]:
    return [lay for lay in batch.lays.order_by("number").with_everything() if may_be_planned_anew(lay)]


def _free_bundles(batch: Batch, lays: Iterable[Lay]) -> list[Bundle]:
    """Bundles all of whose lays may be planned anew."""
    free = {lay.pk for lay in lays}
    return [one for one in _bundles(batch) if {lay.pk for lay in one.lays.all()} <= free]


def _taken(
    items: Iterable[BatchItem], free: Sequence[Bundle], most: Mapping[int, int] | None = None
) -> tuple[dict[int, int], dict[int, int]]:
    """How many of each of these items (pk) are taken out, no more than the `most` of each, and of which bundles (pk);
    bundles that hold nothing else come first.
    """
    of_items: dict[int, int] = {}
    left = {one.pk: one.quantity for one in free}
    for item in items:
        garment = garment_of_item(item)
        asked = item.quantity + item.extra
        wanted = asked = asked if most is None else min(asked, most.get(item.pk, 0))
        alike = [one for one in free if one.line_id in {None, item.line_id} and garment_of(one) == garment]
        for one in sorted(alike, key=lambda one: one.line_id is None):
            take = min(wanted, left[one.pk])
            left[one.pk] -= take
            wanted -= take
        if taken := asked - wanted:
            of_items[item.pk] = taken
    return of_items, {one.pk: gone for one in free if (gone := one.quantity - left[one.pk])}


def _gone_of(
    uncut: Mapping[int, Counts], bundles: Sequence[Bundle], taken: Mapping[int, int]
) -> dict[int, Counts]:
    """What each lay (pk) cuts less, by garment and cloth, without these garments of these bundles (pk). Raises
    _CannotTell.
    """
    gone: dict[int, Counts] = defaultdict(Counter)
    for garment, key in dict.fromkeys(one for counts in uncut.values() for one in counts):
        own = [one for one in bundles if garment_of(one) == garment]
        drawn = _drawn(uncut, own, garment, key)
        for one in own:
            wanted = taken.get(one.pk, 0)
            for lay, count in drawn[one.pk].items():
                if here := min(wanted, count):
                    gone[lay][garment, key] += here
                    wanted -= here
            if wanted and any(uncut[lay.pk][garment, key] for lay in one.lays.all()):
                raise _CannotTell
    return gone


def _drawn(
    uncut: Mapping[int, Counts], bundles: Sequence[Bundle], garment: Garment, key: ClothKey
) -> dict[int, dict[int, int]]:
    """How many garments of each bundle (pk) every lay (pk) cuts from a cloth; bundles with only one such lay come
    first.
    """
    left = {lay: counts[garment, key] for lay, counts in uncut.items()}
    where = {one.pk: [lay.pk for lay in one.lays.all() if left.get(lay.pk)] for one in bundles}
    is_begun = {one.pk: any(lay.pk not in uncut for lay in one.lays.all()) for one in bundles}
    drawn: dict[int, dict[int, int]] = {one.pk: {} for one in bundles}
    for one in sorted(bundles, key=lambda one: (is_begun[one.pk], len(where[one.pk]))):
        wanted = one.quantity
        for lay in where[one.pk]:
            here = min(wanted, left[lay])
            if here:
                drawn[one.pk][lay] = here
                left[lay] -= here
                wanted -= here
    return drawn
