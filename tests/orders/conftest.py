"""A style to order, and what a browser sends for an order of it."""

from __future__ import annotations

from typing import Any

import pytest

from planner.cutting.models import Batch, BatchItem
from planner.orders.models import OrderLine
from planner.styles.models import Style
from tests import factories as make


@pytest.fixture
def style(db: None) -> Style:
    """110 box top in ink and chalk, XS to XXL, neck: self band or rib band."""
    return make.make_style("110", colourways=("ink", "chalk"))


def take(line: OrderLine, size: str, quantity: int, number: str = "B-0001", state: str = "gathering") -> None:
    """Puts so many of a size of a line into a batch."""
    batch = Batch.objects.get_or_create(number=number, defaults={"state": state, "made_on": make.TODAY})[0]
    wanted = line.quantities.get(size__name=size).size
    BatchItem.objects.create(batch=batch, line=line, size=wanted, quantity=quantity)


def line_fields(key: int = 0, *, neck: str = "rib band", **fields: Any) -> dict[str, Any]:
    """The fields of one line; sizes as XS=2, M="x"."""
    sent = {
        "style": "110",
        "colourway": "ink",
        **{k: v for k, v in fields.items() if k in ("style", "colourway", "id")},
    }
    sent |= {f"size-{size}": n for size, n in fields.items() if size not in ("style", "colourway", "id")}
    if neck:
        sent["option-neck"] = neck
    return {f"line-{key}-{name}": value for name, value in sent.items()}


def order_form(*lines: dict[str, Any], **fields: Any) -> dict[str, Any]:
    """What the browser sends for an order with these lines, in the order given."""
    keys = [next(iter(line)).split("-")[1] for line in lines]
    sent: dict[str, Any] = {"customer": "Tidewater Stores", "due_on": "2031-06-02", "note": "", "line": keys}
    for line in lines:
        sent |= line
    return sent | fields
