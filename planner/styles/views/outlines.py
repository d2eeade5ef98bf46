"""Entering the outlines of a piece in one of several ways, drawn before they are kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_POST

from planner.common.access import for_makers
from planner.common.forms import status_of
from planner.core.outline import Outline, outline_from_json
from planner.styles import actions
from planner.styles.drawings import nest
from planner.styles.edge_words import lengths_each_mm, lengths_in_words
from planner.styles.grow_drawing import lettered
from planner.styles.models import Piece, PieceOutline, Size, Style
from planner.styles.outline_forms import WAYS, GrowForm, OutlineForm, outline_form
from planner.styles.views.common import alone_with, back_to, display, style_of, tell_others

PREVIEW_PX = 380
LETTERED_PX = 420


def _piece_of(style: Style, pk: int) -> Piece:
    return get_object_or_404(Piece.objects.select_related("role"), style=style, pk=pk)


def _chosen_size(piece: Piece, sizes: list[Size], name: str, base: Size) -> Size:
    """The size asked for, else the first that lacks an outline, else the base size."""
    have = set(piece.outlines.values_list("size", flat=True))
    asked = next((size for size in sizes if size.name == name), None)
    lacking = next((size for size in [base, *sizes] if size.pk not in have), None)
    return asked or lacking or base


def _form(
    request: HttpRequest, style: Style, piece: Piece, *, looking: bool = False
) -> tuple[OutlineForm, str, Size]:
    """The form, its way and its size; what is only looked at is not held against what somebody else saved."""
    sizes = list(style.size_range.sizes.all())
    asked = (request.POST or request.GET).get("how", "")
    how = asked if asked in WAYS else next(iter(WAYS))
    chosen = _chosen_size(piece, sizes, request.GET.get("size", ""), style.base_size)
    data = request.POST.copy()
    if looking:
        data.pop("version", None)
    form = outline_form(
        how,
        piece,
        sizes,
        data or None,
        chosen=chosen,
        base_size=style.base_size,
        display=display(),
    )
    return form, how, chosen


@for_makers
def outline_edit(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """The outlines of a piece, entered in one of the ways that the page offers; who saves a size second is told."""
    return alone_with(request, number, lambda: _outline_edit(request, number, pk))


def _outline_edit(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    style = style_of(number)
    piece = _piece_of(style, pk)
    form, how, chosen = _form(request, style, piece)
    if request.method == "POST" and "look" not in request.POST and form.is_valid():
        done = actions.keep_outlines(piece, form.cleaned_data["outlines"])
        messages.success(request, done.text)
        tell_others(request, style)
        return back_to(style, "outlines")
    stored = piece.outlines.filter(size=chosen).first()
    context = {
        "form": form,
        "how": how,
        "ways": WAYS,
        "style": style,
        "piece": piece,
        "chosen": chosen,
        "again": f"?{urlencode({'how': how, 'size': chosen.name})}",
        "has_outline": stored is not None,
        **(_preview(form, style) if form.is_bound else _stored(piece, stored, chosen, how)),
    }
    if isinstance(form, GrowForm) and form.base is not None:
        context["lettered"] = lettered(form.base, most_px=LETTERED_PX)
    return render(request, "styles/outline_form.html", context, status=status_of(form))


@for_makers
@require_POST
def outline_preview(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """What is typed so far, drawn; nothing is kept."""
    style = style_of(number)
    form, *_ = _form(request, style, _piece_of(style, pk), looking=True)
    return render(request, "styles/_outline_preview.html", {"form": form, **_preview(form, style)})


@for_makers
@require_POST
def outline_drop(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Takes the outline of a piece in one size away."""
    style = style_of(number)
    size = get_object_or_404(style.size_range.sizes, name=request.POST.get("size", ""))
    done = actions.drop_outline(_piece_of(style, pk), size)
    messages.success(request, done.text)
    tell_others(request, style)
    return back_to(style, "outlines")


def _preview(form: OutlineForm, style: Style) -> dict[str, Any]:
    """The drawing of what was typed; nothing where it was wrong."""
    form.is_valid()
    shapes = form.cleaned_data.get("drawn") or form.cleaned_data.get("outlines", {})
    outlines = {size.name: shape for size, shape in shapes.items()}
    if not outlines and "shape" in form.cleaned_data:
        outlines = {style.base_size.name: form.cleaned_data["shape"]}
    return _drawn(outlines, style.base_size.name)


def _stored(piece: Piece, row: PieceOutline | None, size: Size, how: str) -> dict[str, Any]:
    """The drawing of what is kept already: of a size, or of all where the page is about all of them."""
    if how == "grow":
        rows = piece.outlines.select_related("size")
        shapes = {each.size.name: outline_from_json(each.shape) for each in rows}
        return _drawn(shapes, piece.style.base_size.name)
    return _drawn({size.name: outline_from_json(row.shape)} if row else {}, size.name)


def _drawn(outlines: Mapping[str, Outline], base_size: str) -> dict[str, Any]:
    """Sizes over each other, with measures, area and edges of the largest."""
    shapes = list(outlines.values())
    largest = max(shapes, key=lambda shape: shape.area_mm2, default=None)
    return {
        "drawn": nest(outlines, base_size=base_size, most_px=PREVIEW_PX),
        "largest": largest,
        "area_cm2": largest.area_mm2 / 100 if largest else None,
        "edges": {
            name: lengths_in_words(lengths, display=display())
            for name, lengths in (lengths_each_mm(largest) if largest else {}).items()
        },
        "shapes": outlines,
        "differ": len({(shape.length_mm, shape.width_mm) for shape in shapes}) > 1,
    }
