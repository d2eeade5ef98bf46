"""What several views of this room do alike."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse

from planner.common.same_moment import one_after_the_other
from planner.materials.models import Workroom
from planner.styles.models import Style
from planner.styles.page import style_page
from planner.styles.parts import SECTIONS
from planner.styles.renumbered import NoSuchStyle
from planner.styles.signals import said_of_style


def style_of(number: str) -> Style:
    """The style with this number, or `NoSuchStyle`."""
    return _found(Style.objects.select_related("size_range", "base_size", "base"), number)


def _found(styles: QuerySet[Style], number: str) -> Style:
    style = styles.filter(number=number).first()
    if style is None:
        raise NoSuchStyle(number)
    return style


def alone_with(request: HttpRequest, number: str, answer: Callable[[], HttpResponse]) -> HttpResponse:
    """What `answer` says of a form about the style or a part of it, shown or sent.

    Nobody else changes the style while what was sent is looked at: of two who send at once the second is told.
    """
    if request.method != "POST":
        return answer()

    def locked() -> HttpResponse:
        Style.objects.select_for_update().filter(number=number).first()
        return answer()

    return one_after_the_other(locked)


def display() -> str:
    """What the workroom measures in, for forms."""
    return str(Workroom.the().display)


def page_context(number: str, *, size: str = "") -> dict[str, Any]:
    """All that the sections of a style's page need."""
    style = _found(Style.objects.with_everything(), number)
    return {"page": style_page(style, size=size), "style": style, "sections": SECTIONS}


def back_to(style: Style, section: str = "") -> HttpResponseRedirect:
    """To the style's page, at one of its sections."""
    url = reverse("style-detail", args=[style.number])
    return HttpResponseRedirect(f"{url}#section-{section}" if section else url)


def sections_again(
    request: HttpRequest, style: Style, section: str, *, also: tuple[str, ...] = (), status: int = 200
) -> HttpResponse:
    """A section as it is now, and with it the head of the page and the sections that repeat some of it."""
    context = page_context(style.number, size=request.GET.get("size", ""))
    context |= {"section": section, "also": also}
    return render(request, "styles/_sections_again.html", context, status=status)


def tell_others(request: HttpRequest, style: Style) -> None:
    """Has the other rooms told that a style was changed, and says what they say of it."""
    for text in said_of_style(style):
        messages.warning(request, text)


def after_change(
    request: HttpRequest,
    style: Style,
    section: str,
    text: str,
    *,
    also: tuple[str, ...] = (),
    say: bool = False,
) -> HttpResponse:
    """The answer to a change that worked: the sections anew for HTMX, else the page with a message.

    With `say` the message comes with the sections too: what happened cannot be seen in them alone.
    """
    tell_others(request, style)
    if request.htmx:
        if say:
            messages.success(request, text)
        return sections_again(request, style, section, also=also)
    messages.success(request, text)
    return back_to(style, section)


def after_refusal(request: HttpRequest, style: Style, section: str, text: str) -> HttpResponse:
    """The answer to a change that was refused: its section and the reason (409), or the page with it."""
    messages.error(request, text)
    if request.htmx:
        return sections_again(request, style, section, status=409)
    return back_to(style, section)
