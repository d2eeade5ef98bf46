"""Slows down guessing of passwords: five failures for a name from one address, then a wait."""

from datetime import datetime, timedelta

from planner.web.models import SignInFailure

MOST_FAILURES = 5
WAIT = timedelta(minutes=5)
REMEMBERED = timedelta(minutes=15)


def wait_until(name: str, address: str, *, now: datetime) -> datetime | None:
    """When this name may be tried again from this address; None: at once."""
    failures = SignInFailure.objects.of(_key(name), address[:45]).since(now - REMEMBERED)
    times = list(failures.order_by("-failed_at").values_list("failed_at", flat=True)[:MOST_FAILURES])
    if len(times) < MOST_FAILURES:
        return None
    free_again: datetime = times[0] + WAIT
    return free_again if free_again > now else None


def note_failure(name: str, address: str, *, now: datetime) -> None:
    """Remembers a failure and forgets those that no longer count."""
    SignInFailure.objects.until(now - REMEMBERED).delete()
    SignInFailure.objects.create(name=_key(name), address=address[:45], failed_at=now)


def forget(name: str, address: str) -> None:
    """After a sign-in that worked."""
    SignInFailure.objects.of(_key(name), address[:45]).delete()


def _key(name: str) -> str:
    return " ".join(name.split()).casefold()[:60]
