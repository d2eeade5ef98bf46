"""From orders to printed tickets in a real browser. No worker runs here: the test nests what waits."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from planner.cutting.actions.nesting import nest_one
from planner.cutting.models import Batch, Marker
from tests.factories import make_order, make_style

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_batch_is_planned_and_printed(signed_in_page: Page, axe: Callable[[Page], None]) -> None:
    make_order([(make_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])
    page = signed_in_page
    page.goto("/batches/")
    axe(page)
    page.get_by_role("button", name="New batch").click()
    page.get_by_role("button", name="Take the whole line").click()
    expect(page.locator("[data-filled]")).to_have_text("5 garments in this batch")
    axe(page)
    page.get_by_role("button", name="Save and plan").first.click()
    page.wait_for_url(re.compile(r"/batches/B-0001/$"))
    expect(page.locator("#batch-answer")).to_contain_text("lays are being nested")
    axe(page)
    Marker.objects.update(seconds=1)
    for marker in Marker.objects.all():
        nest_one(marker.pk)
    # The page follows by itself.
    expect(page.get_by_role("link", name="Cut tickets")).to_be_visible()
    expect(page.locator("#batch-answer")).to_contain_text("then cut")
    expect(page.locator("#lay-1 .lay-drawing")).to_be_visible()
    axe(page)
    for name in ("Cut tickets", "Bundle tickets", "Cut sheet", "Buy list"):
        address = page.get_by_role("link", name=name, exact=True).get_attribute("href")
        answer = page.request.get(address)
        assert (answer.status, answer.body()[:5]) == (200, b"%PDF-"), name
    page.get_by_role("link", name="Lay 1", exact=True).click()
    axe(page)
    page.get_by_role("button", name="It is cut").click()
    expect(page.get_by_text("Lay 1 is cut")).to_be_visible()
    assert Batch.objects.get().lays.get(number=1).cut_at is not None


def test_a_lay_is_cut_at_the_table_with_a_phone(phone_page: Page, axe: Callable[[Page], None]) -> None:
    from tests.sewing.makers import make_planned_batch

    batch = make_planned_batch()
    phone_page.goto(f"/batches/{batch.number}/lays/1/")
    axe(phone_page)
    assert phone_page.evaluate("document.documentElement.scrollWidth") <= 390
    phone_page.get_by_role("button", name="It is cut").tap()
    expect(phone_page.get_by_text("Lay 1 is cut")).to_be_visible()
