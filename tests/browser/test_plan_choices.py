"""Choices made while a plan is on its way, in a real browser: no answer is lost to what the page asks by itself."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, Route, expect

from planner.cutting.actions import choices
from planner.cutting.models import PlanChoice
from tests.browser.kept_pages import Complaints
from tests.cutting.settling_makers import settled, waiting_batch
from tests.factories import make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_choice_is_taken_back_while_the_page_asks_how_far_nesting_is(
    new_page: Callable[..., Page], maker: User
) -> None:
    batch = waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1})]))
    plan = batch.cut_plans.get(fabric__name="jersey")
    kinds = [("110", "S"), ("110", "M")]
    assert not choices.choose_kinds(batch, plan.pk, "apart", kinds, None).problem
    page = new_page(user=maker)
    asked = []
    page.on("response", lambda answer: asked.append(answer.url) if "running" in answer.url else None)

    def late(route: Route) -> None:
        answer = route.fetch()
        time.sleep(2.5)
        route.fulfill(response=answer)

    page.route("**/choices/**", late)
    page.goto(f"/batches/{batch.number}/")
    chosen = page.locator("#cut-plans").get_by_text("S and M never together", exact=False)
    expect(chosen.first).to_be_visible()
    with page.expect_response("**/choices/**"):
        page.get_by_role("button", name="Take back").click()
    expect(page.get_by_role("button", name="Take back")).to_have_count(0)
    assert not PlanChoice.objects.exists()
    # It asks again afterwards.
    before = len(asked)
    page.wait_for_timeout(2_500)
    assert len(asked) > before


def test_what_the_browser_writes_on_a_field_is_no_inline_style_of_ours(
    new_page: Callable[..., Page], maker: User, complaints: Complaints
) -> None:
    """A browser, or something built into it, may leave a style on a field; HTMX must not copy it on to its successor,
    which the Content-Security-Policy forbids and the console complains of."""
    batch = waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1})]))
    page = new_page(user=maker)
    page.goto(f"/batches/{batch.number}/")
    moving = page.locator("#cut-plans").get_by_text("So far:")
    expect(moving.first).to_be_visible()
    written = page.evaluate(
        """() => {
            const fields = document.querySelectorAll("#cut-plans input[id], #cut-plans select[id]");
            fields.forEach(field => field.style.setProperty("caret-color", "transparent"));
            return fields.length;
        }"""
    )
    assert written
    heights = "[...document.querySelectorAll('.cut-plan > .plan-state')].map(one => one.offsetHeight)"
    before = page.evaluate(heights)
    settled(batch)
    expect(page.locator("#cut-plans").get_by_text("Settled: its lays are nested").first).to_be_visible()
    expect(moving).to_have_count(0)
    # The fields are new ones, without the style.
    assert page.evaluate("document.querySelectorAll('#cut-plans [style]').length") == 0
    # Where it said that lays are being nested it says that they are; nothing beneath has moved for that.
    assert page.evaluate(heights) == before
    assert not complaints


def test_a_choice_that_takes_seconds_says_so_and_cannot_be_pressed_twice(
    new_page: Callable[..., Page], maker: User
) -> None:
    batch = settled(waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1})])))
    page = new_page(user=maker)
    held: list[Route] = []
    page.route("**/sizes/", lambda route: held.append(route))
    page.goto(f"/batches/{batch.number}/")
    page.get_by_text("Change this plan").first.click()
    form = page.locator(".plan-kinds").first
    told = (
        "form => { const after = getComputedStyle(form, '::after'); return [after.content, after.opacity]; }"
    )
    assert form.evaluate(told)[0] == "none"
    form.get_by_role("button", name="Never together").click()
    for name in ("Always together", "Never together"):
        expect(form.get_by_role("button", name=name)).to_be_disabled()
    page.wait_for_timeout(600)
    assert form.evaluate(told) == ['"Being worked out…"', "1"]
    with page.expect_response("**/sizes/"):
        held[0].continue_()
    expect(page.get_by_role("button", name="Take back")).to_have_count(1)
    assert len(held) == 1
    assert PlanChoice.objects.get().kind == "apart"
