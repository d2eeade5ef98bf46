"""The habits of the workroom."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from planner.common.access import for_makers
from planner.materials.models import Workroom
from planner.materials.signals import said_of
from planner.materials.views.answers import answer, posted
from planner.materials.workroom_forms import WorkroomForm


@for_makers
@require_http_methods(["GET", "POST"])
def workroom(request: HttpRequest) -> HttpResponse:
    """What the workroom measures in, pays, prints on, and how it cuts."""
    room = Workroom.the()
    form = WorkroomForm(posted(request), instance=room, display=room.display)
    if form.is_valid():
        form.save()
        messages.success(request, "The workroom is saved.")
        for text in said_of(room):
            messages.warning(request, text)
        return redirect("workroom")
    context = {"form": form, "section": "workroom"}
    return answer(request, "materials/workroom.html", "materials/workroom.html", context)
