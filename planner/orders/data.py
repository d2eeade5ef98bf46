"""What an order says once it is understood, and what may be wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong and what to do, at its place.

    `line` is the key of the line on the form, None for the order as a whole. `field` is "style", "colourway",
    "option:neck", "size:M" or "sizes"; blank where no single field is to blame.
    """

    text: str
    line: int | None = None
    field: str = ""


@dataclass(frozen=True, slots=True)
class LineData:
    """One line by database keys: `quantities` maps size to a number > 0. `line_pk` is None for a new line."""

    key: int
    line_pk: int | None
    style_pk: int
    colourway_pk: int
    option_pks: frozenset[int]
    quantities: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class OrderData:
    """A whole order; a blank `customer_name` makes it a stock make."""

    customer_name: str
    due_on: date
    note: str
    lines: tuple[LineData, ...]
