"""The needs page of a batch, and what stands on it, as tests of it read them."""

from __future__ import annotations

import re
from decimal import Decimal

from django.test import Client
from django.urls import reverse

from planner.cutting.bill import Bill, BillLine, BillSetting, make_bill
from planner.cutting.models import Batch
from planner.cutting.stored import planned_batch
from planner.styles.models import Piece, Style
from tests.cutting.once import make_planned_batch
from tests.factories import make_order
from tests.sewing.makers import the_style

HTMX = {"HX-Request": "true"}
RIB = {"neck": "rib band"}
ELASTIC = "clear elastic 6 mm"


def plain_style() -> Style:
    """The box top without seam allowances, so that seams are as long as the edges: a shoulder in M is 195 mm, in L
    207.5 mm, a side 630 and 645 mm."""
    style = the_style()
    Piece.objects.filter(style=style).update(seam_allowance_mm=0)
    return style


def new_batch(**sizes: int) -> Batch:
    return make_planned_batch(make_order([(plain_style(), RIB, "ink", sizes or {"M": 3, "L": 2})]))


def bill_of(batch: Batch) -> Bill:
    read = planned_batch(batch)
    return make_bill(read, BillSetting("metric", "EUR", open=("all",)))


def line_of(batch: Batch, what: str) -> BillLine:
    (found,) = [line for line in bill_of(batch).lines if line.what == what]
    return found


def told(*texts: str) -> list[str]:
    return [text.replace("\N{THIN SPACE}", " ") for text in texts]


def page(client: Client, batch: Batch, query: str = "", **headers: str) -> str:
    answer = client.get(reverse("batch-needs", args=[batch.number]) + query, headers=headers)
    assert answer.status_code == 200
    return answer.content.decode()


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).replace("\N{THIN SPACE}", " ")


def facts(line: BillLine) -> list[str]:
    return told(line.need, line.there, line.short, line.to_buy, line.cost, line.left)


def number(text: str) -> Decimal:
    return Decimal(re.sub(r"[^\d.]", "", text.replace("cm²", "")))
