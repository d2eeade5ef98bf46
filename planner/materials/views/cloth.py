"""The list of cloths; a fabric with its measures and colours."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from planner.common.access import for_helpers, for_makers
from planner.materials.facts import FACT_FIELDS, ClothFacts, cloth_facts, facts_of
from planner.materials.forms import ColourForm, FabricForm
from planner.materials.models import Fabric, FabricColour
from planner.materials.signals import said_of_cloth
from planner.materials.sold import sold_in_words
from planner.materials.views.answers import (
    answer,
    changing,
    display,
    done,
    entering,
    page_of,
    posted,
    throw_away,
)

#: A colour that is not chosen yet.
NEW_SWATCH = "#8a7f70"


@for_helpers
@require_GET
def fabric_list(request: HttpRequest) -> HttpResponse:
    """Which cloths there are, and what is low."""
    context = {
        "fabrics": page_of(request, Fabric.objects.with_colours()),
        "low": FabricColour.objects.low()[:8],
        "section": "cloth",
    }
    return render(request, "materials/fabric_list.html", context)


@for_helpers
@require_GET
def fabric_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """A fabric: what it measures, its colours and what is on hand of them."""
    return _fabric_page(request, pk)


@for_makers
@require_http_methods(["GET", "POST"])
def fabric_new(request: HttpRequest) -> HttpResponse:
    """A fabric is noted for the first time."""
    return entering(request, Fabric(), _edit)


@for_makers
@require_http_methods(["GET", "POST"])
def fabric_change(request: HttpRequest, pk: int) -> HttpResponse:
    """The measures of a fabric are changed; who saves second is told."""
    return changing(request, Fabric.objects.all(), pk, _edit)


def _edit(request: HttpRequest, fabric: Fabric) -> HttpResponse:
    is_new = fabric.pk is None
    form = FabricForm(posted(request), instance=fabric, display=display())
    if form.is_valid():
        form.save()
        messages.success(request, f"{fabric.name} is saved." + (" Now add its colours." if is_new else ""))
        for text in [] if is_new else said_of_cloth(fabric):
            messages.warning(request, text)
        return redirect("fabric-detail", fabric.pk)
    facts = _facts(form, fabric)
    name = Fabric.objects.values_list("name", flat=True).get(pk=fabric.pk) if fabric.pk else ""
    context = {"form": form, "name": name, "fabric": fabric, "facts": facts, "section": "cloth"}
    return answer(request, "materials/fabric_form.html", "materials/fabric_form.html", context)


def _facts(form: FabricForm, fabric: Fabric) -> ClothFacts | None:
    """What follows from what is typed, else from what is stored; None for a cloth that is neither yet."""
    if form.is_bound:
        return cloth_facts(form.cleaned_data, display())
    return facts_of(fabric, display()) if fabric.pk else None


@for_helpers
@require_GET
def fabric_facts(request: HttpRequest) -> HttpResponse:
    """What follows from the measures typed so far; nothing is kept, and what is wrong is left out."""
    typed = {name: request.GET.get(name, "") for name in FACT_FIELDS}
    form = FabricForm({**typed, "minimum_quantity": "0"}, display=display())
    form.is_valid()
    measures = {name: form.cleaned_data[name] for name in FACT_FIELDS if name in form.cleaned_data}
    return render(request, "materials/_facts.html", {"facts": cloth_facts(measures, display())})


@for_makers
@require_POST
def fabric_delete(request: HttpRequest, pk: int) -> HttpResponse:
    """A fabric nobody uses is thrown away."""
    fabric = get_object_or_404(Fabric, pk=pk)
    return throw_away(request, fabric, reverse("fabric-list"), reverse("fabric-detail", args=[pk]))


@for_makers
@require_http_methods(["GET", "POST"])
def colour_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A fabric gets another colour."""
    colour = FabricColour(fabric=get_object_or_404(Fabric, pk=pk), swatch=NEW_SWATCH)
    return entering(request, colour, _edit_colour)


@for_makers
@require_http_methods(["GET", "POST"])
def colour_change(request: HttpRequest, pk: int) -> HttpResponse:
    """A colour is renamed, or looks different; who saves second is told."""
    return changing(request, FabricColour.objects.select_related("fabric"), pk, _edit_colour)


def _edit_colour(request: HttpRequest, colour: FabricColour) -> HttpResponse:
    fabric_pk = colour.fabric_id
    form = ColourForm(posted(request), instance=colour)
    if form.is_valid():
        form.save()
        page = reverse("fabric-detail", args=[fabric_pk])
        return done(request, f"{colour.name} is saved.", lambda again: _fabric_page(again, fabric_pk), page)
    return _fabric_page(request, fabric_pk, form=form, changed=colour.pk)


@for_makers
@require_POST
def colour_delete(request: HttpRequest, pk: int) -> HttpResponse:
    """A colour nobody uses is thrown away."""
    colour = get_object_or_404(FabricColour.objects.select_related("fabric"), pk=pk)
    page = reverse("fabric-detail", args=[colour.fabric_id])
    return throw_away(request, colour, page, page)


def _fabric_page(
    request: HttpRequest, pk: int, *, form: ColourForm | None = None, changed: int | None = None
) -> HttpResponse:
    """The page of a fabric; with a form where a colour is added, or at colour `changed`."""
    fabric = get_object_or_404(Fabric.objects.with_colours(), pk=pk)
    context: dict[str, Any] = {
        "fabric": fabric,
        "colours": fabric.colours.all(),
        "on_hand_m": sum(colour.on_hand_m for colour in fabric.colours.all()),
        "facts": facts_of(fabric, display()),
        "sold": sold_in_words(fabric, display()),
        "form": form,
        "changed": changed,
        "section": "cloth",
    }
    return answer(request, "materials/fabric_detail.html", "materials/_colours.html", context)
