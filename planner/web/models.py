"""Coming in: one-time links and the memory of failed sign-ins. The people themselves are Django's users."""

from django.conf import settings
from django.db import models

from planner.web.querysets import EntryLinkQuerySet, SignInFailureQuerySet


class EntryLink(models.Model):
    """A link that lets somebody choose a password, once. Only its hash is kept.

    Without a person it makes the first maker; it is worth nothing once there is one.
    """

    token_hash = models.CharField(max_length=64, unique=True)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.CASCADE, related_name="entry_links"
    )
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    objects = EntryLinkQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"link for {self.person or 'the first entry'}"


class SignInFailure(models.Model):
    """A password that did not fit. `name` is as typed, in lower case and cut short; it need not exist."""

    name = models.CharField(max_length=60)
    address = models.CharField(max_length=45)
    failed_at = models.DateTimeField(db_index=True)

    objects = SignInFailureQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["name", "address", "failed_at"])]

    def __str__(self) -> str:
        return f"{self.name} from {self.address}"
