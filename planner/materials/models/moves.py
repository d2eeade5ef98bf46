"""What came in and went out."""

from django.conf import settings
from django.db import models

from planner.materials.models.cloth import FabricColour, Roll
from planner.materials.models.notions import NotionColour
from planner.materials.querysets import StockMoveQuerySet


class StockMove(models.Model):
    """Cloth (metres, of a roll) or a notion (its own unit) coming in or going out. Never changed."""

    class Reason(models.TextChoices):
        BOUGHT = "bought", "bought"
        COUNTED = "counted", "counted again"
        CUT = "cut", "cut"
        USED = "used", "used"
        DAMAGED = "damaged", "damaged"

    fabric_colour = models.ForeignKey(
        FabricColour, null=True, blank=True, on_delete=models.PROTECT, related_name="moves"
    )
    roll = models.ForeignKey(Roll, null=True, blank=True, on_delete=models.PROTECT, related_name="moves")
    notion_colour = models.ForeignKey(
        NotionColour, null=True, blank=True, on_delete=models.PROTECT, related_name="moves"
    )
    quantity = models.DecimalField(max_digits=10, decimal_places=2)
    reason = models.CharField(max_length=10, choices=Reason)
    note = models.CharField(max_length=200, blank=True)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT)
    moved_at = models.DateTimeField()

    objects = StockMoveQuerySet.as_manager()

    class Meta:
        ordering = ["-moved_at", "-pk"]
        # What is on hand is summed from these alone, without a look at the moves themselves.
        indexes = [
            models.Index(fields=["fabric_colour", "quantity"], name="sum_of_cloth"),
            models.Index(fields=["notion_colour", "quantity"], name="sum_of_notions"),
            models.Index(fields=["roll", "quantity"], name="sum_of_rolls"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(fabric_colour__isnull=False, notion_colour__isnull=True)
                | models.Q(fabric_colour__isnull=True, notion_colour__isnull=False),
                name="a_move_is_of_cloth_or_of_a_notion",
            )
        ]

    def __str__(self) -> str:
        return f"{self.quantity:+} {self.fabric_colour or self.notion_colour} ({self.reason})"
