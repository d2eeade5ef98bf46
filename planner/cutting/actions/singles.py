"""What plans are held against, nested like their own lays: every size in lays of its own.

It gives way to everything that is to be cut: one marker is nested at a time, for a few seconds, when nothing else
waits, and what comes meanwhile stops it. A marker that was nested once is never nested again, whoever asked for it.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from django.db import transaction
from django.db.models import Exists, OuterRef

from planner.core.lays.nest import seconds_for
from planner.core.lays.problems import CannotPlan
from planner.core.lays.single_sizes import job_of, single_outcome, still_to_nest, with_lengths
from planner.core.lays.stored import marker_key
from planner.core.lays.wishes import PlanFacts, facts_to_json
from planner.core.spec import Workshop
from planner.cutting.actions.found_since import ask_those_alike
from planner.cutting.actions.judging import judge_plans
from planner.cutting.actions.laying import lock
from planner.cutting.actions.nesting import nest_one
from planner.cutting.actions.situation import read_situation, stamp_of
from planner.cutting.cut_plans import facts_of, nested_lengths, store_facts
from planner.cutting.demand import batch_demand
from planner.cutting.figures_since import are_others_now
from planner.cutting.marker_store import make_marker
from planner.cutting.models import Batch, CutPlan, Lay, Marker
from planner.cutting.stored import shop_of
from planner.cutting.tasks import BESIDE, queue_singles, waits_before
from planner.cutting.why import is_to_follow

#: No single size is nested for longer (s), which is about what a lay of a batch has: few pieces are as short then as
#: they ever will be.
MOST_SECONDS = 2.5
#: So many markers of a plan are nested at most; beyond, single sizes stay estimates and are called so.
MOST_MARKERS = 40


def nest_next(batch_pk: int) -> str:
    """Nests the next of the single sizes that a batch's settled plans are held against; what was done, in a few words.

    Where none is left, what is saved is told anew, and looked whether what was nested makes better plans known of this
    batch or another. It asks to be called again as long as something is open, so that
    whatever is more urgent comes in between.
    """
    batch = Batch.objects.planned_not_cut().filter(pk=batch_pk).first()
    plans = [] if batch is None else list(batch.cut_plans.all())
    if batch is None or any(plan.state != CutPlan.State.SETTLED for plan in plans):
        # Once all plans of a batch stand it is asked for again.
        return "not settled"
    told = [(plan, facts_of(plan)) for plan in plans]
    follow = [(plan, facts) for plan, facts in told if facts is not None and is_to_follow(facts)]
    if not follow:
        ask_those_alike(batch)
        return "nothing to nest"
    shop = shop_of(batch, batch_demand(batch))
    for _, facts in follow:
        row = _next_marker(facts, shop)
        if row is not None:
            try:
                return nest_one(row.pk, gives_way=partial(waits_before, BESIDE))
            finally:
                # Whatever breaks down over one marker, which has failed then, the others are nested.
                queue_singles(batch.pk)
    told_now = [_tell(batch, plan, facts, shop) for plan, facts in follow]
    if any(facts is not None and _beats(facts) for facts in told_now):
        _judge_again(batch)
    ask_those_alike(batch)
    return "told anew"


def _next_marker(facts: PlanFacts, shop: Workshop) -> Marker | None:
    """The next marker to be nested, waiting; None where there is none, or enough were.

    One that cannot be nested, or that a lay to be cut asks for as well, is left to itself.
    """
    nested = nested_lengths(facts_keys(facts))
    left = list(still_to_nest(facts.single_lays, nested))
    rows = {
        row.key: row
        for row in Marker.objects.filter(key__in=[one.key for one in left])
        .annotate(to_cut=Exists(Lay.objects.filter(marker=OuterRef("pk"))))
        .defer("job", "placements")
        .order_by("-state", "pk")
    }
    for one in left[: max(0, MOST_MARKERS - len(nested))]:
        row = rows.get(one.key)
        if row is None:
            job = job_of(one, shop)
            # Where cloth or workroom were changed since, the question is another one now.
            if marker_key(job) == one.key:
                return make_marker(job, min(MOST_SECONDS, seconds_for(len(job.items))))
        elif row.state == Marker.State.WAITING and not row.to_cut:
            return row
    return None


@transaction.atomic
def _tell(batch: Batch, plan: CutPlan, facts: PlanFacts, shop: Workshop) -> PlanFacts | None:
    """Tells anew what a plan saves, by the lengths that were nested; None where it was planned meanwhile."""
    lock(batch)
    row = CutPlan.objects.filter(pk=plan.pk, state=CutPlan.State.SETTLED).first()
    if row is None or row.facts != plan.facts:
        queue_singles(batch.pk)
        return None
    nested = nested_lengths(facts_keys(facts))
    single = single_outcome(facts.single_lays, shop, nested)
    facts = replace(
        facts, single=single, single_lays=with_lengths(facts.single_lays, nested), singles_done=True
    )
    row.facts = facts_to_json(facts)
    row.save(update_fields=["facts"])
    return facts


def _beats(facts: PlanFacts) -> bool:
    """Whether single sizes came out better than a plan that is told to be better than all others."""
    cloth = min(one.cloth_mm for one in (facts.best, *facts.others))
    return facts.single.weighs < facts.best.weighs or facts.single.cloth_mm < cloth


def _judge_again(batch: Batch) -> None:
    """Tells all of the plans anew, other aims and how good they are too, by what is known now; no lay is changed."""
    seen = read_situation(batch)
    if seen is None:
        return
    try:
        judged = {one.fabric: one for one in judge_plans(seen, seen.plans, is_first=False, may_change=False)}
    except CannotPlan:
        return
    with transaction.atomic():
        if stamp_of(lock(batch)) != seen.stamp:
            return
        for one in seen.plans:
            told = facts_of(one.plan)
            if are_others_now(told, one.plan.fabric.name, seen.shop):
                continue  # planned with other figures of the workroom, of which it goes on telling
            if (found := judged.get(one.plan.fabric.name)) is not None:
                store_facts(one.plan, replace(found.facts, singles_done=True))
                one.plan.save(update_fields=["facts", "is_proven", "gap_share", "method"])


def facts_keys(facts: PlanFacts) -> set[str]:
    """The keys of the markers of single sizes."""
    return {one.key for one in facts.single_lays}
