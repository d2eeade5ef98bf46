"""Entering the outlines of a piece: as a rectangle or as points, drawn before they are kept."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_POST

from planner.common.access import for_makers
from planner.styles import actions
from planner.styles.drawings import nest
from planner.styles.models import Piece, Size, Style
from planner.styles.outline_forms import PointsForm, RectangleForm
from planner.styles.views.common import back_to, display, style_of

PREVIEW_PX = 380


def _piece_of(style: Style, pk: int) -> Piece:
    return get_object_or_404(Piece.objects.select_related("role"), style=style, pk=pk)


def _chosen_size(piece: Piece, sizes: list[Size], name: str, base: Size) -> Size:
    """The size asked for, else the first that lacks an outline, else the base size."""
    have = set(piece.outlines.values_list("size", flat=True))
    asked = next((size for size in sizes if size.name == name), None)
    lacking = next((size for size in [base, *sizes] if size.pk not in have), None)
    return asked or lacking or base


def _form(request: HttpRequest, style: Style, piece: Piece) -> tuple[forms.Form, str, list[Size], Size]:
    sizes = list(style.size_range.sizes.all())
    data = request.POST or None
    how = "rectangle" if (request.POST or request.GET).get("how") == "rectangle" else "points"
    chosen = _chosen_size(piece, sizes, request.GET.get("size", ""), style.base_size)
    if how == "rectangle":
        return RectangleForm(piece, sizes, data, display=display()), how, sizes, chosen
    return PointsForm(piece, sizes, data, chosen=chosen, display=display()), how, sizes, chosen


@for_makers
def outline_edit(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """The outlines of a piece, entered by the measures of a rectangle or by points."""
    style = style_of(number)
    piece = _piece_of(style, pk)
    form, how, sizes, chosen = _form(request, style, piece)
    if request.method == "POST" and "look" not in request.POST and form.is_valid():
        done = actions.keep_outlines(piece, form.cleaned_data["outlines"])
        messages.success(request, done.text)
        return back_to(style, "outlines")
    context = {
        "form": form,
        "how": how,
        "style": style,
        "piece": piece,
        "sizes": sizes,
        "chosen": chosen,
        "has_outline": piece.outlines.filter(size=chosen).exists(),
        **_preview(form, style),
    }
    return render(request, "styles/outline_form.html", context, status=_status(form))


@for_makers
@require_POST
def outline_preview(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """What is typed so far, drawn; nothing is kept."""
    style = style_of(number)
    form, *_ = _form(request, style, _piece_of(style, pk))
    return render(request, "styles/_outline_preview.html", {"form": form, **_preview(form, style)})


@for_makers
@require_POST
def outline_drop(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Takes the outline of a piece in one size away."""
    style = style_of(number)
    size = get_object_or_404(style.size_range.sizes, name=request.POST.get("size", ""))
    done = actions.drop_outline(_piece_of(style, pk), size)
    messages.success(request, done.text)
    return back_to(style, "outlines")


def _status(form: forms.Form) -> int:
    return 422 if form.is_bound and not form.is_valid() else 200


def _preview(form: forms.Form, style: Style) -> dict[str, Any]:
    """The drawing of a form that was right, with area and edges of its largest outline."""
    if not form.is_bound:
        return {"drawn": None}
    form.is_valid()
    outlines = {size.name: shape for size, shape in form.cleaned_data.get("outlines", {}).items()}
    if not outlines and "shape" in form.cleaned_data:
        outlines = {style.base_size.name: form.cleaned_data["shape"]}
    shapes = list(outlines.values())
    largest = max(shapes, key=lambda shape: shape.area_mm2, default=None)
    return {
        "drawn": nest(outlines, base_size=style.base_size.name, most_px=PREVIEW_PX),
        "largest": largest,
        "area_cm2": largest.area_mm2 / 100 if largest else None,
        "edges": largest.edge_lengths_mm() if largest else {},
        "differ": len({(shape.length_mm, shape.width_mm) for shape in shapes}) > 1,
    }
