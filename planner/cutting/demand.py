"""What a batch is to make, as the core asks for it, and back from the core's words to the rows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from planner.common.kept_questions import Given
from planner.common.shared_rows import KeptShared, keep_related
from planner.core.spec import Demand, Garment, Options, make_options
from planner.cutting.models import Batch, BatchItem
from planner.orders.models import OrderLine
from planner.styles.models import Colourway, Option, Size, Style


@dataclass(frozen=True)
class GarmentRows:
    """The rows behind a garment that the core knows by names only."""

    style: Style
    options: tuple[Option, ...]
    colourway: Colourway
    size: Size


@dataclass(frozen=True)
class BatchDemand:
    """Demand by garment, the rows behind each garment, and which order lines want how many of it.

    `demand` and `lines` hold what is cut, including what the plan cuts beyond the orders. `ordered` is what was
    ordered, with how many more may be cut.
    """

    demand: tuple[Demand, ...]
    rows: dict[Garment, GarmentRows]
    lines: dict[Garment, tuple[tuple[OrderLine, int], ...]]
    ordered: tuple[Demand, ...] = ()

    @property
    def garments(self) -> int:
        """Garments in all, including those beyond the orders."""
        return sum(row.quantity for row in self.demand)

    @property
    def extra(self) -> int:
        """Garments cut beyond what is ordered."""
        return self.garments - sum(row.quantity for row in self.ordered)

    @property
    def may_have_extra(self) -> bool:
        """Whether more than is ordered may be cut of anything."""
        return any(row.extra_allowed for row in self.ordered)

    @property
    def orders(self) -> dict[str, int]:
        """How many orders hold garments of each style, by its number; stock makes are orders too."""
        held: dict[str, set[int]] = defaultdict(set)
        for garment, wanted in self.lines.items():
            held[garment.style].update(line.order_id for line, _ in wanted)
        return {style: len(orders) for style, orders in held.items()}

    @property
    def style_numbers(self) -> set[str]:
        """The styles wanted."""
        return {row.garment.style for row in self.demand}


#: What an item leads to, all columns of it.
_LINE = dict.fromkeys(
    ("line", "line__style", "line__colourway", "line__order", "line__order__customer", "size")
)


_ITEMS = KeptShared(
    lambda: BatchItem.objects.filter(batch=Given("batch")).order_by(
        *("line__style__number", "line__colourway__position", "line_id", "size__position", "pk"),
        *("line__options__detail__position", "line__options__position", "line__options"),
    ),
    _LINE,
    many=("line__options", {"detail": None}),
)


def batch_demand(batch: Batch) -> BatchDemand:
    """What the batch's items ask for, summed over order lines, in order of style, options, colourway and size."""
    rows = _ITEMS.read(batch=batch.pk)
    for line, options in {row.line_id: (row.line, row.many) for row in rows}.values():
        keep_related(line, "options", options)
    return demand_of(rows)


def demand_of(items: Iterable[BatchItem]) -> BatchDemand:
    """Demand of batch items that are read already, with their lines, options and sizes."""
    quantity: dict[Garment, int] = defaultdict(int)
    ordered: dict[Garment, int] = defaultdict(int)
    allowed: dict[Garment, int] = defaultdict(int)
    rows: dict[Garment, GarmentRows] = {}
    lines: dict[Garment, list[tuple[OrderLine, int]]] = defaultdict(list)
    chosen: dict[int, tuple[tuple[Option, ...], Options]] = {}
    for item in items:
        line = item.line
        if line.pk not in chosen:
            of_line = tuple(line.options.all())
            chosen[line.pk] = of_line, make_options((option.detail.name, option.name) for option in of_line)
        options, in_words = chosen[line.pk]
        garment = Garment(line.style.number, in_words, line.colourway.name, item.size.name)
        quantity[garment] += item.quantity + item.extra
        ordered[garment] += item.quantity
        allowed[garment] += item.extra_allowed
        rows[garment] = GarmentRows(line.style, options, line.colourway, item.size)
        lines[garment].append((line, item.quantity + item.extra))
    return BatchDemand(
        tuple(Demand(garment, n) for garment, n in quantity.items()),
        rows,
        {garment: tuple(wanted) for garment, wanted in lines.items()},
        tuple(Demand(garment, n, allowed[garment]) for garment, n in ordered.items()),
    )
