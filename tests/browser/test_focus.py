"""Where the cursor is after a part of a page was answered anew: never lost, and what was done is said."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from planner.cutting.actions import gathering
from planner.cutting.models import Batch
from planner.materials.models import Fabric
from planner.orders.models import LineQuantity
from tests import factories as make
from tests.browser.conftest import at_rest
from tests.browser.kept_pages import Complaints
from tests.cutting.settling_makers import settled, waiting_batch
from tests.factories import make_order
from tests.sewing.makers import the_style

KEEP, FREE = re.compile("^Keep this lay as it is ?: lay 1$"), re.compile("^Give it free ?: lay 1$")
pytestmark = pytest.mark.django_db(transaction=True)


def test_a_form_that_opens_in_place_is_typed_into_at_once_and_left_by_escape(signed_in_page: Page) -> None:
    make.make_style("110", sizes="S M L", colourways=("ink",))
    page = signed_in_page
    page.goto("/styles/110/")
    roles = page.locator("#section-roles")
    new = roles.get_by_role("link", name="New role")
    new.focus()
    page.keyboard.press("Enter")
    expect(roles.get_by_label("Name")).to_be_focused()
    page.keyboard.press("Tab")
    expect(roles.get_by_role("button", name="Keep")).to_be_focused()
    page.keyboard.press("Escape")
    expect(new).to_be_focused()
    # What was typed is not thrown away unasked.
    page.keyboard.press("Enter")
    expect(roles.get_by_label("Name")).to_be_focused()
    page.keyboard.type("cuff")
    page.once("dialog", lambda dialog: dialog.dismiss())
    page.keyboard.press("Escape")
    expect(roles.get_by_label("Name")).to_have_value("cuff")
    page.keyboard.press("Enter")
    expect(roles.get_by_role("listitem").filter(has_text="cuff")).to_be_visible()
    expect(new).to_be_focused()
    # Where the part has a form of its own that only chooses what is shown.
    piece = page.locator("#section-pieces").get_by_role("link", name="New piece")
    piece.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#section-pieces").get_by_label("Name", exact=True)).to_be_focused()
    page.keyboard.press("Escape")
    expect(piece).to_be_focused()
    # The menu is left so too.
    menu = page.locator("details.menu")
    menu.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(menu.get_by_role("button", name="Sign out")).to_be_visible()
    page.keyboard.press("Tab")
    page.keyboard.press("Escape")
    expect(menu.get_by_role("button", name="Sign out")).to_be_hidden()
    expect(menu.locator("summary")).to_be_focused()


@pytest.fixture
def batch(live_server) -> Batch:
    """Planned and settled, of two sizes."""
    return settled(waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1})])))


def test_after_a_choice_the_cursor_is_at_what_took_its_place_and_it_is_said(
    new_page: Callable[..., Page], maker: User, batch: Batch, complaints: Complaints
) -> None:
    page = new_page(user=maker)
    page.goto(f"/batches/{batch.number}/")
    page.get_by_role("button", name=KEEP).focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name=FREE)).to_be_focused()
    expect(page.locator("#messages")).to_contain_text("Lay 1 stays as it is")
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name=KEEP)).to_be_focused()
    expect(page.locator("#messages")).to_contain_text("Lay 1 may be planned anew")
    # Refused: at the field that is wrong.
    plan = page.locator(".cut-plan").filter(has=page.get_by_role("heading", name="How the jersey is laid"))
    plan.get_by_text("Change this plan").click()
    kinds = plan.locator("form.plan-kinds")
    kinds.get_by_label("Size", exact=True).select_option(index=0)
    kinds.get_by_label("and size").select_option(index=0)
    kinds.get_by_role("button", name="Always together").focus()
    page.keyboard.press("Enter")
    expect(kinds.get_by_role("alert")).to_be_visible()
    complaints.expect("422")
    expect(kinds.get_by_label("Size", exact=True)).to_be_focused()
    # Taken: the form it was chosen in is another one by then; the cursor is in the panel of this plan, and it is said.
    kinds.get_by_label("and size").select_option(index=1)
    kinds.get_by_role("button", name="Never together").focus()
    page.keyboard.press("Enter")
    expect(plan.get_by_text("never together").first).to_be_visible()
    at_rest(page)
    assert plan.evaluate("one => one.contains(document.activeElement)")
    expect(page.locator("#messages")).to_contain_text("The jersey is planned by your choice")


def test_a_page_that_asks_by_itself_leaves_the_cursor_where_it_is(
    new_page: Callable[..., Page], maker: User
) -> None:
    waiting = waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1})]))
    page = new_page(user=maker)
    page.goto(f"/batches/{waiting.number}/")
    page.get_by_role("button", name=KEEP).focus()
    page.evaluate("document.activeElement.was_before = true")
    with page.expect_response("**/running/**"):
        pass
    at_rest(page)
    assert not page.evaluate("document.activeElement.was_before")
    expect(page.get_by_role("button", name=KEEP)).to_be_focused()


def test_a_refused_plan_begins_at_what_is_wrong_and_leads_to_where_it_is_put_right(
    signed_in_page: Page, complaints: Complaints
) -> None:
    page = signed_in_page
    make_order([(make.make_style(), {"neck": "rib band"}, "ink", {"M": 3})])
    Fabric.objects.filter(name="rib").update(lay_open=False, lay_folded=True)
    batch = gathering.create_batch(None, make.TODAY)
    gathering.fill_batch(batch, {LineQuantity.objects.get().pk: 3}, {})
    page.goto(f"/batches/{batch.number}/")
    page.get_by_role("button", name="Plan this batch").click()
    problem = page.get_by_role("alert")
    expect(problem).to_contain_text("allow one more")
    complaints.expect("422")
    expect(problem).to_be_focused()
    page.keyboard.press("Tab")
    expect(problem.get_by_role("link", name="its orders")).to_be_focused()
