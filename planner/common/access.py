"""Who may use a view. Every view wears one of these; sign-in itself is demanded by Django's middleware.

A *maker* runs the workroom (a user with `is_staff`); a *helper* cuts and sews. Makers may do all that helpers may.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

View = Callable[..., HttpResponse]


def for_helpers(view: View) -> View:
    """Open to everybody who is signed in."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return view(request, *args, **kwargs)

    guarded.open_to = "helpers"  # type: ignore[attr-defined]
    return guarded


def for_makers(view: View) -> View:
    """Open to makers only; helpers are told so plainly (403)."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not request.user.is_staff:
            raise PermissionDenied("This page is for the maker who runs the workroom.")
        return view(request, *args, **kwargs)

    guarded.open_to = "makers"  # type: ignore[attr-defined]
    return guarded


def for_everybody(view: View) -> View:
    """Open without signing in: the sign-in page, the first entry, the health check."""
    guarded = login_not_required(view)
    guarded.open_to = "everybody"  # type: ignore[attr-defined]
    return guarded
