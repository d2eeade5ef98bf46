"""Bundles."""

from django.core.validators import MinValueValidator
from django.db import models

from planner.cutting.models.batches import Batch
from planner.cutting.models.lays import Lay
from planner.cutting.querysets import BundleQuerySet
from planner.orders.models import OrderLine
from planner.styles.models import Colourway, Option, Size, Style


class Bundle(models.Model):
    """Pieces for some garments of one style, options, size and colour, tied together."""

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="bundles")
    number = models.CharField(max_length=24, unique=True)
    token = models.CharField(
        max_length=22, unique=True, help_text="in the QR of the ticket; cannot be guessed"
    )
    lay = models.ForeignKey(
        Lay, null=True, blank=True, on_delete=models.SET_NULL, related_name="main_bundles"
    )
    lays = models.ManyToManyField(Lay, related_name="bundles", help_text="all lays its pieces come from")
    line = models.ForeignKey(
        OrderLine, null=True, blank=True, on_delete=models.PROTECT, related_name="bundles"
    )
    style = models.ForeignKey(Style, on_delete=models.PROTECT, related_name="+")
    options = models.ManyToManyField(Option, blank=True, related_name="+")
    colourway = models.ForeignKey(Colourway, on_delete=models.PROTECT, related_name="+")
    size = models.ForeignKey(Size, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    shade_lot = models.CharField(max_length=40, blank=True)

    objects = BundleQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.number
