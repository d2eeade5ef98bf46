"""Batches, the styles as they were then, and what a batch needs."""

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models

from planner.cutting.querysets import BatchNeedQuerySet, BatchQuerySet
from planner.materials.models import FabricColour, NotionColour
from planner.orders.models import OrderLine
from planner.styles.models import Option, Size, Style


class StyleSnapshot(models.Model):
    """A style as it was when something was planned, kept once however many batches were planned with it."""

    key = models.CharField(max_length=64, unique=True)
    style = models.ForeignKey(Style, on_delete=models.PROTECT, related_name="+")
    data = models.JSONField()
    changed = models.JSONField(
        default=list,
        blank=True,
        help_text="pieces that the style has otherwise by now: name, detail and option (cutting.old_pattern)",
    )
    changed_parts = models.JSONField(
        default=list,
        blank=True,
        help_text="seams, operations or notions that the style has otherwise by now: which, detail and option",
    )

    def __str__(self) -> str:
        return f"{self.style} as planned"


class Batch(models.Model):
    """Garments made together."""

    class State(models.TextChoices):
        GATHERING = "gathering", "gathering orders"
        PLANNED = "planned", "planned"
        CUTTING = "cutting", "being cut"
        SEWING = "sewing", "being sewn"
        DONE = "done", "done"
        CANCELLED = "cancelled", "cancelled"

    number = models.CharField(max_length=20, unique=True)
    state = models.CharField(max_length=10, choices=State, default=State.GATHERING, db_index=True)
    due_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    made_on = models.DateField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    planned_at = models.DateTimeField(null=True, blank=True)
    snapshots = models.ManyToManyField(StyleSnapshot, blank=True, related_name="batches")
    printed = models.JSONField(
        default=dict,
        blank=True,
        help_text="what its papers said when they were last printed (cutting.printed)",
    )

    objects = BatchQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "batches"
        indexes = [models.Index(fields=["state", "due_on"])]

    def __str__(self) -> str:
        return self.number

    @property
    def is_on_board(self) -> bool:
        """Planned and not over: its bundles stand on the board."""
        return self.state in {self.State.PLANNED, self.State.CUTTING, self.State.SEWING}


class BatchItem(models.Model):
    """Garments of one size of an order line, taken into a batch."""

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="items")
    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="batch_items")
    size = models.ForeignKey(Size, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    extra_allowed = models.PositiveSmallIntegerField(
        "may be cut more by", default=0, help_text="so many more may be cut where that saves a lay"
    )
    extra = models.PositiveSmallIntegerField(default=0, help_text="so many more are cut by the plan")

    class Meta:
        ordering = ["line", "size__position"]
        constraints = [
            models.UniqueConstraint(fields=["batch", "line", "size"], name="one_item_a_line_and_size")
        ]

    def __str__(self) -> str:
        return f"{self.line} {self.size} {self.quantity}"


class BatchNeed(models.Model):
    """What a planned batch needs of one cloth or notion; cloth in metres as bought.

    `how` says in plain words how the figure was reached ("estimate at 78 % efficiency" until the lays are nested).
    """

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="needs")
    fabric_colour = models.ForeignKey(
        FabricColour, null=True, blank=True, on_delete=models.PROTECT, related_name="needs"
    )
    notion_colour = models.ForeignKey(
        NotionColour, null=True, blank=True, on_delete=models.PROTECT, related_name="needs"
    )
    need = models.DecimalField(max_digits=12, decimal_places=3)
    taken = models.DecimalField(
        max_digits=12, decimal_places=3, default=0, help_text="what has left the stock for it already"
    )
    lay_m = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    least_packs = models.PositiveIntegerField(default=0, help_text="cones that must be threaded at once")
    is_estimate = models.BooleanField(default=True)
    how = models.CharField(max_length=300, blank=True)

    objects = BatchNeedQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(fabric_colour__isnull=False, notion_colour__isnull=True)
                | models.Q(fabric_colour__isnull=True, notion_colour__isnull=False),
                name="a_need_is_of_cloth_or_of_a_notion",
            )
        ]

    def __str__(self) -> str:
        return f"{self.need} {self.fabric_colour or self.notion_colour}"


class BatchOperation(models.Model):
    """A copy of a style's operation as it was when the batch was planned."""

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="operations")
    style = models.ForeignKey(Style, on_delete=models.PROTECT, related_name="+")
    option = models.ForeignKey(Option, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=80)
    machine = models.CharField(max_length=20)
    stitch_type = models.CharField(max_length=3, blank=True)
    standard_minutes = models.DecimalField(max_digits=6, decimal_places=2)
    setup_note = models.CharField(max_length=300, blank=True)
    own_machine = models.CharField(max_length=60, blank=True)
    stitch_length_mm = models.DecimalField(max_digits=4, decimal_places=2, null=True, blank=True)
    differential_feed = models.DecimalField(max_digits=3, decimal_places=2, null=True, blank=True)
    tension_note = models.CharField(max_length=120, blank=True)
    needle_note = models.CharField(max_length=120, blank=True)
    quality_note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["style", "position", "pk"]

    def __str__(self) -> str:
        return self.name
