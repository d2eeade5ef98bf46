"""Cloth that came in for batches that were short: plies keep their numbers and bundles, and have a roll now.

What is printed stands. So plies that were short in a lay get a roll only where all of one colour fit on rolls of one
shade lot. Where they do not, a batch of which nothing is cut gets all its rolls anew, if then more fits; in one that is
being cut the part that a lot gives is kept for them.
"""

from __future__ import annotations

from django.db import transaction

from planner.core.listed import lays_listed
from planner.cutting.actions.anew_on import long_ones_again
from planner.cutting.actions.dealing import deal, write_dealt
from planner.cutting.actions.laying import lock
from planner.cutting.actions.letting_go import let_go
from planner.cutting.actions.planning import colours_of, refresh_needs
from planner.cutting.actions.rest_on import go_on
from planner.cutting.actions.rolling import (
    ask_others_again,
    assign_rolls,
    lock_cloths,
    short_now,
)
from planner.cutting.arrivals import cloth_is_free
from planner.cutting.demand import batch_demand
from planner.cutting.lot_units import short_units
from planner.cutting.lots import give_lots
from planner.cutting.models import Batch
from planner.cutting.plies_dealt import Thought
from planner.cutting.stored import shop_of
from planner.cutting.tasks import queue_look_again


def cloth_came_in(pk: int) -> str:
    """Goes on with a batch that was short of cloth; harmless when asked twice. What was done, in a few words."""
    batch = Batch.objects.planned_not_cut().filter(pk=pk).first()
    if batch is None:
        return "nothing is to be cut"
    if batch.state == Batch.State.CUTTING and (again := long_ones_again(batch)):
        return f"too long: planned again as {lays_listed(again)}"
    let_go(batch)
    before = short_now(batch)
    given = give_arrived(batch)
    if short_now(batch) < before:
        # What was kept for it until then may be more than it takes. Asked only then, so that two never ask for ever.
        cloth_is_free(colours_of(batch), besides=pk)
    if batch.state == Batch.State.CUTTING:
        rest = go_on(pk)
        return f"{given} spreads have their roll now; {rest}" if given else rest
    if not short_now(batch):
        return f"{given} spreads have their roll now"
    done = assign_rolls(batch, only_if_more_fits=True)
    if done.problem or done.short:
        # By the pieces there are now another plan may buy less.
        queue_look_again(pk)
    return done.problem or f"{done.short} spreads short"


def give_arrived(batch: Batch) -> int:
    """Gives rolls to plies of lays not begun whose cloth was to be bought; of how many spreads it is there now.

    Where a lot gives a part of them it is kept for them, in a batch that is being cut. Lays of a rest are not looked
    at: they have their own way.
    """
    if not (short := short_units(batch)):
        return 0
    shop = shop_of(batch, batch_demand(batch))
    keep = batch.state == Batch.State.CUTTING
    # Thinking may take seconds, so it is done before anything is locked, and only done again where it must be.
    thought: Thought = {}
    deal(batch, short, shop, thought, keep_parts=keep)
    with transaction.atomic():
        batch = lock(batch)
        # What was short may have been changed since, and its rolls promised or cut by others.
        short = short_units(batch)
        lock_cloths(unit.cloth for unit in short)
        dealt = deal(batch, short, shop, thought, keep_parts=keep)
        changed = write_dealt(short, dealt)
        for lay in changed:
            give_lots(lay, shop)
        if changed:
            refresh_needs(batch)
        ask_others_again(batch, dealt.rolls, shop)
    return sum(unit.spreads for unit in short) - dealt.short_of(short)
