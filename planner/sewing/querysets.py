"""Questions asked of progress events."""

from __future__ import annotations

from django.db import models
from django.db.models import Max

from planner.cutting.models import Bundle


class ProgressEventQuerySet(models.QuerySet):
    """What was ticked and taken back."""

    def last_of(self, bundles: models.QuerySet[Bundle]) -> ProgressEventQuerySet:
        """The event that counts for each bundle and step: the last one. No event of other bundles is read."""
        within = self.model.objects.filter(bundle__in=bundles.order_by().values("pk"))
        last = within.order_by().values("bundle", "step", "operation").annotate(last=Max("pk"))
        return self.filter(pk__in=last.values("last"))
