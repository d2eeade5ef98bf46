"""Pages of this room."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from planner.common.access import for_helpers


@for_helpers
def cost_list(request: HttpRequest) -> HttpResponse:
    """To be built."""
    return render(request, "base.html")
