"""What styles and batches cost, held against figures reckoned by hand."""

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.core.units import round_money
from planner.costs.sheets import batch_costs, price_of, style_costs
from planner.cutting.models import Batch
from planner.materials.models import Fabric, Notion, Workroom
from planner.styles.models import Operation, Style
from planner.styles.specs import workshop
from tests.factories import make_fabric, make_fabric_colour, make_style
from tests.sewing.makers import make_planned_batch

pytestmark = pytest.mark.django_db


@pytest.fixture
def room() -> Workroom:
    """18.00 an hour, 15 % overhead, 55 % margin."""
    return Workroom.the()


def test_a_style_by_hand(room: Workroom) -> None:
    """12.5 standard minutes with the self band, the first choice, at 18.00 an hour: 3.75."""
    make_style(colourways=("ink", "moss"))
    shop = workshop(["110"])
    (cost,) = style_costs(shop.styles.values(), shop, room)
    assert (cost.number, cost.size, cost.options, cost.colourways) == (
        "110", "L", "neck: self band", "ink, moss",
    )  # fmt: skip
    sheet = cost.sheet
    assert sheet.labour_cost == Decimal("3.75")
    materials = {line.name: line for line in sheet.materials}
    assert set(materials) == {"jersey, ink", "clear elastic 6 mm", "overlock thread, ink", "size label"}
    assert materials["size label"].amount == Decimal("0.09"), "9.00 for 100"
    # Size L: front 645 long, half 287.5 wide, so a shoulder is cut 287.5 - 80 = 207.5. It is sewn 7 mm inside: less
    # 7 at the side, and less 7 × √(1 + 0.08755²) − 7 × 0.08755 = 6.414 where the neckline leaves it with a slope
    # of 1.537 : 17.558 (the first of the eight steps of its quarter ellipse): 194.086, reckoned with to a tenth as it
    # is printed. Two with 20 at either end.
    assert float(materials["clear elastic 6 mm"].quantity) == pytest.approx(2 * (194.1 + 40) / 1000, abs=1e-6)
    assert materials["jersey, ink"].unit_price == Decimal("12.00")
    assert sheet.overhead == (sheet.materials_cost + sheet.labour_cost) * Decimal("0.15")
    assert sheet.price == round_money(sheet.exact_total / Decimal("0.45"))


def test_colours_that_cost_something_else_stand_apart(room: Workroom) -> None:
    style = make_style(colourways=("ink", "moss"))
    cloth = style.colourways.get(name="moss").cloths.get(role__name="body")
    cloth.fabric_colour = make_fabric_colour(make_fabric("merino", price=Decimal("40")), "moss")
    cloth.save()
    shop = workshop(["110"])
    ink, moss = style_costs(shop.styles.values(), shop, room)
    assert (ink.colourways, moss.colourways) == ("ink", "moss")
    assert moss.sheet.total > ink.sheet.total


def test_a_gap_is_named_instead_of_a_cost(room: Workroom) -> None:
    make_style(with_outlines=False)
    shop = workshop(["110"])
    (cost,) = style_costs(shop.styles.values(), shop, room)
    assert cost.sheet is None
    assert "front" in cost.problem


def test_a_margin_that_leaves_no_price_is_said(room: Workroom, maker_client: Client) -> None:
    make_planned_batch()
    Workroom.objects.update(margin_percent=100)
    assert (
        "The margin takes the whole price: lower it."
        in maker_client.get(reverse("cost-list")).content.decode()
    )
    assert "no price at this margin" in maker_client.get(reverse("cost-batches")).content.decode()


def test_a_batch_by_hand(room: Workroom) -> None:
    """3 + 2 garments with a rib band at 12 minutes: 60 minutes, 18.00."""
    batch = make_planned_batch()
    (cost,) = batch_costs([batch], workshop([]), room)
    needs = {str(need.fabric_colour or need.notion_colour): need.need for need in batch.needs.all()}
    by_hand = (
        (needs["jersey, ink"] + needs["rib, ink"]) * 12
        + needs["clear elastic 6 mm"] * 6 / 25
        + needs["overlock thread, ink"] * Decimal("4.5") / 5000
        + needs["size label"] * 9 / 100
    )
    materials = round_money(by_hand)
    overhead = round_money((materials + 18) * Decimal("0.15"))
    assert cost.materials == materials
    assert (cost.garments, cost.minutes, cost.labour) == (5, 60, 18)
    assert cost.overhead == overhead
    assert cost.total == materials + 18 + overhead
    assert cost.each == round_money((materials + 18 + overhead) / 5)
    assert price_of(cost, room) == round_money(cost.each / Decimal("0.45"))
    assert not cost.is_estimate, "its lays are nested"


def test_what_is_printed_of_a_batch_adds_up(room: Workroom, maker_client: Client) -> None:
    """As somebody with a pencil would look: materials, labour and overhead of a row make what it costs."""
    make_planned_batch()
    for rate in ("17.99", "18.33", "20.35", "21.05", "23.47"):
        Workroom.objects.update(labour_rate_per_hour=Decimal(rate), overhead_percent=Decimal("17.3"))
        page = maker_client.get(reverse("cost-batches")).content.decode()
        cells = {
            name: Decimal(found)
            for name, found in re.findall(r'data-label="(\w+)">(?:<\w+>)*([\d.]+)\N{THIN SPACE}EUR', page)
        }
        assert set(cells) == {"Materials", "Labour", "Overhead", "Costs"}, rate
        assert cells["Materials"] + cells["Labour"] + cells["Overhead"] == cells["Costs"], rate


def test_a_batch_keeps_the_minutes_it_was_planned_with(room: Workroom) -> None:
    batch = make_planned_batch()
    Operation.objects.update(standard_minutes=99)
    (cost,) = batch_costs([batch], workshop([]), room)
    assert cost.minutes == 60


def test_a_workroom_in_yards_reads_what_a_garment_takes_in_yards(maker_client: Client) -> None:
    make_planned_batch()
    Workroom.the()
    Workroom.objects.update(display="imperial")
    html = maker_client.get(reverse("cost-list")).content.decode()
    (materials,) = re.findall(r"<li>jersey, ink: ([^,]+),", html)
    assert materials.endswith("\N{THIN SPACE}yd")


def test_what_has_no_price_is_named_beside_the_sums_of_a_style(room: Workroom, maker_client: Client) -> None:
    make_style(colourways=("ink",))
    html = maker_client.get(reverse("cost-list")).content.decode()
    assert "No price" not in html
    whole = style_costs(workshop(["110"]).styles.values(), workshop(["110"]), room)[0]
    Fabric.objects.filter(name="jersey").update(price=0)
    Notion.objects.filter(name="size label").update(pack_price=0)
    shop = workshop(["110"])
    (cost,) = style_costs(shop.styles.values(), shop, room)
    assert cost.sheet.total < whole.sheet.total
    assert cost.unpriced == "No price is noted for jersey and size label: they are in none of these sums."
    html = maker_client.get(reverse("cost-list")).content.decode()
    beside = html[html.index('data-label="Costs"') :].partition("</td>")[0]
    assert cost.unpriced in beside


def test_what_has_no_price_is_named_beside_the_sums_of_a_batch(room: Workroom, maker_client: Client) -> None:
    batch = make_planned_batch()
    (whole,) = batch_costs([batch], workshop([]), room)
    assert whole.unpriced == ""
    Fabric.objects.filter(name="jersey").update(price=0)
    (cost,) = batch_costs([batch], workshop([]), room)
    assert cost.materials < whole.materials
    assert cost.unpriced == "No price is noted for jersey: it is in none of these sums."
    html = maker_client.get(reverse("cost-batches")).content.decode()
    beside = html[html.index('data-label="Costs"') :].partition("</td>")[0]
    assert cost.unpriced in beside


def test_colours_of_cloths_without_a_price_stand_apart(room: Workroom) -> None:
    """They cost the same, but what their sums leave out is another cloth."""
    style = make_style(colourways=("ink", "moss"))
    cloth = style.colourways.get(name="moss").cloths.get(role__name="body")
    cloth.fabric_colour = make_fabric_colour(make_fabric("merino", price=Decimal(0)), "moss")
    cloth.save()
    Fabric.objects.filter(name="jersey").update(price=0)
    shop = workshop(["110"])
    ink, moss = style_costs(shop.styles.values(), shop, room)
    assert "jersey" in ink.unpriced
    assert "merino" in moss.unpriced


def test_estimates_are_labelled(maker_client: Client) -> None:
    batch = make_planned_batch()
    html = maker_client.get(reverse("cost-list")).content.decode()
    assert "One garment, an estimate" in html
    assert "18.00\N{THIN SPACE}EUR an hour" in html
    label = '<span class="tag">estimate</span>'
    assert label not in maker_client.get(reverse("cost-batches")).content.decode()
    batch.needs.update(is_estimate=True)
    assert label in maker_client.get(reverse("cost-batches")).content.decode()


@pytest.mark.parametrize("page", ["cost-list", "cost-batches"])
def test_prices_are_for_makers(helper_client: Client, page: str) -> None:
    assert helper_client.get(reverse(page)).status_code == 403


@pytest.mark.parametrize(
    ("page", "room_to_go_to"), [("cost-list", "style-list"), ("cost-batches", "batch-list")]
)
def test_an_empty_page_teaches(maker_client: Client, page: str, room_to_go_to: str) -> None:
    html = maker_client.get(reverse(page)).content.decode()
    assert f'class="button" href="{reverse(room_to_go_to)}"' in html


@pytest.mark.parametrize(("page", "queries"), [("cost-list", 18), ("cost-batches", 11)])
def test_the_pages_ask_no_more_however_much_there_is(
    maker_client: Client, django_assert_num_queries: DjangoAssertNumQueries, page: str, queries: int
) -> None:
    def ask() -> None:
        with django_assert_num_queries(queries):
            maker_client.get(reverse(page))

    make_planned_batch()
    ask()
    for n in range(2):
        make_style(f"12{n}")
        make_planned_batch()
    assert (Style.objects.count(), Batch.objects.count()) == (3, 3)
    ask()
