"""The checks that every browser test leans on do notice what they are for."""

import time
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread

import pytest
from playwright.sync_api import Page
from pytest_django.live_server_helper import LiveServer

from tests.browser.conftest import LINK, LOOKS, Passed, at_rest
from tests.browser.kept_pages import Complaints, KeptPages, leave

PARAGRAPH = """words => {
  const text = document.createElement('p');
  text.innerHTML = words + ' <a id="within" href="/sign-in/">a link</a>';
  text.style.color = 'rgb(0, 0, 0)';
  text.querySelector('a').style.textDecoration = 'underline';
  document.querySelector('main').append(text);
}"""
LONG = "Text that goes on and on about nothing but this and that and"


#: Each makes letters, or the link in the text, look otherwise than before; all of them stay.
OTHER_LETTERS = [
    "document.querySelector('h1').style.fontSize = '5px'",
    "document.querySelector('h1').style.fontWeight = '301'",
    "document.querySelector('h1').parentElement.style.background = '#fefefe'",
    "document.body.style.opacity = '0.99'",
    "document.querySelector('h1').style.color = '#000001'",
]
OTHER_LINKS = [
    "document.querySelector('#within').style.textDecoration = 'none'",
    "document.querySelector('#within').style.color = 'rgb(40, 0, 0)'",
    "document.querySelector('#within').parentElement.style.color = 'rgb(40, 0, 0)'",
    f"document.querySelector('#within').parentElement.prepend({LONG!r})",
]


def test_the_accessibility_check_notices_what_it_is_for_however_often_it_is_asked(
    page: Page, axe: Callable[[Page], None]
) -> None:
    """A field without a name; letters too pale; a link that only its colour tells from the text."""
    page.goto("/sign-in/")
    page.evaluate(PARAGRAPH, LONG)
    axe(page)
    page.evaluate("document.querySelector('label[for=id_username]').remove()")
    page.evaluate("document.querySelector('h1').style.color = '#eee'")
    page.evaluate("document.querySelector('#within').style = 'text-decoration: none; color: rgb(40, 0, 0)'")
    for _ in range(2):
        with pytest.raises(AssertionError, match="label") as told:
            axe(page)
        for rule in ("color-contrast", "link-in-text-block"):
            assert rule in str(told.value), rule


def test_letters_and_links_that_look_otherwise_are_told_from_those_that_were_measured(page: Page) -> None:
    page.goto("/sign-in/")
    page.evaluate(PARAGRAPH, "see")
    for changes, kind in ((OTHER_LETTERS, ""), (OTHER_LINKS, LINK)):
        for change in changes:
            before = set(page.evaluate(LOOKS))
            page.evaluate(change)
            new = set(page.evaluate(LOOKS)) - before
            # The link within the text tells what lies behind it too: only letters are asked of the letters.
            assert [look for look in new if look.startswith(LINK) == bool(kind)], change


def test_what_passed_in_one_process_is_known_in_the_others_and_nothing_else(tmp_path: Path) -> None:
    one, other = Passed(str(tmp_path)), Passed(str(tmp_path))
    one.add({"black on white", LINK + "underlined"})
    assert other.without({"black on white", "grey on white"}) == {"grey on white"}
    other.add({"red on white"})
    assert one.without({"red on white", LINK + "underlined", "grey on white"}) == {"grey on white"}
    assert Passed(None).without({"black on white"}) == {"black on white"}


def test_an_inline_script_and_one_that_fails_are_noticed_on_a_page_that_was_used_too(
    page: Page, complaints: Complaints
) -> None:
    """Most likely it is the one of the test before; what it says goes to this test."""
    page.goto("/sign-in/")
    page.evaluate(
        "const s = document.createElement('script');"
        "s.textContent = 'window.ran = true'; document.body.append(s)"
    )
    assert page.evaluate("window.ran") is None
    complaints.expect("Content Security Policy")
    page.evaluate("setTimeout(() => { throw new Error('needle broke') }, 0)")
    page.wait_for_timeout(100)
    complaints.expect("needle broke")


LATER = """() => setTimeout(async () => {
  const asked = new XMLHttpRequest();
  asked.open("GET", "/health/");
  asked.onload = () => setTimeout(() => { window.answered = asked.status; }, 200);
  asked.send();
}, 300)"""


def test_a_page_is_at_rest_when_what_it_will_do_is_done_and_nothing_is_filled_before(page: Page) -> None:
    page.goto("/sign-in/")
    for act in (at_rest, lambda one: one.get_by_label("Name").fill("Mira")):
        page.evaluate("window.answered = null")
        page.evaluate(LATER)
        assert page.evaluate("window.answered") is None
        act(page)
        assert page.evaluate("window.answered") == 200


class _SlowPicture(BaseHTTPRequestHandler):
    """A page that is there at once, with a picture that is not; and one whose body comes after its head."""

    def do_GET(self) -> None:
        if self.path == "/late-body":
            self._send("text/html", b'<!doctype html><html lang="en"><link rel="icon" href="data:,">')
            time.sleep(0.5)
            self.wfile.write(b'<main><h1 style="color: #eee; background: #fff">pale</h1></main></html>')
            return
        kind, told = (
            "text/html",
            b'<!doctype html><link rel="icon" href="data:,"><img src="/picture.svg" alt="">',
        )
        if self.path == "/picture.svg":
            kind, told = "image/svg+xml", b'<svg xmlns="http://www.w3.org/2000/svg"/>'
            time.sleep(1.0)
        self._send(kind, told)

    def _send(self, kind: str, told: bytes) -> None:
        self.send_response(200)
        self.send_header("Content-Type", kind)
        self.end_headers()
        self.wfile.write(told)

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture
def slow_page() -> Iterator[str]:
    """The address of such a page."""
    with ThreadingHTTPServer(("127.0.0.1", 0), _SlowPicture) as server:
        thread = Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}/"
        server.shutdown()
        thread.join(10)


def test_a_page_is_not_at_rest_before_it_is_loaded_and_waited_for_where_no_scripts_run_too(
    new_page: Callable[..., Page], slow_page: str
) -> None:
    """Where no scripts run a timer within the page never comes: whoever waits for one waits for ever."""
    for has_scripts in (True, False):
        page = new_page(java_script_enabled=has_scripts)
        page.goto(slow_page, wait_until="commit")
        at_rest(page)
        assert page.evaluate("document.readyState") == "complete", f"scripts: {has_scripts}"


def test_the_accessibility_check_waits_for_a_page_that_has_no_body_yet(
    page: Page, slow_page: str, axe: Callable[[Page], None]
) -> None:
    page.goto(f"{slow_page}late-body", wait_until="commit")
    with pytest.raises(AssertionError, match="color-contrast"):
        axe(page)


def test_a_page_that_was_used_is_as_good_as_new_and_one_that_was_listened_to_is_not_kept(
    page: Page, live_server: LiveServer, complaints: Complaints
) -> None:
    kept = KeptPages()
    page.goto("/sign-in/")
    page.evaluate("localStorage.setItem('scale', '2'), sessionStorage.setItem('at', '3')")
    page.context.add_cookies([{"name": "sessionid", "value": "somebody", "url": live_server.url}])
    assert leave(page, complaints)
    assert kept.keep("laptop", page)
    assert not kept.keep("laptop", page), "one of a kind is enough"
    assert kept.take("phone") is None
    assert kept.take("laptop") is page
    assert page.context.cookies() == []
    page.goto("/sign-in/")
    assert page.evaluate("[localStorage.getItem('scale'), sessionStorage.getItem('at')]") == [None, None]
    page.on("request", lambda request: None)
    assert leave(page, complaints)
    assert not kept.keep("laptop", page)
