"""Rows that one request reads again and again are read once. Outside of a request nothing is remembered."""

from __future__ import annotations

from collections.abc import Callable
from contextvars import ContextVar
from typing import Any, TypeVar

from django.http import HttpRequest, HttpResponse

T = TypeVar("T")

_memory: ContextVar[dict[str, Any] | None] = ContextVar("memory", default=None)


class RememberMiddleware:
    """Gives each request a memory of its own, gone with its answer."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        token = _memory.set({})
        try:
            return self.get_response(request)
        finally:
            _memory.reset(token)


def remembered(key: str, make: Callable[[], T]) -> T:
    """The value made under this key in the present request; made now where there is none, or outside of a request."""
    memory = _memory.get()
    if memory is None:
        return make()
    if key not in memory:
        memory[key] = make()
    return memory[key]


def forget(key: str) -> None:
    """Has the next question asked anew, after what was remembered has changed."""
    memory = _memory.get()
    if memory is not None:
        memory.pop(key, None)
