"""Tests read a page as it is worded: where a template goes on in a new line is nobody's business but its reader's."""

from __future__ import annotations

import re
from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

#: Round these marks a browser shows no white space, in the others' neighbourhood one space.
_BLOCKS = (
    r"(?:html|head|body|main|header|footer|nav|section|article|div|p|h[1-6]|[ou]l|li|d[ltd]|table|thead|tbody|tfoot|"
    r"t[rdh]|caption|colgroup|col|form|fieldset|legend|details|summary|opt(?:ion|group)|link|meta|title|script|style|"
    r"template|hr|noscript|fig(?:ure|caption)|svg|defs|g|path|rect|line|circle|use|poly(?:line|gon))\b"
)
#: What is shown in lines, or read by a script.
_AS_TYPED = re.compile(r"(<(textarea|pre|script|style)\b.*?</\2>)", re.DOTALL)
_NEW_LINE = re.compile(r"[ \t]*\n\s*")
_BEFORE_BLOCK = re.compile(rf"\n(?=</?{_BLOCKS}|</(?:button|select)>)")
_BEHIND_BLOCK = re.compile(rf"(<(?:/?{_BLOCKS}|button|select)[^<>]*>)\n")


def as_worded(page: str) -> str:
    """The page without the line breaks and indents of its templates."""
    parts = _AS_TYPED.split(page)
    # A part between two such elements, then the element and its name.
    for k in range(0, len(parts), 3):
        part = _BEFORE_BLOCK.sub("", _NEW_LINE.sub("\n", parts[k]))
        parts[k] = _BEHIND_BLOCK.sub(r"\1", part).replace("\n", " ")
    return "".join(part for k, part in enumerate(parts) if k % 3 != 2).strip()


class AsWordedMiddleware:
    """Answers the test client so, never a browser."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """As the site answers."""
        answer = self._get_response(request)
        is_page = answer.headers.get("content-type", "").startswith("text/html") and not answer.streaming
        if is_page and request.META.get("SERVER_NAME") == "testserver":
            answer.content = as_worded(answer.content.decode())
        return answer
