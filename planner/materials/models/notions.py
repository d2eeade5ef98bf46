"""Notions and their colours."""

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models

from planner.materials.models.workroom import Supplier
from planner.materials.querysets import NotionColourQuerySet, NotionQuerySet


class Notion(models.Model):
    """Whatever is bought but not cut to a pattern."""

    class Kind(models.TextChoices):
        ELASTIC = "elastic", "elastic"
        TAPE = "tape", "tape"
        THREAD = "thread", "thread"
        LABEL = "label", "label"
        BUTTON = "button", "button"
        OTHER = "other", "other"

    class Unit(models.TextChoices):
        METRE = "m", "metres"
        PIECE = "pcs", "pieces"

    name = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=10, choices=Kind)
    unit = models.CharField("counted in", max_length=3, choices=Unit)
    pack = models.CharField(
        "sold as", max_length=60, help_text="for example: 25 m roll, 5000 m cone, 100 labels"
    )
    pack_quantity = models.DecimalField(
        "in one pack", max_digits=9, decimal_places=2, validators=[MinValueValidator(Decimal("0.01"))]
    )
    pack_price = models.DecimalField("price of a pack", max_digits=10, decimal_places=2, default=Decimal("0"))
    waste_percent = models.DecimalField(
        "allowance for waste", max_digits=4, decimal_places=1, default=Decimal("5")
    )
    supplier = models.ForeignKey(
        Supplier, null=True, blank=True, on_delete=models.PROTECT, related_name="notions"
    )
    low_quantity = models.DecimalField(
        "low when less than", max_digits=9, decimal_places=2, default=Decimal("0")
    )

    objects = NotionQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "name"]

    def __str__(self) -> str:
        return self.name


class NotionColour(models.Model):
    """A notion in one colour; it has at least one, with a blank name where colour does not matter."""

    notion = models.ForeignKey(Notion, on_delete=models.CASCADE, related_name="colours")
    name = models.CharField(max_length=60, blank=True)
    swatch = models.CharField(max_length=7, blank=True)
    cones = models.PositiveSmallIntegerField("cones there, started ones too", null=True, blank=True)

    objects = NotionColourQuerySet.as_manager()

    class Meta:
        ordering = ["notion__name", "name"]
        constraints = [models.UniqueConstraint(fields=["notion", "name"], name="one_colour_name_a_notion")]

    def __str__(self) -> str:
        return f"{self.notion.name}, {self.name}" if self.name else self.notion.name
