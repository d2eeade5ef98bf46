"""The checks that every browser test leans on do notice what they are for."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import Complaints


def test_the_accessibility_check_notices_a_field_without_a_name(
    page: Page, axe: Callable[[Page], None]
) -> None:
    page.goto("/sign-in/")
    axe(page)
    page.evaluate("document.querySelector('label[for=id_username]').remove()")
    with pytest.raises(AssertionError, match="label"):
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
