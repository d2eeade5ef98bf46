"""Links, passwords and the people page, without JavaScript."""

from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from planner.web import actions
from planner.web.actions import PeopleError
from planner.web.models import EntryLink
from tests.conftest import PASSWORD

NOW = datetime(2031, 3, 4, 9, 0, tzinfo=UTC)
NEW = {"password": "seven brass thimbles", "again": "seven brass thimbles"}


def _first_link() -> str:
    invitation = actions.invite_first_maker(now=timezone.now())
    assert invitation is not None
    return reverse("entry", args=[invitation.token])


def test_first_entry_makes_a_maker_and_signs_in(client: Client, db: None) -> None:
    link = _first_link()
    assert "Welcome to your workroom" in client.get(link).content.decode()
    answer = client.post(link, {"name": "  Mira   Halden ", **NEW})
    assert answer.status_code == 302
    maker = User.objects.get()
    assert (maker.username, maker.is_staff, maker.is_superuser) == ("Mira Halden", True, False)
    assert client.get(reverse("people")).status_code == 200
    dead = Client().get(link)
    assert dead.status_code == 410
    assert "This link no longer works" in dead.content.decode()


def test_the_token_is_not_in_the_database(db: None) -> None:
    link = _first_link()
    stored = EntryLink.objects.get()
    assert stored.token_hash not in link
    assert link.split("/")[2] not in stored.token_hash


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"name": "", **NEW}, "Please fill this in."),
        ({"name": "Mira", "password": "short", "again": "short"}, "too short"),
        (
            {"name": "Mira", "password": "brass thimbles", "again": "brass needles"},
            "two passwords differ",
        ),
        ({"name": "Mira Halden", "password": "mira halden", "again": "mira halden"}, "too similar"),
        ({"name": "x" * 5_000, **NEW}, "At most 60"),
        ({"name": "Mira\x07", **NEW}, "cannot be printed"),
    ],
)
def test_a_bad_first_entry_is_told_at_the_field_and_uses_nothing_up(
    client: Client, db: None, typed: dict[str, str], says: str
) -> None:
    link = _first_link()
    answer = client.post(link, typed)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert typed["name"][:60] in answer.content.decode()
    assert not User.objects.exists()
    assert client.get(link).status_code == 200


def test_a_newer_first_link_replaces_the_older(client: Client, db: None) -> None:
    older, newer = _first_link(), _first_link()
    assert client.get(older).status_code == 410
    assert client.get(newer).status_code == 200


def test_a_first_link_is_worth_nothing_once_somebody_is_in(client: Client, db: None) -> None:
    link = _first_link()
    User.objects.create_user("Mira", password=PASSWORD, is_staff=True)
    assert client.post(link, {"name": "Intruder", **NEW}).status_code == 410
    assert actions.invite_first_maker(now=timezone.now()) is None
    assert User.objects.count() == 1


def test_links_grow_old(db: None) -> None:
    invitation = actions.invite_first_maker(now=NOW)
    assert invitation is not None
    assert actions.open_link(invitation.token, now=NOW + timedelta(hours=23)) is not None
    assert actions.open_link(invitation.token, now=NOW + timedelta(hours=25)) is None
    with pytest.raises(PeopleError, match="used or is too old"):
        actions.enter_first(invitation.token, name="Mira", password="x" * 12, now=NOW + timedelta(hours=25))


def test_adding_a_helper_shows_a_link_once_that_sets_the_password(maker_client: Client) -> None:
    page = maker_client.post(reverse("people"), {"name": "Hale", "role": "helper"}, follow=True)
    shown = page.content.decode().split("<code>")[1].split("</code>")[0]
    link = "/" + shown.split("/", 3)[3]
    assert "<code>" not in maker_client.get(reverse("people")).content.decode()
    assert not Client().login(username="Hale", password="")

    hale = Client()
    assert hale.post(link, NEW).status_code == 302
    assert hale.get(reverse("today")).status_code == 200
    assert hale.get(reverse("people")).status_code == 403
    assert Client().post(link, NEW).status_code == 410


def test_a_name_in_use_is_refused_whatever_its_letters(maker_client: Client) -> None:
    answer = maker_client.post(reverse("people"), {"name": "mIRA", "role": "maker"})
    assert answer.status_code == 422
    assert "Somebody has this name already." in answer.content.decode()
    assert "mIRA" in answer.content.decode()
    assert User.objects.count() == 1


def test_whoever_is_put_to_rest_is_out_at_once(
    maker_client: Client, helper_client: Client, helper: User
) -> None:
    link = actions.invite(helper, now=timezone.now())
    assert helper_client.get(reverse("today")).status_code == 200
    maker_client.post(reverse("person-rest", args=[helper.pk]))
    assert helper_client.get(reverse("today")).status_code == 302
    assert not Client().login(username="Hale", password=PASSWORD)
    assert Client().get(reverse("entry", args=[link.token])).status_code == 410
    maker_client.post(reverse("person-back", args=[helper.pk]))
    assert Client().login(username="Hale", password=PASSWORD)


def test_nobody_puts_themselves_or_the_last_maker_to_rest(
    maker_client: Client, maker: User, helper: User
) -> None:
    answer = maker_client.post(reverse("person-rest", args=[maker.pk]), follow=True)
    assert "You cannot put yourself to rest" in answer.content.decode()
    maker.refresh_from_db()
    assert maker.is_active
    with pytest.raises(PeopleError, match="at least one maker"):
        actions.put_to_rest(maker, by=helper)


def test_changing_ones_own_password_needs_the_old_one(maker_client: Client, maker: User) -> None:
    wrong = maker_client.post(reverse("own-password"), {"old": "not it", **NEW})
    assert wrong.status_code == 422
    assert "This is not the password you have now." in wrong.content.decode()
    elsewhere = Client()
    elsewhere.force_login(maker)
    assert maker_client.post(reverse("own-password"), {"old": PASSWORD, **NEW}).status_code == 302
    assert maker_client.get(reverse("own-password")).status_code == 200
    assert elsewhere.get(reverse("own-password")).status_code == 302
    assert Client().login(username="Mira", password=NEW["password"])


def test_entry_link_helps_a_maker_who_is_locked_out(
    client: Client, maker: User, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("entry_link")
    link = "/entry/" + capsys.readouterr().out.split("/entry/")[1].split()[0]
    assert client.post(link, NEW).status_code == 302
    assert Client().login(username="Mira", password=NEW["password"])


def test_entry_link_asks_whom_it_is_for(maker: User, db: None) -> None:
    User.objects.create_user("Oda", is_staff=True)
    with pytest.raises(CommandError, match="Makers: Mira, Oda"):
        call_command("entry_link")
    with pytest.raises(CommandError, match="Nobody is called Nora"):
        call_command("entry_link", "Nora")
