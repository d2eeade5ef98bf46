"""Lays of a rest once they are nested: planned again where one is longer than the table, or than a roll of its cloth
gives, then given their rolls."""

from __future__ import annotations

from django.db import transaction

from planner.core.lays.plan import CannotPlan
from planner.cutting.actions.dealing import deal, write_dealt
from planner.cutting.actions.laying import drop_lays, lock
from planner.cutting.actions.planning import colours_of, refresh_needs
from planner.cutting.actions.rest import divide_rest, lays_for, left_to_plan
from planner.cutting.actions.rolling import ask_others_again, lock_cloths
from planner.cutting.arrivals import cloth_is_free
from planner.cutting.cut_plans import is_same, lengths_for, with_own
from planner.cutting.demand import batch_demand
from planner.cutting.dividing import join_bundles
from planner.cutting.lot_units import LotUnit, uncut_units
from planner.cutting.lots import give_lots
from planner.cutting.models import Batch, Lay
from planner.cutting.plies_dealt import Thought
from planner.cutting.stored import StoredLay, shop_of, stored_lay
from planner.cutting.tasks import queue_rolls
from planner.cutting.too_long import NOTHING_SHORTER, is_said, say_why, too_long

#: Nothing better was found for a rest that is too long.
STAYS = "stays as it is"


def go_on(pk: int) -> str:
    """Goes on with the rests of a batch that is being cut. Returns what was done, in a few words. May be called twice
    without harm.
    """
    batch = Batch.objects.filter(pk=pk, state=Batch.State.CUTTING).first()
    if batch is None:
        return "nothing is being cut"
    lays = _open_rests(batch)
    if not lays:
        return "no rest to go on with"
    # One that is nested for longer, overnight perhaps, has its turn after that; the others do not wait for it.
    if not all(lay.row.marker.is_laid for lay in lays):
        return "being nested"
    for one in too_long(lays, shop_of(batch, batch_demand(batch))):
        if is_said(one.row.marker):
            continue
        done = _plan_again(batch, one.row.rest_of_id, lays)
        if done != STAYS:
            return done
    return _give_rolls(batch)


def _open_rests(batch: Batch) -> list[StoredLay]:
    """Lays of rests of which nothing is cut."""
    begun = batch.lays.begun().values("pk")
    rows = batch.lays.filter(rest_of__isnull=False, cut_at=None).exclude(pk__in=begun)
    return [stored_lay(row) for row in rows.with_everything()]


def _state_of(batch: Batch) -> list[tuple[object, ...]]:
    """A value that changes with any change of the lays that are not begun."""
    begun = batch.lays.begun().values("pk")
    return list(batch.lays.exclude(pk__in=begun).order_by("pk").values_list("pk", "marker_id", "cut_at"))


def _plan_again(batch: Batch, lay_pk: int, lays: list[StoredLay]) -> str:
    """Plans the rest of a lay once more with the lengths that are known now, unless something of it is cut.

    The lengths its own lays were nested to are used; what this very batch used at the table is not, as when the rest
    was planned first (`rest._think`).
    """
    lay = Lay.objects.select_related("batch").get(pk=lay_pk)
    own = [one for one in lays if one.row.rest_of_id == lay_pk]
    seen, demand = _state_of(batch), batch_demand(batch)
    shop, planned = shop_of(batch, demand), None
    if not lay.rests.begun().exists():
        rest, fabric = left_to_plan(lay)
        try:
            lengths = with_own(lengths_for([fabric], besides=batch.pk), own, shop)
            planned = lays_for(rest, fabric, shop, lengths)
        except CannotPlan:
            planned = None
    with transaction.atomic():
        batch = lock(batch)
        if _state_of(batch) != seen:
            queue_rolls(batch.pk)
            return "changed meanwhile"
        if planned is None or is_same(planned, [one.planned for one in own]):
            say_why([one.row for one in too_long(own, shop)], shop, NOTHING_SHORTER)
            return STAYS
        rests = list(lay.rests.all())
        join_bundles(lay, rests)
        drop_lays(rests)
        divide_rest(lay, planned, demand)
        refresh_needs(batch)
    return "planned again"


def _give_rolls(batch: Batch) -> str:
    """Chooses rolls for the plies of rests that have none yet; all others keep theirs, for tickets name them.

    What was kept for the lays they are the rests of, and is not needed now, goes to lays that are short, of this batch
    too. The bundles are divided already; so that none mixes shade lots, all plies of one lay and colour are of one lot.
    """
    shop = shop_of(batch, batch_demand(batch))
    thought: Thought = {}
    seen = _state_of(batch)
    deal(batch, _without_roll(batch), shop, thought)
    with transaction.atomic():
        batch = lock(batch)
        if _state_of(batch) != seen:
            queue_rolls(batch.pk)
            return "changed meanwhile"
        units = _without_roll(batch)
        lock_cloths(unit.cloth for unit in units)
        dealt = deal(batch, units, shop, thought)
        changed = write_dealt(units, dealt)
        for lay in _open_rests(batch):
            give_lots(lay.row)
        refresh_needs(batch)
        ask_others_again(batch, dealt.rolls, shop)
        if changed:  # each is given its own once, so that two batches never ask each other for ever
            # Lays of the batch itself that wait for cloth are asked too: only rests were looked at here.
            cloth_is_free(colours_of(batch))
    return f"{dealt.short_of(units)} spreads short"


def _without_roll(batch: Batch) -> list[LotUnit]:
    """The plies of rests some spreads of which have no roll in stock."""
    return [unit for unit in uncut_units(batch) if unit.lay.rest_of_id is not None and unit.on_no_roll]
