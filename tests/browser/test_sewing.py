"""The sewing room in a real browser: a phone at the machine, the board, the order that hears of it."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.cutting.models import Bundle
from planner.sewing.models import ProgressEvent
from planner.sewing.progress import state_of
from tests.browser.conftest import PHONE
from tests.browser.kept_pages import Complaints
from tests.factories import make_order
from tests.sewing.makers import make_planned_batch, sew, the_style

#: A thumb needs so many pixels (WCAG 2.2 asks for 24, good practice 44).
THUMB = 44


@pytest.fixture
def bundle(live_server: object) -> Bundle:
    """Three of size M, cut; another bundle of two waits beside it."""
    order = make_order(
        [(the_style(), {"neck": "rib band"}, "ink", {"M": 3, "L": 2})],
        due_on=timezone.localdate() + timedelta(days=20),
    )
    return make_planned_batch(order, cut=True).bundles.get(size__name="M")


def _open(page: Page, bundle: Bundle) -> list[str]:
    """Opens the bundle as its ticket does; the names of its steps' rows."""
    page.goto(reverse("bundle-scan", args=[bundle.token]))
    return [f"#step-{step.operation.pk}" for step in state_of(bundle).steps]


def _is_within_the_screen(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"))


#: The second half of a double tap: "Undo" is pressed in the moment it appears under the finger.
PRESS_UNDO = """() => document.addEventListener("htmx:afterSettle", () => {
  document.querySelector(".undo").click();
  window.pressedUndo = true;
}, { once: true })"""


def test_one_tap_ticks_and_undo_takes_it_back_until_the_bundle_is_sewn_and_checked(
    phone_page: Page, bundle: Bundle, axe: Callable[[Page], None]
) -> None:
    page = phone_page
    rows = _open(page, bundle)
    # The place where a refused tap is said why waits empty: the cursor is not put there.
    expect(page.locator("#bundle-problem")).to_be_empty()
    assert page.evaluate("document.activeElement === document.body")
    assert _is_within_the_screen(page)
    tape = page.locator("#bundle-tape .tape")
    expect(tape).to_have_attribute("aria-label", "0 of 4 steps sewn")
    page.evaluate("window.sameDocument = true")
    page.locator(f"{rows[0]} button").tap()
    expect(tape).to_have_attribute("aria-label", "1 of 4 steps sewn")
    expect(page.locator(rows[0])).to_contain_text("Hale")
    expect(page.locator("#bundle-tape .answer")).to_have_text("Next: close sides, at the overlock.")
    assert page.evaluate("window.sameDocument"), "only parts of the page were swapped"
    axe(page)
    page.wait_for_timeout(700)
    page.get_by_role("button", name="Undo join shoulders").tap()
    expect(tape).to_have_attribute("aria-label", "0 of 4 steps sewn")
    expect(page.locator(f"{rows[0]} .step-who")).to_have_count(0)
    assert [e.done for e in ProgressEvent.objects.all()] == [True, False]
    # A double tap ticks once and does not undo.
    page.evaluate(PRESS_UNDO)
    page.locator(f"{rows[0]} button").tap()
    expect(page.locator(f"{rows[0]} .undo")).to_be_visible()
    page.wait_for_timeout(300)
    assert page.evaluate("window.pressedUndo")
    expect(tape).to_have_attribute("aria-label", "1 of 4 steps sewn")
    assert ProgressEvent.objects.count() == 3
    _is_big_enough_for_a_thumb(page, rows[1])
    expect(page.locator("#step-check button")).to_have_count(0)
    for done, row in enumerate(rows[1:], 2):
        page.locator(f"{row} button").tap()
        expect(tape).to_have_attribute("aria-label", f"{done} of 4 steps sewn")
    expect(page.locator("#step-check")).to_contain_text("account for every fragment")
    page.locator("#step-check button").tap()
    expect(page.locator("#bundle-tape .answer")).to_have_text("Sewn and checked.")
    assert state_of(bundle).stage == "checked"


def _is_big_enough_for_a_thumb(page: Page, next_row: str) -> None:
    """What can be pressed where the first step is ticked: an undo and three steps; the check is not open."""
    boxes = [b.bounding_box() for b in page.locator(".steps button").all()]
    assert len(boxes) == 4
    assert all(box["height"] >= THUMB and box["width"] >= THUMB for box in boxes)
    row, whole = page.locator(next_row).bounding_box(), boxes[1]
    assert whole["width"] >= row["width"] - 4, "the whole row is the target"
    assert whole["height"] >= row["height"] - 4


def test_what_happened_meanwhile_is_seen_or_said_and_the_next_bundle_is_one_tap_away(
    phone_page: Page, bundle: Bundle, complaints: Complaints
) -> None:
    page = phone_page
    rows = _open(page, bundle)
    # Somebody who comes back sees what was ticked.
    sew(bundle, 2)
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(page.locator("#bundle-tape .tape")).to_have_attribute("aria-label", "2 of 4 steps sewn")
    # The other bundle at this machine is one tap away.
    other = bundle.batch.bundles.exclude(pk=bundle.pk).get()
    expect(page.locator("#bundle-next a")).to_have_count(0)
    page.locator(f"{rows[2]} button").tap()
    page.get_by_role("link", name=f"Next at the overlock: {other.number}").tap()
    expect(page.locator("h1")).to_have_text(other.number)
    # Its lay was recorded as cut by mistake and taken back: that is said where it was tapped.
    other.lays.update(cut_at=None)
    page.locator(f"{rows[0]} button").tap()
    expect(page.locator("#bundle-problem")).to_contain_text("this bundle is not cut yet")
    expect(page.locator("#bundle-tape")).to_contain_text("Not cut yet")
    complaints.expect("409")
    # Signed out: to the sign-in, and back.
    bundle.lays.update(cut_at=timezone.now())
    _open(page, other)
    page.context.clear_cookies(name="sessionid")
    page.locator(f"{rows[0]} button").tap()
    page.wait_for_url("**/sign-in/**")
    assert other.token in page.url


def test_without_javascript_one_tap_ticks_too(
    new_page: Callable[..., Page], helper: User, bundle: Bundle
) -> None:
    page = new_page(user=helper, viewport=PHONE, java_script_enabled=False)
    rows = _open(page, bundle)
    page.locator(f"{rows[0]} button").click()
    expect(page.locator(rows[0])).to_contain_text("Hale")
    page.locator(f"{rows[0]} button").click()
    expect(page.locator(f"{rows[0]} .step-who")).to_have_count(0)


def test_the_board_and_an_order_show_it_and_a_ticket_nobody_knows_is_told(
    signed_in_page: Page, bundle: Bundle, axe: Callable[[Page], None], complaints: Complaints
) -> None:
    page = signed_in_page
    sew(bundle)
    page.goto(reverse("sewing-board"))
    expect(page.locator("p.answer")).to_contain_text("1 bundle to be checked")
    page.get_by_label("Bundle number").fill(bundle.number.lower())
    page.get_by_role("button", name="Open bundle").click()
    expect(page.locator("h1")).to_have_text(bundle.number)
    page.goto(reverse("order-detail", args=[bundle.line.order.number]))
    expect(page.locator("#order-sewn")).to_contain_text("3 of 5 sewn")
    page.set_viewport_size(PHONE)
    page.goto(reverse("bundle-scan", args=["nobody"]))
    expect(page.locator("h1")).to_be_visible()
    assert _is_within_the_screen(page)
    axe(page)
    complaints.expect("404")
