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


def test_one_tap_ticks_and_the_tape_moves_and_undo_takes_it_back(
    phone_page: Page, bundle: Bundle, axe: Callable[[Page], None]
) -> None:
    page = phone_page
    rows = _open(page, bundle)
    assert _is_within_the_screen(page)
    axe(page)
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


def test_where_nothing_is_said_the_page_begins_at_its_beginning(phone_page: Page, bundle: Bundle) -> None:
    """The place where a refused tap is said why waits empty: the cursor is not put there."""
    _open(phone_page, bundle)
    expect(phone_page.locator("#bundle-problem")).to_be_empty()
    assert phone_page.evaluate("document.activeElement === document.body")


def test_what_can_be_pressed_is_big_enough_for_a_thumb(phone_page: Page, bundle: Bundle) -> None:
    rows = _open(phone_page, bundle)
    phone_page.locator(f"{rows[0]} button").tap()
    expect(phone_page.locator(f"{rows[0]} .undo")).to_be_visible()
    boxes = [b.bounding_box() for b in phone_page.locator(".steps button").all()]
    assert len(boxes) == 4, "an undo and three steps; the check is not open"
    assert all(box["height"] >= THUMB and box["width"] >= THUMB for box in boxes)
    row, whole = phone_page.locator(rows[1]).bounding_box(), boxes[1]
    assert whole["width"] >= row["width"] - 4, "the whole row is the target"
    assert whole["height"] >= row["height"] - 4


def test_a_double_tap_ticks_once_and_does_not_undo(phone_page: Page, bundle: Bundle) -> None:
    rows = _open(phone_page, bundle)
    # The second half of the tap: "Undo" is pressed in the moment it appears under the finger.
    phone_page.evaluate(
        """() => document.addEventListener("htmx:afterSettle", () => {
            document.querySelector(".undo").click();
            window.pressedUndo = true;
        }, { once: true })"""
    )
    phone_page.locator(f"{rows[0]} button").tap()
    expect(phone_page.locator(f"{rows[0]} .undo")).to_be_visible()
    phone_page.wait_for_timeout(300)
    assert phone_page.evaluate("window.pressedUndo")
    expect(phone_page.locator("#bundle-tape .tape")).to_have_attribute("aria-label", "1 of 4 steps sewn")
    assert ProgressEvent.objects.count() == 1


def test_a_bundle_is_sewn_through_and_checked(phone_page: Page, bundle: Bundle) -> None:
    rows = _open(phone_page, bundle)
    expect(phone_page.locator("#step-check button")).to_have_count(0)
    for done, row in enumerate(rows, 1):
        phone_page.locator(f"{row} button").tap()
        expect(phone_page.locator("#bundle-tape .tape")).to_have_attribute(
            "aria-label", f"{done} of 4 steps sewn"
        )
    expect(phone_page.locator("#step-check")).to_contain_text("account for every fragment")
    phone_page.locator("#step-check button").tap()
    expect(phone_page.locator("#bundle-tape .answer")).to_have_text("Sewn and checked.")
    assert state_of(bundle).stage == "checked"


def test_the_next_bundle_at_the_machine_is_one_tap_away(phone_page: Page, bundle: Bundle) -> None:
    sew(bundle, 2)
    other = bundle.batch.bundles.exclude(pk=bundle.pk).get()
    rows = _open(phone_page, bundle)
    expect(phone_page.locator("#bundle-next a")).to_have_count(0)
    phone_page.locator(f"{rows[2]} button").tap()
    phone_page.get_by_role("link", name=f"Next at the overlock: {other.number}").tap()
    expect(phone_page.locator("h1")).to_have_text(other.number)


def test_somebody_who_comes_back_sees_what_was_ticked_meanwhile(phone_page: Page, bundle: Bundle) -> None:
    _open(phone_page, bundle)
    sew(bundle, 2)
    phone_page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(phone_page.locator("#bundle-tape .tape")).to_have_attribute("aria-label", "2 of 4 steps sewn")


def test_a_refusal_is_said_where_it_was_tapped(
    phone_page: Page, bundle: Bundle, complaints: Complaints
) -> None:
    """The lay was recorded as cut by mistake and taken back while the page was open."""
    rows = _open(phone_page, bundle)
    bundle.lays.update(cut_at=None)
    phone_page.locator(f"{rows[0]} button").tap()
    expect(phone_page.locator("#bundle-problem")).to_contain_text("this bundle is not cut yet")
    expect(phone_page.locator("#bundle-tape")).to_contain_text("Not cut yet")
    complaints.expect("409")


def test_signed_out_meanwhile_leads_to_the_sign_in_and_back(phone_page: Page, bundle: Bundle) -> None:
    rows = _open(phone_page, bundle)
    phone_page.context.clear_cookies(name="sessionid")
    phone_page.locator(f"{rows[0]} button").tap()
    phone_page.wait_for_url("**/sign-in/**")
    assert bundle.token in phone_page.url


def test_without_javascript_one_tap_ticks_too(
    new_page: Callable[..., Page], helper: User, bundle: Bundle
) -> None:
    page = new_page(user=helper, viewport=PHONE, java_script_enabled=False)
    rows = _open(page, bundle)
    page.locator(f"{rows[0]} button").click()
    expect(page.locator(rows[0])).to_contain_text("Hale")
    page.locator(f"{rows[0]} button").click()
    expect(page.locator(f"{rows[0]} .step-who")).to_have_count(0)


def test_the_board_and_an_order_show_it(
    signed_in_page: Page,
    new_page: Callable[..., Page],
    maker: User,
    bundle: Bundle,
    axe: Callable[[Page], None],
) -> None:
    sew(bundle)
    phone = new_page(user=maker, viewport=PHONE, has_touch=True, is_mobile=True)
    for page in (signed_in_page, phone):
        page.goto(reverse("sewing-board"))
        expect(page.locator("p.answer")).to_contain_text("1 bundle to be checked")
        assert _is_within_the_screen(page)
        axe(page)
    signed_in_page.get_by_label("Bundle number").fill(bundle.number.lower())
    signed_in_page.get_by_role("button", name="Open bundle").click()
    expect(signed_in_page.locator("h1")).to_have_text(bundle.number)
    signed_in_page.goto(reverse("order-detail", args=[bundle.line.order.number]))
    expect(signed_in_page.locator("#order-sewn")).to_contain_text("3 of 5 sewn")
    axe(signed_in_page)


def test_a_ticket_nobody_knows_is_told_on_laptop_and_phone(
    signed_in_page: Page, new_page: Callable[..., Page], maker: User, bundle: Bundle, axe: Callable[[Page], None],
    complaints: Complaints,
) -> None:  # fmt: skip
    phone = new_page(user=maker, viewport=PHONE, has_touch=True, is_mobile=True)
    for page in (signed_in_page, phone):
        page.goto(reverse("bundle-scan", args=["nobody"]))
        expect(page.locator("h1")).to_be_visible()
        assert _is_within_the_screen(page)
        axe(page)
        complaints.expect("404")
