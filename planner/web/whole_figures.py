"""A figure and its unit on one line of a page.

What is printed stands with a thin space between the two (`core.units`), after which a browser may break the line; the
narrow space that is no break looks alike. It takes its place where a page leaves the house, so that whoever words a
page, compares what was worded or prints it on paper (where a line breaks at a plain space only) need not think of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

NARROW_NO_BREAK_SPACE = "\N{NARROW NO-BREAK SPACE}"
#: A thin space after a digit or a fraction (⅛ ¼ ⅜ ½ ⅝ ¾ ⅞, by the last byte), in UTF-8: names people typed stay.
_AFTER_FIGURE = re.compile(rb"\xe2\x80\x89(?<=[0-9\xbc-\xbe\x9b-\x9e]\xe2\x80\x89)")


class WholeFiguresMiddleware:
    """Keeps figures and units of pages together."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if response.get("Content-Type", "").startswith("text/html") and not response.streaming:
            # As many bytes as before, so the length that was told stays right.
            response.content = _AFTER_FIGURE.sub(NARROW_NO_BREAK_SPACE.encode(), response.content)  # type: ignore[attr-defined]
        return response
