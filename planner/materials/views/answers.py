"""What the views of this room do alike: a page without JavaScript, only its region with it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, NamedTuple, TypeVar

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.db.models import Model, QuerySet
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers

from planner.common.forms import status_of
from planner.common.same_moment import one_after_the_other
from planner.core.units import format_length
from planner.materials.actions import StillUsedError, StockError, delete_unused
from planner.materials.models import Roll, Workroom
from planner.materials.signals import said_of_roll

Row = TypeVar("Row", bound=Model)

#: Rows on one page of a list.
PAGE = 50


class AskedFor(NamedTuple):
    """A form that a page of stock shows, with its heading and what its button says."""

    form: BaseForm
    title: str
    button: str


def form_context(asked: AskedFor | None) -> dict[str, Any]:
    """What `materials/_stock_form.html` shows; nothing of a page without a form."""
    form, title, button = asked or (None, "", "")
    return {"form": form, "form_title": title, "form_button": button}


def display() -> str:
    """The workroom's "metric" or "imperial", for forms."""
    return str(Workroom.the().display)


def posted(request: HttpRequest) -> QueryDict | None:
    """What was sent with a form; None where the form is only asked for."""
    return request.POST if request.method == "POST" else None


def now() -> datetime:
    """The moment of this request, handed on to the actions."""
    return timezone.now()


def changing(
    request: HttpRequest,
    rows: QuerySet[Row],
    pk: int,
    edit: Callable[[HttpRequest, Row], HttpResponse],
) -> HttpResponse:
    """What `edit` answers of a row whose form is shown or sent; 404 where there is none.

    Nobody else changes the row while what was sent is looked at, so whoever saves second is told.
    """
    if request.method != "POST":
        return edit(request, get_object_or_404(rows, pk=pk))
    return one_after_the_other(lambda: edit(request, get_object_or_404(rows.select_for_update(), pk=pk)))


def entering(
    request: HttpRequest, new: Row, edit: Callable[[HttpRequest, Row], HttpResponse]
) -> HttpResponse:
    """What `edit` answers of something `new` whose form is shown or sent."""
    if request.method != "POST":
        return edit(request, new)
    return one_after_the_other(lambda: edit(request, new))


def page_of(request: HttpRequest, rows: QuerySet[Any]) -> Page:
    """The page of a list that the address asks for; the nearest one where there is no such page."""
    return Paginator(rows, PAGE).get_page(request.GET.get("page"))


def answer(request: HttpRequest, page: str, region: str, context: dict[str, Any]) -> HttpResponse:
    """The region for HTMX, else the whole page round it; 422 where the `form` among the context has something wrong
    in it.
    """
    form = context.get("form")
    status = 200 if form is None else status_of(form)
    response = render(request, region if request.htmx else page, context, status=status)
    # One address, two answers: the browser's cache must not show a bare region as a page.
    patch_vary_headers(response, ["HX-Request"])
    return response


def done(
    request: HttpRequest, text: str, again: Callable[[HttpRequest], HttpResponse], url: str
) -> HttpResponse:
    """What was asked is done: `again` shows the region anew for HTMX, else the page at `url` says so."""
    messages.success(request, text)
    return again(request) if request.htmx else redirect(url)


def warn_of_roll(request: HttpRequest, roll: Roll) -> None:
    """Tells what other rooms say of what is left of a roll now: lays may count on more."""
    for text in said_of_roll(roll):
        messages.warning(request, text)


def carry_out(form: BaseForm, action: Callable[..., Any], thing: Any, **also: Any) -> Any:
    """What the action makes of a thing with what was typed in the form.

    None where the form was only asked for, or has something wrong in it: the action's refusal stands at its field.
    """
    if not form.is_valid():
        return None
    try:
        return action(thing, **form.cleaned_data, **also)
    except StockError as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        return None


def cloth_words(metres: Any) -> str:
    """So much cloth, in the workroom's units."""
    return format_length(float(metres) * 1000, display=display())  # type: ignore[arg-type]


def width_words(width_mm: Any) -> str:
    """A width across the cloth, in the workroom's units."""
    return format_length(float(width_mm), display(), "small")  # type: ignore[arg-type]


def throw_away(request: HttpRequest, thing: Any, gone_to: str, still_at: str) -> HttpResponse:
    """Deletes what nothing holds on to and goes to `gone_to`; else says what does, at `still_at`."""
    try:
        deleted = delete_unused(thing)
    except StillUsedError as held:
        messages.error(request, str(held))
        return redirect(still_at)
    messages.success(request, f"{deleted.name} is deleted.")
    return redirect(gone_to)
