"""Entering, changing, moving and taking out the parts of a style."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Model
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRedirect

from planner.common.access import for_makers
from planner.common.forms import status_of
from planner.styles import actions
from planner.styles.detail_forms import DetailForm
from planner.styles.models import Style
from planner.styles.part_forms import PartForm
from planner.styles.parts import PARTS, Part
from planner.styles.views.common import after_change, after_refusal, alone_with, display, style_of


def _kind(slug: str) -> Part:
    if slug not in PARTS:
        raise Http404(slug)
    return PARTS[slug]


def _part_of(style: Style, slug: str, pk: int) -> tuple[Part, Model]:
    part = _kind(slug)
    return part, get_object_or_404(part.of(style), pk=pk)


def _at_the_base(request: HttpRequest, style: Style, slug: str, pk: int) -> HttpResponse | None:
    """The way to a part that belongs to the style's base: it is changed there, for all styles that share it."""
    if style.base is None or not _kind(slug).of(style.base).filter(pk=pk).exists():
        return None
    url = reverse("part-change", args=[style.base.number, slug, pk])
    return HttpResponseClientRedirect(url) if request.htmx else redirect(url)


@for_makers
def part_new(request: HttpRequest, number: str, slug: str) -> HttpResponse:
    """A new part of a style; of two people who enter the same at once the second is told."""
    return alone_with(request, number, lambda: _edit(request, style_of(number), _kind(slug), None))


@for_makers
def part_change(request: HttpRequest, number: str, slug: str, pk: int) -> HttpResponse:
    """A part of a style, changed; what somebody takes out meanwhile does not come back."""
    return alone_with(request, number, lambda: _change(request, number, slug, pk))


def _change(request: HttpRequest, number: str, slug: str, pk: int) -> HttpResponse:
    style = style_of(number)
    elsewhere = _at_the_base(request, style, slug, pk)
    if elsewhere is not None:
        return elsewhere
    part, instance = _part_of(style, slug, pk)
    return _edit(request, style, part, instance)


def _edit(request: HttpRequest, style: Style, part: Part, instance: Model | None) -> HttpResponse:
    form = part.form(style, request.POST or None, instance=instance, display=display())
    if request.method == "POST" and form.is_valid():
        kept = form.save()
        _warn_of_orders(request, form)
        text = " ".join(filter(None, [f"{kept} is kept.", form.note]))
        return after_change(request, style, part.section, text, also=part.also, say=bool(form.note))
    template = "styles/_part_form.html" if request.htmx else "styles/part_form.html"
    context = {"form": form, "style": style, "part": part, "pk": instance.pk if instance else None}
    return render(request, template, context, status=status_of(form))


def _warn_of_orders(request: HttpRequest, form: PartForm) -> None:
    """Names open orders that ask for options which cannot be had together any more; they stay as they are."""
    orders = form.ordered_together() if isinstance(form, DetailForm) else []
    if orders:
        asks = "asks" if len(orders) == 1 else "ask"
        few = ", ".join(orders[:8]) + (" …" if len(orders) > 8 else "")
        messages.warning(
            request,
            f"{few} {asks} for options that cannot be had together now. Change them before they are planned.",
        )


@for_makers
@require_POST
def part_drop(request: HttpRequest, number: str, slug: str, pk: int) -> HttpResponse:
    """Takes a part out of a style, or says why it has to stay."""
    style = style_of(number)
    part, instance = _part_of(style, slug, pk)
    match actions.drop_part(instance):
        case actions.Refused(text):
            return after_refusal(request, style, part.section, text)
        case actions.Done(text):
            shared = style.built_on_it.exists()
            return after_change(request, style, part.section, text, also=part.also, say=shared)


@for_makers
@require_POST
def part_move(request: HttpRequest, number: str, slug: str, pk: int) -> HttpResponse:
    """Moves a part up or down among its kind."""
    style = style_of(number)
    part, instance = _part_of(style, slug, pk)
    if not hasattr(instance, "position"):
        raise Http404(slug)
    actions.move_part(instance, style, up=request.POST.get("to") == "up")
    return after_change(request, style, part.section, f"{instance} is moved.", also=part.also)
