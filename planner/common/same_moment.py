"""What two people send in the same moment, each unseen by the other: both are looked at, one after the other."""

from __future__ import annotations

from collections.abc import Callable

from django.db import IntegrityError, transaction
from django.http import HttpResponse


def one_after_the_other(answer: Callable[[], HttpResponse]) -> HttpResponse:
    """What `answer` says in a transaction of its own; of two who give one name at once the second is told by its form.

    On SQLite the second waits for the first. On PostgreSQL both find the name free, and the database refuses it to the
    second: what was sent is then looked at once more, and the form finds the name taken.
    """
    try:
        with transaction.atomic():
            return answer()
    except IntegrityError:
        with transaction.atomic():
            return answer()
