"""Where bundles stand, derived from the last event of each step, in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from django.db.models import Prefetch, QuerySet, Value

from planner.common.shared_rows import read_shared
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


class ListedOperation(NamedTuple):
    """As much of an operation as a list needs, for the same reason."""

    pk: int
    batch_id: int
    style_id: int
    option_id: int | None
    name: str
    machine: str
    standard_minutes: Decimal


#: An operation of a batch, whole or as a list has it.
Operation = BatchOperation | ListedOperation


class Step(NamedTuple):
    """One thing to do to a bundle, with the event that counts; `operation` is None for the check at the end."""

    operation: Operation | None
    event: ProgressEvent | Tick | None

    @property
    def done(self) -> bool:
        """Ticked and not taken back."""
        return self.event is not None and self.event.done


@dataclass(frozen=True)
class BundleState:
    """A bundle with its operations in order and the check at the end; `options` are its own, key and name."""

    bundle: Bundle
    is_cut: bool
    steps: tuple[Step, ...]
    check: Step
    options: tuple[tuple[int, str], ...] = ()

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
    def next_operation(self) -> Operation | None:
        """The first operation that is not ticked."""
        return next((step.operation for step in self.steps if not step.done), None)

    @property
    def minutes_left(self) -> float:
        """Standard minutes of all operations not ticked, for all its garments; set-up left out."""
        each = sum(float(s.operation.standard_minutes) for s in self.steps if s.operation and not s.done)
        return each * self.bundle.quantity

    def step_of(self, operation: Operation | None) -> Step | None:
        """The step of an operation (the check for None); None where the bundle does not have it."""
        if operation is None:
            return self.check
        return next((s for s in self.steps if s.operation and s.operation.pk == operation.pk), None)

    @property
    def last_operation(self) -> Operation | None:
        """The operation ticked last of those that are done."""
        done = [step for step in self.steps if step.done]
        return max(done, key=lambda step: step.event.pk if step.event else 0).operation if done else None


def read_states(
    bundles: QuerySet[Bundle], *, with_people: bool = False, with_names: bool = True
) -> list[BundleState]:
    """The state of every bundle of a query, in its order, in four queries.

    Bundles come with the names of style, size, colourway and thread unless `with_names` is off. Events come with the
    person on request, and their bundles with batch, lay, order, options and details too: that is for a bundle or two,
    as making so many rows for hundreds takes longer than finding them.
    """
    whole = bundles.with_cut()
    if with_people:
        options = Option.objects.order_by("detail__position", "position").select_related("detail")
        whole = whole.select_related("style", "size", "colourway__thread__notion", "batch", "lay", *_ORDER)
        rows = list(whole.prefetch_related(Prefetch("options", queryset=options)))
    elif with_names:
        rows = read_shared(whole, _NAMES, own=_BUNDLE, noted=["is_cut"])
    else:
        rows = list(whole)
    if not rows:
        return []
    options_of = _options_of(rows) if with_people else _options_by_key(bundles, with_names=with_names)
    operations = _operations({row.batch_id for row in rows}, whole=with_people)
    events = ProgressEvent.objects.last_of(bundles).order_by()
    last: dict[tuple[int, int | None], ProgressEvent | Tick]
    if with_people:
        whole_events = events.select_related("person")
        last = {(event.bundle_id, event.operation_id): event for event in whole_events}
    else:
        ticks = events.values_list("bundle_id", "operation_id", "pk", "done")
        last = {(bundle, operation): Tick(pk, done) for bundle, operation, pk, done in ticks}
    return [_state(row, operations[row.batch_id, row.style_id], options_of[row.pk], last) for row in rows]


#: As much of a bundle and of what it is as a list shows: whole rows of hundreds take longer to make than to find.
_BUNDLE = ("batch", "number", "token", "lay", "line", "style", "colourway", "size", "quantity", "shade_lot")
_NAMES = {
    "style": ("number", "name"),
    "size": ("name", "position"),
    "colourway": ("name",),
    "colourway__thread": ("name", "swatch"),
    "colourway__thread__notion": ("name",),
}
_ORDER = ("line__order__customer",)

#: The options of bundles by their keys, each with key and name.
OptionsOf = Mapping[int, tuple[tuple[int, str], ...]]


def state_of(bundle: Bundle) -> BundleState:
    """One bundle with who ticked what."""
    return read_states(Bundle.objects.filter(pk=bundle.pk), with_people=True)[0]


def _operations(batches: Iterable[int], *, whole: bool) -> dict[tuple[int, int], list[Operation]]:
    """Operations in their order by batch and style."""
    found: dict[tuple[int, int], list[Operation]] = defaultdict(list)
    rows = BatchOperation.objects.filter(batch__in=batches).order_by("position", "pk")
    listed = rows.values_list(*ListedOperation._fields)
    for row in rows if whole else map(ListedOperation._make, listed):
        found[row.batch_id, row.style_id].append(row)
    return found


def _options_of(rows: Iterable[Bundle]) -> OptionsOf:
    """The options of bundles that were read with them."""
    return {row.pk: tuple((option.pk, option.name) for option in row.options.all()) for row in rows}


def _options_by_key(bundles: QuerySet[Bundle], *, with_names: bool) -> OptionsOf:
    """The same from the keys of the bundles, without a row for each; names are "" unless they are asked for."""
    found: dict[int, tuple[tuple[int, str], ...]] = defaultdict(tuple)
    within = Bundle.options.through.objects.filter(bundle__in=bundles.order_by().values("pk"))
    if with_names:
        within = within.order_by("option__detail__position", "option__position")
    name = "option__name" if with_names else Value("")
    for bundle, option, words in within.values_list("bundle_id", "option_id", name):
        found[bundle] += ((option, words),)
    return found


def _state(
    bundle: Bundle,
    operations: list[Operation],
    options: tuple[tuple[int, str], ...],
    last: dict[tuple[int, int | None], ProgressEvent | Tick],
) -> BundleState:
    # An operation without an option belongs to all.
    chosen, pk = {None, *(key for key, _ in options)}, bundle.pk
    steps = tuple(Step(one, last.get((pk, one.pk))) for one in operations if one.option_id in chosen)
    return BundleState(bundle, bundle.is_cut, steps, Step(None, last.get((pk, None))), options)
