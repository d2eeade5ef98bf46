"""Addresses that only a button leads to, opened by themselves: typed once more, or a tab that is restored."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseNotAllowed
from django.shortcuts import redirect
from django.urls import Resolver404, resolve


class OnlyPressedMiddleware:
    """Leads a browser back to the page over an address that takes no GET; whoever asks for no page is answered 405."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if not isinstance(response, HttpResponseNotAllowed) or request.method != "GET" or request.htmx:  # type: ignore[attr-defined]
            return response
        if "POST" not in response["Allow"] or "text/html" not in request.headers.get("Accept", ""):
            return response
        return redirect(request.path.removesuffix(request.path_info) + page_over(request.path_info))


def page_over(path: str) -> str:
    """The nearest address over this one that leads anywhere: "/batches/B-0007/" for "/batches/B-0007/plan/". Where that
    takes no GET either it leads on in turn.
    """
    while path != "/":
        path = path.rstrip("/").rpartition("/")[0] + "/"
        try:
            resolve(path)
        except Resolver404:
            continue
        return path
    return path
