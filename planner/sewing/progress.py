"""Where bundles stand, derived from the last event of each step, in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from typing import Any, NamedTuple

from django.db.models import Prefetch, QuerySet

from planner.common.kept_questions import KeptQuestion
from planner.common.shared_rows import KeptShared, read_shared
from planner.cutting.models import Batch, BatchOperation, Bundle
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


def read_states(bundles: QuerySet[Bundle], *, with_people: bool = False) -> list[BundleState]:
    """The state of every bundle of a query, in its order, in four queries.

    Bundles come with the names of style, size, colourway and thread. Events come with the person on request, and their
    bundles with batch, lay, order, options and details too: that is for a bundle or two, as making so many rows for
    hundreds takes longer than finding them.
    """
    whole = bundles.with_cut()
    if with_people:
        options = Option.objects.order_by("detail__position", "position").select_related("detail")
        whole = whole.select_related("style", "size", "colourway__thread__notion", "batch", "lay", *_ORDER)
        rows = list(whole.prefetch_related(Prefetch("options", queryset=options)))
    else:
        rows = read_shared(whole, _NAMES, own=_BUNDLE, noted=["is_cut"])
    if not rows:
        return []
    options_of = _options_of(rows) if with_people else _options_by_key(_options(bundles).iterator())
    operations = _operations({row.batch_id for row in rows}, whole=with_people)
    events = ProgressEvent.objects.last_of(bundles).order_by()
    last: LastOf
    if with_people:
        whole_events = events.select_related("person")
        last = {(event.bundle_id, event.operation_id): event for event in whole_events}
    else:
        last = _ticks(events.values_list(*_TICK))
    return _states(rows, operations, options_of, last)


def states_on_the_go() -> list[BundleState]:
    """The state of every bundle of batches on the go, with their batches' numbers, in batch order. Four queries."""
    rows = _GOING.read()
    if not rows:
        return []
    operations = _by_style(map(ListedOperation._make, _OPERATIONS_GOING.ask()))
    options_of = _options_by_key(_OPTIONS_GOING.ask())
    return _states(rows, operations, options_of, _ticks(_TICKS_GOING.ask()))


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

_TICK = ("bundle_id", "operation_id", "pk", "done")

#: The options of bundles by their keys, each with key and name.
OptionsOf = Mapping[int, tuple[tuple[int, str], ...]]
#: Operations in their order by batch and style.
OperationsOf = Mapping[tuple[int, int], list[Operation]]
#: The event that counts by bundle and operation.
LastOf = Mapping[tuple[int, int | None], ProgressEvent | Tick]


def _options(bundles: QuerySet[Bundle]) -> QuerySet[Any]:
    """The options of bundles, without a row for each."""
    within = Bundle.options.through.objects.filter(bundle__in=bundles.order_by().values("pk"))
    in_order = within.order_by("option__detail__position", "option__position")
    return in_order.values_list("bundle_id", "option_id", "option__name")


def _going() -> QuerySet[Bundle]:
    return Bundle.objects.of_batches_on_the_go()


# Board and first page ask this of all bundles on the go, again and again.
_GOING = KeptShared(
    lambda: _going().with_cut(), {"batch": ("number",), **_NAMES}, own=_BUNDLE, noted=["is_cut"]
)
_OPTIONS_GOING = KeptQuestion(lambda: _options(_going()))
_OPERATIONS_GOING = KeptQuestion(
    lambda: (
        BatchOperation.objects.filter(batch__in=Batch.objects.on_the_go().order_by())
        .order_by("position", "pk")
        .values_list(*ListedOperation._fields)
    )
)
_TICKS_GOING = KeptQuestion(lambda: ProgressEvent.objects.last_of(_going()).order_by().values_list(*_TICK))


def state_of(bundle: Bundle) -> BundleState:
    """One bundle with who ticked what."""
    return read_states(Bundle.objects.filter(pk=bundle.pk), with_people=True)[0]


def _operations(batches: Iterable[int], *, whole: bool) -> OperationsOf:
    rows = BatchOperation.objects.filter(batch__in=batches).order_by("position", "pk")
    listed = rows.values_list(*ListedOperation._fields)
    return _by_style(rows if whole else map(ListedOperation._make, listed))


def _by_style(operations: Iterable[Operation]) -> OperationsOf:
    found: dict[tuple[int, int], list[Operation]] = defaultdict(list)
    for row in operations:
        found[row.batch_id, row.style_id].append(row)
    return found


def _options_of(rows: Iterable[Bundle]) -> OptionsOf:
    """The options of bundles that were read with them."""
    return {row.pk: tuple((option.pk, option.name) for option in row.options.all()) for row in rows}


def _options_by_key(found: Iterable[tuple[int, int, str]]) -> OptionsOf:
    by_key: dict[int, tuple[tuple[int, str], ...]] = defaultdict(tuple)
    for bundle, option, words in found:
        by_key[bundle] += ((option, words),)
    return by_key


def _ticks(found: Iterable[tuple[int, int | None, int, bool]]) -> LastOf:
    return {(bundle, operation): Tick(pk, done) for bundle, operation, pk, done in found}


def _states(
    rows: Iterable[Bundle], operations: OperationsOf, options_of: OptionsOf, last: LastOf
) -> list[BundleState]:
    # Bundles of one style and options have the same operations: they are looked for but once.
    own: dict[tuple[int, int, tuple[tuple[int, str], ...]], list[Operation]] = {}
    found = []
    for row in rows:
        options, pk = options_of[row.pk], row.pk
        key = (row.batch_id, row.style_id, options)
        if key not in own:
            # An operation without an option belongs to all.
            chosen = {None, *(option for option, _ in options)}
            own[key] = [one for one in operations[key[:2]] if one.option_id in chosen]
        steps = tuple(Step(one, last.get((pk, one.pk))) for one in own[key])
        found.append(BundleState(row, row.is_cut, steps, Step(None, last.get((pk, None))), options))
    return found
