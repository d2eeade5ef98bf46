"""Every address of the house: nobody gets in without signing in, and every view says for whom it is."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth.models import User
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.urls.converters import IntConverter, SlugConverter, StringConverter, UUIDConverter

SAMPLES: dict[type, Any] = {
    IntConverter: 1,
    SlugConverter: "x",
    StringConverter: "x",
    UUIDConverter: "00000000-0000-4000-8000-000000000000",
}
OPEN_TO = {"helpers", "makers", "everybody"}
FOR_EVERYBODY = {"health", "sign-in", "entry"}


def _patterns(resolver: URLResolver) -> Iterator[URLPattern]:
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLResolver):
            yield from _patterns(pattern)
        else:
            yield pattern


PATTERNS = list(_patterns(get_resolver()))


def _name(pattern: URLPattern) -> str:
    return pattern.name or str(pattern.pattern)


def _view(pattern: URLPattern) -> str:
    return f"{pattern.callback.__module__}.{pattern.callback.__qualname__}"


def _address(pattern: URLPattern) -> str:
    sample = {}
    for name, converter in pattern.pattern.converters.items():
        known = [value for kind, value in SAMPLES.items() if isinstance(converter, kind)]
        assert known, f"{_view(pattern)}: SAMPLES needs a value for {type(converter).__name__}"
        sample[name] = known[0]
    return reverse(_name(pattern), kwargs=sample)


def test_there_are_views_to_check() -> None:
    assert {"today", "sign-in", "people", "health"} <= {_name(pattern) for pattern in PATTERNS}


@pytest.mark.parametrize("pattern", PATTERNS, ids=_name)
def test_has_a_name_and_says_for_whom_it_is(pattern: URLPattern) -> None:
    assert pattern.name, f"{_view(pattern)} at {pattern.pattern} needs a name= in its urls.py"
    assert getattr(pattern.callback, "open_to", None) in OPEN_TO, (
        f"{_view(pattern)} ({pattern.name}) wears no decorator of planner/common/access.py: "
        "put @for_helpers, @for_makers or @for_everybody on it, outermost"
    )
    within = getattr(pattern.callback, "__wrapped__", None)
    assert not hasattr(within, "open_to"), (
        f"{_view(pattern)} ({pattern.name}) wears another decorator over the one that says for whom it is"
    )


@pytest.mark.parametrize("pattern", PATTERNS, ids=_name)
def test_a_stranger_is_sent_to_the_sign_in(pattern: URLPattern, client: Client, db: None) -> None:
    address = _address(pattern)
    answer = client.get(address)
    if pattern.name in FOR_EVERYBODY:
        assert answer.status_code in (200, 410), f"{_view(pattern)} should be open to everybody"
        return
    if answer.status_code == 405:
        # Takes no GET. Then a POST must not get in either.
        answer = client.post(address)
    assert answer.status_code == 302, f"{_view(pattern)} answers a stranger with {answer.status_code}"
    assert answer["Location"].startswith(reverse(settings.LOGIN_URL)), f"{_view(pattern)} lets strangers in"


@pytest.mark.parametrize(
    "pattern", [p for p in PATTERNS if getattr(p.callback, "open_to", "") == "makers"], ids=_name
)
def test_a_helper_is_refused_what_is_for_makers(pattern: URLPattern, helper_client: Client) -> None:
    answer = helper_client.get(_address(pattern))
    assert answer.status_code == 403, f"{_view(pattern)} answers a helper with {answer.status_code}"
    assert "This page is not for you" in answer.content.decode()


def test_forms_without_their_token_are_refused(maker: User) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(maker)
    answer = client.post(reverse("people"), {"name": "Somebody", "role": "helper"})
    assert answer.status_code == 403
    assert "This page was open too long" in answer.content.decode()
    assert User.objects.count() == 1


@pytest.mark.parametrize("address", ["/orders/?q=%00", "/styles/%00/", "/static/%00.css"])
def test_an_address_with_a_null_character_is_refused(maker_client: Client, address: str) -> None:
    """PostgreSQL cannot even look for one."""
    answer = maker_client.get(address)
    assert (answer.status_code, answer.content) == (400, b"This address cannot be read.\n")
