"""The orders of the demo, their days counted from the day of loading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from django.contrib.auth.models import User

from planner.orders.models import Customer, LineQuantity, Order, OrderLine
from planner.styles.family import options_of
from planner.styles.models import Colourway, Size, Style

Data = Mapping[str, Any]
#: Sizes by the name of their range and their own.
Sizes = Mapping[tuple[str, str], Size]


def make_orders(
    rows: Sequence[Data],
    *,
    today: date,
    person: User | None,
    customers: Mapping[str, Customer],
    styles: Mapping[str, Style],
    sizes: Sizes,
) -> int:
    """All orders, still open; how many garments they ask for. Raises ValueError for an option no style has."""
    quantities: list[LineQuantity] = []
    for row in rows:
        order = Order.objects.create(
            number=row["number"],
            customer=customers[row["customer"]] if row["customer"] else None,
            due_on=_day(today, row["due_in_days"]),
            note=row["note"],
            entered_on=_day(today, row["entered_in_days"]),
            entered_by=person,
        )
        for position, data in enumerate(row["lines"]):
            quantities += _line(order, data, styles[data["style"]], position, sizes)
    LineQuantity.objects.bulk_create(quantities)
    return sum(quantity.quantity for quantity in quantities)


def _line(order: Order, row: Data, style: Style, position: int, sizes: Sizes) -> list[LineQuantity]:
    colourway = Colourway.objects.get(style=style, name=row["colourway"])
    line = OrderLine.objects.create(order=order, style=style, colourway=colourway, position=position)
    chosen = set(row["options"].items())
    options = [option for option in options_of(style) if (option.detail.name, option.name) in chosen]
    if len(options) != len(chosen):
        raise ValueError(f"order {order.number} asks style {style.number} for an option it does not have")
    line.options.set(options)
    return [
        LineQuantity(line=line, size=sizes[style.size_range.name, size], quantity=n)
        for size, n in row["quantities"].items()
    ]


def close_orders(rows: Sequence[Data], today: date) -> None:
    """Dispatches and cancels; not before batches are made, since nothing but open orders can be put into one."""
    for row in rows:
        if row["state"] != Order.State.OPEN:
            sent_on = _day(today, row["due_in_days"]) if row["state"] == Order.State.DISPATCHED else None
            Order.objects.filter(number=row["number"]).update(state=row["state"], dispatched_on=sent_on)


def _day(today: date, days: int) -> date:
    return today + timedelta(days=days)
