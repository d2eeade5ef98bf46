"""Pages of batches, lays and buying: with and without HTMX, for makers and helpers, and what is typed wrongly."""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
import sys
from decimal import Decimal
from pathlib import Path
from urllib.parse import urlencode

import pytest
from django.conf import settings
from django.db.models import Model
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader
from pytest_django import DjangoAssertNumQueries

from planner.cutting.actions.gathering import create_batch
from planner.cutting.models import Batch, Marker
from planner.cutting.stored import planned_batch
from planner.materials.models import Fabric, FabricColour, Notion
from planner.orders.models import LineQuantity
from planner.styles.models import Colourway, Option
from tests.cutting.once import make_planned_batch
from tests.factories import TODAY, make_order, make_style
from tests.papers.words import texts_of
from tests.sewing.makers import cut_all

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}
CHECKER = Path(settings.BASE_DIR).parent / "shared" / "tools" / "check_plan.py"


@pytest.fixture
def batch() -> Batch:
    return make_planned_batch(make_order([(make_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})]))


def page_text(answer: object) -> str:
    return answer.content.decode()


def test_from_a_new_batch_to_a_plan_without_javascript(maker_client: Client) -> None:
    make_order([(make_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])
    assert "5 ordered garments" in page_text(maker_client.get(reverse("batch-list")))
    answer = maker_client.post(reverse("batch-new"), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("batch-fill", args=["B-0001"])
    boxes = {f"q-{row.pk}": str(row.quantity) for row in LineQuantity.objects.all()}
    answer = maker_client.post(reverse("batch-fill", args=["B-0001"]), {**boxes, "plan": "1"}, follow=True)
    html = page_text(answer)
    assert answer.status_code == 200
    assert "ot settled yet: real lengths of its lays may change it" in html
    assert 'hx-trigger="every 1s"' in html
    assert "The papers are ready as soon as every lay is nested and the plan settled." in html


def test_coming_to_the_address_of_a_new_batch_leads_to_where_one_is_begun(maker_client: Client) -> None:
    there = Batch.objects.count()
    answer = maker_client.get(reverse("batch-new"), follow=True)
    assert answer.redirect_chain == [(reverse("batch-list"), 302)]
    assert "New batch" in answer.content.decode()
    assert Batch.objects.count() == there


def test_what_is_wrong_in_a_box_is_said_there_and_stays(maker_client: Client) -> None:
    make_order([(make_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 2})])
    create_batch(None, TODAY)
    first, second = LineQuantity.objects.order_by("pk")
    address = reverse("batch-fill", args=["B-0001"])
    for typed in ("x", "-1", "1.5", "1e9", "99999"):
        answer = maker_client.post(address, {f"q-{first.pk}": typed})
        assert answer.status_code == 422
        assert f'value="{typed}"' in page_text(answer)
        assert "whole number up to 9999" in page_text(answer)
    answer = maker_client.post(address, {f"q-{first.pk}": "3"})
    assert (answer.status_code, "only 2 left to batch" in page_text(answer)) == (422, True)
    # A box that cannot be read hides no other that asks too much.
    for headers in ({}, HTMX):
        answer = maker_client.post(address, {f"q-{first.pk}": "abc", f"q-{second.pk}": "3"}, headers=headers)
        text = page_text(answer)
        assert answer.status_code == 422
        assert "whole number up to 9999" in text
        assert "only 2 left to batch" in text
        assert "2 boxes ask for something that cannot be had" in text
        assert 'value="abc"' in text
        assert 'value="3"' in text
    assert not Batch.objects.get().items.exists()


def test_a_thousand_lines_in_ten_sizes_can_be_sent_at_once(maker_client: Client) -> None:
    make_order([(make_style(), {"neck": "rib band"}, "ink", {"M": 5})])
    row = LineQuantity.objects.get()
    batch = create_batch(None, TODAY)
    left_alone = {f"{kind}-{row.pk + 1 + n}": "" for n in range(10_000) for kind in "qx"}
    sent = urlencode({f"q-{row.pk}": "3", **left_alone})
    maker_client.post(
        reverse("batch-fill", args=[batch.number]), sent, content_type="application/x-www-form-urlencoded"
    )
    assert batch.items.get().quantity == 3


def test_codes_no_phone_can_open_are_told_before_they_are_printed(
    maker_client: Client, batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = reverse("batch-detail", args=[batch.number])
    monkeypatch.setattr(settings, "BASE_URL", "http://127.0.0.1:8470")
    assert "start Notchbook with <kbd>--lan</kbd> first" in page_text(maker_client.get(page))
    monkeypatch.setattr(settings, "BASE_URL", "http://192.168.1.20:8470")
    assert "--lan" not in page_text(maker_client.get(page))


def test_the_parts_of_a_long_page_are_one_press_away(maker_client: Client, batch: Batch) -> None:
    page = page_text(maker_client.get(reverse("batch-detail", args=[batch.number])))
    (jump,) = re.findall(r'<nav class="jump".*?</nav>', page)
    places = re.findall(r'href="#([\w-]+)"', jump)
    assert places == ["h-papers", "h-needs", "h-lays", "h-counts", "h-bundles"]
    assert all(page.count(f'id="{place}"') == 1 for place in places)
    create_batch(None, TODAY)
    assert 'class="jump"' not in page_text(maker_client.get(reverse("batch-detail", args=["B-0002"])))


def test_the_page_stops_asking_when_all_is_nested(maker_client: Client, batch: Batch) -> None:
    whole = page_text(maker_client.get(reverse("batch-detail", args=[batch.number])))
    assert "every 1s" not in whole
    assert reverse("print-paper", args=[batch.number, "cut-tickets"]) in whole
    Marker.objects.update(state=Marker.State.NESTING)
    region = page_text(maker_client.get(reverse("batch-running", args=[batch.number]), headers=HTMX))
    assert "every 1s" in region
    assert 'hx-swap-oob="true"' in region
    # A lay that is split while it is nested moves bundles to another lay.
    assert re.search(r'id="batch-bundles"[^>]* hx-swap-oob="true"', region)
    assert 'id="batch-bundles"' in whole
    assert "<html" not in region


def test_a_lay_answers_with_its_region_or_its_page(helper_client: Client, batch: Batch) -> None:
    address = reverse("lay-detail", args=[batch.number, 1])
    assert "<html" in page_text(helper_client.get(address))
    region = page_text(helper_client.get(address, headers=HTMX))
    assert region.lstrip().startswith('<div id="lay-region"')
    assert "Rotary cutters" in region


def test_helpers_cut_and_print_but_do_not_plan(helper_client: Client, batch: Batch) -> None:
    assert helper_client.post(reverse("batch-new")).status_code == 403
    for name in ("batch-plan", "batch-take-back", "batch-cancel"):
        assert helper_client.post(reverse(name, args=[batch.number])).status_code == 403
    assert helper_client.get(reverse("batch-buy-list", args=[batch.number])).status_code == 403
    assert helper_client.get(reverse("cut-sheet", args=[batch.number])).status_code == 200


def test_only_a_form_that_is_sent_changes_anything(maker_client: Client, batch: Batch) -> None:
    for name in ("batch-plan", "batch-take-back", "batch-cancel", "batch-notions"):
        assert maker_client.get(reverse(name, args=[batch.number])).status_code == 405
    for name in ("lay-stop", "lay-longer", "lay-cut", "lay-uncut", "lay-rest", "lay-rest-back"):
        assert maker_client.get(reverse(name, args=[batch.number, 1])).status_code == 405


PAPERS = ["cut-sheet", "cut-tickets", "bundle-tickets", "batch-buy-list"]


def test_papers_are_pdfs_with_the_batch_on_them(maker_client: Client, batch: Batch) -> None:
    """Each lay has its ticket, each bundle its label, which names every lay and counts notions for the bundle."""
    printed = {}
    for name in PAPERS:
        paper = {"paper": "label"} if name == "bundle-tickets" else {}
        answer = maker_client.get(reverse(name, args=[batch.number]), paper)
        assert answer["Content-Type"] == "application/pdf"
        printed[name] = answer.content
        assert all(batch.number in text for text in texts_of(answer.content)), name
    assert len(PdfReader(io.BytesIO(printed["cut-tickets"])).pages) == batch.lays.count()
    one = maker_client.get(reverse("cut-tickets", args=[batch.number]) + "?lay=1").content
    assert len(PdfReader(io.BytesIO(one)).pages) == 1
    pages = PdfReader(io.BytesIO(printed["bundle-tickets"])).pages
    assert len(pages) >= batch.bundles.count()
    assert [round(float(side) / 72 * 25.4) for side in pages[0].mediabox[2:]] == [100, 150]
    bundle = batch.bundles.get(size__name="M")
    assert bundle.lays.count() == 2
    ticket = next(text for text in texts_of(printed["bundle-tickets"]) if bundle.number in text)
    words = " ".join(ticket.split())
    assert all(f"lay {lay.number}, pl" in words for lay in bundle.lays.all())
    assert "3 × size label" in ticket


def test_papers_wait_for_the_last_lay(maker_client: Client, batch: Batch) -> None:
    Marker.objects.filter(pk=Marker.objects.first().pk).update(state=Marker.State.WAITING)
    for name in ("cut-sheet", "cut-tickets", "bundle-tickets", "plan-file"):
        answer = maker_client.get(reverse(name, args=[batch.number]), follow=True)
        assert "once every lay is nested" in page_text(answer)


def test_the_plan_file_holds_to_the_outside_checker(
    maker_client: Client, batch: Batch, tmp_path: Path
) -> None:
    plan = json.loads(maker_client.get(reverse("plan-file", args=[batch.number])).content)
    assert plan["schema"] == "notchbook-plan/1"
    assert sum(bundle["quantity"] for bundle in plan["bundles"]) == 5
    if not CHECKER.exists():
        pytest.skip("the plan checker is not beside this checkout")
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(plan))
    done = subprocess.run([sys.executable, CHECKER, path], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_the_buy_list_opens_in_a_spreadsheet(maker_client: Client, batch: Batch) -> None:
    answer = maker_client.get(reverse("buy-list") + "?as=csv")
    lines = answer.content.decode("utf-8-sig").splitlines()
    assert answer["Content-Type"].startswith("text/csv")
    assert any("jersey" in line for line in lines[1:])
    assert "Buy" in page_text(maker_client.get(reverse("buy-page")))


def test_lists_and_pages_take_a_fixed_number_of_queries(
    maker_client: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    style = make_style()
    for n in range(3):
        make_planned_batch(
            make_order([(style, {"neck": "rib band"}, "ink", {"S": 2 + n, "M": 3, "L": n + 1})])
        )
    cut_all(Batch.objects.get(number="B-0001"))
    with django_assert_num_queries(6):
        maker_client.get(reverse("batch-list"))
    for _ in range(57):
        create_batch(None, TODAY)
    with django_assert_num_queries(6):
        maker_client.get(reverse("batch-list"))
    # One that is short of what an earlier one lacks too asks for that besides.
    for number, asked in (("B-0001", 14), ("B-0003", 15)):
        with django_assert_num_queries(asked):
            maker_client.get(reverse("batch-detail", args=[number]))
    with django_assert_num_queries(7):
        maker_client.get(reverse("buy-page"))


def test_take_back_and_cancel_say_what_happened(maker_client: Client, batch: Batch) -> None:
    answer = maker_client.post(reverse("batch-take-back", args=[batch.number]), follow=True)
    assert "is taken back" in page_text(answer)
    answer = maker_client.post(reverse("batch-cancel", args=[batch.number]), follow=True)
    assert "can be batched again" in page_text(answer)


def test_what_keeps_a_batch_from_being_planned_is_listed(maker_client: Client) -> None:
    style = make_style()
    make_order([(style, {"neck": "rib band"}, "ink", {"S": 2})])
    style.pieces.get(name="front").outlines.all().delete()
    create_batch(None, TODAY)
    row = LineQuantity.objects.get()
    address = reverse("batch-fill", args=["B-0001"])
    answer = maker_client.post(address, {f"q-{row.pk}": "2", "plan": "1"})
    assert answer.status_code == 422
    page = page_text(answer)
    assert "This cannot be planned yet" in page
    # The garments went into the batch before it was planned, and stay.
    assert "What you chose is saved: B-0001 holds 2 garments now. Nothing else was changed." in page
    assert "Nothing was changed" not in page
    assert [item.quantity for item in Batch.objects.get().items.all()] == [2]
    answer = maker_client.post(reverse("batch-plan", args=["B-0001"]))
    assert answer.status_code == 422
    assert "Nothing was changed. Put it right" in page_text(answer)


#: What a plan names its parts by, each with another name it is given.
NEW_NAMES: tuple[tuple[type[Model], dict[str, str], str], ...] = (
    (Fabric, {"name": "jersey"}, "smooth jersey"),
    (FabricColour, {"name": "ink"}, "midnight"),
    (Notion, {"kind": "elastic"}, "stay elastic"),
    (Option, {"name": "rib band"}, "ribbed band"),
    (Colourway, {"name": "ink"}, "night"),
)


def test_a_planned_batch_follows_new_names(maker_client: Client, batch: Batch) -> None:
    """Its needs after each of them; its page, the page of a bundle and its papers all of them."""
    before = sorted(need.need_m for need in planned_batch(batch).needs.cloths)
    for model, named, name in NEW_NAMES:
        assert model.objects.filter(**named).update(name=name)
        assert sorted(need.need_m for need in planned_batch(batch).needs.cloths) == before, name
    page = maker_client.get(reverse("batch-detail", args=[batch.number]))
    assert (page.status_code, "gone" in page.context) == (200, False)
    bundle = batch.bundles.first()
    assert maker_client.get(reverse("bundle-scan", args=[bundle.token])).status_code == 200
    for name in [*PAPERS, "plan-file"]:
        assert maker_client.get(reverse(name, args=[batch.number])).status_code == 200, name


def test_what_is_gone_is_said_instead_of_failing(maker_client: Client, batch: Batch) -> None:
    FabricColour.objects.filter(fabric__name="jersey").update(name="midnight")
    style = batch.items.first().line.style
    style.pieces.get(name="front").outlines.all().delete()
    page = maker_client.get(reverse("batch-detail", args=[batch.number]))
    assert page.status_code == 200
    assert "Something this batch needs is gone" in page_text(page)
    assert maker_client.get(reverse("cut-sheet", args=[batch.number])).status_code == 302


def test_prices_on_the_buy_list_add_up_and_name_their_currency_once(
    maker_client: Client, batch: Batch
) -> None:
    address = reverse("batch-buy-list", args=[batch.number])
    text = maker_client.get(address + "?as=csv").content.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    total = sum(Decimal(row["price"]) for row in rows)
    assert rows
    assert {row["currency"] for row in rows} == {"EUR"}
    printed = texts_of(maker_client.get(address).content)[0]
    assert f"{total} EUR" in printed
    assert "EUR EUR" not in printed
    # Once at the head, once under the prices; the lines themselves carry bare amounts.
    assert printed.count("EUR") == 2
