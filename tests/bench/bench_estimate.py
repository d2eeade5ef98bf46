"""How long the server takes for the first estimate after an order line is typed (budget: 100 ms on 2 cores).

Run on demand: `pytest tests/bench/bench_estimate.py -s -o addopts=`. Times are processor time, after warming up as
`manage.py start` does it, so that whatever else the machine is busy with hardly counts. A style larger than most:
15 pieces in 8 sizes with curved outlines of 200 points, every piece in a seam; 40 fabric colours and 60 notion
colours beside it, and 5,000 orders.
"""

from __future__ import annotations

import math
import statistics
import time
from itertools import pairwise

import pytest

from planner.core.outline import Edge, Outline
from planner.materials.models import Workroom
from planner.orders.models import Order
from planner.running.warm import warm_up
from planner.styles.models import ClothRole, Piece, PieceOutline, Seam, SeamEdge
from tests import factories as make
from tests.orders.conftest import line_fields

SIZES = "2XS XS S M L XL 2XL 3XL"
PIECES = 15
POINTS = 200
EDGES = ("hem", "side", "top", "other side")
ROUNDS = 60


def _curved(radius_mm: float) -> Outline:
    turn = [2 * math.pi * i / POINTS for i in range(POINTS)]
    points = tuple((radius_mm * (2 + math.cos(a)), 1.5 * radius_mm * (2 + math.sin(a))) for a in turn)
    return Outline(points, tuple(Edge(name, i * POINTS // 4) for i, name in enumerate(EDGES)))


def _large_style() -> None:
    style = make.make_style("110", sizes=SIZES, colourways=("ink", "chalk", "moss", "rust"))
    role = ClothRole.objects.get(style=style, name="body")
    pieces = [
        Piece.objects.create(style=style, name=f"panel {i}", role=role, position=10 + i)
        for i in range(PIECES - style.pieces.count())
    ]
    rows = []
    for piece in pieces:
        for i, size in enumerate(style.size_range.sizes.all()):
            shape = _curved(100 + 5.0 * i)
            rows.append(PieceOutline(piece=piece, size=size, shape=shape.as_json(), area_mm2=shape.area_mm2))
    PieceOutline.objects.bulk_create(rows)
    operation = style.operations.first()
    for i, (one, other) in enumerate(pairwise(pieces)):
        seam = Seam.objects.create(
            style=style, name=f"seam {i}", operation=operation, times=2, position=10 + i
        )
        for side, piece in enumerate((one, other), 1):
            SeamEdge.objects.create(seam=seam, piece=piece, edge=EDGES[i % 4], side=side, position=side)


@pytest.mark.django_db
def test_estimate(maker_client):
    Workroom.the()
    _large_style()
    for i in range(40):
        make.stock(make.make_fabric_colour("jersey", f"colour {i}"), 10)
    for i in range(60):
        make.stock(make.make_notion_colour("overlock thread", f"colour {i}"), 5000)
    customer = make.make_customer()
    Order.objects.bulk_create(
        Order(number=f"O-{i:04d}", customer=customer, due_on=make.TODAY, entered_on=make.TODAY)
        for i in range(1, 5001)
    )
    began = time.process_time()
    warm_up()
    print(f"warming up: {(time.process_time() - began) * 1000:.0f} ms")
    fields = line_fields(0, **dict.fromkeys(SIZES.split(), "3")) | {"line": "0"}
    _report("estimate of a line", maker_client, "/orders/estimate/", fields)
    _report("style typed: its sizes", maker_client, "/orders/line/", fields | {"do": "body"})
    _report("list of 5,000 open orders", maker_client, "/orders/", {})
    _report("list, searched", maker_client, "/orders/", {"q": "tide"})


def _report(what, client, path, fields):
    """Prints the first answer and the spread of the others in ms of CPU, rendering included."""
    taken = []
    for _ in range(ROUNDS):
        began = time.process_time()
        answer = client.get(path, fields, headers={"HX-Request": "true"})
        taken.append((time.process_time() - began) * 1000)
        assert answer.status_code == 200
    later = sorted(taken[1:])
    print(
        f"{what}: first {taken[0]:.0f} ms, median {statistics.median(later):.0f} ms, "
        f"95th percentile {later[int(0.95 * len(later))]:.0f} ms"
    )
