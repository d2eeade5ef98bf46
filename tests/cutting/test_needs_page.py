"""The needs page of a batch: followed by hand, with and without HTMX."""

from __future__ import annotations

import re
from decimal import ROUND_CEILING, Decimal

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.core.units import format_length
from planner.cutting.actions.gathering import create_batch
from planner.cutting.actions.notions_out import take_notions_out
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.models import Batch, Marker
from planner.cutting.stored import planned_batch
from planner.materials.models import (
    Fabric,
    FabricColour,
    Machine,
    MachineStitch,
    Notion,
    NotionColour,
    Workroom,
)
from planner.styles.models import Operation, Piece
from tests.cutting.needs_pages import (
    ELASTIC,
    HTMX,
    RIB,
    bill_of,
    facts,
    line_of,
    new_batch,
    number,
    page,
    plain_style,
    text_of,
    told,
)
from tests.cutting.once import make_planned_batch
from tests.cutting.table_makers import tell_all_of
from tests.factories import NOON, TODAY, make_order, stock
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db


# --- by hand ---


def test_elastic_by_hand() -> None:
    # Two shoulders a garment. M: 195 + 2 × 20 = 235 mm, 6 of them 1.41 m; L: 247.5 mm, 4 of them 0.99 m. 2.4 m in all,
    # with 5 % for waste 2.52 m. 2 m on hand: 0.52 m short, so a roll of 25 m at 6.00; 24.48 m are left.
    batch = new_batch()
    Notion.objects.filter(name=ELASTIC).update(waste_percent=Decimal("5"))
    stock(NotionColour.objects.get(notion__name=ELASTIC), 2)
    line = line_of(batch, ELASTIC)
    (group,) = line.groups
    assert (group.what, *told(group.total)) == ("seam shoulder", "2.400 m")
    assert [(p.size, p.count, *told(p.each, p.amount), p.how) for p in group.parts] == [
        ("M", 6, "0.235 m", "1.410 m", "195 mm × 1.00 + 2 × 20 mm tails"),
        ("L", 4, "0.2475 m", "0.990 m", "207.5 mm × 1.00 + 2 × 20 mm tails"),
    ]
    assert facts(line) == ["2.52 m", "2.00 m", "0.52 m", "1 × 25 m roll", "6.00 EUR", "24.48 m"]
    assert told(*line.steps) == [
        "2.4 × 1.05 with waste = 2.52 m, rounded up.",
        "2 m on hand.",
        "2.52 needed − 2.00 there = 0.52 m short.",
        "0.52 ÷ 25 = 0.02, so 1 × 25 m roll.",
        "1 × 6.00 = 6.00 EUR.",
        "Left over 2.00 + 25.00 − 2.52 = 24.48 m.",
    ]


def test_thread_by_hand_and_cones_by_the_machine() -> None:
    # 504 takes 14 m a metre by the table. Shoulders: 6 × 0.195 × 14 = 16.38, 4 × 0.2075 × 14 = 11.62; sides of 630 less
    # nothing and so on; three cones at once, one is there.
    batch = new_batch()
    thread = NotionColour.objects.get(notion__name="overlock thread", name="ink")
    stock(thread, 3000)
    line = line_of(batch, "overlock thread")
    shoulder = line.groups[0]
    assert (shoulder.what, *told(shoulder.total)) == ("seam shoulder", "28.000 m")
    assert [(p.size, p.count, *told(p.each, p.amount), p.how, p.source) for p in shoulder.parts] == [
        ("M", 6, "2.730 m", "16.380 m", "195 mm × 14.00, 504 by the table", "table"),
        ("L", 4, "2.905 m", "11.620 m", "207.5 mm × 14.00, 504 by the table", "table"),
    ]
    assert line.to_buy == "2 × 5000 m cone"
    assert "But 3 are threaded at once − 1 there, started ones too = 2 × 5000 m cone." in line.steps
    # Counted cones come before those the metres would fill.
    NotionColour.objects.filter(pk=thread.pk).update(cones=3)
    counted = line_of(batch, "overlock thread")
    assert counted.to_buy == ""
    assert "Cones: 3 are threaded at once, 3 are there, started ones too." in counted.steps


def test_nested_cloth_by_hand() -> None:
    batch = new_batch()
    jersey = FabricColour.objects.get(fabric__name="jersey", name="ink")
    Fabric.objects.filter(name="jersey").update(
        damage_percent=Decimal("3"), shrinkage_handling="wash_first", shrinkage_length_percent=Decimal("5")
    )
    lay = batch.lays.get(cloths__fabric_colour=jersey)
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=2500.0)
    spreads = lay.cloths.get().spreads
    refresh_needs(batch)
    line = line_of(batch, "jersey")
    # A ply is 2,500 + 2 × 20 mm.
    laid = Decimal("2.54") * spreads
    need = (laid / Decimal("0.95") * Decimal("1.03")).quantize(Decimal("0.01"), ROUND_CEILING)
    (part,) = line.lays
    assert told(part.words)[0].startswith(f"{spreads} pl")
    assert told(part.words)[0].endswith(f" × (2500 + 2 × 20) mm = {laid.normalize()} m")
    assert told(line.need) == [f"{need} m"]
    assert told(line.steps[0]) == [
        f"{laid.normalize()} m laid ÷ 0.95 for washing × 1.03 for flaws = {need} m, rounded up."
    ]
    assert {group.what for group in line.groups} == {"piece front", "piece back"}
    assert [(p.size, p.count) for p in line.groups[0].parts] == [("M", 3), ("L", 2)]


# --- the page ---


def test_the_first_line_says_what_to_buy(maker_client: Client) -> None:
    batch = new_batch()
    for colour in NotionColour.objects.exclude(notion__name=ELASTIC):
        stock(colour, 20_000)
    for fabric in FabricColour.objects.filter(name="ink").exclude(fabric__name="jersey"):
        stock(fabric, 50)
    jersey = next(need for need in planned_batch(batch).needs.cloths if need.cloth.fabric == "jersey")
    metres = f"{jersey.to_buy_m:.2f}".removesuffix("0")
    assert f"Buy {metres} m jersey ink and 1 × 25 m roll {ELASTIC}; all else is there." in text_of(
        page(maker_client, batch)
    )
    for colour in [*FabricColour.objects.all(), NotionColour.objects.get(notion__name=ELASTIC)]:
        stock(colour, 50)
    assert "Nothing to buy: all is there." in text_of(page(maker_client, batch))


def test_the_first_line_says_once_what_is_for_sewing(maker_client: Client) -> None:
    """Elastic of the first batch's roll does for the second, thread in its own colour is to be bought."""
    first = new_batch()
    second = make_planned_batch(make_order([(the_style(), RIB, "moss", {"M": 3})]))
    answer = maker_client.get(reverse("batch-detail", args=[second.number])).context["answer"]
    there = f"is there once what {first.number} needs is bought."
    assert re.search(rf"\. For sewing buy [^.]*cone [^.]*moss[^.]*\. All else {re.escape(there)}$", answer), (
        answer
    )


def test_an_estimate_is_called_one(maker_client: Client) -> None:
    batch = new_batch()
    Marker.objects.update(state=Marker.State.NESTING)
    refresh_needs(batch)
    text = text_of(page(maker_client, batch, "?open=all"))
    assert "Cloth is an estimate until all its lays are nested." in text
    assert "m to spread, from its lay as estimated" in text


def test_an_estimate_follows_from_the_lays_as_the_plan_estimates_them() -> None:
    batch = new_batch()
    lays = list(batch.lays.filter(cloths__fabric_colour__fabric__name="jersey").distinct())
    for lay in lays:
        lay.estimated_length_mm = 1234.5
        lay.save()
    Marker.objects.update(state=Marker.State.WAITING, seed=0)
    refresh_needs(batch)
    line = line_of(batch, "jersey")
    assert (line.is_estimate, len(line.lays)) == (True, len(lays))
    spreads = sum(cloth.spreads for lay in lays for cloth in lay.cloths.all())
    words = " ".join(told(*[lay.words for lay in line.lays]))
    assert words.count("× (1235 + 2 × 20) mm") == words.count("as estimated") == len(lays)
    need = next(need for need in planned_batch(batch).needs.cloths if need.cloth.fabric == "jersey")
    assert need.lay_m == pytest.approx(spreads * (1.2345 + 2 * 0.02))


def test_a_batch_without_lays_is_estimated_from_areas(maker_client: Client) -> None:
    batch = new_batch()
    batch.lays.all().delete()
    text = text_of(page(maker_client, batch, "?open=all"))
    assert "m wide × 0.78) × 4 ÷ (4 − 2 × 0.02) for both ends of each table length" in text


def test_lines_open_without_javascript(maker_client: Client) -> None:
    batch = new_batch()
    closed = page(maker_client, batch)
    assert 'href="/batches/B-0001/needs/?open=notion-1#notion-1"' in closed
    assert "mm tails" not in closed
    opened = page(maker_client, batch, "?open=notion-1")
    assert "195 mm × 1.00 + 2 × 20 mm tails" in opened
    assert opened.count('class="bill-where"') == 1
    assert page(maker_client, batch, "?open=all").count('class="bill-where"') == opened.count("<article")


def test_with_htmx_only_the_line_is_answered(maker_client: Client) -> None:
    batch = new_batch()
    html = page(maker_client, batch, "?line=notion-1&open=notion-1", **HTMX)
    assert html.lstrip().startswith('<article class="bill-line short" id="notion-1">')
    assert "195 mm × 1.00 + 2 × 20 mm tails" in html
    closed = page(maker_client, batch, "?line=notion-1", **HTMX)
    assert "tails" not in closed
    assert closed.count("<article") == 1
    url = reverse("batch-needs", args=[batch.number])
    assert maker_client.get(f"{url}?line=notion-99", headers=HTMX).status_code == 404
    assert maker_client.get(f"{url}?open=nonsense,,%01").status_code == 200


def test_helpers_see_it_without_money(helper_client: Client, maker_client: Client) -> None:
    batch = new_batch()
    seen = text_of(page(helper_client, batch, "?open=all"))
    assert "195 mm × 1.00" in seen
    assert "EUR" not in seen
    assert "Measure" not in seen.replace("Measured", "")
    assert "6.00 EUR" in text_of(page(maker_client, batch, "?open=all"))
    answer = Client().get(reverse("batch-needs", args=[batch.number]))
    assert answer.status_code == 302
    assert reverse("sign-in") in answer["Location"]


def test_the_printed_costs_add_up(maker_client: Client) -> None:
    batch = new_batch()
    Fabric.objects.update(price=Decimal("7.77"), pack_quantity=Decimal("0.01"))
    bill = bill_of(batch)
    assert number(bill.cost) == sum(number(line.cost) for line in bill.lines if line.cost) > 0


def test_a_batch_not_planned_says_what_to_do(maker_client: Client) -> None:
    batch = create_batch(User.objects.first(), TODAY)
    text = text_of(page(maker_client, batch, "?open=all"))
    assert "Not known yet: this batch is not planned." in text
    Batch.objects.update(state="cancelled")
    assert "Nothing: this batch is cancelled." in text_of(page(maker_client, batch))
    assert maker_client.get(reverse("batch-needs", args=["B-9999"])).status_code == 404


def test_what_is_gone_is_named(maker_client: Client) -> None:
    batch = new_batch()
    batch.snapshots.clear()
    Piece.objects.filter(name="front").first().outlines.all().delete()  # type: ignore[union-attr]
    assert "something this batch needs is gone" in text_of(page(maker_client, batch))


def test_the_batch_links_to_it_and_both_begin_with_the_metres_its_plan_tells(maker_client: Client) -> None:
    batch = new_batch()
    html = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert reverse("batch-needs", args=[batch.number]) in html
    for need in planned_batch(batch).needs.cloths:
        to_spread = f"{format_length(need.lay_m * 1000, at_least=True)} to spread, from"
        assert to_spread in html
        assert to_spread in page(maker_client, batch)


def test_taken_and_cut_is_told_and_not_bought(maker_client: Client) -> None:
    batch = new_batch()
    take_notions_out(batch, None, NOON)
    for lay in batch.lays.all():
        tell_all_of(lay, "2")
    batch.refresh_from_db()
    text = text_of(page(maker_client, batch, "?open=all"))
    assert "Nothing to buy: all is there." in text
    assert "It is cut already: no more is needed." in text
    assert "It is taken for this batch already: no more is needed." in text


def test_imperial_amounts_are_in_yards_and_reckoned_in_metres(maker_client: Client) -> None:
    batch = new_batch()
    Workroom.objects.update(display="imperial")
    text = text_of(page(maker_client, batch, "?open=notion-1"))
    assert re.search(r"Needed 2 ⅝ yd", text)
    assert "One square inch is 6.4516 square centimetres." in text
    assert text.count("Reckoned in metres") == 1, "said of the line that is open, where its reckoning stands"


def test_queries_do_not_grow(
    maker_client: Client, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    style = the_style()
    order = make_order(
        [
            (style, RIB, "ink", {"S": 2, "M": 3, "L": 2}),
            (style, {"neck": "self band"}, "moss", {"M": 4}),
        ]
    )
    batch = make_planned_batch(order)
    new_batch()
    url = reverse("batch-needs", args=[batch.number])
    maker_client.get(url)
    for query in ("", "?open=all"):
        with django_assert_max_num_queries(MOST_QUERIES):
            maker_client.get(url + query)


#: Two of them know who asks.
MOST_QUERIES = 15


# --- what the thread is known from ---


def test_each_step_says_what_its_thread_is_known_from(maker_client: Client) -> None:
    batch_of = new_batch
    overlock = Machine.objects.create(name="Old Faithful", kind="overlock")
    stitch = MachineStitch.objects.create(
        machine=overlock, stitch_type="504", unpicked_mm=150, needle_mm=450, looper_mm=1500
    )
    batch = batch_of()
    html = page(maker_client, batch, "?open=all")
    # 450 + 1,500 mm out of 150 mm are 13 a millimetre.
    assert "195 mm × 13.00, 504 as measured on Old Faithful" in html
    assert "Measured on the machine: 3 steps." in text_of(html)
    MachineStitch.objects.filter(pk=stitch.pk).update(
        unpicked_mm=None, needle_mm=None, looper_mm=None, stitch_length_mm="2.5", width_mm=5
    )
    Fabric.objects.update(thickness_mm=Decimal("0.6"))
    html = page(maker_client, batch, "?open=all")
    # 3 + 4 × (2 × 0.6 + 5) / 2.5 = 12.92.
    assert (
        "195 mm × 12.92, 504 by its stitch: 3 + (4 × 2 × 0.60 mm thick + 4 × 5 mm wide) / 2.5 mm long" in html
    )
    assert "Geometry of the stitch: 3 steps." in text_of(html)
    assert reverse("stitch-measure", args=[stitch.pk]) in html
    Machine.objects.all().delete()
    html = page(maker_client, batch, "?open=all")
    assert "Table ratio: 3 steps." in text_of(html)
    assert reverse("machine-list") in html


def test_seams_of_two_options_with_one_name_are_told_apart(maker_client: Client) -> None:
    """Each option's own seam is sewn by its own step."""
    style = plain_style()
    style.seams.filter(name__startswith="neck").update(name="neck")
    order = make_order([(style, RIB, "ink", {"M": 1}), (style, {"neck": "self band"}, "ink", {"M": 1})])
    steps = set(Operation.objects.filter(style=style, option__isnull=False).values_list("name", flat=True))
    html = page(maker_client, make_planned_batch(order))
    assert all(f"{step}, overlock" in html for step in steps)


def test_the_buy_page_says_what_is_left_over(maker_client: Client) -> None:
    # Twice 2.4 m of elastic, a roll of 25 m.
    new_batch()
    new_batch()
    html = maker_client.get(reverse("buy-page")).content.decode().replace("\N{THIN SPACE}", " ")
    (row,) = [row for row in html.split("<tr") if "<strong>1 × 25 m roll</strong>" in row]
    assert re.search(r'data-label="Left over" class="num">20\.20? m<', row)
