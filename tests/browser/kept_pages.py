"""Pages of the browser that tests are through with, kept for those that come after them."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from weakref import WeakSet

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Error, Page

#: Long, because a busy machine is no failure; what is there sooner is seen sooner.
PATIENCE_MS = 60_000
AT_REST = Path(__file__).with_name("at_rest.js").read_text(encoding="utf-8")
#: Ready in every page, but only set up where it is asked for: to do so takes as long as to load most pages.
AXE_WHEN_ASKED_FOR = f"window.setUpAxe = function () {{\n{AXE_SCRIPT}\n}};"
#: What stays with a page or its context for good: none that has such a thing is used by another test.
_BOTH = (
    "add_init_script",
    "expose_binding",
    "expose_function",
    "on",
    "once",
    "route",
    "set_extra_http_headers",
)
LASTING: dict[type, tuple[str, ...]] = {
    Page: (*_BOTH, "add_locator_handler", "emulate_media"),
    BrowserContext: (*_BOTH, "grant_permissions", "set_geolocation", "set_offline"),
}
_touched: set[object] = set()
#: Pages in which no script runs, not even a timer of what a test evaluates there.
WITHOUT_SCRIPTS: WeakSet[Page] = WeakSet()


class Complaints(list[str]):
    """What went wrong in the browser. A test that provokes an error takes it away with :meth:`expect`."""

    def expect(self, part: str) -> None:
        """Asserts that something complained about `part`, and strikes that out."""
        assert any(part in text for text in self), f"no complaint has {part!r}: {list(self)}"
        self[:] = [text for text in self if part not in text]


class KeptPages:
    """Pages that tests are through with, for the next that wants such a one: to start one takes longer than to use it.

    As good as new: nobody is signed in, nothing is stored, no document is open. A page that a test listened to, whose
    requests it held up or which opened others is not kept, and none in which no script runs.
    """

    def __init__(self) -> None:
        self._kept: dict[str, Page] = {}
        #: Of the test that is run just now.
        self.complaints = Complaints()

    def make(self, browser: Browser, *, has_axe: bool, **options: Any) -> Page:
        """A new one, whose complaints are noted."""
        context = browser.new_context(locale="en-GB", **options)
        context.set_default_timeout(PATIENCE_MS)
        context.add_init_script(AT_REST)
        if has_axe:
            context.add_init_script(AXE_WHEN_ASKED_FOR)
        page = context.new_page()
        if not options.get("java_script_enabled", True):
            WITHOUT_SCRIPTS.add(page)
        page.on("console", lambda message: _listen(message, self.complaints))
        page.on("pageerror", lambda error: self.complaints.append(f"page error: {error}"))
        _touched.difference_update((page, context))
        return page

    def take(self, kind: str) -> Page | None:
        """One of this kind, if there is any."""
        return self._kept.pop(kind, None)

    def keep(self, kind: str, page: Page) -> bool:
        """Takes back `page`, which was left (:func:`leave`); False if it is to be closed."""
        if kind in self._kept or _touched & {page, page.context} or page.context.pages != [page]:
            return False
        page.context.clear_cookies()
        self._kept[kind] = page
        return True


def leave(page: Page, complaints: Complaints) -> bool:
    """Leaves all that is open in the browser of `page`; whether nothing is open and nothing stored there then.

    Until the browser is quiet, a late request could still write while the tables are being emptied.
    """
    is_empty = True
    for open_page in page.context.pages:
        is_empty &= _forgets(open_page)
        try:
            open_page.goto("about:blank")
        except (AssertionError, Error) as error:
            complaints.append(f"page error: {error}")
            is_empty = False
    return is_empty


def _forgets(page: Page) -> bool:
    """Whether what its scripts stored could be taken away."""
    try:
        return bool(page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); return true; }"))
    except Error:
        return False


@contextmanager
def noted() -> Iterator[None]:
    """Which pages and contexts are given something lasting is noted."""
    with pytest.MonkeyPatch.context() as patch:
        for kind, names in LASTING.items():
            for name in names:
                patch.setattr(kind, name, _noting(getattr(kind, name)))
        yield


def _noting(lasting: Callable[..., Any]) -> Callable[..., Any]:
    @functools.wraps(lasting)
    def notes_it(where: Page | BrowserContext, *arguments: Any, **options: Any) -> Any:
        _touched.add(where)
        return lasting(where, *arguments, **options)

    return notes_it


def _listen(message: ConsoleMessage, complaints: Complaints) -> None:
    if message.type == "error":
        complaints.append(f"console error: {message.text} ({message.location.get('url', '')})")
