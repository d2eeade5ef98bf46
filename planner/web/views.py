"""The page shell: today, signing in and out."""

from datetime import date

from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from planner.common.access import for_everybody, for_helpers

sign_in = for_everybody(LoginView.as_view(template_name="web/sign_in.html", redirect_authenticated_user=True))
sign_out = for_helpers(LogoutView.as_view())


@for_helpers
def today(request: HttpRequest) -> HttpResponse:
    """What to buy, what to cut, what is late, what waits to be sewn."""
    return render(request, "web/today.html", {"today": date.today()})
