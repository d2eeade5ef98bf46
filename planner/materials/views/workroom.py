"""The habits of the workroom."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from planner.common.access import for_makers
from planner.materials.models import Workroom
from planner.materials.signals import said_of
from planner.materials.views.answers import answer, changing, posted
from planner.materials.workroom_forms import WorkroomForm


@for_makers
@require_http_methods(["GET", "POST"])
def workroom(request: HttpRequest) -> HttpResponse:
    """What the workroom measures in, pays, prints on, and how it cuts; who saves second is told."""
    # Read anew, for what is typed wrongly is written into it and must not show on the rest of the page.
    return changing(request, Workroom.objects.all(), Workroom.the().pk, _edit)


def _edit(request: HttpRequest, room: Workroom) -> HttpResponse:
    form = WorkroomForm(posted(request), instance=room, display=room.display)
    if form.is_valid():
        form.save()
        messages.success(request, "The workroom is saved.")
        for text in said_of(room):
            messages.warning(request, text)
        return redirect("workroom")
    context = {"form": form, "section": "workroom"}
    return answer(request, "materials/workroom.html", "materials/workroom.html", context)
