"""What the parts of ten invented years hand on to each other, and how their many rows are written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time
from itertools import islice
from typing import Any

from django.db import models
from django.utils import timezone

from planner.cutting.models import Batch, Lay, LayCloth
from planner.materials.models import FabricColour, Roll
from planner.orders.models import LineQuantity, OrderLine
from planner.styles.models import Colourway, Operation, Option, Size, Style

AT_ONCE = 2_000


@dataclass(frozen=True)
class Sold:
    """A style as the orders draw on it."""

    style: Style
    options: tuple[tuple[Option, ...], ...]
    colourways: tuple[Colourway, ...]
    sizes: tuple[Size, ...]
    operations: tuple[Operation, ...]
    cloths: dict[int, tuple[FabricColour, ...]]


@dataclass
class Line:
    """An order line with what was drawn for it."""

    row: OrderLine
    sold: Sold
    options: list[Option]
    quantities: list[LineQuantity] = field(default_factory=list)


@dataclass
class Made:
    """A batch with the lines in it, and the roll of each of its cloth colours (pk)."""

    row: Batch
    lines: list[Line]
    day: date
    lays: list[Lay] = field(default_factory=list)
    cloths: list[LayCloth] = field(default_factory=list)
    rolls: dict[int, Roll] = field(default_factory=dict)

    @property
    def colours(self) -> list[FabricColour]:
        """The cloth colours of the batch, each once, in the order they come up."""
        found: dict[int, FabricColour] = {}
        for line in self.lines:
            for colour in line.sold.cloths[line.row.colourway_id]:
                found.setdefault(colour.pk, colour)
        return list(found.values())


def write(rows: Iterable[Any], *, keep: bool = True) -> list[Any]:
    """Writes rows in portions; the rows with their keys, or none of them where nobody needs them again."""
    kept, waiting = [], iter(rows)
    while portion := list(islice(waiting, AT_ONCE)):
        type(portion[0]).objects.bulk_create(portion)
        if keep:
            kept += portion
    return kept


def link(relation: Any, column: str, pairs: Iterable[tuple[models.Model, Iterable[models.Model]]]) -> None:
    """Rows of a many-to-many relation: each first with all of its seconds."""
    through = relation.through
    other = next(f.attname for f in through._meta.fields if f.is_relation and f.attname != column)
    write(through(**{column: one.pk, other: second.pk}) for one, seconds in pairs for second in seconds)


def at(day: date, hour: int) -> datetime:
    """This full hour of the day."""
    return datetime.combine(day, time(hour), tzinfo=timezone.get_current_timezone())
