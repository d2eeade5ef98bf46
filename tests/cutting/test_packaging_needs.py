"""Interfacing with lays of its own, and what is taken for a garment, a piece, an order or one size only.

An invented blouse: front, back and a placket cut twice, the placket's interfacing from a cloth role of its own; three
buttons on each placket, a polybag a garment, a carton an order, a warning label in size S only.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.outline import rectangle
from planner.core.spec import NotionKey
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.bill import BillSetting, make_bill
from planner.cutting.buying import what_to_buy
from planner.cutting.models import Batch
from planner.cutting.stored import planned_batch
from planner.materials.models import Notion, NotionColour
from planner.orders.models import Order
from planner.styles.models import ClothRole, ColourwayCloth, Piece, PieceOutline, Style, StyleNotion
from tests.cutting.once import make_planned_batch
from tests.factories import make_fabric, make_fabric_colour, make_notion_colour, make_order, make_style

pytestmark = pytest.mark.django_db
NECK = {"neck": "self band"}
#: Both are strips of 400 × 40 mm in every size.
PLACKET = rectangle(400, 40, ("end", "front edge", "end", "back edge"))


@pytest.fixture
def blouse() -> Style:
    style = make_style("210", "placket blouse", sizes="S M L")
    interfacing = ClothRole.objects.create(style=style, name="interfacing", position=2)
    white = make_fabric_colour(make_fabric("fusible interfacing", one_way=False), "white")
    ColourwayCloth.objects.create(colourway=style.colourways.get(), role=interfacing, fabric_colour=white)
    placket = make_strip(style, "placket", style.roles.get(name="body"), 10)
    make_strip(style, "placket interfacing", interfacing, 11)
    small = style.size_range.sizes.get(name="S")
    for name, unit, extra in (
        ("shell button", "button", {"basis": "piece", "quantity": Decimal(3), "piece": placket}),
        ("polybag", "other", {"basis": "garment"}),
        ("carton", "other", {"basis": "order"}),
        ("small size warning", "label", {"basis": "garment", "size": small}),
    ):
        Notion.objects.create(
            name=name, kind=unit, unit="pcs", pack="10", pack_quantity=Decimal(10), pack_price=Decimal("2.50"),
            waste_percent=Decimal(0),
        )  # fmt: skip
        StyleNotion.objects.create(style=style, notion_colour=make_notion_colour(name), **extra)
    return style


def make_strip(style: Style, name: str, role: ClothRole, position: int) -> Piece:
    piece = Piece.objects.create(style=style, name=name, role=role, count=2, position=position)
    PieceOutline.objects.bulk_create(
        PieceOutline(piece=piece, size=size, shape=PLACKET.as_json(), area_mm2=PLACKET.area_mm2)
        for size in style.size_range.sizes.all()
    )
    return piece


def orders_of(style: Style) -> list[Order]:
    """Two customers' orders, nine garments together, four of them in S."""
    return [
        make_order([(style, NECK, "ink", {"S": 3, "M": 2})]),
        make_order([(style, NECK, "ink", {"S": 1, "L": 2}), (style, NECK, "ink", {"M": 1})]),
    ]


def needs_of(batch: Batch) -> dict[str, float]:
    return {need.key.notion: need.need for need in planned_batch(batch).needs.notions}


def test_buttons_by_the_piece_bags_by_the_garment_cartons_by_the_order_labels_by_the_size(
    blouse: Style,
) -> None:
    batch = make_planned_batch(*orders_of(blouse))
    wanted = {"shell button": 9 * 2 * 3, "polybag": 9, "carton": 2, "small size warning": 4, "size label": 9}
    assert {name: need for name, need in needs_of(batch).items() if name in wanted} == wanted
    # What was kept when the batch was planned says the same: what to buy follows from that.
    kept = {
        row.notion_colour.notion.name: row.need for row in batch.needs.filter(notion_colour__isnull=False)
    }
    assert {name: kept[name] for name in wanted} == wanted
    # They follow when orders change hands: a batch reckoned again counts its orders again.
    carton = NotionKey("carton")
    batch.items.filter(line__order=Order.objects.first()).delete()
    needs = refresh_needs(batch)
    assert next(need.need for need in needs.notions if need.key == carton) == 1
    assert batch.needs.get(notion_colour=NotionColour.objects.get(notion__name="carton")).need == 1


def test_a_batch_of_one_garment_needs_one_label(blouse: Style) -> None:
    """Needs, what was kept, the buy list and what it costs count alike."""
    Notion.objects.filter(unit="pcs").update(waste_percent=Decimal(2))
    batch = make_planned_batch(make_order([(blouse, NECK, "ink", {"M": 1})]))
    needs = needs_of(batch)
    assert (needs["size label"], needs["carton"]) == (1, 1)
    assert "small size warning" not in needs, "nobody ordered that size"
    assert batch.needs.get(notion_colour__notion__name="size label").need == 1
    (bought,) = [one for one in what_to_buy().needs.notions if one.key.notion == "size label"]
    assert bought.need == 1


def test_where_they_come_from_is_told(blouse: Style) -> None:
    batch = make_planned_batch(*orders_of(blouse))
    bill = make_bill(planned_batch(batch), BillSetting("metric", "EUR", open=("all",)))
    told = {
        line.what: [(g.what, p.size, p.count, p.each, p.how) for g in line.groups for p in g.parts]
        for line in bill.lines
    }
    assert told["shell button"] == [
        ("piece placket", "S", 8, "3\u2009pcs", "3 for each, 2 in a garment"),
        ("piece placket", "M", 6, "3\u2009pcs", "3 for each, 2 in a garment"),
        ("piece placket", "L", 4, "3\u2009pcs", "3 for each, 2 in a garment"),
    ]
    assert told["carton"] == [("order", "", 2, "1\u2009pcs", "1 an order")]
    assert told["small size warning"] == [("garment", "S", 4, "1\u2009pcs", "1 a garment")]
    heads = [head for head, _ in bill.groups]
    assert heads == ["Cloth", "Thread", "Elastic", "Labels", "Buttons", "Packaging and other things"]


def test_interfacing_has_lays_of_its_own(blouse: Style, maker_client: Client) -> None:
    batch = make_planned_batch(*orders_of(blouse))
    (lay,) = batch.lays.filter(cloths__fabric_colour__fabric__name="fusible interfacing")
    held = lay.cloths.get()
    assert sum(one.per_marker for one in held.garments.all()) * held.spreads == 9
    pieces = [placed["piece"] for placed in lay.marker.placements["placements"]]
    assert set(pieces) == {"placket interfacing"}
    assert len(pieces) * held.spreads == 18
    row = batch.needs.get(fabric_colour__fabric__name="fusible interfacing")
    laid = held.spreads * (Decimal(str(lay.marker.length_mm)) + 40) / 1000
    assert row.lay_m == round(laid, 3)
    html = maker_client.get(reverse("batch-needs", args=[batch.number]) + "?open=all").content.decode()
    assert "fusible interfacing" in html
    # Nine garments of two strips of 160 cm² each.
    read = planned_batch(batch)
    bill = make_bill(read, BillSetting("metric", "EUR", open=("all",)))
    (line,) = [one for one in bill.lines if one.what == "fusible interfacing"]
    assert [(g.what, g.total) for g in line.groups] == [("piece placket interfacing", "2\u2009880\u2009cm²")]
