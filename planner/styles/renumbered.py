"""A style that is no longer found under its number, for somebody gave it another while a page of it stood open.

Every form of a style's pages carries the style's key beside the number in its address: so it can be told what the
number is now, and what was typed is not lost.
"""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import quote

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from planner.styles.models import Style

#: What forms call the key of their style; HTMX sends it as a header with everything a page asks for.
FIELD, HEADER = "style_pk", "X-Style"
#: Words for whoever asked with HTMX, whose page stays as it is; percent-encoded, for headers hold no more.
SAY = "X-Say"
#: Not handed on to the style's new number.
OWN_FIELDS = ("csrfmiddlewaretoken", FIELD)


class NoSuchStyle(Http404):
    """No style has this number."""

    def __init__(self, number: str) -> None:
        super().__init__(f"there is no style {number}")
        self.number = number


class RenumberedMiddleware:
    """Answers for views that asked for a style by a number that none has."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """A page for a style that is not there; nothing else is looked at."""
        return not_found(request, exception.number) if isinstance(exception, NoSuchStyle) else None


def not_found(request: HttpRequest, number: str) -> HttpResponse:
    """Says that no style has this number, and which number it has now where that can be known."""
    style = _meant(request)
    if request.htmx:
        answer = HttpResponse(status=404)
        answer[SAY] = quote(_in_words(number, style))
        return answer
    there = _address(request, style)
    if style is not None and request.method == "GET":
        messages.info(request, f"Style {number} has the number {style.number} now.")
        return redirect(there)
    typed = (
        [] if request.FILES else [(k, v) for k, vs in request.POST.lists() for v in vs if k not in OWN_FIELDS]
    )
    context = {
        "number": number,
        "now": style,
        "there": there,
        "typed": typed,
        "sent": request.method == "POST",
    }
    return render(request, "styles/renumbered.html", context, status=404 if style is None else 409)


def _meant(request: HttpRequest) -> Style | None:
    """The style whose page was open; None where the request does not say."""
    key = request.POST.get(FIELD) or request.GET.get(FIELD) or request.headers.get(HEADER, "")
    if not (key.isascii() and key.isdigit() and len(key) < 16):
        return None
    return Style.objects.filter(pk=int(key)).first()


def _address(request: HttpRequest, style: Style | None) -> str:
    """The same page under the number of now."""
    found = request.resolver_match
    if style is None or found is None:
        return reverse("style-list")
    return reverse(found.view_name, kwargs={**found.kwargs, "number": style.number})


def _in_words(number: str, style: Style | None) -> str:
    kept = "Nothing was changed; what you typed is still here."
    if style is None:
        return f"There is no style {number} any more: it may have another number now. {kept}"
    return (
        f"Somebody gave style {number} the number {style.number} meanwhile. {kept} "
        f"Open style {style.number} to go on."
    )
