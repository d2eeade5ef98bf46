"""Who may come in: links for one entry, people added and put to rest."""

import hashlib
import secrets
import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction

from planner.web.models import EntryLink

FIRST_ENTRY_LASTS = timedelta(hours=24)
INVITATION_LASTS = timedelta(days=7)


class PeopleError(Exception):
    """What was asked cannot be done; the message says why, in words for the screen."""


@dataclass(frozen=True)
class Invitation:
    """A new link: the token that goes into the address, shown once and never kept."""

    token: str
    person: User | None


def tidy_name(name: str) -> str:
    """One spelling for one name: composed letters, single spaces."""
    return " ".join(unicodedata.normalize("NFKC", name).split())


def person_called(name: str) -> User | None:
    """The person of this name, whatever the case of its letters."""
    return User.objects.filter(username__iexact=tidy_name(name)).first()


@transaction.atomic
def invite_first_maker(*, now: datetime) -> Invitation | None:
    """A new link for the very first entry; earlier ones stop working. None where somebody came in already."""
    if User.objects.exists():
        return None
    EntryLink.objects.for_first_entry().delete()
    return _invite(None, now + FIRST_ENTRY_LASTS, now)


@transaction.atomic
def invite(person: User, *, now: datetime) -> Invitation:
    """A new link with which `person` sets a password; earlier links stop working."""
    if not person.is_active:
        raise PeopleError(f"{person.username} is put to rest. Let them in again first.")
    EntryLink.objects.filter(person=person).delete()
    return _invite(person, now + INVITATION_LASTS, now)


def open_link(token: str, *, now: datetime) -> EntryLink | None:
    """The link of this token where it still works."""
    link = EntryLink.objects.open_at(now).select_related("person").filter(token_hash=_hash(token)).first()
    if link is None:
        return None
    worthless = User.objects.exists() if link.person is None else not link.person.is_active
    return None if worthless else link


@transaction.atomic
def enter_first(token: str, *, name: str, password: str, now: datetime) -> User:
    """Uses the first link up and makes the first maker. Raises PeopleError where the link is dead."""
    link = _use(token, now)
    if link.person is not None:
        raise PeopleError("This link is for somebody who has a name already.")
    return User.objects.create_user(tidy_name(name), password=password, is_staff=True)


@transaction.atomic
def set_password_by_link(token: str, *, password: str, now: datetime) -> User:
    """Uses the link up and gives its person the new password. Raises PeopleError where the link is dead."""
    link = _use(token, now)
    if link.person is None:
        raise PeopleError("This link is for the first entry.")
    person: User = link.person
    person.set_password(password)
    person.save(update_fields=["password"])
    return person


@transaction.atomic
def add_person(name: str, *, maker: bool, now: datetime) -> Invitation:
    """A helper or maker, who cannot sign in before using the link. Raises PeopleError for a name in use."""
    if person_called(name) is not None:
        raise PeopleError("Somebody has this name already.")
    person = User.objects.create_user(tidy_name(name), is_staff=maker)
    return invite(person, now=now)


@transaction.atomic
def put_to_rest(person: User, *, by: User) -> None:
    """Keeps what `person` did and lets them in no more. Raises PeopleError for oneself and the last maker."""
    if person.pk == by.pk:
        raise PeopleError("You cannot put yourself to rest; another maker can.")
    makers = User.objects.select_for_update().filter(is_staff=True, is_active=True)
    if person.is_staff and not makers.exclude(pk=person.pk).exists():
        raise PeopleError("The workroom needs at least one maker.")
    EntryLink.objects.filter(person=person).delete()
    person.is_active = False
    person.save(update_fields=["is_active"])


@transaction.atomic
def let_in_again(person: User) -> None:
    """Takes `person` back with the password they had."""
    person.is_active = True
    person.save(update_fields=["is_active"])


def _invite(person: User | None, expires_at: datetime, now: datetime) -> Invitation:
    token = secrets.token_urlsafe(24)
    EntryLink.objects.create(token_hash=_hash(token), person=person, made_at=now, expires_at=expires_at)
    return Invitation(token=token, person=person)


def _use(token: str, now: datetime) -> EntryLink:
    link = open_link(token, now=now)
    # The update decides: of two people who press at the same moment, one finds the link used.
    if link is None or not EntryLink.objects.filter(pk=link.pk, used_at__isnull=True).update(used_at=now):
        raise PeopleError("This link has been used or is too old.")
    return link


def _hash(token: str) -> str:
    # The token is long and random, so a plain hash cannot be guessed backwards.
    return hashlib.sha256(token.encode()).hexdigest()
