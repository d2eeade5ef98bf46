"""A real Chromium against the real pages. Any error in the browser's console fails the test.

`page` is a fresh, unknown visitor; `signed_in_page` the maker. `axe(page)` asserts that a page is accessible.

Before anything is clicked, filled, chosen or left, what the page has under way is waited for (`at_rest`), as a person
would: nothing is typed into a form that is just being swapped, and no request is cut off by the next page. Keys from
`page.keyboard` do not wait; with them a test may hurry on purpose.
"""

import functools
import json
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.base import AxeResults
from django.conf import settings
from django.contrib.auth.models import User
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.http import HttpRequest
from django.test import Client
from playwright.sync_api import (
    Browser,
    BrowserContext,
    Error,
    Locator,
    Page,
    expect,
    sync_playwright,
)
from pytest_django.live_server_helper import LiveServer

from tests.browser.kept_pages import PATIENCE_MS, WITHOUT_SCRIPTS, Complaints, KeptPages, leave, noted
from tests.whole_run import SHARED_FOLDER

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

#: What waits until the page is at rest.
ACTS: dict[type, tuple[str, ...]] = {
    Locator: (
        "check", "click", "dblclick", "fill", "focus", "press", "select_option", "set_input_files", "tap", "uncheck",
    ),
    Page: ("check", "click", "fill", "goto", "reload", "select_option"),
}  # fmt: skip
#: Kept ready in every page of a test that asks for `axe` (`kept_pages.py`): sent to each page on its own it takes as
#: long as some of the rules. Of what is found only the violations come back, for all else is large and never read.
#: Rules that depend on looks are asked where there are `unseen` ones, and of the elements that look so.
RUN_AXE = """async ({ rules, unseen }) => {
  if (!window.axe) window.setUpAxe();
  const options = { resultTypes: ["violations"] };
  const off = Object.fromEntries(rules.map((rule) => [rule, { enabled: false }]));
  const { violations } = await axe.run(document, { ...options, rules: off });
  const include = [...new Set(unseen.flatMap((look) => window.whatLooksLike.get(look)))];
  if (!include.length) return { violations };
  const more = await axe.run({ include }, { ...options, runOnly: { type: "rule", values: rules } });
  return { violations: [...violations, ...more.violations] };
}"""
#: What holds of a look once it held of one element that looks so.
RULES_OF_LOOKS = ["color-contrast", "link-in-text-block"]
LOOKS = Path(__file__).with_name("looks.js").read_text(encoding="utf-8")
#: How a look of `looks.js` begins that is a link's within text.
LINK = "link | "


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Every test of this folder drives a browser."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


def _chromium() -> str | None:
    # Without a head it draws no window round each page, for which the whole one takes as long as for the pages.
    names = [
        "chromium-headless-shell",
        "chromium",
        "chromium-browser",
        "google-chrome",
        "google-chrome-stable",
    ]
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
    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as playwright, noted(), pytest.MonkeyPatch.context() as patch:
        patch.setattr(StaticFilesHandler, "serve", _kept_by_browsers(StaticFilesHandler.serve))
        for kind, names in ACTS.items():
            for name in names:
                patch.setattr(kind, name, _waiting(getattr(kind, name)))
        chromium = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def kept_pages(browser: Browser) -> KeptPages:
    """Those of this process."""
    return KeptPages()


@pytest.fixture
def complaints() -> Complaints:
    """Console and page errors of this test, which must be empty at its end."""
    return Complaints()


@pytest.fixture
def new_page(
    request: pytest.FixtureRequest,
    browser: Browser,
    live_server: LiveServer,
    complaints: Complaints,
    kept_pages: KeptPages,
) -> Iterator[Callable[..., Page]]:
    """Makes pages, each a browser of its own: `new_page()`, `new_page(user=maker, viewport=PHONE)`."""
    used: list[tuple[str, Page]] = []
    has_axe = "axe" in request.fixturenames

    def make(*, user: User | None = None, viewport: dict[str, int] | None = None, **options: object) -> Page:
        wanted = {"has_axe": has_axe, "viewport": viewport or LAPTOP, "base_url": live_server.url, **options}
        kind = json.dumps(wanted, sort_keys=True)
        page = kept_pages.take(kind)
        if page is None:
            page = kept_pages.make(browser, **wanted)
        else:
            page.set_viewport_size(wanted["viewport"])
        if user is not None:
            _sign_in(page.context, user, live_server)
        used.append((kind, page))
        return page

    kept_pages.complaints = complaints
    yield make
    for kind, page in used:
        is_kept = leave(page, complaints) and kept_pages.keep(kind, page)
        if not is_kept:
            page.context.close()
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
    """`axe(page)` asserts that the rules of axe-core (WCAG 2.2 A and AA among them) hold there.

    The contrast of colours, which takes longer than all other rules together, is measured of letters in a colour, size
    or weight or on a ground (`looks.js`) in which none passed yet in this run. So is whether links stand out from the
    text round them, which takes as long as all that is left.
    """
    passed = Passed(os.environ.get(SHARED_FOLDER))

    def check(page: Page) -> None:
        at_rest(page)  # a page that was just asked for by a click may not have so much as a body yet
        looks = set(page.evaluate(LOOKS))
        unseen = passed.without(looks)
        # page.evaluate runs beside the page's own scripts, so the Content-Security-Policy stays in force.
        asked = {"rules": RULES_OF_LOOKS, "unseen": sorted(unseen)}
        results = AxeResults(page.evaluate(RUN_AXE, asked))
        assert results.violations_count == 0, f"{page.url}\n{results.generate_report()}"
        passed.add(unseen)

    return check


class Passed:
    """The looks in which letters and links passed, in this process or another of its run that shares `folder`."""

    def __init__(self, folder: str | None) -> None:
        self._folder = Path(folder) if folder else None
        self._looks: set[str] = set()
        self._read: set[Path] = set()

    def without(self, looks: set[str]) -> set[str]:
        """Those of `looks` in which nothing passed yet."""
        if self._folder is not None and not looks <= self._looks:
            for path in set(self._folder.glob("looks-*.json")) - self._read:
                self._looks |= set(json.loads(path.read_text(encoding="utf-8")))
                self._read.add(path)
        return looks - self._looks

    def add(self, looks: set[str]) -> None:
        """Notes what passed, for the others too."""
        self._looks |= looks
        if self._folder is not None and looks:
            # Written aside first, so that no other process reads half of it.
            path = self._folder / f"looks-{os.getpid()}-{len(self._looks)}.json"
            part = path.with_suffix(".part")
            part.write_text(json.dumps(sorted(looks)), encoding="utf-8")
            part.replace(path)


def at_rest(page: Page) -> None:
    """Waits until no request is on its way and nothing is about to be sent or swapped (`at_rest.js`)."""
    for _ in range(5):
        try:
            rests = _comes_to_rest(page)
        except Error as error:
            if page.is_closed() or "navigat" not in str(error):
                raise
            page.wait_for_load_state()  # another page came meanwhile: it is asked instead
        else:
            assert rests, f"{page.url} never came to rest"
            return
    raise AssertionError(f"{page.url} never came to rest: page follows on page")


def _comes_to_rest(page: Page) -> bool:
    if page.evaluate("window.rests ? window.rests() : true"):
        return True
    if page in WITHOUT_SCRIPTS:
        page.wait_for_load_state()  # All it has to do; a timer would never come, and be waited for without end.
        return True
    return bool(page.evaluate("most => window.atRest ? window.atRest(most) : true", PATIENCE_MS))


def _waiting(act: Callable[..., Any]) -> Callable[..., Any]:
    @functools.wraps(act)
    def waits_first(where: Locator | Page, *arguments: Any, **options: Any) -> Any:
        at_rest(where if isinstance(where, Page) else where.page)
        return act(where, *arguments, **options)

    return waits_first


def _kept_by_browsers(serve: Callable[..., Any]) -> Callable[..., Any]:
    """Style sheets and scripts are asked for once a page of the browser, not with every page of ours."""

    @functools.wraps(serve)
    def serves(handler: StaticFilesHandler, request: HttpRequest) -> Any:
        answer = serve(handler, request)
        answer.headers["Cache-Control"] = "max-age=86400"
        return answer

    return serves


def _sign_in(context: BrowserContext, user: User, live_server: LiveServer) -> None:
    client = Client()
    client.force_login(user)
    name = settings.SESSION_COOKIE_NAME
    context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
