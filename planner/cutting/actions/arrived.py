"""Cloth that came in for batches that were short: plies keep their numbers and bundles, and have a roll now.

What is printed stands. So plies that were short in a lay get a roll only where all of one colour fit on rolls of one
shade lot. Where they do not, a batch of which nothing is cut gets all its rolls anew, if then more fits.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from django.db import transaction

from planner.core.rolls import PliesWanted, RollCut, RollQuestion
from planner.core.spec import ClothKey, Workshop
from planner.cutting.actions.laying import lock
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.actions.rest_on import go_on
from planner.cutting.actions.rolling import (
    Thought,
    answer,
    ask_others_again,
    assign_rolls,
    lock_cloths,
    short_now,
)
from planner.cutting.demand import batch_demand
from planner.cutting.lots import give_lots
from planner.cutting.models import Batch, Lay, LayCloth, LayRoll
from planner.cutting.roll_rows import Rolled, Taken, write_taken
from planner.cutting.rolls_there import LOOSE, rolls_there
from planner.cutting.short_lots import Short, short_of_one_lot, wanted_of_one_lot
from planner.cutting.stored import shop_of
from planner.materials.models import Workroom


def cloth_came_in(pk: int) -> str:
    """Goes on with a batch that was short of cloth; harmless when asked twice. What was done, in a few words."""
    batch = Batch.objects.planned_not_cut().filter(pk=pk).first()
    if batch is None:
        return "nothing is to be cut"
    given = give_arrived(batch)
    if batch.state == Batch.State.CUTTING:
        rest = go_on(pk)
        return f"{given} spreads have their roll now; {rest}" if given else rest
    if not short_now(batch):
        return f"{given} spreads have their roll now"
    done = assign_rolls(batch, only_if_more_fits=True)
    return done.problem or f"{done.short} spreads short"


def give_arrived(batch: Batch) -> int:
    """Gives rolls to plies of lays not begun whose cloth was to be bought; of how many spreads it is there now.

    Lays of a rest are not looked at: they have their own way.
    """
    if not short_of_one_lot(batch):
        return 0
    shop = shop_of(batch, batch_demand(batch))
    # Thinking may take seconds, so it is done before anything is locked, and only done again where it must be.
    thought: Thought = {}
    _taken(batch, short_of_one_lot(batch), shop, thought)
    with transaction.atomic():
        batch = lock(batch)
        # What was short may have been changed since, and its rolls promised or cut by others.
        short = short_of_one_lot(batch)
        lock_cloths(key for _, key in short)
        taken = _taken(batch, short, shop, thought)
        for place, of_place in taken.items():
            LayRoll.objects.filter(lay_cloth__in=short[place]).delete()
            write_taken(short[place], of_place, came_later=True)
        for lay in Lay.objects.filter(pk__in={pk for pk, _ in taken}).select_related("batch"):
            give_lots(lay, shop)
        if taken:
            refresh_needs(batch)
            ask_others_again(batch, taken, shop)
    return sum(one.spreads for of_place in taken.values() for one in of_place)


def _taken(batch: Batch, short: Short, shop: Workshop, thought: Thought) -> Rolled:
    """The rolls of the plies that are there in full, with stock and promises as they are now."""
    by_cloth: dict[ClothKey, list[PliesWanted]] = defaultdict(list)
    for (pk, key), rows in short.items():
        by_cloth[key].append(wanted_of_one_lot(pk, rows))
    # What the other lays of this batch are promised stays theirs.
    there = rolls_there(batch, set(by_cloth), shop, ())
    keep_mm = float(Workroom.the().keep_remnant_m) * 1000
    found: dict[tuple[int, ClothKey], tuple[Taken, ...]] = {}
    for key, wanted in by_cloth.items():
        cuts: dict[int, list[RollCut]] = defaultdict(list)
        for cut in answer(RollQuestion(tuple(wanted), there.get(key, ()), keep_mm), thought).cuts:
            cuts[int(cut.wanted)].append(cut)
        for one in wanted:
            own = cuts[int(one.key)]
            rows = short[int(one.key), key]
            if sum(cut.plies for cut in own) == one.plies and _keeps_apart(own, rows):
                found[int(one.key), key] = tuple(map(_one, own))
    return found


def _keeps_apart(cuts: Sequence[RollCut], rows: Sequence[LayCloth]) -> bool:
    """Whether plies with these cuts stay told apart from others of their colour: those of no roll cannot be marked."""
    loose = [cut.roll == LOOSE for cut in cuts]
    if not any(loose):
        return True
    own = LayCloth.objects.filter(lay=rows[0].lay, fabric_colour=rows[0].fabric_colour)
    return all(loose) and own.count() == len(rows)


def _one(cut: RollCut) -> Taken:
    if cut.roll == LOOSE:
        return Taken(None, cut.plies, cut.shade_lot, is_loose=True)
    return Taken(int(cut.roll), cut.plies, cut.shade_lot)
