"""Coming in and going out: sign-in, the first entry, links that set a password, one's own password."""

from django.contrib import messages
from django.contrib.auth import login, update_session_auth_hash
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from planner.common.access import for_everybody, for_helpers
from planner.common.forms import status_of
from planner.web.actions import PeopleError, enter_first, open_link, set_password_by_link
from planner.web.forms import FirstEntryForm, OwnPasswordForm, PasswordForm, SignInForm

BACKEND = "django.contrib.auth.backends.ModelBackend"

sign_in = for_everybody(
    LoginView.as_view(
        template_name="web/sign_in.html", authentication_form=SignInForm, redirect_authenticated_user=True
    )
)
sign_out = for_helpers(LogoutView.as_view())


@for_everybody
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def entry(request: HttpRequest, token: str) -> HttpResponse:
    """A one-time link: makes the first maker, or sets the password of the person it was made for."""
    link = open_link(token, now=timezone.now())
    if link is None:
        return render(request, "web/dead_link.html", status=410)
    data = request.POST if request.method == "POST" else None
    form = FirstEntryForm(data) if link.person is None else PasswordForm(data, person=link.person)
    if form.is_valid():
        try:
            person = (
                enter_first(
                    token,
                    name=form.cleaned_data["name"],
                    password=form.cleaned_data["password"],
                    now=timezone.now(),
                )
                if link.person is None
                else set_password_by_link(token, password=form.cleaned_data["password"], now=timezone.now())
            )
        except PeopleError:
            return render(request, "web/dead_link.html", status=410)
        login(request, person, backend=BACKEND)
        return redirect("today")
    template = "web/first_entry.html" if link.person is None else "web/set_password.html"
    return render(request, template, {"form": form, "person": link.person}, status=status_of(form))


@for_helpers
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def own_password(request: HttpRequest) -> HttpResponse:
    """Changes the password of whoever is signed in; other browsers of theirs are signed out by it."""
    form = OwnPasswordForm(request.POST if request.method == "POST" else None, person=request.user)
    if form.is_valid():
        request.user.set_password(form.cleaned_data["password"])
        request.user.save(update_fields=["password"])
        update_session_auth_hash(request, request.user)
        messages.success(request, "Your password is changed.")
        return redirect("today")
    return render(request, "web/own_password.html", {"form": form}, status=status_of(form))
