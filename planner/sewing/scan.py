"""What the page of one bundle shows, as the phone opens it from the ticket."""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone

from planner.core.spec import Workshop
from planner.core.units import Display, plain_number
from planner.cutting.bundle_papers import notions_of, pieces_of
from planner.cutting.models import Batch, BatchItem, BatchOperation, Bundle
from planner.cutting.stored import garment_of, style_of
from planner.cutting.wording import THIN, machine_in_words
from planner.materials.models import Notion
from planner.orders.due import Due, day_words, due_words
from planner.sewing.board import station
from planner.sewing.progress import BundleState, Step, read_states


@dataclass(frozen=True)
class StepRow:
    """One step as a row that can be pressed. `pk` is 0 for the check; `key` makes one press count once.

    `settings` are those of the machine that were set down, as word and value; `look` is what to look at.
    `minutes_each` are standard minutes, `minutes` those of the whole bundle; "" for a bundle of one.
    """

    pk: int
    name: str
    machine: str
    stitch_type: str
    minutes_each: str
    minutes: str
    settings: tuple[tuple[str, str], ...]
    note: str
    look: str
    done: bool
    can_tick: bool
    who: str
    when: str
    key: str

    @property
    def field(self) -> str:
        """What the form sends for it."""
        return str(self.pk) if self.pk else "check"


@dataclass(frozen=True)
class Wanted:
    """An order that garments of a bundle are for."""

    number: str
    who: str
    due: Due


@dataclass(frozen=True)
class Scan:
    """What changes on the page with a tap."""

    state: BundleState
    rows: tuple[StepRow, ...]
    check: StepRow
    answer: str
    closed: bool

    def row(self, field: str) -> StepRow | None:
        """The row that sends `field`."""
        return next((row for row in (*self.rows, self.check) if row.field == field), None)


def make_scan(state: BundleState, now: datetime) -> Scan:
    """The steps of a bundle as rows, each with a fresh key. No query."""
    closed = state.bundle.batch.state in {Batch.State.DONE, Batch.State.CANCELLED}
    can = state.is_cut and not closed
    rows = tuple(_row(step, state, now, can_tick=can) for step in state.steps)
    check = _row(state.check, state, now, can_tick=can and state.is_sewn)
    return Scan(state, rows, check, _answer(state, closed=closed), closed)


def _row(step: Step, state: BundleState, now: datetime, *, can_tick: bool) -> StepRow:
    operation, event = step.operation, step.event
    minutes = operation.standard_minutes if operation else Decimal(0)
    quantity = state.bundle.quantity
    who = when = ""
    if event is not None and event.done:
        who = event.person.get_full_name() or event.person.username if event.person else "somebody"
        when = _when(event.happened_at, now)
    return StepRow(
        pk=operation.pk if operation else 0,
        name=operation.name if operation else "check",
        machine=machine_in_words(operation.machine, operation.own_machine) if operation else "",
        stitch_type=operation.stitch_type if operation else "",
        minutes_each=plain_number(minutes),
        minutes=plain_number(round(minutes * quantity, 1)) if quantity > 1 else "",
        settings=_settings(operation) if operation else (),
        note=operation.setup_note if operation else "",
        look=operation.quality_note if operation else "",
        done=step.done,
        can_tick=can_tick,
        who=who,
        when=when,
        key=secrets.token_hex(10),
    )


def _settings(operation: BatchOperation) -> tuple[tuple[str, str], ...]:
    """How the machine is set, as far as somebody said."""
    length, feed = operation.stitch_length_mm, operation.differential_feed
    pairs = (
        ("stitch length", f"{plain_number(length)}{THIN}mm" if length else ""),
        ("differential feed", plain_number(feed) if feed else ""),
        ("tension", operation.tension_note),
        ("needle", operation.needle_note),
    )
    return tuple((word, value) for word, value in pairs if value)


def _when(at: datetime, now: datetime) -> str:
    """14:05 for today, with the day for earlier."""
    local, today = timezone.localtime(at), timezone.localtime(now).date()
    clock = f"{local:%H:%M}"
    return clock if local.date() == today else f"{day_words(local.date(), today)}, {clock}"


def _answer(state: BundleState, *, closed: bool) -> str:
    """What to do next with the bundle, in one line."""
    if state.check.done and state.is_sewn:
        return "Sewn and checked."
    if closed:
        return f"{state.bundle.batch} is {state.bundle.batch.get_state_display()}."
    if not state.is_cut:
        return "Not cut yet."
    following = state.next_operation
    if following is None:
        return "All steps are sewn. Check it."
    machine = machine_in_words(following.machine, following.own_machine)
    return f"Next: {following.name}, at the {machine}."


@dataclass(frozen=True)
class Contents:
    """What belongs to a bundle and does not change: pieces with their count in the bundle, notions, orders."""

    pieces: tuple[tuple[str, int], ...]
    notions: tuple[str, ...]
    orders: tuple[Wanted, ...]


def contents_of(state: BundleState, today: date, display: Display) -> Contents:
    """Pieces and notions from the style as it was when the batch was planned. At most three queries."""
    bundle = state.bundle
    orders = tuple(_wanted(bundle, today))
    style = style_of(bundle)
    garment = garment_of(bundle)
    counts = pieces_of(garment, Workshop({style.number: style}, {}, {}))
    pieces = tuple((name, count * bundle.quantity) for name, count in counts)
    along = {use.notion.notion for use in style.notions_for(garment.options) if use.basis == "seam"}
    counted = Notion.objects.counted_in_pieces(along) if along else frozenset()
    return Contents(pieces, notions_of(garment, style, display, counted=counted), orders)


def _wanted(bundle: Bundle, today: date) -> Iterable[Wanted]:
    if bundle.line is not None:
        found = [bundle.line.order]
    else:
        chosen = {option.pk for option in bundle.options.all()}
        items = BatchItem.objects.filter(
            batch=bundle.batch,
            size=bundle.size,
            line__style=bundle.style,
            line__colourway=bundle.colourway,
        )
        lines = [
            item.line
            for item in items.select_related("line__order__customer").prefetch_related("line__options")
        ]
        same = [line.order for line in lines if {option.pk for option in line.options.all()} == chosen]
        found = sorted(dict.fromkeys(same), key=lambda order: (order.due_on, order.pk))
    for order in found:
        who = order.customer.name if order.customer else "stock make"
        due = due_words(order.due_on, today, still_open=order.state == "open")
        yield Wanted(order.number, who, due)


def next_waiting(state: BundleState) -> tuple[str, BundleState] | None:
    """The machine this bundle was last at and the next bundle waiting there, of the same thread if there is one.

    None while this bundle goes on at the same machine, or where nothing waits. Four queries at most.
    """
    last = state.last_operation
    if last is None or station(state) == last.machine:
        return None
    going = Bundle.objects.of_batches_on_the_go().exclude(pk=state.bundle.pk)
    thread = state.bundle.colourway.thread_id
    waiting = [other for other in read_states(going) if station(other) == last.machine]
    waiting.sort(key=lambda other: other.bundle.colourway.thread_id != thread)
    return (last.machine, waiting[0]) if waiting else None
