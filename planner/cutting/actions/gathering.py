"""Gathering orders into a batch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction

from planner.core.missing import clash_in_words
from planner.cutting.actions.planning import PlanDropped, drop_plan
from planner.cutting.batch_days import follow_orders
from planner.cutting.filled_since import holds_of, mark_of
from planner.cutting.models import Batch, BatchItem
from planner.cutting.numbers import next_batch_number
from planner.cutting.tasks import queue_ahead
from planner.orders.models import LineQuantity, Order, OrderLine


@dataclass(frozen=True)
class TooMany:
    """More was asked for than the order line still has to give."""

    line_quantity: int
    asked: int
    left: int

    @property
    def text(self) -> str:
        """What to say at the box."""
        if self.left == 0:
            return "all of these are in a batch already"
        return f"only {self.left} left to batch"


@dataclass(frozen=True)
class Clashing:
    """The order line asks for options that exclude each other, so nothing of it can be planned."""

    line_quantity: int
    why: str

    @property
    def text(self) -> str:
        """What to say at the box."""
        return f"{self.why}: change the order first"


@dataclass(frozen=True)
class NotOpen:
    """Its order is not open any more (`state`, in words), so no more of it is batched than the batch holds."""

    line_quantity: int
    state: str

    @property
    def text(self) -> str:
        """What to say at the box."""
        return f"no more: the order is {self.state}"


#: What keeps a box from being filled.
Problem = TooMany | Clashing | NotOpen


@dataclass(frozen=True)
class Filled:
    """What a batch holds after filling; with problems nothing was changed, and not where it held something else than
    was seen (`is_stale`).
    """

    batch: Batch
    garments: int
    problems: tuple[Problem, ...] = ()
    is_stale: bool = False


class NotGathering(Exception):  # noqa: N818 - it says what happened
    """The batch is planned already: its orders cannot be changed until the plan is taken back."""


@transaction.atomic
def create_batch(person: User | None, today: date) -> Batch:
    """An empty batch that gathers orders."""
    return Batch.objects.create(number=next_batch_number(), made_on=today, made_by=person)


@transaction.atomic
def fill_batch(
    batch: Batch,
    wanted: Mapping[int, int],
    extra: Mapping[int, int] | None = None,
    *,
    seen: str | None = None,
) -> Filled:
    """Makes the batch hold exactly `wanted`: line quantity → pieces, 0 or absent for none.

    Never more than was ordered is batched, counting every batch that is not cancelled; where it would be,
    nothing changes and the problems say which boxes. So it is with lines whose options exclude each other, which
    could not be planned. Of an order that is not open any more the batch keeps what it holds, or less.
    `extra` says how many more of a box may be cut where that pays. The batch's day follows from
    its orders, however often it is filled (:mod:`planner.cutting.batch_days`). `seen` is the mark of what it held when
    its page was read; without one nobody looks whether that is so still.
    """
    batch = Batch.objects.select_for_update().get(pk=batch.pk)
    if batch.state != Batch.State.GATHERING:
        raise NotGathering
    holds = holds_of(batch.items.all())
    own = {key: quantity for key, (quantity, _) in holds.items()}
    if seen is not None and seen != mark_of(holds):
        return Filled(batch, sum(own.values()), is_stale=True)
    asked, rows = _asked(wanted)
    if problems := _problems(rows, asked, own):
        return Filled(batch, sum(own.values()), problems)
    batch.items.all().delete()
    BatchItem.objects.bulk_create(
        BatchItem(
            batch=batch,
            line=row.line,
            size_id=row.size_id,
            quantity=asked[row.pk],
            extra_allowed=(extra or {}).get(row.pk, 0),
        )
        for row in rows
    )
    follow_orders(Batch.objects.filter(pk=batch.pk))
    batch.refresh_from_db(fields=["due_on"])
    queue_ahead()
    return Filled(batch, sum(asked.values()))


def problems_of(batch: Batch, wanted: Mapping[int, int]) -> tuple[Problem, ...]:
    """Which boxes ask for something that cannot be had, where others could not be read: nothing is changed."""
    own = {key: quantity for key, (quantity, _) in holds_of(batch.items.all()).items()}
    asked, rows = _asked(wanted)
    return _problems(rows, asked, own)


def _asked(wanted: Mapping[int, int]) -> tuple[dict[int, int], list[LineQuantity]]:
    """What is asked for by line quantity, and the rows of these that there are."""
    asked = {pk: n for pk, n in wanted.items() if n > 0}
    rows = LineQuantity.objects.with_batched().filter(pk__in=asked).select_related("line__order")
    return asked, list(rows)


def _problems(
    rows: Sequence[LineQuantity], asked: Mapping[int, int], own: Mapping[tuple[int, int], int]
) -> tuple[Problem, ...]:
    """Which boxes ask for something that cannot be had; `own` is what the batch holds, by line and size."""
    found: list[Problem] = []
    clashing = OrderLine.objects.filter(pk__in={row.line_id for row in rows}).clashing()
    for row in rows:
        held = own.get((row.line_id, row.size_id), 0)
        order = row.line.order
        if pairs := clashing.get(row.line_id):
            found.append(Clashing(row.pk, clash_in_words(*pairs[0])))
        elif order.state != Order.State.OPEN:
            if asked[row.pk] > held:
                found.append(NotOpen(row.pk, order.get_state_display()))
        elif asked[row.pk] > row.left + held:
            found.append(TooMany(row.pk, asked[row.pk], max(row.left + held, 0)))
    gone = set(asked) - {row.pk for row in rows}
    return (*found, *(TooMany(pk, asked[pk], 0) for pk in sorted(gone)))


@transaction.atomic
def cancel_batch(batch: Batch, person: User | None, now: datetime) -> PlanDropped | None:
    """Gives the batch's garments back to their orders. Refused (None) once anything has been cut."""
    batch = Batch.objects.select_for_update().get(pk=batch.pk)
    if batch.lays.begun().exists():
        return None
    batch.state = Batch.State.CANCELLED
    batch.save(update_fields=["state"])
    return drop_plan(batch, person, now)
