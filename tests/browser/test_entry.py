"""First entry, signing in and out, adding a helper: as people do it, in a real browser."""

from collections.abc import Callable

from django.contrib.auth.models import User
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from planner.web.actions import invite_first_maker
from tests.browser.conftest import PHONE
from tests.browser.kept_pages import Complaints
from tests.conftest import PASSWORD

NEW_PASSWORD = "seven brass thimbles"


def test_first_entry_makes_the_maker(
    page: Page, live_server: LiveServer, axe: Callable[[Page], None], complaints: Complaints
) -> None:
    invitation = invite_first_maker(now=timezone.now())
    assert invitation is not None
    link = f"/entry/{invitation.token}/"

    page.goto(link)
    page.get_by_label("Your name").fill("Mira Halden")
    page.get_by_label("Password", exact=False).first.fill(NEW_PASSWORD)
    page.get_by_label("The same password again").fill("something else, by mistake")
    page.get_by_role("button", name="Come in").click()
    expect(page.get_by_text("The two passwords differ")).to_be_visible()
    complaints.expect("422")
    expect(page.get_by_label("Your name")).to_have_value("Mira Halden")
    axe(page)

    page.get_by_label("Password", exact=False).first.fill(NEW_PASSWORD)
    page.get_by_label("The same password again").fill(NEW_PASSWORD)
    page.get_by_role("button", name="Come in").click()
    expect(page.locator("summary", has_text="Mira Halden")).to_be_visible()
    expect(page).to_have_url(f"{live_server.url}/")
    assert User.objects.get().is_staff

    page.goto(link)
    expect(page.get_by_role("heading", name="This link no longer works")).to_be_visible()
    complaints.expect("410")
    axe(page)


def test_sign_in_with_the_keyboard_and_sign_out_and_a_wrong_password_is_told(
    page: Page, live_server: LiveServer, maker: User, axe: Callable[[Page], None]
) -> None:
    page.goto("/people/")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    axe(page)
    page.keyboard.type("mira")  # the name field has the focus; the case of letters does not matter
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="People", level=1)).to_be_visible()
    axe(page)

    page.locator("summary", has_text="Mira").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.get_by_label("Name").fill("Mira")
    page.get_by_label("Password").fill("not the password")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_text("Name and password do not fit together")).to_be_visible()
    expect(page.get_by_label("Name")).to_have_value("Mira")


def test_a_maker_adds_a_helper_who_comes_in_by_phone(
    signed_in_page: Page, new_page: Callable[..., Page], live_server: LiveServer, axe: Callable[[Page], None]
) -> None:
    signed_in_page.goto("/password/")
    signed_in_page.locator("summary", has_text="Mira").click()
    signed_in_page.get_by_role("link", name="People").click()
    signed_in_page.get_by_label("Name", exact=False).fill("Hale Ostrow")
    signed_in_page.get_by_role("button", name="Add and make a link").click()
    address = signed_in_page.locator("#fresh-link code").inner_text()
    axe(signed_in_page)
    signed_in_page.reload()
    expect(signed_in_page.locator("#fresh-link")).to_have_count(0)

    phone = new_page(viewport=PHONE, has_touch=True, is_mobile=True)
    phone.goto("/" + address.split("/", 3)[3])
    phone.get_by_label("Password", exact=False).first.fill(NEW_PASSWORD)
    phone.get_by_label("The same password again").fill(NEW_PASSWORD)
    phone.get_by_role("button", name="Save and come in").click()
    expect(phone.locator("summary", has_text="Hale Ostrow")).to_be_visible()
    expect(phone).to_have_url(f"{live_server.url}/")
    hale = User.objects.get(username="Hale Ostrow")
    assert not hale.is_staff
    assert hale.check_password(NEW_PASSWORD)
