"""A real Chromium against the real pages. Any error in the browser's console fails the test.

`page` is a fresh, unknown visitor; `signed_in_page` the maker. `axe(page)` asserts that a page is accessible.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.contrib.auth.models import User
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Error, Page, sync_playwright
from pytest_django.live_server_helper import LiveServer

# Playwright keeps an event loop in this thread, which Django takes for asynchronous code. It is not.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]
PHONE = {"width": 390, "height": 844}
LAPTOP = {"width": 1280, "height": 900}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Every test of this folder drives a browser."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


def _chromium() -> str | None:
    names = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable"]
    places = [os.environ.get("CHROMIUM"), *(shutil.which(name) for name in names)]
    return next((place for place in places if place and Path(place).exists()), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The system's Chromium, started once."""
    path = _chromium()
    if path is None:
        if os.environ.get("CI") == "true":
            pytest.fail("No Chromium found. Install it, or name it in the environment variable CHROMIUM.")
        pytest.skip("No Chromium found. Install it, or name it in the environment variable CHROMIUM.")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield chromium
        chromium.close()


class Complaints(list[str]):
    """What went wrong in the browser. A test that provokes an error takes it away with :meth:`expect`."""

    def expect(self, part: str) -> None:
        """Asserts that something complained about `part`, and strikes that out."""
        assert any(part in text for text in self), f"no complaint has {part!r}: {list(self)}"
        self[:] = [text for text in self if part not in text]


@pytest.fixture
def complaints() -> Complaints:
    """Console and page errors of this test, which must be empty at its end."""
    return Complaints()


@pytest.fixture
def new_page(
    browser: Browser, live_server: LiveServer, complaints: Complaints
) -> Iterator[Callable[..., Page]]:
    """Makes pages, each a browser of its own: `new_page()`, `new_page(user=maker, viewport=PHONE)`."""
    contexts: list[BrowserContext] = []

    def make(*, user: User | None = None, viewport: dict[str, int] | None = None, **options: object) -> Page:
        context = browser.new_context(
            base_url=live_server.url, viewport=viewport or LAPTOP, locale="en-GB", **options
        )
        context.set_default_timeout(10_000)
        contexts.append(context)
        if user is not None:
            _sign_in(context, user, live_server)
        page = context.new_page()
        page.on("console", lambda message: _listen(message, complaints))
        page.on("pageerror", lambda error: complaints.append(f"page error: {error}"))
        return page

    yield make
    for context in contexts:
        # Until the browser is quiet, a late request could still write while the tables are being emptied.
        for page in context.pages:
            try:
                page.goto("about:blank")
            except Error as error:
                complaints.append(f"page error: {error}")
        context.close()
    assert not complaints, "the browser complained:\n" + "\n".join(complaints)


@pytest.fixture
def page(new_page: Callable[..., Page]) -> Page:
    """An unknown visitor on a laptop."""
    return new_page()


@pytest.fixture
def signed_in_page(new_page: Callable[..., Page], live_server: LiveServer, maker: User) -> Page:
    """The maker on a laptop, already signed in."""
    return new_page(user=maker)


@pytest.fixture
def phone_page(new_page: Callable[..., Page], live_server: LiveServer, helper: User) -> Page:
    """A helper with a phone, already signed in."""
    return new_page(user=helper, viewport=PHONE, has_touch=True, is_mobile=True)


@pytest.fixture(scope="session")
def axe() -> Callable[[Page], None]:
    """`axe(page)` asserts that the rules of axe-core (WCAG 2.2 A and AA among them) hold there."""
    checker = Axe()

    def check(page: Page) -> None:
        # page.evaluate runs beside the page's own scripts, so the Content-Security-Policy stays in force.
        results = checker.run(page)
        assert results.violations_count == 0, f"{page.url}\n{results.generate_report()}"

    return check


def _sign_in(context: BrowserContext, user: User, live_server: LiveServer) -> None:
    client = Client()
    client.force_login(user)
    name = settings.SESSION_COOKIE_NAME
    context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])


def _listen(message: ConsoleMessage, complaints: Complaints) -> None:
    if message.type == "error":
        complaints.append(f"console error: {message.text} ({message.location.get('url', '')})")
