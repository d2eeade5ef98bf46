"""Progress at the machines, as appended events. Where a bundle stands is always derived from them."""

from django.conf import settings
from django.db import models

from planner.cutting.models import BatchOperation, Bundle
from planner.sewing.querysets import ProgressEventQuerySet


class ProgressEvent(models.Model):
    """Somebody says that a step of a bundle is done, or takes it back. Never changed, never deleted.

    The last event of a bundle and step counts, so a step ticked twice counts once. `step` is "sew" (then
    `operation` is set) or "checked"; that a bundle is cut is recorded on its lays. `key` comes
    from the page and makes a repeated tap harmless.
    """

    class Step(models.TextChoices):
        SEW = "sew", "sewn"
        CHECKED = "checked", "checked"

    bundle = models.ForeignKey(Bundle, on_delete=models.CASCADE, related_name="events")
    step = models.CharField(max_length=8, choices=Step)
    operation = models.ForeignKey(
        BatchOperation, null=True, blank=True, on_delete=models.CASCADE, related_name="events"
    )
    done = models.BooleanField()
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    happened_at = models.DateTimeField()
    key = models.CharField(max_length=40, unique=True)

    objects = ProgressEventQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["bundle", "step", "operation"])]
        constraints = [
            models.CheckConstraint(
                condition=(models.Q(step="sew") & models.Q(operation__isnull=False))
                | (~models.Q(step="sew") & models.Q(operation__isnull=True)),
                name="only_sewing_names_an_operation",
            )
        ]

    def __str__(self) -> str:
        return f"{self.bundle} {self.operation or self.step} {'done' if self.done else 'taken back'}"
