"""Addresses of one-time links, for those who print them."""

from django.contrib.auth.models import User
from django.urls import reverse
from django.utils import timezone

from planner.web.actions import PeopleError, invite, invite_first_maker, person_called


def first_entry_path() -> str | None:
    """A new path for the first entry; None once somebody has come in."""
    invitation = invite_first_maker(now=timezone.now())
    return None if invitation is None else reverse("entry", args=[invitation.token])


def entry_path(name: str | None) -> str:
    """A new path for the person called `name`; without a name for the only maker, or for the first entry.

    Raises PeopleError, with the names to choose from, where it is not clear whom it is for.
    """
    if not User.objects.exists():
        path = first_entry_path()
        assert path is not None
        return path
    makers = list(User.objects.filter(is_staff=True, is_active=True).order_by("username")[:20])
    if name is not None:
        person = person_called(name)
        if person is None:
            raise PeopleError(f"Nobody is called {name}. {_names(makers)}")
    elif len(makers) == 1:
        person = makers[0]
    else:
        raise PeopleError(f"Say whom the link is for. {_names(makers)}")
    return reverse("entry", args=[invite(person, now=timezone.now()).token])


def _names(makers: list[User]) -> str:
    return "Makers: " + (", ".join(maker.username for maker in makers) or "none") + "."
