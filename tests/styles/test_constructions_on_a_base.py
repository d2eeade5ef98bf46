"""A frill set to a top that has everything else from its base: ordered, batched and sewn with the base's steps.

The base is the top of `constructions.py`, whose measures stand in `construction_shapes.py`.
"""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest

from planner.core.spec import NotionKey
from planner.cutting.models import Bundle
from planner.cutting.stored import planned_batch
from planner.orders.models import Order
from planner.sewing.progress import state_of
from planner.styles.models import (
    Colourway,
    ColourwayCloth,
    Operation,
    Piece,
    PieceOutline,
    Seam,
    SeamEdge,
    Style,
)
from tests.factories import make_fabric_colour, make_notion_colour
from tests.sewing.makers import make_planned_batch
from tests.styles.construction_cases import PLAIN, THREAD, order_fields
from tests.styles.construction_shapes import HEM, SA, Measures, ring
from tests.styles.constructions import CLOTHS, make_swap_top

pytestmark = pytest.mark.django_db


@pytest.fixture
def frilled(db: None) -> Style:
    """161, built on 160: a frill 200 deep, half as wide again as the body, gathered to its hem; it has the hem now."""
    base = make_swap_top()
    style = Style.objects.create(
        number="161", name="frilled top", base=base, size_range=base.size_range, base_size=base.base_size
    )
    frill = Piece.objects.create(
        style=style, name="frill", role=base.roles.get(name="body"), count=2, edge_allowances={"hem": HEM}
    )
    for size in base.size_range.sizes.all():
        across = 1.5 * Measures(size.position).w + SA
        shape = ring(
            ("hem", -HEM, -SA), ("end", -HEM, across), ("top", 200 + SA, across), ("end", 200 + SA, -SA)
        )  # fmt: skip
        PieceOutline.objects.create(piece=frill, size=size, shape=shape.as_json(), area_mm2=shape.area_mm2)
    step = Operation.objects.create(
        style=style,
        name="set the frill",
        machine="overlock",
        stitch_type="504",
        position=27,
        setup_note="gather it",
    )
    gathered = Seam.objects.create(
        style=style, name="frill", operation=step, ratio=Decimal("1.5"), fullness="gathered"
    )
    ends = Seam.objects.create(style=style, name="frill ends", operation=step, times=2)
    hem = Seam.objects.create(style=style, name="hem", operation=base.operations.get(name="hem"))
    pieces = {piece.name: piece for piece in base.pieces.all()} | {"frill": frill}
    for seam, name, edge, side, takes in (
        (gathered, "front", "hem", 1, 1), (gathered, "back", "hem", 1, 1), (gathered, "frill", "top", 2, 2),
        (ends, "frill", "end", 1, 1), (ends, "frill", "end", 2, 1), (hem, "frill", "hem", 1, 2),
    ):  # fmt: skip
        SeamEdge.objects.create(seam=seam, piece=pieces[name], edge=edge, side=side, takes=takes)
    thread = make_notion_colour("overlock thread", "moss")
    colourway = Colourway.objects.create(style=style, name="moss", thread=thread)
    for role in base.roles.all():
        cloth = make_fabric_colour(CLOTHS[role.name], "moss")
        ColourwayCloth.objects.create(colourway=colourway, role=role, fabric_colour=cloth)
    return style


def test_it_takes_the_pieces_and_seams_of_its_base_and_its_own(maker_client, frilled):
    sent = order_fields(PLAIN) | {"line-0-style": "161", "line-0-colourway": "moss"}
    answer = maker_client.post("/orders/new/", sent)
    assert answer.status_code == 302, answer.content.decode()
    batch = make_planned_batch(Order.objects.get())
    read = planned_batch(batch)

    counts = Counter()
    for row in read.needs.cutting_counts:
        assert row.cloth.colour == "moss"
        counts[row.piece] += row.count
    assert counts == {"front": 3, "back": 3, "sleeve": 6, "rib neck band": 3, "frill": 6}

    (rib_s, rib_l), (sleeve_s, sleeve_l) = THREAD["neck", "rib band"], THREAD["sleeve", "plain"]
    # Shoulders 2 × 120 × 14, sides 2 × 420 × 14, frill set to (480 + 480) × 14, its ends 2 × 200 × 14, its hem
    # 2 × 720 × 18; in L 130, 430, 520 and 780. The hem of the base is not sewn.
    small = 3_360 + 11_760 + 13_440 + 5_600 + 25_920 + rib_s + sleeve_s
    large = 3_640 + 12_040 + 14_560 + 5_600 + 28_080 + rib_l + sleeve_l
    thread = next(n for n in read.needs.notions if n.key == NotionKey("overlock thread", "moss"))
    assert thread.need == pytest.approx((2 * small + large) / 1000)
    elastic = next(n for n in read.needs.notions if n.key == NotionKey("clear elastic 6 mm"))
    assert elastic.need == pytest.approx(4 * 0.160 + 2 * 0.170)  # the base's, along the shoulders


def test_it_is_sewn_with_the_steps_of_its_base_and_its_own(maker_client, frilled):
    sent = order_fields(PLAIN) | {"line-0-style": "161", "line-0-colourway": "moss"}
    assert maker_client.post("/orders/new/", sent).status_code == 302
    batch = make_planned_batch(Order.objects.get())
    steps = [step.operation.name for step in state_of(Bundle.objects.filter(batch=batch).first()).steps]
    assert steps == [
        "join shoulders",
        "join the rib",
        "set the rib band",
        "set sleeves",
        "close sides and underarms",
        "set the frill",
        "hem",
    ]
