"""The page shell: today, and a sign of life."""

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.common.access import for_everybody, for_helpers
from planner.web.today import what_to_do


@for_helpers
def today(request: HttpRequest) -> HttpResponse:
    """What to buy, what to cut, what is late, what waits to be sewn."""
    return render(request, "web/today.html", {"today": what_to_do(timezone.localdate())})


@for_everybody
def health(request: HttpRequest) -> HttpResponse:
    """Says "ok" when pages can be answered and the database can be read; for programs that watch."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return HttpResponse("ok\n", content_type="text/plain; charset=utf-8")
