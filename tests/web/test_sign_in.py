"""Signing in, and the wait after too many failures."""

from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from planner.web import throttle
from planner.web.models import SignInFailure
from tests.conftest import PASSWORD

NOW = datetime(2031, 3, 4, 9, 0, tzinfo=UTC)


def _try(client: Client, name: str, password: str, address: str = "192.0.2.7") -> str:
    answer = client.post(reverse("sign-in"), {"username": name, "password": password}, REMOTE_ADDR=address)
    return "in" if answer.status_code == 302 else answer.content.decode()


def test_names_are_taken_as_people_type_them(client: Client, maker: User) -> None:
    assert _try(client, "  MIRA ", PASSWORD) == "in"


def test_an_unknown_name_and_a_wrong_password_look_alike(client: Client, maker: User) -> None:
    for name in ("Mira", "Nobody"):
        assert "Name and password do not fit together" in _try(client, name, "wrong")


def test_the_sixth_try_waits_even_with_the_right_password(client: Client, maker: User) -> None:
    for _ in range(5):
        assert "do not fit together" in _try(client, "Mira", "wrong")
    assert "Too many tries with this name. Wait 5 minutes" in _try(client, "mira", PASSWORD)
    assert _try(client, "Mira", PASSWORD, address="192.0.2.8") == "in"


def test_a_sign_in_that_works_clears_the_count(client: Client, maker: User) -> None:
    for _ in range(4):
        _try(client, "Mira", "wrong")
    assert _try(client, "Mira", PASSWORD) == "in"
    assert not SignInFailure.objects.exists()


def test_the_wait_ends(db: None) -> None:
    for second in range(5):
        throttle.note_failure("Mira", "192.0.2.7", now=NOW + timedelta(seconds=second))
    last = NOW + timedelta(seconds=4)
    assert throttle.wait_until("Mira", "192.0.2.7", now=last) == last + timedelta(minutes=5)
    assert throttle.wait_until("Mira", "192.0.2.7", now=last + timedelta(minutes=5)) is None
    assert throttle.wait_until("Oda", "192.0.2.7", now=last) is None


def test_old_failures_are_forgotten(db: None) -> None:
    for _ in range(5):
        throttle.note_failure("Mira", "192.0.2.7", now=NOW)
    throttle.note_failure("Oda", "192.0.2.7", now=NOW + timedelta(minutes=16))
    assert SignInFailure.objects.count() == 1


def test_an_address_elsewhere_is_not_followed_after_signing_in(client: Client, maker: User) -> None:
    answer = client.post(
        reverse("sign-in") + "?next=https://elsewhere.example/",
        {"username": "Mira", "password": PASSWORD, "next": "https://elsewhere.example/"},
    )
    assert answer["Location"] == reverse("today")


def test_health_and_headers(client: Client, db: None) -> None:
    answer = client.get(reverse("health"))
    assert answer.content == b"ok\n"
    policy = answer["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "script-src 'self';" in policy
    assert answer["X-Frame-Options"] == "DENY"


def test_a_missing_page_says_so_to_strangers_and_to_people(client: Client, maker_client: Client) -> None:
    for visitor in (client, maker_client):
        answer = visitor.get("/nowhere/")
        assert answer.status_code == 404
        assert "There is nothing here" in answer.content.decode()


def test_a_fault_of_the_program_is_told_without_the_page_shell(
    maker: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Broken:
        def cursor(self) -> None:
            raise RuntimeError("needle broke")

    monkeypatch.setattr("planner.web.views.connection", Broken())
    answer = Client(raise_request_exception=False).get(reverse("health"))
    assert answer.status_code == 500
    assert "This is a fault in Notchbook" in answer.content.decode()
    assert "needle broke" not in answer.content.decode()
