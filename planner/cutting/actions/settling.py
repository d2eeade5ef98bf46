"""Settling a batch's cut plans: choose, nest what was chosen, look whether the real lengths change the choice, again.

Each step begins from what stands in the database and may be run again from the start. It reckons without holding
anything; what it writes it writes in one transaction with the batch locked, and only if nothing of the plan has been
changed meanwhile. So two workers never both write, and one that was cut off left nothing half done.
"""

from __future__ import annotations

import logging
from collections import defaultdict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

from django.db import transaction

from planner.core.lays.cut_plans import FabricPlan, Lengths
from planner.core.lays.learnt import learnt_from
from planner.core.lays.model import PlannedLay
from planner.core.lays.problems import CannotPlan
from planner.core.lays.wishes import Wishes, facts_from_json
from planner.core.spec import Demand, Workshop
from planner.cutting.actions.laying import lock, nesting_seconds, nesting_shares, put_lays
from planner.cutting.actions.rolling import deal_rolls, think
from planner.cutting.cut_plans import (
    Judged,
    decide,
    is_better,
    is_same,
    judge,
    lengths_for,
    stays,
    store_facts,
    too_long,
    wishes_of,
)
from planner.cutting.demand import BatchDemand, batch_demand
from planner.cutting.models import Batch, CutPlan, Marker
from planner.cutting.reading import BatchPlan, plans_of
from planner.cutting.stored import StoredLay, shop_of, stored_lay
from planner.cutting.tasks import FIRST_SEED, POLISH_SEED, queue_nesting, queue_settling
from planner.materials.models import Workroom

log = logging.getLogger(__name__)

#: The worker may think so long about the choice of lays (s); about what an existing plan comes to, so long.
FULL_SECONDS, RECKON_SECONDS = 10.0, 3.0
#: Real lengths change the choice at most so often; more often only where a lay does not fit the table.
MOST_ROUNDS, MOST_ROUNDS_TOO_LONG = 3, 12
#: In the end a marker that was not nested must promise to be shorter by this share.
DOUBT = 0.1


@dataclass(frozen=True)
class Situation:
    """A batch with its plans and lays as they were read; `stamp` is another one after any change of them."""

    batch: Batch
    plans: tuple[BatchPlan, ...]
    lays: tuple[StoredLay, ...]
    demand: BatchDemand
    shop: Workshop
    stamp: Hashable

    def lays_of(self, plan: CutPlan) -> tuple[StoredLay, ...]:
        """The lays of a plan's fabric."""
        return tuple(lay for lay in self.lays if lay.planned.fabric == plan.fabric.name)

    def wishes(self, one: BatchPlan) -> Wishes:
        """What the maker wants of a plan."""
        kept = [lay.planned for lay in self.lays_of(one.plan) if lay.row.is_kept]
        return wishes_of(one.plan, one.choices, kept)


def stamp_of(batch: Batch) -> Hashable:
    """Changes with the state of the batch, its plans, choices and lays, but not while markers get shorter."""
    return (
        batch.state,
        batch.planned_at,
        tuple(batch.cut_plans.values_list("pk", "aim", "most_plies", "state", "rounds")),
        tuple(batch.cut_plans.values_list("choices__pk", flat=True).order_by("choices__pk")),
        tuple(batch.lays.order_by("pk").values_list("pk", "number", "marker_id", "is_kept", "cut_at")),
        batch.lays.begun().exists(),
    )


def look(pk: int) -> Situation | None:
    """A planned batch of which nothing is cut, with at least one plan that is not settled; else None."""
    batch = Batch.objects.filter(pk=pk).first()
    if batch is None or not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
        return None
    return read_situation(batch)


@transaction.atomic
def read_situation(batch: Batch) -> Situation | None:
    """A planned batch with its plans and lays as they are now; None where it is not planned (or cut already)."""
    batch = Batch.objects.get(pk=batch.pk)
    if batch.state != Batch.State.PLANNED:
        return None
    stamp = stamp_of(batch)
    plans = plans_of(batch)
    lays = tuple(stored_lay(row) for row in batch.lays.with_everything())
    demand = batch_demand(batch)
    return Situation(batch, plans, lays, demand, shop_of(batch, demand), stamp)


def settle(pk: int) -> str:
    """Goes on with the plans of a batch as far as they can be taken now; what was done, in a few words."""
    if freeze_cut(pk):
        return "cut, so it stays"
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


def settle_as_it_is(pk: int) -> str:
    """Lets the plans of a batch stand with the lengths that were nested, though other lays might be better."""
    seen = look(pk)
    if seen is None:
        return "nothing to settle"
    if not all(lay.row.marker.is_final for lay in seen.lays):
        return "being nested"
    try:
        judged = _judge(seen, seen.plans, is_first=False, may_change=False)
    except CannotPlan as refusal:
        return _stay(seen, seen.plans, str(refusal))
    return _write_step(seen, seen.plans, judged, is_first=False)


def reckon_again(pk: int) -> str:
    """What settled plans come to, and the rolls of their lays, by lengths that changed since; no lay is changed."""
    batch = Batch.objects.filter(pk=pk).first()
    seen = read_situation(batch) if batch is not None else None
    if seen is None or not seen.plans or not all(lay.row.marker.is_final for lay in seen.lays):
        return "nothing to settle"
    try:
        judged = _judge(seen, seen.plans, is_first=False, may_change=False)
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
    """Lets the plans of a batch stand once something of it is cut; whether that is so."""
    batch = Batch.objects.filter(pk=pk).first()
    if batch is None or not batch.lays.begun().exists():
        return False
    open_plans = batch.cut_plans.exclude(state=CutPlan.State.SETTLED)
    if open_plans.exists():
        lays = [stored_lay(row) for row in batch.lays.filter(cut_at=None).with_everything()]
        text = "longer than the table, and not divided because a lay of this batch is cut already"
        _say(too_long(lays, _table_mm()), text)
        open_plans.update(state=CutPlan.State.SETTLED)
    return True


def _take_step(seen: Situation, open_plans: Sequence[BatchPlan], *, is_first: bool) -> str:
    """Plans these fabrics again with all that is known, and writes what comes of it."""
    if seen.demand.may_have_extra:
        # How many more are cut is decided by one cloth and holds for all.
        open_plans = seen.plans
    try:
        judged = _judge(seen, open_plans, is_first=is_first)
    except CannotPlan as refusal:
        return _stay(seen, open_plans, str(refusal))
    except Exception:
        # Whatever broke down, the lays there are can be cut; the log tells the rest.
        log.exception("the cut plan of batch %s could not be reckoned again", seen.batch.number)
        return _stay(seen, open_plans, "the plan could not be reckoned again")
    if not is_first and not any(one.is_new for one in judged) and polish(seen, open_plans):
        return "polishing"
    return _write_step(seen, open_plans, judged, is_first=is_first)


def polish(seen: Situation, open_plans: Sequence[BatchPlan]) -> int:
    """Nests the lays that were chosen for a second time, now that it is worth it; how many.

    Until then they were nested just long enough to compare them. One from the store may have been polished before: its
    seed says so.
    """
    lays = [lay for one in open_plans for lay in seen.lays_of(one.plan)]
    shares = nesting_shares([lay.planned for lay in lays], nesting_seconds(0))
    with transaction.atomic():
        batch = lock(seen.batch)
        if stamp_of(batch) != seen.stamp:
            return 0
        asked = 0
        for lay, seconds in zip(lays, shares, strict=True):
            row = lay.row.marker
            plain = Marker.objects.filter(pk=row.pk, seed=FIRST_SEED, state=Marker.State.READY)
            if plain.update(state=Marker.State.WAITING, seconds=seconds, seed=POLISH_SEED, message=""):
                row.seconds = seconds
                queue_nesting(row)
                asked += 1
    return asked


def _write_step(
    seen: Situation, open_plans: Sequence[BatchPlan], judged: Sequence[Judged], *, is_first: bool
) -> str:
    """Writes what was judged, and the rolls where that ends it, unless the plan was changed meanwhile."""
    ends = not is_first and not any(one.is_new for one in judged)
    thought = think(seen.batch, seen.lays, seen.shop) if ends and _is_last(seen, open_plans) else None
    with transaction.atomic():
        batch = lock(seen.batch)
        if stamp_of(batch) != seen.stamp:
            queue_settling(batch.pk)
            return "changed meanwhile"
        _write(seen, batch, open_plans, judged, is_first=is_first)
        if ends:
            _say(
                too_long(seen.lays, seen.shop.table_length_mm),
                "longer than the table, and nothing shorter was found",
            )
        if thought is not None:
            deal_rolls(batch, seen.lays, seen.shop, thought)
        from planner.cutting.actions.planning import refresh_needs

        refresh_needs(batch)
    return "settled" if ends else "planned again" if any(one.is_new for one in judged) else "goes on"


def _judge(
    seen: Situation, open_plans: Sequence[BatchPlan], *, is_first: bool, may_change: bool = True
) -> list[Judged]:
    """What is to become of the lays of each of these plans. Raises CannotPlan where nothing can."""
    names = [one.plan.fabric.name for one in open_plans]
    lengths = lengths_now(seen, names)
    wishes = {one.plan.fabric.name: seen.wishes(one) for one in open_plans}
    demand = wanted_of(seen.demand, all_fabrics=len(open_plans) == len(seen.plans))
    found = decide(
        demand, seen.shop, wishes=wishes, lengths=lengths, only=names, seconds=FULL_SECONDS, compare=not is_first
    )  # fmt: skip
    by_name = {plan.fabric: plan for plan in found}
    judged = []
    for one in open_plans:
        new, there = by_name.get(one.plan.fabric.name), seen.lays_of(one.plan)
        if new is None:
            continue
        long_ones = too_long(there, seen.shop.table_length_mm)
        rounds = MOST_ROUNDS_TOO_LONG if long_ones else MOST_ROUNDS
        planned = [lay.planned for lay in there]
        reckoned = None if long_ones and may_change else _reckoned(seen, one, planned)
        if may_change and (is_first or one.plan.rounds < rounds):
            judged.append(judge(new, planned, reckoned))
        elif reckoned is not None:
            nested = _best_of_nested(seen, one, lengths) if may_change else None
            if nested is not None and is_better(nested.facts, reckoned.facts):
                judged.append(Judged(nested.fabric, nested.lays, nested.facts, is_new=True))
            else:
                judged.append(stays(new, planned, reckoned))
    if may_change and seen.demand.may_have_extra and any(one.is_new for one in judged):
        # All or none: what one cloth cuts more the others must cut too.
        judged = [replace(one, lays=by_name[one.fabric].lays, is_new=True) for one in judged]
    return judged


def _best_of_nested(seen: Situation, one: BatchPlan, lengths: Lengths) -> FabricPlan | None:
    """The best plan of markers that were nested on the way; None where it is the one there is.

    It ends the rounds: a plan that was nested and given up for an estimate that did not hold is taken up again.
    """
    name = one.plan.fabric.name
    try:
        found = decide(
            wanted_of(seen.demand, all_fabrics=False), seen.shop, wishes={name: seen.wishes(one)},
            lengths=replace(lengths, doubt=DOUBT), only=[name], seconds=RECKON_SECONDS,
        )  # fmt: skip
    except CannotPlan:
        return None
    there = [lay.planned for lay in seen.lays_of(one.plan)]
    if not found or found[0].facts.nested < found[0].facts.best.lays or is_same(found[0].lays, there):
        return None
    return found[0]


def lengths_now(seen: Situation, fabrics: Sequence[str]) -> Lengths:
    """All that is known of lengths. Where lays of this batch are nested, others are estimated by what those reached.

    Else a marker that nobody has nested always looked a little better than those that were nested for a few seconds.
    """
    known = lengths_for(fabrics)
    samples: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for lay in seen.lays:
        row = lay.row.marker
        if row.is_final and row.efficiency:
            samples[lay.planned.fabric].append((lay.planned.garments_per_marker, row.efficiency))
    own = learnt_from({name: samples[name] for name in fabrics if samples[name]}, HOW_OWN)
    return Lengths(known.nested, {**known.learnt, **own})


#: Where estimates come from once lays of the batch are nested.
HOW_OWN = "the lays of this batch that are nested"


def wanted_of(demand: BatchDemand, *, all_fabrics: bool) -> tuple[Demand, ...]:
    """What is planned for: with the extra ones to be decided where all fabrics are, else with those that were."""
    return demand.ordered if all_fabrics else demand.demand


def _reckoned(seen: Situation, one: BatchPlan, there: Sequence[PlannedLay]) -> FabricPlan | None:
    """The plan there is, with what it comes to by the lengths that are known now; None where it cannot be cut."""
    name = one.plan.fabric.name
    wishes = replace(seen.wishes(one), keep=tuple(there))
    try:
        found = decide(
            wanted_of(seen.demand, all_fabrics=False), seen.shop, wishes={name: wishes},
            lengths=lengths_now(seen, [name]), only=[name], seconds=RECKON_SECONDS,
        )  # fmt: skip
    except CannotPlan:
        return None
    return found[0] if found and is_same(found[0].lays, there) else None


def _write(
    seen: Situation,
    batch: Batch,
    open_plans: Sequence[BatchPlan],
    judged: Sequence[Judged],
    *,
    is_first: bool,
) -> None:
    """Lays, plans and what they say of themselves; the worker is asked to go on where something is open."""
    by_name = {one.fabric: one for one in judged}
    if any(one.is_new for one in judged):
        wanted = [lay.planned for lay in seen.lays if lay.planned.fabric not in by_name]
        wanted += [lay for one in judged for lay in one.lays]
        rounds = max((one.plan.rounds for one in open_plans), default=0)
        put_lays(batch, wanted, seen.shop, seconds=nesting_seconds(rounds if is_first else rounds + 1))
    for one in open_plans:
        found = by_name.get(one.plan.fabric.name)
        if found is not None:
            store_facts(one.plan, found.facts)
        is_new = found is not None and found.is_new
        if is_new and not is_first:
            one.plan.rounds += 1
        goes_on = is_first or is_new
        one.plan.state = CutPlan.State.NESTING if goes_on else CutPlan.State.SETTLED
        one.plan.save()
    if any(one.plan.state != CutPlan.State.SETTLED for one in open_plans):
        queue_settling(batch.pk)


def _is_last(seen: Situation, open_plans: Sequence[BatchPlan]) -> bool:
    """Whether the batch is settled once these plans are."""
    ours = {one.plan.pk for one in open_plans}
    return all(one.plan.state == CutPlan.State.SETTLED or one.plan.pk in ours for one in seen.plans)


def _stay(seen: Situation, open_plans: Sequence[BatchPlan], why: str) -> str:
    """Nothing better can be had: the lays stay, and those that are too long say why."""
    lays = [lay for one in open_plans for lay in seen.lays_of(one.plan)]
    thought = think(seen.batch, seen.lays, seen.shop) if _is_last(seen, open_plans) else None
    with transaction.atomic():
        batch = lock(seen.batch)
        if stamp_of(batch) != seen.stamp:
            queue_settling(batch.pk)
            return "changed meanwhile"
        _say(too_long(lays, seen.shop.table_length_mm), why)
        is_nested = all(lay.row.marker.is_final for lay in lays)
        state = CutPlan.State.SETTLED if is_nested else CutPlan.State.NESTING
        CutPlan.objects.filter(pk__in=[one.plan.pk for one in open_plans]).update(state=state)
        if thought is not None and is_nested:
            deal_rolls(batch, seen.lays, seen.shop, thought)
        if not is_nested:
            queue_settling(batch.pk)
    return "stays as it is"


def _say(lays: Sequence[StoredLay], text: str) -> None:
    Marker.objects.filter(pk__in=[lay.row.marker_id for lay in lays]).update(message=text[:300])


def _table_mm() -> float:
    return float(Workroom.the().table_length_mm)
