"""The edges of a piece, named by clicking them in the drawing or in a list; a size made from its neighbours."""

from __future__ import annotations

import re
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from planner.common.access import for_makers
from planner.common.forms import status_of
from planner.core.edge_names import suggest_names
from planner.styles.actions.edges import name_edges
from planner.styles.actions.outlines import interpolate_size
from planner.styles.actions.results import Done, Refused
from planner.styles.edge_drawing import draw_edges
from planner.styles.edge_forms import TRADE_NAMES, EdgesForm
from planner.styles.edges import PieceEdges, edge_rows, piece_edges, uneven_in
from planner.styles.models import Piece
from planner.styles.views.common import (
    after_change,
    after_refusal,
    alone_with,
    display,
    style_of,
    tell_others,
)

#: The drawing stands beside the list on a laptop, above it on a phone.
DRAWING_PX = 620
DRAWING_WIDTH_PX = 500
#: What an edge is called while nobody has named it.
_NUMBERED = re.compile(r"(?:edge\s*)?\d*", re.IGNORECASE)


@for_makers
def piece_edges_page(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """The edges of a piece with their names, allowances and lengths; who saves second is told."""
    return alone_with(request, number, lambda: _piece_edges(request, number, pk))


def _piece_edges(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    style = style_of(number)
    piece = get_object_or_404(Piece, style=style, pk=pk)
    edges = piece_edges(style, piece)
    context: dict[str, Any] = {"style": style, "piece": piece, "edges": edges}
    if edges.outline is None or edges.size is None:
        return render(request, "styles/edges.html", context)
    take = request.POST.get("take", "")
    suggestions = suggest_names(edges.outline, piece.name)
    form = EdgesForm(
        piece, edges.outline, suggestions, request.POST or None,
        display=display(), take=take, notches=edges.notches,
    )  # fmt: skip
    if request.method == "POST" and not take and form.is_valid():
        done = name_edges(piece, edges.size, form.cleaned_data["changes"])
        messages.success(request, done.text)
        for note in done.notes:
            messages.warning(request, note)
        tell_others(request, style)
        return HttpResponseRedirect(reverse("piece-edges", args=[style.number, piece.pk]))
    context |= _shown(edges, form)
    return render(request, "styles/edges.html", context, status=200 if take else status_of(form))


def _shown(edges: PieceEdges, form: EdgesForm) -> dict[str, Any]:
    assert edges.outline is not None
    rows = edge_rows(edges)
    names = [form.typed(i) for i in range(len(edges.outline.edges))]
    return {
        "form": form,
        "rows": rows,
        "uneven": uneven_in(edges, form.display),
        "unnamed": sum(bool(_NUMBERED.fullmatch(row.name.strip())) for row in rows),
        "known": any(row.suggestion for row in form.rows()),
        "trade_names": TRADE_NAMES,
        "drawing": draw_edges(
            edges.outline,
            most_px=DRAWING_PX,
            most_width_px=DRAWING_WIDTH_PX,
            names=names,
            notches=edges.notches,
        ),
    }


@for_makers
@require_POST
def outline_interpolate(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Makes the outline of a piece, the style's own or its base's, in a size from those of the sizes beside it."""
    style = style_of(number)
    piece = get_object_or_404(Piece, style__in=style.family, pk=pk)
    size = get_object_or_404(style.size_range.sizes, name=request.POST.get("size", ""))
    match interpolate_size(piece, size, list(style.size_range.sizes.all())):
        case Refused(text):
            return after_refusal(request, style, "outlines", text)
        case Done(text):
            return after_change(request, style, "outlines", text, also=("pieces", "seams"))
