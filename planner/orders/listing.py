"""Orders read as rows for pages: values only, for many rows of the database lead to few styles, colours and sizes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from planner.orders.due import due_words
from planner.orders.models import LineQuantity, Order, OrderLine
from planner.orders.screens import LineRow, OrderRow
from planner.styles.models import ColourwayCloth


class _Line(NamedTuple):
    pk: int
    order_id: int
    style__number: str
    style__name: str
    colourway_id: int
    colourway__name: str


class _Size(NamedTuple):
    line_id: int
    size__name: str
    quantity: int
    batched: int


def order_rows(orders: Iterable[Order], today: date) -> list[OrderRow]:
    """Orders (read with their customers) as said on `today`, in four queries however many they are."""
    orders = list(orders)
    of_orders: dict[int, list[LineRow]] = defaultdict(list)
    lines = OrderLine.objects.filter(order__in=[order.pk for order in orders]).order_by("position", "pk")
    found = [_Line(*values) for values in lines.values_list(*_Line._fields)]
    if found:
        pks = [line.pk for line in found]
        options, sizes = _options_of(pks), _sizes_of(pks)
        swatches = _swatches_of({line.colourway_id for line in found})
        for line in found:
            row = _line_row(line, options[line.pk], swatches[line.colourway_id], sizes[line.pk])
            of_orders[line.order_id].append(row)
    return [_order_row(order, tuple(of_orders[order.pk]), today) for order in orders]


def _order_row(order: Order, lines: tuple[LineRow, ...], today: date) -> OrderRow:
    return OrderRow(
        order=order,
        who=order.customer.name if order.customer else "stock make",
        due=due_words(order.due_on, today, still_open=order.state == Order.State.OPEN),
        lines=lines,
        total=sum(line.total for line in lines),
        batched=sum(line.batched for line in lines),
    )


def _line_row(line: _Line, options: list[str], swatches: dict[str, None], sizes: list[_Size]) -> LineRow:
    return LineRow(
        style_number=line.style__number,
        style=f"{line.style__number} {line.style__name}",
        options=", ".join(options),
        colourway=line.colourway__name,
        swatches=tuple(swatches),
        pairs=tuple((row.size__name, row.quantity) for row in sizes),
        total=sum(row.quantity for row in sizes),
        batched=sum(row.batched for row in sizes),
    )


def _options_of(lines: list[int]) -> dict[int, list[str]]:
    held = OrderLine.options.through.objects.filter(orderline__in=lines)
    held = held.order_by("option__detail__position", "option__position", "option")
    found: dict[int, list[str]] = defaultdict(list)
    for line, name in held.values_list("orderline_id", "option__name"):
        found[line].append(name)
    return found


def _sizes_of(lines: list[int]) -> dict[int, list[_Size]]:
    rows = LineQuantity.objects.with_batched().filter(line__in=lines).order_by("size__position")
    found: dict[int, list[_Size]] = defaultdict(list)
    for values in rows.values_list(*_Size._fields):
        found[values[0]].append(_Size(*values))
    return found


def _swatches_of(colourways: set[int]) -> dict[int, dict[str, None]]:
    """#rrggbb by cloth role, each colour once."""
    rows = ColourwayCloth.objects.filter(colourway__in=colourways).order_by("role__position", "role")
    found: dict[int, dict[str, None]] = defaultdict(dict)
    for colourway, swatch in rows.values_list("colourway_id", "fabric_colour__swatch"):
        found[colourway][swatch] = None
    return found
