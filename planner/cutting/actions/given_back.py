"""Plies that are not cut after all, of a lay that was cut before its plan stood: their roll is given back to them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from planner.core.rolls import RollQuestion, RollThere
from planner.core.spec import ClothKey
from planner.cutting.actions.dealing import as_taken
from planner.cutting.actions.rolling import ask_others_again, lock_cloths
from planner.cutting.demand import batch_demand
from planner.cutting.lot_units import LotUnit
from planner.cutting.models import CutPlan, Lay, LayCloth, LayFact, LayRoll
from planner.cutting.plies_dealt import answer
from planner.cutting.roll_rows import Taken, write_taken, write_to_buy
from planner.cutting.rolls_there import LOOSE, rolls_there
from planner.cutting.stored import shop_of
from planner.cutting.tasks import queue_arrived
from planner.materials.models import Workroom
from planner.materials.specs import cloth_key


def give_rolls_back(lay: Lay, facts: Iterable[LayFact]) -> None:
    """Gives plies that were told in these `facts`, which hold no more, the roll they were cut from; where that is not
    free for all of them they are to be bought until the worker finds another.

    Plies of a lay that was cut early were dealt none: the rolls were dealt out while they were cut. As long as a plan
    of the batch is open they are dealt theirs once it stands. Call it with the batch locked.
    """
    if lay.batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
        return
    plies = lay.cloths.filter(rolls=None, spreads__gt=0).select_related("fabric_colour__fabric")
    rows = [row for row in plies.order_by("pk") if not row.cut_spreads]
    told: dict[ClothKey, set[str]] = defaultdict(set)
    for fact in facts:
        if fact.spreads:
            key = cloth_key(fact.lay_cloth.fabric_colour)
            told[key].add(f"{fact.roll_id}" if fact.roll_id is not None else LOOSE)
    of_cloth: dict[ClothKey, list[LayCloth]] = defaultdict(list)
    for row in rows:
        if (key := cloth_key(row.fabric_colour)) in told:
            of_cloth[key].append(row)
    if not of_cloth:
        return
    shop = shop_of(lay.batch, batch_demand(lay.batch))
    lock_cloths(of_cloth)
    there = rolls_there(lay.batch, set(of_cloth), shop, {row.pk for row in rows})
    given: set[int] = set()
    for key, own in of_cloth.items():
        rolls = tuple(roll for roll in there.get(key, ()) if roll.key in told[key])
        taken = _taken(LotUnit(lay, key, tuple(own), was_to_buy=False, is_alone=True), rolls)
        if taken:
            write_taken(own, taken)
            given |= {one.roll for one in taken if one.roll is not None}
        else:
            write_to_buy(own)
    ask_others_again(lay.batch, given, shop)
    if LayRoll.objects.filter(lay_cloth__in=rows, roll=None).exists():
        queue_arrived(lay.batch_id)


def _taken(unit: LotUnit, rolls: Sequence[RollThere]) -> Sequence[Taken]:
    """What all these plies take of these rolls; nothing where some of them find no place there."""
    keep_mm = float(Workroom.the().keep_remnant_m) * 1000
    cuts = answer(RollQuestion((unit.wanted,), tuple(rolls), keep_mm), {}).cuts if rolls else ()
    return [] if sum(cut.plies for cut in cuts) < unit.wanted.plies else as_taken(cuts, unit.lengths)
