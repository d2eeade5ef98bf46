"""The workroom itself: its settings, its suppliers, its machines."""

from decimal import Decimal
from typing import Any

from django.core.validators import MinValueValidator
from django.db import IntegrityError, models, transaction

from planner.common.remember import forget, remembered
from planner.common.shared_rows import KeptShared

#: How minutes at the table are kept.
MINUTES: dict[str, Any] = {
    "max_digits": 5,
    "decimal_places": 2,
    "validators": [MinValueValidator(Decimal("0"))],
}


class Workroom(models.Model):
    """The one workroom: its habits and what it measures in. Always read through :meth:`the`."""

    class Display(models.TextChoices):
        METRIC = "metric", "metres and centimetres"
        IMPERIAL = "imperial", "yards and inches"

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        LETTER = "Letter", "US Letter"

    name = models.CharField(max_length=80, default="My workroom")
    display = models.CharField(max_length=10, choices=Display, default=Display.METRIC)
    paper = models.CharField(max_length=10, choices=Paper, default=Paper.A4)
    currency = models.CharField(max_length=3, default="EUR")
    labour_rate_per_hour = models.DecimalField(max_digits=8, decimal_places=2, default=Decimal("18.00"))
    overhead_percent = models.DecimalField(max_digits=5, decimal_places=1, default=Decimal("15.0"))
    margin_percent = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal("55.0"))
    table_length_mm = models.DecimalField(max_digits=8, decimal_places=1, default=Decimal("4000"))
    most_plies = models.PositiveSmallIntegerField(default=2)
    cut_thickness_mm = models.DecimalField(
        "most cloth the tool cuts", max_digits=5, decimal_places=1, null=True, blank=True,
        validators=[MinValueValidator(Decimal("0.1"))],
    )  # fmt: skip
    keep_remnant_m = models.DecimalField(
        "an end is kept from", max_digits=5, decimal_places=2, default=Decimal("0.50"),
        validators=[MinValueValidator(Decimal("0"))],
    )  # fmt: skip
    lay_minutes = models.DecimalField("making a lay ready", default=Decimal("10"), **MINUTES)
    spread_minutes = models.DecimalField("laying a ply", default=Decimal("1"), **MINUTES)
    spread_metre_minutes = models.DecimalField("and for each metre of it", default=Decimal("0.5"), **MINUTES)
    mark_minutes = models.DecimalField("marking a piece", default=Decimal("0.4"), **MINUTES)
    cut_minutes = models.DecimalField("cutting a piece of the marker", default=Decimal("0.8"), **MINUTES)
    piece_gap_mm = models.DecimalField(max_digits=5, decimal_places=1, default=Decimal("2.0"))
    bundle_size = models.PositiveSmallIntegerField(default=10)
    lead_days = models.PositiveSmallIntegerField(default=5, help_text="Days needed from cutting to dispatch")
    nests_ahead = models.BooleanField("what is ordered is nested ahead", default=True)

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Saves, and lets the rest of the request see it."""
        super().save(*args, **kwargs)
        forget("workroom")

    @classmethod
    def the(cls) -> "Workroom":
        """The workroom, made with its defaults at first use; read once a request."""
        return remembered("workroom", _the_one)


_THE_ONE = KeptShared(lambda: Workroom.objects.filter(pk=1), {})


def _the_one() -> Workroom:
    """As `get_or_create` does it, which words its question anew each time."""
    if found := _THE_ONE.read():
        the_one: Workroom = found[0]
        return the_one
    try:
        with transaction.atomic():
            return Workroom.objects.create(pk=1)
    except IntegrityError:  # made by somebody else meanwhile
        return Workroom.objects.get(pk=1)


class Supplier(models.Model):
    """Somebody things are bought from."""

    name = models.CharField(max_length=120, unique=True)
    contact = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Machine(models.Model):
    """One of the workroom's own machines."""

    class Kind(models.TextChoices):
        SEWING = "sewing machine", "sewing machine"
        OVERLOCK = "overlock", "overlock"
        COVERSTITCH = "coverstitch", "coverstitch"
        OTHER = "other", "another machine"

    name = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=20, choices=Kind)
    setup_note = models.CharField("usual set-up", max_length=300, blank=True)

    class Meta:
        ordering = ["kind", "name"]

    def __str__(self) -> str:
        return self.name


class MachineStitch(models.Model):
    """A stitch type (its ISO 4915 number) as a machine makes it; ratios are thread per length of seam, measured.

    `unpicked_mm` of seam gave `needle_mm`, `looper_mm` and `cover_mm` of thread; None where nobody measured.
    """

    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="stitches")
    stitch_type = models.CharField(max_length=3)
    stitch_length_mm = models.DecimalField(max_digits=4, decimal_places=2, null=True, blank=True)
    width_mm = models.DecimalField(
        "stitch width or needle span", max_digits=5, decimal_places=2, null=True, blank=True
    )
    unpicked_mm = models.DecimalField(max_digits=7, decimal_places=1, null=True, blank=True)
    needle_mm = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    looper_mm = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    cover_mm = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    measured_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["stitch_type"]
        constraints = [
            models.UniqueConstraint(
                fields=["machine", "stitch_type"], name="one_setting_a_machine_and_stitch"
            )
        ]

    def __str__(self) -> str:
        return f"{self.machine}: {self.stitch_type}"
