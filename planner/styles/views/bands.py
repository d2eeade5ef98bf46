"""A band cut to measure: its form, and while it is filled in, what it comes to in every size and cloth."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from planner.common.access import for_makers
from planner.common.forms import status_of
from planner.core.spec import Cloth, ClothKey
from planner.materials.specs import cloths
from planner.styles.actions.bands import cut_to_measure, draw_again
from planner.styles.band_forms import BandForm, piece_in
from planner.styles.bands_page import band_table
from planner.styles.models import Band, Piece
from planner.styles.specs import style_specs
from planner.styles.views.common import alone_with, back_to, display, style_of, tell_others


@for_makers
def piece_band(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """The band's form with its table; keeps what was typed. Who saves second is told."""
    return alone_with(request, number, lambda: _piece_band(request, number, pk))


def _piece_band(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    context = _context(request, number, pk)
    form: BandForm = context["form"]
    if request.method == "POST" and "look" not in request.POST and form.is_valid():
        data = form.cleaned_data
        done = cut_to_measure(
            context["piece"],
            form.chosen_seam,
            finished_width_mm=data["finished_width_mm"],
            turn_rad=form.turns[data["turn"]],
            ratio=data["ratio"],
            folded=data["folded"],
            over_head=data["over_head"],
        )
        messages.success(request, done.text)
        tell_others(request, style_of(number))
        return HttpResponseRedirect(reverse("piece-band", args=[number, pk]))
    return render(request, "styles/band.html", context, status=status_of(form))


@for_makers
@require_POST
def piece_band_look(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """The table of what is typed, for HTMX; nothing is kept."""
    context = _context(request, number, pk, looking=True)
    return render(request, "styles/_band_table.html", context, status=status_of(context["form"]))


@for_makers
@require_POST
def piece_band_drop(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """The piece is cut by drawn outlines again."""
    style = style_of(number)
    piece = get_object_or_404(Piece, style=style, pk=pk)
    messages.success(request, draw_again(piece).text)
    tell_others(request, style)
    return back_to(style, "pieces")


def _context(request: HttpRequest, number: str, pk: int, *, looking: bool = False) -> dict[str, Any]:
    """What the page shows; what is only looked at is not held against what somebody else saved."""
    style = style_of(number)
    piece = get_object_or_404(Piece.objects.select_related("role", "option__detail"), style=style, pk=pk)
    spec = style_specs([style])[style.number]
    try:
        here = piece_in(spec, piece)
    except LookupError as problem:
        raise Http404(str(problem)) from None
    data = request.POST.copy()
    if looking:
        data.pop("version", None)
    form = BandForm(style, piece, spec, data or None, display=display())
    stored = Band.objects.filter(piece=piece).exists()
    table = None
    if form.is_valid() if form.is_bound else stored:
        known: dict[ClothKey, Cloth] = cloths()
        shown = form.as_piece(form.cleaned_data) if form.is_bound else here
        table = band_table(shown, spec, known, form.display)
    return {"style": style, "piece": piece, "form": form, "table": table, "stored": stored}
