"""The people of the workroom, as makers see and change them."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from planner.common.access import for_makers
from planner.common.addresses import only_on_this_computer
from planner.common.forms import status_of
from planner.web import actions
from planner.web.actions import Invitation, PeopleError
from planner.web.forms import NewPersonForm

FRESH_LINK = "fresh_entry_link"


@for_makers
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def people(request: HttpRequest) -> HttpResponse:
    """Everybody, and a form for one more. A link just made is shown this once."""
    form = NewPersonForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        name, maker = form.cleaned_data["name"], form.cleaned_data["role"] == "maker"
        try:
            _keep_for_showing(request, actions.add_person(name, maker=maker, now=timezone.now()))
        except PeopleError as error:
            form.add_error("name", str(error))
        else:
            return redirect("people")
    page = {
        "form": form,
        "people": User.objects.order_by("-is_active", "username"),
        "fresh": request.session.pop(FRESH_LINK, None),
        "only_this_computer": only_on_this_computer(),
    }
    return render(request, "web/people.html", page, status=status_of(form))


@for_makers
@require_POST
def new_link(request: HttpRequest, pk: int) -> HttpResponse:
    """A link with which somebody sets a new password."""
    person = get_object_or_404(User, pk=pk)
    try:
        _keep_for_showing(request, actions.invite(person, now=timezone.now()))
    except PeopleError as error:
        messages.error(request, str(error))
    return redirect("people")


@for_makers
@require_POST
def put_to_rest(request: HttpRequest, pk: int) -> HttpResponse:
    """Lets somebody in no more."""
    person = get_object_or_404(User, pk=pk)
    try:
        actions.put_to_rest(person, by=request.user)
    except PeopleError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"{person.username} can no longer sign in. What they did stays recorded.")
    return redirect("people")


@for_makers
@require_POST
def let_in_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes somebody back."""
    person = get_object_or_404(User, pk=pk)
    actions.let_in_again(person)
    messages.success(request, f"{person.username} can sign in again.")
    return redirect("people")


def _keep_for_showing(request: HttpRequest, invitation: Invitation) -> None:
    """Remembers the link over the redirect, in the maker's own session, until the page has shown it."""
    assert invitation.person is not None
    request.session[FRESH_LINK] = {
        "name": invitation.person.username,
        "address": settings.BASE_URL + reverse("entry", args=[invitation.token]),
    }
