"""Entering, changing, moving and taking out the parts of a style."""

from __future__ import annotations

from django.db import transaction
from django.db.models import Model
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_POST

from planner.common.access import for_makers
from planner.common.forms import status_of
from planner.styles import actions
from planner.styles.models import Style
from planner.styles.parts import PARTS, Part
from planner.styles.views.common import after_change, after_refusal, display, style_of


def _kind(slug: str) -> Part:
    if slug not in PARTS:
        raise Http404(slug)
    return PARTS[slug]


def _part_of(style: Style, slug: str, pk: int) -> tuple[Part, Model]:
    part = _kind(slug)
    return part, get_object_or_404(part.of(style), pk=pk)


@for_makers
def part_new(request: HttpRequest, number: str, slug: str) -> HttpResponse:
    """A new part of a style."""
    return _edit(request, style_of(number), _kind(slug), None)


@for_makers
def part_change(request: HttpRequest, number: str, slug: str, pk: int) -> HttpResponse:
    """A part of a style, changed."""
    style = style_of(number)
    part, instance = _part_of(style, slug, pk)
    return _edit(request, style, part, instance)


def _edit(request: HttpRequest, style: Style, part: Part, instance: Model | None) -> HttpResponse:
    form = part.form(style, request.POST or None, instance=instance, display=display())
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            kept = form.save()
        return after_change(request, style, part.section, f"{kept} is kept.", also=part.also)
    template = "styles/_part_form.html" if request.htmx else "styles/part_form.html"
    context = {"form": form, "style": style, "part": part, "pk": instance.pk if instance else None}
    return render(request, template, context, status=status_of(form))


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
            return after_change(request, style, part.section, text, also=part.also)


@for_makers
@require_POST
def part_move(request: HttpRequest, number: str, slug: str, pk: int) -> HttpResponse:
    """Moves a part up or down among its kind."""
    style = style_of(number)
    part, instance = _part_of(style, slug, pk)
    if not hasattr(instance, "position"):
        raise Http404(slug)
    actions.move_part(instance, part.of(style), up=request.POST.get("to") == "up")
    return after_change(request, style, part.section, f"{instance} is moved.", also=part.also)
