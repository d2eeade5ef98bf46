"""From orders to printed tickets in a real browser. No worker runs here: the test nests what waits."""

from __future__ import annotations

import re
from collections.abc import Callable
from time import sleep
from typing import Any

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from planner.core.lays.rows import first_marker
from planner.cutting.actions import gathering, nesting
from planner.cutting.actions.gathering import create_batch
from planner.cutting.actions.nesting import nest_one
from planner.cutting.actions.settling import settle
from planner.cutting.models import Batch, CutPlan, Marker
from tests.browser.kept_pages import Complaints
from tests.factories import TODAY, make_order, make_style
from tests.sewing.makers import make_planned_batch, the_style

pytestmark = pytest.mark.django_db(transaction=True)


def test_what_is_pressed_twice_is_sent_once_and_what_takes_long_says_that_it_is_worked_on(
    signed_in_page: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As by one who double-clicks everything, while the answer takes a moment."""

    def slowly(*asked: Any) -> Batch:
        sleep(0.6)
        return create_batch(*asked)

    monkeypatch.setattr(gathering, "create_batch", slowly)
    make_order([(make_style(), {"neck": "rib band"}, "ink", {"S": 2})])
    page = signed_in_page
    page.goto("/batches/")
    button = page.get_by_role("button", name="New batch")
    button.evaluate("button => { button.click(); setTimeout(() => button.click(), 200); }")
    page.wait_for_url(re.compile(r"/batches/B-0001/"))
    assert [batch.number for batch in Batch.objects.all()] == ["B-0001"]
    # What takes longer says that it is worked on.
    page.get_by_role("button", name="Take the whole line").click()
    page.route("**/orders/", lambda route: (page.wait_for_timeout(2500), route.continue_()))
    page.evaluate(
        "new MutationObserver(() => sessionStorage.setItem('said', document.getElementById('messages').textContent))"
        ".observe(document.getElementById('messages'), {childList: true})"
    )
    page.get_by_role("button", name="Save and plan").first.click()
    page.wait_for_url(re.compile(r"/batches/B-0001/$"))
    assert "Still being worked on" in page.evaluate("sessionStorage.getItem('said')")
    expect(page.locator("#messages")).not_to_contain_text("Still being worked on")


def test_a_batch_is_planned_and_printed(
    signed_in_page: Page, axe: Callable[[Page], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    # Plain rows in place of nesting, which has its own tests.
    monkeypatch.setattr(nesting, "nest", lambda job, **_: first_marker(job))
    make_order([(make_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])
    page = signed_in_page
    page.goto("/batches/")
    page.get_by_role("button", name="New batch").click()
    page.get_by_role("button", name="Take the whole line").click()
    expect(page.locator("[data-filled]")).to_have_text("5 garments in this batch")
    axe(page)
    page.get_by_role("button", name="Save and plan").first.click()
    page.wait_for_url(re.compile(r"/batches/B-0001/$"))
    expect(page.locator("#batch-answer")).to_contain_text("lays is nested yet")
    axe(page)
    settle_here(Batch.objects.get())
    # The page follows by itself.
    expect(page.get_by_role("button", name="Cut tickets")).to_be_visible()
    expect(page.locator("#batch-answer")).to_contain_text("then cut")
    expect(page.locator("#lay-1 .lay-drawing")).to_be_visible()
    # Pressed, each opens as a page of its own.
    for name, paper in (("Cut tickets", "1"), ("Bundle tickets", "bundles"), ("Cut sheet", "sheet")):
        with page.context.expect_event("request", lambda request: request.url.endswith(".pdf")) as asked:
            page.get_by_role("button", name=name, exact=True).click()
        answer = page.request.get(asked.value.url)
        assert (answer.status, answer.body()[:5]) == (200, b"%PDF-"), name
        assert paper in Batch.objects.get().printed
    address = page.get_by_role("link", name="Buy list", exact=True).get_attribute("href")
    assert page.request.get(address).body()[:5] == b"%PDF-"
    page.get_by_role("link", name="Lay 1", exact=True).click()
    page.get_by_role("button", name="It is cut").click()
    expect(page.get_by_text("Lay 1 is cut")).to_be_visible()
    assert Batch.objects.get().lays.get(number=1).cut_at is not None


def settle_here(batch: Batch) -> None:
    """What the worker does: nests what waits and looks whether the plan stands, until it does."""
    for _ in range(9):
        for marker in Marker.objects.filter(state=Marker.State.WAITING):
            Marker.objects.filter(pk=marker.pk).update(seconds=1)
            nest_one(marker.pk)
        settle(batch.pk)
        if not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
            return
    pytest.fail("the plan of the batch does not settle")


def test_a_wrong_box_is_told_at_the_box_and_keeps_what_was_typed(
    signed_in_page: Page, complaints: Complaints, axe: Callable[[Page], None]
) -> None:
    make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])
    batch = create_batch(None, TODAY)
    page = signed_in_page
    page.goto(f"/batches/{batch.number}/orders/")
    page.get_by_label("M of").fill("4")
    page.get_by_label("S of").fill("1")
    page.get_by_role("button", name="Save", exact=True).first.click()
    expect(page.get_by_role("alert")).to_contain_text("Nothing was changed")
    expect(page.get_by_label("M of")).to_have_value("4")
    expect(page.get_by_label("M of")).to_have_accessible_description("only 3 left to batch")
    expect(page.get_by_label("S of")).to_have_value("1")
    axe(page)
    assert not batch.items.exists()
    complaints.expect("422")


def test_a_page_that_follows_the_nesting_asks_no_more_when_it_is_over(signed_in_page: Page) -> None:
    batch = make_planned_batch()
    Marker.objects.update(state=Marker.State.NESTING)
    page = signed_in_page
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url) if "/running/" in request.url else None)
    page.goto(f"/batches/{batch.number}/")
    with page.expect_response(re.compile("/running/")):
        pass
    Marker.objects.update(state=Marker.State.STOPPED)
    expect(page.get_by_role("button", name="Cut tickets")).to_be_visible()
    so_far = len(asked)
    page.wait_for_timeout(2_500)  # the page asks each second while it follows
    assert len(asked) == so_far > 0


def test_without_javascript_a_batch_is_filled_and_planned(new_page: Callable[..., Page], maker: User) -> None:
    make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2})])
    page = new_page(user=maker, java_script_enabled=False)
    page.goto("/batches/")
    page.get_by_role("button", name="New batch").click()
    expect(page.get_by_role("button", name="Take the whole line")).to_be_hidden()
    page.get_by_label("S of").fill("2")
    page.get_by_role("button", name="Save and plan").first.click()
    expect(page.get_by_role("heading", name="B-0001: 2 garments")).to_be_visible()
    expect(page.get_by_role("link", name="load it again")).to_be_visible()
