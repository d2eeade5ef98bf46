"""Where bundles stand, derived from the last event of each step, in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from django.db.models import Prefetch, QuerySet

from planner.cutting.models import BatchOperation, Bundle
from planner.sewing.models import ProgressEvent
from planner.styles.models import Option


class Stage(StrEnum):
    """How far a bundle is; the value is said as it stands."""

    TABLE = "not cut yet"
    CUT = "cut"
    SEWING = "being sewn"
    SEWN = "sewn"
    CHECKED = "checked"


class Tick(NamedTuple):
    """As much of an event as a list needs; making whole rows of thousands of events takes longer."""

    pk: int
    done: bool


@dataclass(frozen=True)
class Step:
    """One thing to do to a bundle, with the event that counts; `operation` is None for the check at the end."""

    operation: BatchOperation | None
    event: ProgressEvent | Tick | None

    @property
    def done(self) -> bool:
        """Ticked and not taken back."""
        return self.event is not None and self.event.done


@dataclass(frozen=True)
class BundleState:
    """A bundle with its operations in order and the check at the end."""

    bundle: Bundle
    is_cut: bool
    steps: tuple[Step, ...]
    check: Step

    @cached_property
    def steps_done(self) -> int:
        """Operations that are ticked."""
        return sum(step.done for step in self.steps)

    @property
    def is_sewn(self) -> bool:
        """Every operation is ticked."""
        return self.steps_done == len(self.steps)

    @cached_property
    def stage(self) -> Stage:
        """How far it is."""
        if not self.is_cut:
            return Stage.TABLE
        if self.is_sewn:
            return Stage.CHECKED if self.check.done else Stage.SEWN
        return Stage.SEWING if self.steps_done else Stage.CUT

    @property
    def next_operation(self) -> BatchOperation | None:
        """The first operation that is not ticked."""
        return next((step.operation for step in self.steps if not step.done), None)

    @property
    def minutes_left(self) -> float:
        """Standard minutes of all operations not ticked, for all its garments; set-up left out."""
        each = sum(float(s.operation.standard_minutes) for s in self.steps if s.operation and not s.done)
        return each * self.bundle.quantity

    def step_of(self, operation: BatchOperation | None) -> Step | None:
        """The step of an operation (the check for None); None where the bundle does not have it."""
        if operation is None:
            return self.check
        return next((s for s in self.steps if s.operation and s.operation.pk == operation.pk), None)

    @property
    def last_operation(self) -> BatchOperation | None:
        """The operation ticked last of those that are done."""
        done = [step for step in self.steps if step.done]
        return max(done, key=lambda step: step.event.pk if step.event else 0).operation if done else None


def read_states(
    bundles: QuerySet[Bundle], *, with_people: bool = False, with_names: bool = True
) -> list[BundleState]:
    """The state of every bundle of a query, in its order, in four queries.

    Bundles come with options, style, size, colourway and thread unless `with_names` is off. Events come with the
    person on request, and their bundles with batch, lay, order and details too: that is for a bundle or two, as
    making so many rows for hundreds takes longer than finding them.
    """
    whole = bundles.with_cut()
    options = Option.objects.order_by("detail__position", "position")
    if with_names:
        whole = whole.select_related("style", "size", "colourway__thread__notion")
    if with_people:
        whole = whole.select_related("batch", "lay", "line__order__customer")
        options = options.select_related("detail")
    if with_names:
        whole = whole.prefetch_related(Prefetch("options", queryset=options))
    rows = list(whole)
    if not rows:
        return []
    chosen = _chosen(rows) if with_names else _chosen_by_key(bundles)
    operations = _operations({row.batch_id for row in rows})
    events = ProgressEvent.objects.last_of(bundles).order_by()
    last: dict[tuple[int, int | None], ProgressEvent | Tick]
    if with_people:
        whole_events = events.select_related("person")
        last = {(event.bundle_id, event.operation_id): event for event in whole_events}
    else:
        ticks = events.values_list("bundle_id", "operation_id", "pk", "done")
        last = {(bundle, operation): Tick(pk, done) for bundle, operation, pk, done in ticks}
    return [_state(row, operations[row.batch_id, row.style_id], chosen[row.pk], last) for row in rows]


def state_of(bundle: Bundle) -> BundleState:
    """One bundle with who ticked what."""
    return read_states(Bundle.objects.filter(pk=bundle.pk), with_people=True)[0]


def _operations(batches: Iterable[int]) -> dict[tuple[int, int], list[BatchOperation]]:
    """Operations in their order by batch and style."""
    found: dict[tuple[int, int], list[BatchOperation]] = defaultdict(list)
    for row in BatchOperation.objects.filter(batch__in=batches).order_by("position", "pk"):
        found[row.batch_id, row.style_id].append(row)
    return found


def _chosen(rows: Iterable[Bundle]) -> dict[int, set[int | None]]:
    """Keys of the options of each bundle, and None: an operation without an option belongs to all."""
    return {row.pk: {None, *(option.pk for option in row.options.all())} for row in rows}


def _chosen_by_key(bundles: QuerySet[Bundle]) -> dict[int, set[int | None]]:
    """The same where nothing but the keys is wanted."""
    chosen: dict[int, set[int | None]] = defaultdict(lambda: {None})
    within = Bundle.options.through.objects.filter(bundle__in=bundles.order_by().values("pk"))
    for bundle, option in within.values_list("bundle_id", "option_id"):
        chosen[bundle].add(option)
    return chosen


def _state(
    bundle: Bundle,
    operations: list[BatchOperation],
    chosen: set[int | None],
    last: dict[tuple[int, int | None], ProgressEvent | Tick],
) -> BundleState:
    steps = tuple(Step(one, last.get((bundle.pk, one.pk))) for one in operations if one.option_id in chosen)
    return BundleState(bundle, bundle.is_cut, steps, Step(None, last.get((bundle.pk, None))))
