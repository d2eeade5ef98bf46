"""A figure and its unit on one line of a page, and so a number with a hyphen: B-0003.

What is printed stands with a thin space between the two (`core.units`), after which a browser may break the line; the
narrow space that is no break looks alike. It takes its place where a page leaves the house, so that whoever words a
page, compares what was worded or prints it on paper (where a line breaks at a plain space only) need not think of it.

Behind the hyphen of a number comes a mark that nobody sees and no line is broken at. What is copied off a page goes
without it (`static/js/page.js`), and nothing that a form sends back has it.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

NARROW_NO_BREAK_SPACE = "\N{NARROW NO-BREAK SPACE}"
#: A thin space after a digit or a fraction (⅛ ¼ ⅜ ½ ⅝ ¾ ⅞, by the last byte), in UTF-8: names people typed stay.
_AFTER_FIGURE = re.compile(rb"\xe2\x80\x89(?<=[0-9\xbc-\xbe\x9b-\x9e]\xe2\x80\x89)")
#: Takes no room, and no line is broken before or behind it.
WORD_JOINER = "\N{WORD JOINER}"
#: The beginning of a number of a batch, an order, a bundle or a roll, up to its hyphen.
_NUMBER = re.compile(rb"(?<![\w-])[A-Z]{1,3}-(?=\d)")
#: What stands in these is sent back, or is no text of the page.
_LEFT_ALONE = (b"option", b"textarea", b"title", b"script", b"style")


class WholeFiguresMiddleware:
    """Keeps figures and units of pages together, and numbers whole."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if response.get("Content-Type", "").startswith("text/html") and not response.streaming:
            content = whole_numbers(_AFTER_FIGURE.sub(NARROW_NO_BREAK_SPACE.encode(), response.content))  # type: ignore[attr-defined]
            response.content = content  # type: ignore[attr-defined]
            if response.has_header("Content-Length"):
                response["Content-Length"] = str(len(content))
        return response


def whole_numbers(page: bytes) -> bytes:
    """A page whose texts have a mark behind the hyphen of each number; its tags, and what forms send, stay."""
    parts, done = [], 0
    for found in _NUMBER.finditer(page):
        tag = page.rfind(b"<", 0, found.start())
        if page.rfind(b">", 0, found.start()) < tag or page[tag + 1 : tag + 12].startswith(_LEFT_ALONE):
            continue
        parts += [page[done : found.end()], WORD_JOINER.encode()]
        done = found.end()
    return b"".join([*parts, page[done:]]) if parts else page
