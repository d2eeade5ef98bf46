"""Cloth that came in for batches that were short: their plies keep numbers and bundles, and now have a roll.

What is printed stays valid. So plies that were short in a lay get a roll only where all of one colour fit on rolls of
one shade lot. Where they do not, a batch of which nothing is cut gets all its rolls anew, if more fits then; in one
that is being cut, the part that one lot gives is kept for them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from django.db import transaction

from planner.core.lays.model import LAYERS
from planner.core.listed import lays_listed
from planner.core.ply_list import PlyRun
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
from planner.cutting.lot_units import LotUnit, short_units
from planner.cutting.lots import give_lots
from planner.cutting.models import Batch
from planner.cutting.plies_dealt import Thought
from planner.cutting.spread_rows import runs_in
from planner.cutting.stored import planned_bundles, shop_of
from planner.cutting.tasks import queue_look_again


def cloth_came_in(pk: int) -> str:
    """Goes on with a batch that was short of cloth. Returns what was done, in a few words. May be called twice without
    harm.
    """
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
    """Gives rolls to plies whose cloth was to be bought. Returns for how many spreads there is cloth now.

    In a batch that is being cut, a part that one lot gives is kept for them, as long as their lay is not begun. Of
    plies some of which are cut, those left get theirs. Lays of a rest that is not begun are left to `rest_on`.
    """
    if not (short := _of_their_lot(batch, short_units(batch))):
        return 0
    shop = shop_of(batch, batch_demand(batch))
    keep = batch.state == Batch.State.CUTTING
    # Thinking may take seconds, so it is done before anything is locked, and only done again where it must be.
    thought: Thought = {}
    deal(batch, short, shop, thought, keep_parts=keep)
    with transaction.atomic():
        batch = lock(batch)
        # What was short may have been changed since, and its rolls promised or cut by others.
        short = _of_their_lot(batch, short_units(batch))
        lock_cloths(unit.cloth for unit in short)
        dealt = deal(batch, short, shop, thought, keep_parts=keep)
        changed = write_dealt(short, dealt)
        for lay in changed:
            give_lots(lay, shop)
        if changed:
            refresh_needs(batch)
        ask_others_again(batch, dealt.rolls, shop)
    return sum(unit.spreads for unit in short) - dealt.short_of(short)


def _of_their_lot(batch: Batch, units: Sequence[LotUnit]) -> list[LotUnit]:
    """These plies; those left of a begun row with the shade lot that their bundles have already, if one."""
    if not any(unit.is_part for unit in units):
        return list(units)
    runs = runs_in(batch.lays.all(), planned_bundles(batch.bundles.in_full()))
    return [replace(unit, lot=_lot_begun(unit, runs)) if unit.is_part else unit for unit in units]


def _lot_begun(unit: LotUnit, runs: Mapping[int, Sequence[PlyRun]]) -> str:
    """The lot that bundles with plies left of this row have of its cloth; "" where they have none, or several."""
    (row,) = unit.rows
    below = sum(other.spreads for other in unit.lay.cloths.all() if other.pk < row.pk)
    layers = LAYERS[unit.lay.mode]  # type: ignore[index]
    plies = range(below * layers + 1, (below + row.spreads) * layers + 1)
    own = (run for run in runs.get(unit.lay.number, ()) if run.first in plies and not run.is_cut)
    left = {bundle for run in own for bundle in run.bundles if bundle}
    cut = (run for of_lay in runs.values() for run in of_lay if run.is_cut and run.cloth == unit.cloth)
    lots = {run.lot for run in cut if left.intersection(run.bundles)} - {""}
    return lots.pop() if len(lots) == 1 else ""
