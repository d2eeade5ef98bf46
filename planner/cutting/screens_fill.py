"""What the page that puts orders into a batch shows, ready to be written out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from planner.core.missing import clash_in_words
from planner.core.spec import Option
from planner.cutting.filled_since import Holds
from planner.cutting.forms import Boxes
from planner.orders.due import Due, due_words
from planner.orders.models import LineQuantity, Order


@dataclass(frozen=True)
class FillBox:
    """One box of the page that puts orders into a batch: how many are left, how many this batch takes."""

    pk: int
    size: str
    left: int
    value: str
    error: str
    extra: str = ""
    extra_error: str = ""


@dataclass(frozen=True)
class FillLine:
    """An order line with its boxes. `has_extra` where more than is ordered may be cut.

    `clash` says which of its options cannot be had together, "" where all can. `over` is the state of its order in
    words where that is not open any more: what the batch holds of it can be taken out, and no more put in.
    """

    order: str
    who: str
    due: Due
    style: str
    style_name: str
    options: str
    colourway: str
    boxes: tuple[FillBox, ...]
    clash: str = ""
    has_extra: bool = False
    over: str = ""


def fill_lines(
    rows: Iterable[LineQuantity],
    holds: Holds,
    typed: Boxes,
    today: date,
    clashing: Mapping[int, Sequence[tuple[Option, Option]]],
) -> list[FillLine]:
    """Order lines with something left (or already in this batch), by due day. What is `typed` wins over what the batch
    `holds`.

    Of an order that is not open any more no more is left for the batch than it holds. `clashing` are lines with options
    that exclude each other, with those pairs.
    """
    lines: dict[int, list[FillBox]] = defaultdict(list)
    heads: dict[int, LineQuantity] = {}
    for row in rows:
        held, more = holds.get((row.line_id, row.size_id), (0, 0))
        heads.setdefault(row.line_id, row)
        box = FillBox(
            row.pk,
            row.size.name,
            held + (row.left if row.line.order.state == Order.State.OPEN else 0),
            typed.typed.get(row.pk, str(held or "")),
            typed.errors.get(row.pk, ""),
            typed.extra_typed.get(row.pk, str(more or "")),
            typed.extra_errors.get(row.pk, ""),
        )
        lines[row.line_id].append(box)
    found = []
    for pk, boxes in lines.items():
        line = heads[pk].line
        order = line.order
        is_open = order.state == Order.State.OPEN
        found.append(
            FillLine(
                order=order.number,
                who=order.customer.name if order.customer else "stock make",
                due=due_words(order.due_on, today, still_open=is_open),
                style=line.style.number,
                style_name=line.style.name,
                options=", ".join(f"{o.detail.name}: {o.name}" for o in line.options.all()),
                colourway=line.colourway.name,
                boxes=tuple(boxes),
                clash="; ".join(clash_in_words(*pair) for pair in clashing.get(pk, ())),
                has_extra=any(box.extra or box.extra_error for box in boxes),
                over="" if is_open else order.get_state_display(),
            )
        )
    return found
