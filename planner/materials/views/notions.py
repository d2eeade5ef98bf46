"""The list of notions; a notion with how it is sold, its colours and its stock."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from planner.common.access import for_helpers, for_makers
from planner.core.units import plain_number
from planner.materials import actions
from planner.materials.models import Notion, NotionColour, StockMove
from planner.materials.notion_forms import (
    CountNotionForm,
    NotionColourForm,
    NotionForm,
    ReceiveNotionForm,
    TakeOutNotionForm,
)
from planner.materials.views.answers import (
    AskedFor,
    answer,
    carry_out,
    changing,
    cloth_words,
    display,
    done,
    entering,
    form_context,
    now,
    page_of,
    posted,
    throw_away,
)
from planner.materials.views.cloth import NEW_SWATCH


@for_helpers
@require_GET
def notion_list(request: HttpRequest) -> HttpResponse:
    """Which notions there are, and what is low."""
    context = {
        "notions": page_of(request, Notion.objects.with_colours()),
        "low": NotionColour.objects.low()[:8],
        "section": "notions",
    }
    return render(request, "materials/notion_list.html", context)


@for_helpers
@require_GET
def notion_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """A notion: how it is sold, its colours and what is there of them."""
    return _notion_page(request, pk)


@for_makers
@require_http_methods(["GET", "POST"])
def notion_new(request: HttpRequest) -> HttpResponse:
    """A notion is noted for the first time."""
    return entering(request, Notion(), _edit)


@for_makers
@require_http_methods(["GET", "POST"])
def notion_change(request: HttpRequest, pk: int) -> HttpResponse:
    """How a notion is sold is changed; who saves second is told."""
    return changing(request, Notion.objects.all(), pk, _edit)


def _edit(request: HttpRequest, notion: Notion) -> HttpResponse:
    is_new, name = notion.pk is None, notion.name
    form = NotionForm(posted(request), instance=notion, display=display())
    if form.is_valid():
        with transaction.atomic():
            form.save()
            if is_new:
                NotionColour.objects.create(notion=notion)
        messages.success(request, f"{notion.name} is saved.")
        return redirect("notion-detail", notion.pk)
    context = {"form": form, "name": name, "notion": notion, "section": "notions"}
    return answer(request, "materials/notion_form.html", "materials/notion_form.html", context)


@for_makers
@require_POST
def notion_delete(request: HttpRequest, pk: int) -> HttpResponse:
    """A notion nobody uses is thrown away."""
    notion = get_object_or_404(Notion, pk=pk)
    return throw_away(request, notion, reverse("notion-list"), reverse("notion-detail", args=[pk]))


@for_makers
@require_http_methods(["GET", "POST"])
def notion_colour_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A notion gets another colour."""
    colour = NotionColour(notion=get_object_or_404(Notion, pk=pk))
    return entering(request, colour, _edit_colour)


@for_makers
@require_http_methods(["GET", "POST"])
def notion_colour_change(request: HttpRequest, pk: int) -> HttpResponse:
    """A colour is renamed, or looks different; who saves second is told."""
    return changing(request, NotionColour.objects.select_related("notion"), pk, _edit_colour)


def _edit_colour(request: HttpRequest, colour: NotionColour) -> HttpResponse:
    notion_pk = colour.notion_id
    first = {"swatch": colour.swatch or NEW_SWATCH}
    form = NotionColourForm(posted(request), instance=colour, initial=first)
    if form.is_valid():
        form.save()
        return _done(request, f"{colour} is saved.", notion_pk)
    title = "Change this colour" if colour.pk else "Add a colour"
    return _notion_page(request, notion_pk, AskedFor(form, title, "Save"), at=colour.pk)


@for_makers
@require_POST
def notion_colour_delete(request: HttpRequest, pk: int) -> HttpResponse:
    """A colour nobody uses is thrown away; the last one stays, of two people's presses at once too."""
    with transaction.atomic():
        Notion.objects.select_for_update().filter(colours=pk).first()
        colour = get_object_or_404(NotionColour.objects.select_related("notion"), pk=pk)
        page = reverse("notion-detail", args=[colour.notion_id])
        if colour.notion.colours.count() == 1:
            messages.error(request, "A notion keeps at least one colour. Rename it, or delete the notion.")
            return redirect(page)
        return throw_away(request, colour, page, page)


@for_helpers
@require_http_methods(["GET", "POST"])
def notion_receive(request: HttpRequest, pk: int) -> HttpResponse:
    """A notion came in."""

    def said(result: actions.NotionReceived, colour: NotionColour) -> str:
        came = f"{_amount(result.move.quantity, colour)} of {colour} came in."
        if not result.lacked:
            return came
        return (
            f"{came} The books lacked {_amount(result.lacked, colour)} that were taken out before, and what came in "
            "goes there first. Where more lies there than they say now, count it; else as much is asked for again."
        )

    return _move(
        request, pk, ReceiveNotionForm, actions.receive_notion, said, "{} came in", "Put it on the shelf"
    )


@for_helpers
@require_http_methods(["GET", "POST"])
def notion_count(request: HttpRequest, pk: int) -> HttpResponse:
    """A notion was counted again."""

    def said(result: actions.Counted, colour: NotionColour) -> str:
        if not result.difference:
            return f"{colour}: {_amount(result.after, colour)}, as the books said."
        more = "more" if result.difference > 0 else "less"
        by = _amount(abs(result.difference), colour)
        return f"{colour}: {_amount(result.after, colour)}, {by} {more} than the books said."

    return _move(request, pk, CountNotionForm, actions.count_notion, said, "Count {} again", "Set")


@for_helpers
@require_http_methods(["GET", "POST"])
def notion_take_out(request: HttpRequest, pk: int) -> HttpResponse:
    """A notion leaves the shelf: it is damaged, or was used for something else."""

    def said(result: actions.TakenOut, colour: NotionColour) -> str:
        left = _amount(result.left, colour)
        return f"{_amount(-result.move.quantity, colour)} of {colour} taken out; {left} left."

    return _move(request, pk, TakeOutNotionForm, actions.take_out_notion, said, "Take out {}", "Take out")


def _move(
    request: HttpRequest,
    pk: int,
    form_class: type[Any],
    action: Callable[..., Any],
    said: Callable[[Any, NotionColour], str],
    title: str,
    button: str,
) -> HttpResponse:
    """One move of the stock of one notion colour, asked for or done."""
    colour = get_object_or_404(NotionColour.objects.select_related("notion"), pk=pk)
    about = {"kind": colour.notion.kind, "cones": colour.cones} if form_class is CountNotionForm else {}
    form = form_class(posted(request), unit=colour.notion.unit, display=display(), **about)
    result = carry_out(form, action, colour, person=request.user, at=now())
    if result:
        return _done(request, said(result, colour), colour.notion_id)
    asked = AskedFor(form, title.format(colour), button)
    return _notion_page(request, colour.notion_id, asked, at=colour.pk)


def _notion_page(
    request: HttpRequest,
    pk: int,
    asked: AskedFor | None = None,
    *,
    at: int | None = None,
) -> HttpResponse:
    """The page of a notion; the form stands at the colour `at`, or below them for a new one."""
    notion = get_object_or_404(Notion.objects.with_colours(), pk=pk)
    moves = StockMove.objects.filter(notion_colour__notion=notion).for_reading()
    context: dict[str, Any] = {
        "notion": notion,
        "colours": notion.colours.all(),
        "on_hand": sum(colour.on_hand for colour in notion.colours.all()),
        "moves": page_of(request, moves),
        "at": at,
        **form_context(asked),
        "section": "notions",
    }
    return answer(request, "materials/notion_detail.html", "materials/_notion_stock.html", context)


def _done(request: HttpRequest, text: str, pk: int) -> HttpResponse:
    return done(request, text, lambda again: _notion_page(again, pk), reverse("notion-detail", args=[pk]))


def _amount(quantity: Decimal, colour: NotionColour) -> str:
    """So many metres or pieces, in words."""
    if colour.notion.unit == Notion.Unit.METRE:
        return cloth_words(quantity)
    return f"{plain_number(quantity)} {'piece' if quantity == 1 else 'pieces'}"
