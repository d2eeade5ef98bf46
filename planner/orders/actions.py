"""What can be done with an order: one function, one transaction, one result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Literal

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.db.models.functions import Length

from planner.orders.data import LineData, OrderData, Problem
from planner.orders.models import Customer, LineQuantity, Order, OrderLine
from planner.orders.rules import (
    cancel_problems,
    change_problems,
    dispatch_problems,
    duplicate_problems,
    removal_problems,
    state_problems,
)

#: How often a number is tried again when two people enter orders in the same moment.
_TRIES = 20


@dataclass(frozen=True)
class OrderEntered:
    """The new order; `new_customer` where the name was not known before."""

    order: Order
    new_customer: bool = False


@dataclass(frozen=True)
class OrderChanged:
    """`saved`; `stale` where somebody else saved meanwhile (`order` is theirs); `refused` with reasons."""

    order: Order
    outcome: Literal["saved", "stale", "refused"]
    problems: Sequence[Problem] = field(default=())
    new_customer: bool = False


def enter_order(data: OrderData, person: User | None, today: date) -> OrderEntered:
    """Enters an order under the next number, O-0001 and up without a gap."""
    for attempt in range(_TRIES):
        try:
            with transaction.atomic():
                customer, is_new = _customer(data.customer_name)
                order = Order.objects.create(
                    number=next_number(),
                    customer=customer,
                    due_on=data.due_on,
                    note=data.note,
                    entered_on=today,
                    entered_by=person,
                )
                _write_lines(order, data.lines)
                return OrderEntered(order, is_new)
        except IntegrityError:
            # Somebody took the number (or entered the same new customer) first; nothing of ours was written.
            if attempt == _TRIES - 1:
                raise
    raise AssertionError("unreachable")


def change_order(order: Order, data: OrderData, expected_version: int, person: User | None) -> OrderChanged:
    """Saves the whole order anew if nobody else did since `expected_version`, and no batch loses by it."""
    with transaction.atomic():
        current = _locked(order)
        if current.version != expected_version:
            return OrderChanged(current, "stale")
        lines = list(current.lines.select_related("style", "colourway").prefetch_related("options__detail"))
        held = current.lines.all().held_in_batches()
        named = current.lines.filter(batch_items__isnull=False).values_list("pk", flat=True)
        problems = (
            state_problems(current)
            or change_problems(lines, held, data.lines)
            or removal_problems(lines, set(named), data.lines)
        )
        if problems:
            return OrderChanged(current, "refused", problems)
        current.customer, is_new = _customer(data.customer_name)
        current.due_on, current.note = data.due_on, data.note
        _touch(current, person)
        kept = {line.line_pk for line in data.lines if line.line_pk}
        current.lines.exclude(pk__in=kept).delete()
        _write_lines(current, data.lines)
        return OrderChanged(current, "saved", new_customer=is_new)


def cancel_order(order: Order, person: User | None) -> OrderChanged:
    """Gives an open order up; refused while a batch holds part of it."""
    with transaction.atomic():
        current = _locked(order)
        problems = cancel_problems(current, current.lines.all().held_in_batches())
        if problems:
            return OrderChanged(current, "refused", problems)
        current.state = Order.State.CANCELLED
        _touch(current, person)
        return OrderChanged(current, "saved")


def dispatch_order(order: Order, person: User | None, today: date) -> OrderChanged:
    """Marks an open order as sent (a stock make as put on the shelf); refused while a batch gathers part of it."""
    with transaction.atomic():
        current = _locked(order)
        if problems := dispatch_problems(current, current.lines.all().held_in_batches()):
            return OrderChanged(current, "refused", problems)
        current.state, current.dispatched_on = Order.State.DISPATCHED, today
        _touch(current, person)
        return OrderChanged(current, "saved")


def reopen_order(order: Order, person: User | None) -> OrderChanged:
    """Takes a dispatch or a cancellation back; an open order stays as it is."""
    with transaction.atomic():
        current = _locked(order)
        if current.state != Order.State.OPEN:
            current.state, current.dispatched_on = Order.State.OPEN, None
            _touch(current, person)
        return OrderChanged(current, "saved")


def duplicate_order(order: Order, person: User | None, today: date) -> OrderEntered | OrderChanged:
    """Enters the same again, due as many days from today as the first was from its entry (at least one).

    Refused where the order asks for options that cannot be had together any more.
    """
    if problems := duplicate_problems(order, order.lines.all().clashing()):
        return OrderChanged(order, "refused", problems)
    lines = order.lines.prefetch_related("options", "quantities")
    days = max((order.due_on - order.entered_on).days, 1)
    data = OrderData(
        customer_name=order.customer.name if order.customer else "",
        due_on=today + timedelta(days=days),
        note=order.note,
        lines=tuple(
            LineData(
                key=key,
                line_pk=None,
                style_pk=line.style_id,
                colourway_pk=line.colourway_id,
                option_pks=frozenset(option.pk for option in line.options.all()),
                quantities={row.size_id: row.quantity for row in line.quantities.all()},
            )
            for key, line in enumerate(lines)
        ),
    )
    return enter_order(data, person, today)


def next_number() -> str:
    """The number after the highest; unique in the database, so who comes second tries again."""
    ours = Order.objects.filter(number__regex=r"^O-[0-9]+$")
    last = ours.order_by(Length("number").desc(), "-number").values_list("number", flat=True).first()
    return f"O-{int(last[2:]) + 1 if last else 1:04d}"


def _locked(order: Order) -> Order:
    """The order as it stands now, held until the transaction ends."""
    return Order.objects.select_for_update().get(pk=order.pk)


def _touch(order: Order, person: User | None) -> None:
    order.version += 1
    order.changed_by = person
    order.save()


def _customer(name: str) -> tuple[Customer | None, bool]:
    """The customer of that name, entered where there is none yet; nobody for a blank name."""
    if not name:
        return None, False
    known = Customer.objects.called(name).first()
    return (known, False) if known else Customer.objects.get_or_create(name=name)


def _write_lines(order: Order, lines: Sequence[LineData]) -> None:
    """Writes lines in their order: known ones in place, so that what refers to them keeps them."""
    known = {line.pk: line for line in order.lines.all()}
    for position, data in enumerate(lines):
        line = known.get(data.line_pk or 0) or OrderLine(order=order)
        line.style_id, line.colourway_id, line.position = data.style_pk, data.colourway_pk, position
        line.save()
        line.options.set(data.option_pks)
        line.quantities.exclude(size__in=data.quantities).delete()
        LineQuantity.objects.bulk_create(
            [LineQuantity(line=line, size_id=size, quantity=n) for size, n in data.quantities.items()],
            update_conflicts=True,
            unique_fields=["line", "size"],
            update_fields=["quantity"],
        )
