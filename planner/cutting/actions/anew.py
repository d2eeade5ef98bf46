"""Lays of which nothing is cut are planned anew while others of their batch are being cut, with the cloth there is now.

What is cut or begun stays, and so do lays of a rest, which have their own way back, and lays the maker keeps. Bundles
keep their numbers and tokens, as where the rest of a lay is planned anew.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction

from planner.core.lays.plan import CannotPlan
from planner.core.spec import ClothKey, Garment, Workshop
from planner.cutting.actions.anew_weighed import Anew, weigh_anew
from planner.cutting.actions.laying import drop_lays, lock
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.actions.rest import Counts, uncut_of, write_numbered_on
from planner.cutting.actions.since_seen import SEE_NOW, told_so_far
from planner.cutting.arrivals import cloth_is_free
from planner.cutting.demand import BatchDemand, batch_demand
from planner.cutting.dividing import Places, divide_bundles
from planner.cutting.models import Batch, Bundle, Lay, LayRoll, Marker
from planner.cutting.plan_now import may_be_planned_anew
from planner.cutting.roll_rows import write_to_buy
from planner.cutting.stored import shop_of, stored_lay
from planner.cutting.tasks import queue_arrived
from planner.cutting.too_long import is_too_long
from planner.materials.models import Workroom


@dataclass(frozen=True)
class PlannedAnew:
    """The result of planning lays anew. With a problem nothing was changed, nor where lays stay as they are (`stays`
    says why).

    `gone` are the numbers of the lays that were replaced, `lays` those of the new ones, `divided` is how many bundles
    were split for them. `to_buy` says what cloth must be bought, as far as estimates tell.
    """

    gone: tuple[int, ...] = ()
    lays: tuple[int, ...] = ()
    divided: int = 0
    to_buy: str = ""
    stays: str = ""
    problem: str = ""


def plan_uncut_anew(batch: Batch, plan_pk: int, *, only_in_need: bool = False) -> PlannedAnew:
    """Plans those lays of one fabric anew that nobody has begun, in a batch that is being cut, where less cloth must
    then be bought or they cost less.

    Where some wait for cloth, these come first, with what else is cut from the same colours and what is longer than the
    table or than a roll gives. The others follow only where these stay, and not with `only_in_need`. New lays are
    numbered on from the last, nested by the worker, and given rolls once they are nested.
    """
    plan = batch.cut_plans.select_related("fabric").filter(pk=plan_pk).first()
    if plan is None or batch.state != Batch.State.CUTTING:
        return PlannedAnew(problem="Nothing of this batch is being cut; nothing was changed.")
    demand = batch_demand(batch)
    shop = shop_of(batch, demand)
    groups = _lays_in_question(batch, plan.fabric.name, shop)
    if not groups:
        return PlannedAnew(problem="No lay of this fabric is left that is not begun; nothing was changed.")
    stays = []
    for lays in groups[:1] if only_in_need else groups:
        seen = {lay.pk: told_so_far(lay) for lay in lays}
        # Nothing is locked while it thinks.
        try:
            anew = weigh_anew(batch, plan.fabric.name, [stored_lay(lay) for lay in lays], shop)
        except CannotPlan as refusal:
            told = refusal.told_in(Workroom.the().display)
            problem = f"What is not cut yet cannot be planned anew: {told}. Nothing was changed."
            return PlannedAnew(problem=problem)
        if not anew.stays:
            return _write(batch, seen, anew, demand)
        stays.append(anew.stays)
    return PlannedAnew(stays=stays[0])


def _lays_in_question(batch: Batch, fabric: str, shop: Workshop) -> list[list[Lay]]:
    """The lays of a fabric that may be planned anew, in groups to try in turn. Where some wait for cloth, those of the
    colours they wait for and those that are too long come first.
    """
    rows = batch.lays.filter(cloths__fabric_colour__fabric__name=fabric).distinct()
    lays = [lay for lay in rows.order_by("number").with_everything() if may_be_planned_anew(lay)]
    waits = LayRoll.objects.filter(lay_cloth__lay__in=[lay.pk for lay in lays], roll=None)
    awaited = set(waits.order_by().values_list("lay_cloth__fabric_colour", flat=True))
    if not awaited:
        return [lays] if lays else []
    needy = [
        lay
        for lay in lays
        if is_too_long(lay, shop) or any(cloth.fabric_colour_id in awaited for cloth in lay.cloths.all())
    ]
    others = [lay for lay in lays if lay not in needy]
    return [needy, others] if others else [needy]


@transaction.atomic
def _write(batch: Batch, seen: Mapping[int, str], anew: Anew, demand: BatchDemand) -> PlannedAnew:
    """Puts the new lays in the place of those seen; changes nothing where something was told or changed since."""
    batch = lock(batch)
    lays = list(batch.lays.filter(pk__in=list(seen)).order_by("number").with_everything())
    as_seen = {lay.pk: told_so_far(lay) for lay in lays if may_be_planned_anew(lay)}
    if batch.state != Batch.State.CUTTING or as_seen != seen:
        return PlannedAnew(problem=f"Something of these lays was told or changed meanwhile. {SEE_NOW}")
    # Numbers of lays that go are not given again: they stand on papers.
    rows, places = write_numbered_on(batch, anew.lays, demand)
    for row in rows:
        write_to_buy(list(row.cloths.all()))
    before = batch.bundles.count()
    for lay in lays:
        move_bundles(lay, uncut_of(lay), places)
    assert not Bundle.objects.filter(lay__in=lays).exists()
    gone = tuple(lay.number for lay in lays)
    drop_lays(lays)
    refresh_needs(batch)
    queue_rolls_of(batch, rows, lays)
    divided = batch.bundles.count() - before
    return PlannedAnew(gone, tuple(row.number for row in rows), divided, anew.to_buy)


def queue_rolls_of(batch: Batch, rows: Sequence[Lay], gone: Sequence[Lay]) -> None:
    """Sees that new lays are given rolls, all together: at once where they are nested, else as soon as they are. What
    the lays `gone` (read with their cloths) leave is then for other batches.
    """
    if not Marker.objects.unfinished().filter(lays__in=rows).exists():
        queue_arrived(batch.pk)
    cloth_is_free({cloth.fabric_colour_id for lay in gone for cloth in lay.cloths.all()}, besides=batch.pk)


def move_bundles(lay: Lay, counts: Counts, places: dict[tuple[Garment, ClothKey], Places]) -> None:
    """Moves this many garments of a lay's bundles to the new lays, which then have room for as many less."""
    divide_bundles(lay, Counter(), {one: _take(places[one], count) for one, count in counts.items()})


def _take(places: Places, count: int) -> Places:
    """Takes the first places for this many garments out of the list and returns them."""
    taken = []
    while count:
        place, there = places.pop(0)
        here = min(count, there)
        taken.append((place, here))
        count -= here
        if there > here:
            places.insert(0, (place, there - here))
    return taken
