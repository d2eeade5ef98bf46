"""Seams walked in every size at once, and measured while they are put together."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_POST

from planner.common.access import for_helpers, for_makers
from planner.common.forms import status_of
from planner.styles import actions
from planner.styles.models import Seam
from planner.styles.parts import PARTS
from planner.styles.proposals_page import ProposalsForm
from planner.styles.seam_forms import SeamForm
from planner.styles.seams_page import walked
from planner.styles.specs import style_specs
from planner.styles.views.common import back_to, display, style_of, tell_others


@for_helpers
def seam_walk(request: HttpRequest, number: str) -> HttpResponse:
    """Every seam in every size: both sides measured and held against each other."""
    style = style_of(number)
    draw = request.GET.get("draw", "")
    page = walked(
        style_specs([style])[style.number],
        display(),
        draw=int(draw) if draw.isdecimal() and len(draw) < 4 else 0,
        draw_size=request.GET.get("size", ""),
    )
    return render(request, "styles/seam_walk.html", {"style": style, "page": page})


@for_makers
@require_POST
def seam_measure(request: HttpRequest, number: str) -> HttpResponse:
    """The edges chosen so far, measured; nothing is kept."""
    style = style_of(number)
    key = request.POST.get("seam", "")
    instance = (
        get_object_or_404(Seam, style=style, pk=int(key)) if key.isdecimal() and len(key) < 16 else None
    )
    form = SeamForm(style, request.POST, instance=instance, display=display())
    rows = form.measured
    if request.htmx:
        return render(request, "styles/_seam_measured.html", {"style": style, "form": form, "measured": rows})
    context = {"form": form, "style": style, "part": PARTS["seam"], "pk": instance and instance.pk}
    return render(request, "styles/part_form.html", context)


@for_makers
def seam_propose(request: HttpRequest, number: str) -> HttpResponse:
    """Seams told from the edges of the pieces, to be ticked; made by POST, with the operations that sew them."""
    style = style_of(number)
    spec = style_specs([style])[style.number]
    form = ProposalsForm(style, spec, request.POST if request.method == "POST" else None, display=display())
    status = status_of(form)
    if request.method == "POST" and form.is_valid():
        match actions.make_proposed(style, form.confirmed()):
            case actions.Done(text):
                tell_others(request, style)
                messages.success(request, text)
                return back_to(style, "seams")
            case actions.Refused(text):
                form.add_error(None, text)
                status = 409
    return render(request, "styles/seam_proposals.html", {"form": form, "style": style}, status=status)
