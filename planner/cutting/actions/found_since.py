"""Whether lays nested since a batch was settled make a better plan known, and planning it once more because of that.

Other batches nest markers of the same garments, lays are nested longer, and so are the single sizes plans are compared
with. When nothing else waits, the worker looks whether by all that is known it would choose otherwise now. It also
looks when cloth that a batch has to buy came in or is gone (`cutting.arrivals`, `arrived`, `rolling`): with the pieces
there are now another plan may buy less.

No lay is changed by that, for tickets may be on the table. It is said beside the plan, and the maker decides whether to
have it planned once more. Everything else the plan says of itself is updated to the lengths known now.
"""

from __future__ import annotations

from dataclasses import replace

from django.db import transaction

from planner.core.lays.problems import CannotPlan
from planner.core.lays.wishes import PlanFacts, facts_to_json
from planner.cutting.actions.choices import CHANGED, Chosen, no_choice_any_more
from planner.cutting.actions.judging import judge_plans
from planner.cutting.actions.laying import lock
from planner.cutting.actions.situation import read_situation, stamp_of
from planner.cutting.cut_plans import aim_by_anew, facts_of, store_facts
from planner.cutting.demand import batch_demand
from planner.cutting.figures_since import are_others_now
from planner.cutting.judged_plans import Judged, buys_more_mm
from planner.cutting.models import Batch, CutPlan
from planner.cutting.narrow_cloth import wider_than_cloth
from planner.cutting.stored import shop_of
from planner.cutting.tasks import queue_look_again, queue_settling

#: The worker may think so long about a batch (s): what is asked for meanwhile waits for it.
SECONDS = 4.0
NOTHING_SINCE = "No better plan is known any more; look at what stands there now."


def ask_those_alike(batch: Batch) -> None:
    """Asks for a look at every batch cut from a cloth of this one, itself among them, of which nothing is cut yet."""
    fabrics = batch.cut_plans.values("fabric")
    alike = Batch.objects.filter(state=Batch.State.PLANNED, cut_plans__fabric__in=fabrics)
    for pk in alike.order_by("pk").values_list("pk", flat=True).distinct():
        queue_look_again(pk)


def look_again(pk: int) -> str:
    """Notes with each plan of a settled batch what a better one comes to that is known by now. Returns what was found,
    in a few words.
    """
    batch = Batch.objects.filter(pk=pk, state=Batch.State.PLANNED).first()
    if batch is None or batch.lays.begun().exists():
        return "not planned, or cut"
    if batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
        # Once it is settled it is asked for again.
        return "not settled"
    seen = read_situation(batch)
    if seen is None or not all(lay.row.marker.is_final for lay in seen.lays):
        return "being nested"
    try:
        # What is best by stock is offered beside the plan, not looked for in its place.
        found = judge_plans(seen, seen.plans, is_first=False, seconds=SECONDS, may_turn=False)
        judged = {one.fabric: one for one in found}
    except CannotPlan:
        return "nothing better"
    with transaction.atomic():
        if stamp_of(lock(batch)) != seen.stamp:
            return "changed meanwhile"
        for one in seen.plans:
            found, told = judged.get(one.plan.fabric.name), facts_of(one.plan)
            # What was planned with other figures of the workroom goes on telling of those.
            others = are_others_now(told, one.plan.fabric.name, seen.shop)
            if found is not None and told is not None and not others:
                _note(one.plan, told, found)
    return "a better plan is known" if any(one.is_new for one in judged.values()) else "nothing better"


def _note(plan: CutPlan, told: PlanFacts, found: Judged) -> None:
    """What the plan that stands says of itself, and what a better one comes to where there is one.

    What was proven when there was more time is kept, unless a plan is known that is better by more than was left open
    then.
    """
    if (
        not found.is_new
        and not found.is_sure
        and found.lost <= (told.gap_share or 0.0)
        and told.since is None
    ):
        # What is bought for want of long pieces follows from what lies there now.
        _store(plan, told, replace(told, stock=found.facts.stock))
        return
    kept = (found.kept or told) if found.is_new else found.facts
    since = found.facts.best if found.is_new and found.facts.best != kept.best else None
    bought = found.facts.stock if since and buys_more_mm(found.facts, kept) is not None else None
    buys_mm = bought.buys_mm if bought else None
    _store(plan, told, replace(kept, since=since, since_buys_mm=buys_mm, singles_done=told.singles_done))


def _store(plan: CutPlan, told: PlanFacts, now: PlanFacts) -> None:
    """Writes what a plan says of itself now, unless it was changed meanwhile."""
    row = CutPlan.objects.filter(pk=plan.pk, state=CutPlan.State.SETTLED, facts=plan.facts).first()
    if row is None or facts_to_json(now) == facts_to_json(told):
        return
    store_facts(row, now)
    row.save(update_fields=["facts", "is_proven", "gap_share", "method"])


def _is_made_otherwise(batch: Batch, plan: CutPlan, told: PlanFacts) -> bool:
    """Whether the plan was made with other figures; where an earlier version did not note the width of the cloth,
    whether its lays are wider than that is now.
    """
    shop = shop_of(batch, batch_demand(batch))
    if are_others_now(told, plan.fabric.name, shop):
        return True
    lays = batch.lays.filter(cloths__fabric_colour__fabric=plan.fabric_id).distinct()
    return bool(wider_than_cloth(lays.for_page(), shop.cloths))


@transaction.atomic
def plan_once_more(batch: Batch, plan_pk: int) -> Chosen:
    """Has a settled plan settled anew, where a better one is known or figures of the workroom have changed. It ends
    with a better plan or the present one.
    """
    batch = lock(batch)
    if batch.state != Batch.State.PLANNED or batch.lays.begun().exists():
        return no_choice_any_more(batch, "since")
    plan = batch.cut_plans.filter(pk=plan_pk).first()
    if plan is None:
        return Chosen(CHANGED, "since", meanwhile=True)
    told = facts_of(plan)
    if plan.state != CutPlan.State.SETTLED or told is None:
        return Chosen(NOTHING_SINCE, "since")
    if _is_made_otherwise(batch, plan, told):
        # What was found with other figures says nothing of now: better lays are looked for from the start.
        plan.state = CutPlan.State.QUICK
        if plan.aim_by == CutPlan.AimBy.STOCK:
            plan.aim, plan.aim_by = CutPlan.Aim.MONEY, CutPlan.AimBy.NOBODY
    elif told.since is None:
        return Chosen(NOTHING_SINCE, "since")
    else:
        store_facts(
            plan, replace(told, since=None, since_buys_mm=None, before=told.plans[0] if told.plans else ())
        )
        plan.state = CutPlan.State.NESTING
    plan.aim_by, plan.rounds = aim_by_anew(plan), 0
    plan.save()
    queue_settling(batch.pk)
    return Chosen()
