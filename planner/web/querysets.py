"""Questions about links and failed sign-ins."""

from datetime import datetime
from typing import Any

from django.db import models


class EntryLinkQuerySet(models.QuerySet[Any]):
    """Links, some still good."""

    def open_at(self, now: datetime) -> "EntryLinkQuerySet":
        """Neither used nor expired."""
        return self.filter(used_at__isnull=True, expires_at__gt=now)

    def for_first_entry(self) -> "EntryLinkQuerySet":
        """Those that make the first maker."""
        return self.filter(person__isnull=True)


class SignInFailureQuerySet(models.QuerySet[Any]):
    """Failed sign-ins."""

    def of(self, name: str, address: str) -> "SignInFailureQuerySet":
        """For this name from this network address."""
        return self.filter(name=name, address=address)

    def since(self, moment: datetime) -> "SignInFailureQuerySet":
        """Later than `moment`."""
        return self.filter(failed_at__gt=moment)

    def until(self, moment: datetime) -> "SignInFailureQuerySet":
        """At `moment` or before."""
        return self.filter(failed_at__lte=moment)
