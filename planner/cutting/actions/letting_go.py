"""Plies of a batch being cut that fit on no stretch of their roll any more, nor on another roll in stock: to be bought.

So what to buy, which lays wait for cloth and what comes in later all go by what is really there. Where another roll in
stock would do, the plies keep what their ticket says until somebody gives them that roll.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import replace

from django.db import transaction

from planner.cutting.actions.dealing import deal, write_dealt
from planner.cutting.actions.laying import lock
from planner.cutting.actions.planning import colours_of, refresh_needs
from planner.cutting.actions.rolling import lock_cloths
from planner.cutting.actions.table import LayTold
from planner.cutting.arrivals import cloth_is_free
from planner.cutting.demand import batch_demand
from planner.cutting.lot_units import LotUnit, begun_lays, uncut_units
from planner.cutting.lots import give_lots
from planner.cutting.models import Batch, LayCloth, LayRoll
from planner.cutting.plies_dealt import Thought
from planner.cutting.roll_rows import plies_apart
from planner.cutting.stored import shop_of
from planner.materials.promised import OverPromised, over_promised
from planner.materials.specs import cloth_key

#: By plies (LayCloth pk) and roll (pk), how many spreads that roll has no stretch for.
Lacking = dict[int, Counter[int]]


def let_go_after(done: LayTold) -> LayTold:
    """What came of telling a lay, with the lays that count on its rolls and now have to wait for cloth."""
    return replace(done, waiting=let_go_of(done.counted_on)) if done.counted_on else done


def let_go_of(found: Iterable[OverPromised]) -> dict[str, tuple[int, ...]]:
    """Lets go of these rolls in all batches being cut that count on them. Returns which lays of each wait for cloth
    now.
    """
    numbers = dict.fromkeys(promise.batch for one in found for promise in one.promises)
    batches = Batch.objects.filter(number__in=list(numbers), state=Batch.State.CUTTING).order_by("pk")
    done = {batch.number: let_go(batch) for batch in batches}
    return {number: lays for number, lays in done.items() if lays}


def let_go(batch: Batch) -> tuple[int, ...]:
    """Lets go of the rolls that have no stretch for plies of this batch, where nothing else in stock holds them.

    Plies of lays not begun stay together lot by lot, as when they get other rolls; of a begun lay only those that do
    not fit are to be bought. What is left of the rolls is for batches that are short. Returns the numbers of the lays
    that wait for cloth now.
    """
    if batch.state != Batch.State.CUTTING or not _lacking(batch):
        return ()
    shop = shop_of(batch, batch_demand(batch))
    # Thinking may take seconds, so it is done before anything is locked, and only done again where it must be.
    thought: Thought = {}
    deal(batch, [*_units(batch), *_parts(batch)], shop, thought)
    with transaction.atomic():
        batch = lock(batch)
        units, parts = _units(batch), _parts(batch)
        lock_cloths(unit.cloth for unit in (*units, *parts))
        dealt = deal(batch, [*units, *parts], shop, thought)
        changed = write_dealt([unit for unit in units if unit.key not in dealt.whole], dealt)
        # From the uppermost down, see `plies_apart`.
        for part in reversed(parts):
            if part.key not in dealt.whole:
                _take_apart(part)
                changed.append(part.lay)
        for lay in changed:
            give_lots(lay, shop)
        if changed:
            refresh_needs(batch)
            # A roll with too little for plies that stay together may have enough for fewer of another batch.
            cloth_is_free(colours_of(batch), besides=batch.pk)
    return tuple(sorted({lay.number for lay in changed}))


def _lacking(batch: Batch) -> Lacking:
    """The plies of a batch that their rolls have no stretch for."""
    found: Lacking = defaultdict(Counter)
    of_batch = {"lay_cloth__lay__batch": batch, "lay_cloth__lay__cut_at": None}
    rolls = LayRoll.objects.filter(roll__isnull=False, **of_batch).order_by().values_list("roll", flat=True)
    for one in over_promised(set(rolls)):
        for promise, short in zip(one.promises, one.short, strict=True):
            if short and promise.batch == batch.number:
                found[promise.cloth][one.pk] += -(-short // promise.plies.plies_per_spread)
    return found


def _units(batch: Batch) -> list[LotUnit]:
    """Plies of lays not begun of which some no longer fit."""
    lacking = _lacking(batch)
    return [unit for unit in uncut_units(batch) if any(row.pk in lacking for row in unit.rows)]


def _parts(batch: Batch) -> list[LotUnit]:
    """The plies of begun lays that no longer fit, as rows of their own; nothing is written."""
    lacking = _lacking(batch)
    found = []
    for lay in begun_lays(batch):
        for row in lay.cloths.all():
            if count := sum(lacking.get(row.pk, Counter()).values()):
                # Told from the plies that it is a part of by its key alone.
                part = LayCloth(pk=-row.pk, lay=lay, fabric_colour=row.fabric_colour, spreads=count)
                found.append(LotUnit(lay, cloth_key(row.fabric_colour), (part,), True, is_alone=False))
    return found


def _take_apart(part: LotUnit) -> None:
    """Makes a part plies of their own that are to be bought; the rolls of the others have room for those."""
    (wanted,) = part.rows
    row, count = LayCloth.objects.get(pk=-wanted.pk), wanted.spreads
    lacking = _lacking(part.lay.batch)[row.pk]
    for roll, spreads in lacking.items():
        for planned in LayRoll.objects.filter(lay_cloth=row, roll=roll).order_by("-position", "-pk"):
            less = min(spreads, planned.spreads)
            spreads -= less
            planned.spreads -= less
            planned.save(update_fields=["spreads"]) if planned.spreads else planned.delete()
    if count < row.spreads:
        row = plies_apart(row, count)
    LayRoll.objects.create(lay_cloth=row, roll=None, spreads=count, position=row.rolls.count())
