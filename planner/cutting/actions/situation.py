"""A planned batch as it was read, and a mark by which one sees that somebody changed its plan since."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import QuerySet

from planner.common.kept_questions import Given, KeptQuestion
from planner.core.lays.wishes import Wishes
from planner.core.spec import Demand, Workshop
from planner.cutting.cut_plans import wishes_of
from planner.cutting.demand import BatchDemand, batch_demand
from planner.cutting.models import Batch, CutPlan, Lay
from planner.cutting.querysets import LayQuerySet
from planner.cutting.reading import BatchPlan, plans_of
from planner.cutting.stored import StoredLay, shop_of, stored_lays


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


def _plans() -> QuerySet[CutPlan]:
    return CutPlan.objects.filter(batch=Given("batch"))


def _lays() -> LayQuerySet:
    return Lay.objects.filter(batch=Given("batch"))


_STAMPS = (
    KeptQuestion(lambda: _plans().values_list("pk", "aim", "aim_by", "most_plies", "state", "rounds")),
    KeptQuestion(lambda: _plans().order_by("choices__pk").values_list("choices__pk")),
    KeptQuestion(
        lambda: _lays().order_by("pk").values_list("pk", "number", "marker_id", "is_kept", "cut_at")
    ),
    KeptQuestion(lambda: _lays().begun().order_by().values_list("batch")[:1]),
)


def stamp_of(batch: Batch) -> Hashable:
    """Changes with the state of the batch, its plans, choices and lays, but not while markers get shorter."""
    return batch.state, batch.planned_at, *(tuple(one.ask(batch=batch.pk)) for one in _STAMPS)


def look(pk: int) -> Situation | None:
    """A planned batch of which nothing is cut, with at least one plan that is not settled; else None."""
    batch = Batch.objects.filter(pk=pk).first()
    if batch is None or not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
        return None
    return read_situation(batch)


#: So often a batch is read without holding it.
TRIES = 3


def read_situation(batch: Batch) -> Situation | None:
    """A planned batch with its plans and lays as they are now; None where it is not planned (or cut already).

    Reading a large batch takes seconds, in which nobody else could write if it were held. So it is read freely, and
    again where it changed meanwhile; only in the end it is held.
    """
    for _ in range(TRIES):
        seen = _read(batch)
        if seen is None or stamp_of(Batch.objects.get(pk=batch.pk)) == seen.stamp:
            return seen
    with transaction.atomic():
        return _read(batch)


def _read(batch: Batch) -> Situation | None:
    batch = Batch.objects.get(pk=batch.pk)
    if batch.state != Batch.State.PLANNED:
        return None
    stamp = stamp_of(batch)
    plans = plans_of(batch)
    lays = tuple(stored_lays(batch.lays.with_everything()))
    demand = batch_demand(batch)
    return Situation(batch, plans, lays, demand, shop_of(batch, demand), stamp)


def wanted_of(demand: BatchDemand, *, all_fabrics: bool) -> tuple[Demand, ...]:
    """What is planned for: with the extra ones to be decided where all fabrics are, else with those that were."""
    return demand.ordered if all_fabrics else demand.demand
