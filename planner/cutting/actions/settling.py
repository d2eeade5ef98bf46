"""Settling a batch's cut plans: choose, nest what was chosen, look whether the real lengths change the choice, again.

Each step begins from what stands in the database and may be run again from the start. It reckons without holding
anything; what it writes it writes in one transaction with the batch locked, and only if nothing of the plan has been
changed meanwhile. So two workers never both write, and one that was cut off left nothing half done.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import replace

from django.db import transaction
from django.db.models import Q

from planner.core.lays.problems import CannotPlan
from planner.core.lays.wishes import facts_from_json
from planner.core.spec import Workshop
from planner.cutting.actions.cut_early import buy_where_not_dealt
from planner.cutting.actions.judging import judge_plans
from planner.cutting.actions.laying import Ready, lock, nesting_seconds, put_lays, ready_lays
from planner.cutting.actions.planning import ReadyNeeds, needs_for, put_needs, refresh_needs
from planner.cutting.actions.polishing import is_to_polish, polish
from planner.cutting.actions.rolling import deal_rolls, think
from planner.cutting.actions.situation import Situation, look, read_situation, stamp_of
from planner.cutting.cut_plans import store_facts
from planner.cutting.demand import batch_demand
from planner.cutting.judged_plans import Judged
from planner.cutting.laid import laid, laid_as_planned
from planner.cutting.models import Batch, CutPlan, Lay, Marker
from planner.cutting.reading import BatchPlan
from planner.cutting.stored import StoredLay, shop_of, stored_lays
from planner.cutting.tasks import queue_arrived, queue_settling, queue_singles
from planner.cutting.too_long import NOTHING_SHORTER, say_why, too_long
from planner.materials.models import Workroom

log = logging.getLogger(__name__)


def settle(pk: int) -> str:
    """Goes on with the plans of a batch as far as that is possible now. Returns what was done, in a few words."""
    if freeze_cut(pk):
        return "cut, so it stays"
    if _is_nested_still(pk):
        return "being nested"
    seen = look(pk)
    if seen is None:
        return reckon_again(pk)
    quick = [one for one in seen.plans if one.plan.state == CutPlan.State.QUICK]
    if quick:
        return _take_step(seen, quick, is_first=True)
    open_plans = [one for one in seen.plans if one.plan.state == CutPlan.State.NESTING]
    if not all(lay.row.marker.is_final for one in open_plans for lay in seen.lays_of(one.plan)):
        return "being nested"
    return _take_step(seen, open_plans, is_first=False)


def _is_nested_still(pk: int) -> bool:
    """Whether every plan is waiting for lays that are being nested. Asked before the whole batch is read."""
    plans = CutPlan.objects.filter(batch=pk)
    moving = plans.filter(state=CutPlan.State.NESTING).values("fabric")
    final = Q(marker__state__in=[Marker.State.READY, Marker.State.STOPPED], marker__length_mm__isnull=False)
    open_lays = Lay.objects.filter(batch=pk, cloths__fabric_colour__fabric__in=moving).exclude(final)
    return not plans.filter(state=CutPlan.State.QUICK).exists() and open_lays.exists()


def settle_as_it_is(pk: int) -> str:
    """Lets the plans of a batch stand with the lengths that were nested, though other lays might be better."""
    seen = look(pk)
    if seen is None:
        return "nothing to settle"
    if not all(lay.row.marker.is_final for lay in seen.lays):
        return "being nested"
    try:
        judged = judge_plans(seen, seen.plans, is_first=False, may_change=False)
    except CannotPlan as refusal:
        return _stay(seen, seen.plans, refusal.told_in(Workroom.the().display))
    return _write_step(seen, seen.plans, judged, is_first=False)


def reckon_again(pk: int) -> str:
    """Reckons anew what settled plans come to and which rolls their lays have, by lengths that changed since. No lay is
    changed.
    """
    batch = Batch.objects.filter(pk=pk).first()
    seen = read_situation(batch) if batch is not None else None
    if seen is None or not seen.plans or not all(lay.row.marker.is_final for lay in seen.lays):
        return "nothing to settle"
    try:
        judged = judge_plans(seen, seen.plans, is_first=False, may_change=False)
    except CannotPlan:
        return "nothing to settle"
    told = {
        one.plan.fabric.name: facts_from_json(one.plan.facts).best for one in seen.plans if one.plan.facts
    }
    if all(told.get(one.fabric) == one.facts.best for one in judged):
        return "nothing to settle"
    return _write_step(seen, seen.plans, judged, is_first=False)


@transaction.atomic
def freeze_cut(pk: int) -> bool:
    """Lets the plans of a batch stand once something of it is cut. Returns whether it did.

    Rolls are given as to lays that are planned anew while others are cut: until the worker has looked, their cloth
    counts as still to be bought.
    """
    batch = Batch.objects.filter(pk=pk).first()
    if batch is None or not batch.lays.begun().exists():
        return False
    open_plans = batch.cut_plans.exclude(state=CutPlan.State.SETTLED)
    if open_plans.exists():
        lays = stored_lays(batch.lays.filter(cut_at=None).with_everything())
        shop = shop_of(batch, batch_demand(batch))
        _say(lays, shop, "not divided because a lay of this batch is cut already")
        open_plans.update(state=CutPlan.State.SETTLED)
        buy_where_not_dealt(batch)
        queue_arrived(batch.pk)
    return True


def _take_step(seen: Situation, open_plans: Sequence[BatchPlan], *, is_first: bool) -> str:
    """Plans these fabrics again with all that is known, and writes the result."""
    if seen.demand.may_have_extra:
        # How many more are cut is decided by one cloth and holds for all.
        open_plans = seen.plans
    # Before lays are nested a second time it counts whether the choice stands; all else is told by what they reach.
    for explain in (False, True) if not is_first and is_to_polish(seen, open_plans) else (True,):
        try:
            judged = judge_plans(seen, open_plans, is_first=is_first, explain=explain)
        except CannotPlan as refusal:
            return _stay(seen, open_plans, refusal.told_in(Workroom.the().display))
        except Exception:
            # Whatever broke down, the lays there are can be cut; the log tells the rest.
            log.exception("the cut plan of batch %s could not be reckoned again", seen.batch.number)
            return _stay(seen, open_plans, "the plan could not be reckoned again")
        if is_first or any(one.is_new for one in judged):
            break
        if polish(seen, open_plans):
            return "polishing"
    return _write_step(seen, open_plans, judged, is_first=is_first)


def _write_step(
    seen: Situation, open_plans: Sequence[BatchPlan], judged: Sequence[Judged], *, is_first: bool
) -> str:
    """Writes what was judged, and the rolls where this ends the settling, unless the plan was changed meanwhile."""
    ends = not is_first and not any(one.is_new for one in judged)
    is_last = ends and _is_last(seen, open_plans)
    rolls = think(seen.batch, seen.lays, seen.shop, seen.demand) if is_last else None
    ready = _ready(seen, open_plans, judged, is_first=is_first)
    needs = _needs(seen, ready)
    with transaction.atomic():
        batch = lock(seen.batch)
        if stamp_of(batch) != seen.stamp:
            queue_settling(batch.pk)
            return "changed meanwhile"
        _write(seen, batch, open_plans, judged, ready, is_first=is_first)
        if ends:
            _say(seen.lays, seen.shop, NOTHING_SHORTER)
        if rolls is not None:
            deal_rolls(batch, rolls, seen.shop)
        put_needs(batch, needs) if needs else refresh_needs(batch)
    return "settled" if ends else "planned again" if any(one.is_new for one in judged) else "goes on"


def _ready(
    seen: Situation, open_plans: Sequence[BatchPlan], judged: Sequence[Judged], *, is_first: bool
) -> Ready | None:
    """The lays that are to replace the present ones; None where all stay.

    Reckoned before the batch is locked, because nobody else can write while it is.
    """
    if not any(one.is_new for one in judged):
        return None
    judged_now = {one.fabric for one in judged}
    wanted = [lay.planned for lay in seen.lays if lay.planned.fabric not in judged_now]
    wanted += [lay for one in judged for lay in one.lays]
    rounds = max((one.plan.rounds for one in open_plans), default=0)
    return ready_lays(wanted, seen.lays, seconds=nesting_seconds(rounds if is_first else rounds + 1))


def _needs(seen: Situation, ready: Ready | None) -> ReadyNeeds | None:
    """What the batch will need. Reckoned before the batch is locked; None where it depends on the lays how many
    garments are cut.
    """
    if ready is None:
        return needs_for(seen.demand, seen.shop, laid(lay.row for lay in seen.lays))
    if seen.demand.may_have_extra:
        return None
    stay = ((replace(lay.planned, section=n), lay.row.marker) for n, lay in ready.stays.items())
    return needs_for(seen.demand, seen.shop, laid_as_planned([*ready.new, *stay]))


def _write(
    seen: Situation,
    batch: Batch,
    open_plans: Sequence[BatchPlan],
    judged: Sequence[Judged],
    ready: Ready | None,
    *,
    is_first: bool,
) -> None:
    """Writes lays and plans with their facts, and asks the worker to go on where something is still open."""
    by_name = {one.fabric: one for one in judged}
    if ready is not None:
        put_lays(batch, ready, seen.shop)
    for one in open_plans:
        found = by_name.get(one.plan.fabric.name)
        if found is not None:
            store_facts(one.plan, found.facts)
        is_new = found is not None and found.is_new
        if is_new and not is_first:
            one.plan.rounds += 1
        if found is not None and found.aim:
            # Lengths that nobody has nested may change the choice anew.
            one.plan.aim, one.plan.aim_by, one.plan.rounds = found.aim, CutPlan.AimBy.STOCK, 0
        # None of them stands before all do: then their lays are nested a second time, all together.
        goes_on = is_first or any(other.is_new for other in judged)
        one.plan.state = CutPlan.State.NESTING if goes_on else CutPlan.State.SETTLED
        one.plan.save()
    if any(one.plan.state != CutPlan.State.SETTLED for one in open_plans):
        queue_settling(batch.pk)
    else:
        queue_singles(batch.pk)


def _is_last(seen: Situation, open_plans: Sequence[BatchPlan]) -> bool:
    """Whether the batch is settled once these plans are."""
    ours = {one.plan.pk for one in open_plans}
    return all(one.plan.state == CutPlan.State.SETTLED or one.plan.pk in ours for one in seen.plans)


def _stay(seen: Situation, open_plans: Sequence[BatchPlan], why: str) -> str:
    """Keeps the lays where nothing better can be had: they are nested a second time, and those that are too long are
    noted with the reason why they stay.
    """
    lays = [lay for one in open_plans for lay in seen.lays_of(one.plan)]
    is_nested = all(lay.row.marker.is_final for lay in lays)
    if is_nested and polish(seen, open_plans):
        return "polishing"
    is_last = _is_last(seen, open_plans)
    rolls = think(seen.batch, seen.lays, seen.shop, seen.demand) if is_last else None
    with transaction.atomic():
        batch = lock(seen.batch)
        if stamp_of(batch) != seen.stamp:
            queue_settling(batch.pk)
            return "changed meanwhile"
        long_ones = [lay.row.marker_id for lay in too_long(lays, seen.shop)]
        Marker.objects.filter(pk__in=long_ones).update(message=why[:300])
        state = CutPlan.State.SETTLED if is_nested else CutPlan.State.NESTING
        CutPlan.objects.filter(pk__in=[one.plan.pk for one in open_plans]).update(state=state)
        if rolls is not None and is_nested:
            deal_rolls(batch, rolls, seen.shop)
        (queue_singles if is_nested else queue_settling)(batch.pk)
    return "stays as it is"


def _say(lays: Sequence[StoredLay], shop: Workshop, why: str) -> None:
    """Notes with those of these lays that are too long why they stay."""
    say_why([one.row for one in too_long(lays, shop)], shop, why)
