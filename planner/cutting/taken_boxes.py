"""What may be taken out of a batch that is being cut, order by order, with a box for each size."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby

from planner.core.listed import counted
from planner.cutting.models import BatchItem
from planner.orders.models import Order


@dataclass(frozen=True)
class Box:
    """One size of a line: how many of it are not begun, what was typed, what is wrong with that."""

    pk: int
    size: str
    free: int
    value: str = ""
    error: str = ""


@dataclass(frozen=True)
class LineBoxes:
    """A line of an order with the sizes of it that the batch holds and that are not begun."""

    style: str
    style_name: str
    colourway: str
    options: str
    boxes: tuple[Box, ...]


@dataclass(frozen=True)
class OrderBoxes:
    """An order, how many of its garments are not begun, its lines; whether something was typed for it."""

    order: Order
    free: int
    lines: tuple[LineBoxes, ...]
    is_typed: bool = False

    @property
    def has_choice(self) -> bool:
        """Whether a part of it can be told: a single garment goes or stays."""
        return self.free > 1


def order_boxes(
    free: Mapping[int, list[tuple[BatchItem, int]]],
    typed: Mapping[int, str],
    errors: Mapping[int, str],
) -> list[OrderBoxes]:
    """The orders that garments can be taken out of, by their day."""
    orders = Order.objects.filter(pk__in=list(free)).select_related("customer").by_due_day()
    return [
        OrderBoxes(
            order,
            sum(count for _, count in free[order.pk]),
            tuple(_lines(free[order.pk], typed, errors)),
            any(item.pk in typed for item, _ in free[order.pk]),
        )
        for order in orders
    ]


def _lines(
    rows: Iterable[tuple[BatchItem, int]], typed: Mapping[int, str], errors: Mapping[int, str]
) -> Iterable[LineBoxes]:
    shown = [(item, count) for item, count in rows if count]
    shown.sort(key=lambda row: (row[0].line_id, row[0].size.position))
    for line, own in groupby(shown, key=lambda row: row[0].line):
        yield LineBoxes(
            line.style.number,
            line.style.name,
            line.colourway.name,
            ", ".join(option.name for option in line.options.all()),
            tuple(
                Box(item.pk, item.size.name, count, typed.get(item.pk, ""), errors.get(item.pk, ""))
                for item, count in own
            ),
        )


def too_many(rows: Iterable[tuple[BatchItem, int]], wanted: Mapping[int, int]) -> dict[int, str]:
    """What is wrong at the box of an item (pk) of which so many are not left that are not begun; no query."""
    free = {item.pk: count for item, count in rows}
    return {
        pk: f"only {counted(free[pk], 'garment')} of it {'is' if free[pk] == 1 else 'are'} not begun"
        if free.get(pk)
        else "all of it is cut or begun by now"
        for pk, count in wanted.items()
        if count > free.get(pk, 0)
    }
