"""The checks that every browser test leans on do notice what they are for."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import Complaints, at_rest


def test_the_accessibility_check_notices_a_field_without_a_name(
    page: Page, axe: Callable[[Page], None]
) -> None:
    page.goto("/sign-in/")
    axe(page)
    page.evaluate("document.querySelector('label[for=id_username]').remove()")
    with pytest.raises(AssertionError, match="label"):
        axe(page)


def test_the_accessibility_check_notices_pale_letters_where_it_looks_at_colours(
    page: Page, axe: Callable[..., None]
) -> None:
    page.goto("/sign-in/")
    page.evaluate("document.querySelector('h1').style.color = '#eee'")
    axe(page, contrast=False)
    with pytest.raises(AssertionError, match="color-contrast"):
        axe(page)


def test_an_inline_script_is_blocked_and_noticed(page: Page, complaints: Complaints) -> None:
    page.goto("/sign-in/")
    page.evaluate(
        "const s = document.createElement('script');"
        "s.textContent = 'window.ran = true'; document.body.append(s)"
    )
    assert page.evaluate("window.ran") is None
    complaints.expect("Content Security Policy")


def test_a_script_that_fails_is_noticed(page: Page, complaints: Complaints) -> None:
    page.goto("/sign-in/")
    page.evaluate("setTimeout(() => { throw new Error('needle broke') }, 0)")
    page.wait_for_timeout(100)
    complaints.expect("needle broke")


LATER = """() => setTimeout(async () => {
  const asked = new XMLHttpRequest();
  asked.open("GET", "/health/");
  asked.onload = () => setTimeout(() => { window.answered = asked.status; }, 200);
  asked.send();
}, 300)"""


def test_a_page_is_at_rest_when_what_it_will_do_is_done(page: Page) -> None:
    page.goto("/sign-in/")
    page.evaluate(LATER)
    assert page.evaluate("window.answered") is None
    at_rest(page)
    assert page.evaluate("window.answered") == 200


def test_what_is_filled_waits_until_the_page_is_at_rest(page: Page) -> None:
    page.goto("/sign-in/")
    page.evaluate(LATER)
    page.get_by_label("Name").fill("Mira")
    assert page.evaluate("window.answered") == 200
