"""Questions asked of markers and their nesting."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import models

#: A marker whose worker has not been heard of for so long was cut off.
SILENT_AFTER = timedelta(seconds=30)


class MarkerQuerySet(models.QuerySet):
    """Markers and their nesting."""

    def unfinished(self) -> MarkerQuerySet:
        """Waiting for the worker or being nested."""
        return self.filter(state__in=["waiting", "nesting"])

    def cut_off(self, now: datetime) -> MarkerQuerySet:
        """Being nested, but nothing has been heard of the worker for a while."""
        return self.filter(state="nesting", heartbeat_at__lt=now - SILENT_AFTER)

    def ahead(self) -> MarkerQuerySet:
        """Nested before anybody planned a lay of them."""
        return self.filter(is_ahead=True)

    def answering(self, key: str) -> MarkerQuerySet:
        """Finished answers to the same question, shortest first, of equal ones that which was polished."""
        final = self.filter(key=key, state__in=["ready", "stopped"], length_mm__isnull=False)
        return final.order_by("length_mm", "-seed")

    def of_other_sizes(self, family: str, key: str) -> MarkerQuerySet:
        """Finished markers of a family that ask other questions, those that use the cloth best first."""
        alike = self.filter(family=family, state__in=["ready", "stopped"], length_mm__isnull=False)
        return alike.exclude(family="").exclude(key=key).order_by("-efficiency", "pk")
