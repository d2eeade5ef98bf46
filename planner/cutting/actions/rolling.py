"""Plies onto rolls: which lay is spread from which roll or end in stock, and what no roll has cloth for.

A bundle never mixes shade lots, so plies of a lay that come from several lots become rows of their own. Choosing may
take seconds. So it is done before anything is locked, together with the rows and bundles that result; once the lock is
held it is only checked, and done again only where stock or promises have changed meanwhile. So no metres are given to
two people, and nobody waits long to write.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Sum

from planner.core.lays.items import width_taken_mm
from planner.core.lays.model import LENGTHS
from planner.core.rolls import RollThere
from planner.core.spec import ClothKey, Workshop
from planner.cutting.actions.laying import lock
from planner.cutting.actions.planning import colours_of, needs_for, put_needs
from planner.cutting.actions.situation import stamp_of
from planner.cutting.arrivals import cloth_is_free
from planner.cutting.bundling import LinedBundle, lined_bundles, put_bundles
from planner.cutting.demand import BatchDemand, batch_demand
from planner.cutting.laid import laid
from planner.cutting.models import Batch, LayCloth, LayRoll
from planner.cutting.plies_dealt import SpreadsWanted, Thought, deal_spreads
from planner.cutting.roll_rows import Rolled, RowsDealt, Taken, as_dealt, rows_dealt, write_rows
from planner.cutting.rolls_there import LOOSE, promised_twice, rolls_there
from planner.cutting.stored import StoredLay, shop_of, stored_lays
from planner.cutting.tasks import queue_look_again, queue_rolls
from planner.materials.models import FabricColour, Workroom


@dataclass(frozen=True)
class RollsAssigned:
    """The result: how many spreads no roll has cloth for, and whether bundles were made anew."""

    short: int
    bundles_changed: bool
    problem: str = ""


def lock_cloths(keys: Iterable[ClothKey]) -> None:
    """Lets nobody else promise these cloths until the transaction ends (SQLite has one writer anyway)."""
    names = {key.fabric for key in keys}
    colours = FabricColour.objects.filter(fabric__name__in=names).order_by("pk")
    list(colours.select_for_update(no_key=True).values_list("pk"))


def assign(batch: Batch, lays: Sequence[StoredLay], shop: Workshop, thought: Thought) -> Rolled:
    """Which roll every spread of all the lays of a batch comes from, colour by colour. Reckons only; nothing is
    written.
    """
    by_cloth: dict[ClothKey, list[StoredLay]] = defaultdict(list)
    for lay in sorted(lays, key=lambda one: one.row.number):
        for key in lay.planned.cloths:
            by_cloth[key].append(lay)
    keep_mm = float(Workroom.the().keep_remnant_m) * 1000
    rolled: dict[tuple[int, ClothKey], tuple[Taken, ...]] = {}
    there = rolls_there(batch, set(by_cloth), shop)
    for key, own in by_cloth.items():
        rolled |= _of_colour(own, key, there.get(key, ()), keep_mm, thought)
    return rolled


#: Rows of plies: each with its lay, its colour and its spreads.
Rows = list[tuple[int, int, int, int]]


@dataclass(frozen=True)
class ReadyRolls:
    """The rolls of all lays of a batch, with the resulting rows and bundles. Nothing is written yet.

    Kept with them is what they were reckoned from: the lays, the demand, and the plies as they were (`rows`).
    """

    lays: Sequence[StoredLay]
    demand: BatchDemand
    rows: Rows
    thought: Thought
    rolled: Rolled
    dealt: RowsDealt
    bundles: Sequence[LinedBundle]


def think(batch: Batch, lays: Sequence[StoredLay], shop: Workshop, demand: BatchDemand) -> ReadyRolls:
    """Works out which rolls all the lays of a batch come from, before the batch is locked."""
    thought: Thought = {}
    return _ready(batch, lays, shop, demand, thought, assign(batch, lays, shop, thought))


def _ready(
    batch: Batch,
    lays: Sequence[StoredLay],
    shop: Workshop,
    demand: BatchDemand,
    thought: Thought,
    rolled: Rolled,
) -> ReadyRolls:
    dealt = rows_dealt(lays, rolled)
    planned, lots = as_dealt(lays, dealt)
    rows = sorted(
        (cloth.pk, lay.row.pk, cloth.fabric_colour_id, cloth.spreads)
        for lay in lays
        for cloth in lay.row.cloths.all()
    )
    bundles = lined_bundles(batch, demand, shop, planned, lots)
    return ReadyRolls(lays, demand, rows, thought, rolled, dealt, bundles)


def _ready_now(batch: Batch, ready: ReadyRolls, shop: Workshop) -> ReadyRolls:
    """The same for the stock, promises, plies and demand of now; reckoned again only where these have changed."""
    lays, demand = ready.lays, batch_demand(batch)
    rows = LayCloth.objects.filter(lay__batch=batch).order_by("pk")
    is_so = list(rows.values_list("pk", "lay", "fabric_colour", "spreads")) == ready.rows
    if not is_so:
        lays = stored_lays(batch.lays.with_everything())
    rolled = assign(batch, lays, shop, ready.thought)
    if is_so and rolled == ready.rolled and demand == ready.demand:
        return ready
    return _ready(batch, lays, shop, demand, ready.thought, rolled)


def _of_colour(
    lays: Sequence[StoredLay],
    key: ClothKey,
    rolls: tuple[RollThere, ...],
    keep_mm: float,
    thought: Thought,
) -> dict[tuple[int, ClothKey], tuple[Taken, ...]]:
    """The rolls of one colour's spreads in these lays."""
    wanted = [_wanted(lay, key) for lay in lays if lay.row.marker.length_mm is not None]
    dealt = deal_spreads(wanted, rolls, keep_mm, thought)
    return {(lay.row.pk, key): _taken(f"{lay.row.pk}", dealt.on_rolls, dealt.short) for lay in lays}


def _wanted(lay: StoredLay, key: ClothKey) -> SpreadsWanted:
    row, planned = lay.row, lay.planned
    ply_mm = (row.marker.length_mm or 0.0) + 2 * row.end_allowance_mm
    wide_mm = width_taken_mm(row.lay_width_mm, planned.mode)
    return SpreadsWanted(f"{row.pk}", ply_mm, planned.spreads_of(key), LENGTHS[planned.mode], wide_mm)


def _taken(
    name: str, spreads: Mapping[tuple[str, str, str], int], short: Mapping[str, int]
) -> tuple[Taken, ...]:
    """The rolls of a lay by its name; `spreads` by name, shade lot and roll."""
    own = [(lot, roll, count) for (lay, lot, roll), count in spreads.items() if lay == name]
    # Plies of one shade lot lie together, whichever rolls they come from.
    taken = [
        Taken(None if roll == LOOSE else int(roll), count, lot, is_loose=roll == LOOSE)
        for lot, roll, count in sorted(own, key=lambda one: one[0])
    ]
    return (*taken, Taken(None, short[name])) if name in short else tuple(taken)


def deal_rolls(batch: Batch, ready: ReadyRolls, shop: Workshop) -> RollsAssigned:
    """Gives all lays of a batch their rolls, for the stock and promises there are now, and its bundles their lots.
    Cloth it no longer takes goes to other batches that are short.

    Call it with the batch locked, and only where its lays are still those that were thought about.
    """
    lock_cloths(key for lay in ready.lays for key in lay.planned.cloths)
    ready = _ready_now(batch, ready, shop)
    LayRoll.objects.filter(lay_cloth__lay__batch=batch).delete()
    write_rows(ready.dealt)
    changed = put_bundles(batch, ready.bundles, ready.demand, [lay.row for lay in ready.lays])
    given = {one.roll for taken in ready.rolled.values() for one in taken if one.roll is not None}
    ask_others_again(batch, given, shop)
    cloth_is_free(colours_of(batch), besides=batch.pk)
    return RollsAssigned(short_of(ready.rolled), changed)


def short_of(rolled: Rolled) -> int:
    """Spreads that no roll has cloth for."""
    return sum(one.spreads for taken in rolled.values() for one in taken if one.is_short)


def ask_others_again(batch: Batch, rolls: Collection[int], shop: Workshop) -> None:
    """Gives later batches their rolls once more where these rolls (pk), which this batch was given, no longer have
    enough for all.
    """
    late = Batch.objects.filter(
        state=Batch.State.PLANNED,
        pk__gt=batch.pk,
        lays__cloths__rolls__roll__in=promised_twice(rolls, shop),
    )
    for pk in late.order_by("pk").values_list("pk", flat=True).distinct():
        queue_rolls(pk)


def assign_rolls(batch: Batch, *, only_if_more_fits: bool = False) -> RollsAssigned:
    """Chooses the rolls again for the stock there is now. Refused once something is cut, or before everything is
    nested.

    With `only_if_more_fits` everything stays as it is unless fewer spreads would then be short.
    """
    demand = batch_demand(batch)
    if batch.lays.begun().exists():
        return _refused("Part of it is cut; its rolls stay as they are.")
    shop = shop_of(batch, demand)
    stamp = stamp_of(batch)
    lays = stored_lays(batch.lays.with_everything())
    settled = not batch.cut_plans.exclude(state="settled").exists()
    if not lays or not settled or not all(lay.row.marker.is_laid for lay in lays):
        return _refused("Its lays are not all nested yet.")
    ready = think(batch, lays, shop, demand)
    needs = needs_for(demand, shop, laid(lay.row for lay in lays))
    with transaction.atomic():
        batch = lock(batch)
        if stamp_of(batch) != stamp:
            return _refused("The plan was changed meanwhile. Ask again.")
        if only_if_more_fits and short_of(assign(batch, lays, shop, ready.thought)) >= short_now(batch):
            return _refused("No more of it fits; its rolls stay as they are.")
        done = deal_rolls(batch, ready, shop)
        put_needs(batch, needs)
        if done.short:
            queue_look_again(batch.pk)
    return done


def short_now(batch: Batch) -> int:
    """Spreads of lays not cut whose cloth is still to be bought."""
    rows = LayRoll.objects.to_buy().filter(lay_cloth__lay__batch=batch, lay_cloth__lay__cut_at=None)
    return rows.aggregate(spreads=Sum("spreads"))["spreads"] or 0


def _refused(problem: str) -> RollsAssigned:
    return RollsAssigned(0, bundles_changed=False, problem=problem)
