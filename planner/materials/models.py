"""Fabrics, their colours and rolls, notions, suppliers, and every move of stock.

What is on hand is never stored: it is the sum of the stock moves.
"""

from decimal import Decimal
from typing import Any

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models

from planner.common.remember import forget, remembered
from planner.materials.querysets import (
    FabricColourQuerySet,
    FabricQuerySet,
    NotionColourQuerySet,
    NotionQuerySet,
    RollQuerySet,
    StockMoveQuerySet,
)

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

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Saves, and lets the rest of the request see it."""
        super().save(*args, **kwargs)
        forget("workroom")

    @classmethod
    def the(cls) -> "Workroom":
        """The workroom, made with its defaults at first use; read once a request."""
        return remembered("workroom", lambda: cls.objects.get_or_create(pk=1)[0])


class Supplier(models.Model):
    """Somebody things are bought from."""

    name = models.CharField(max_length=120, unique=True)
    contact = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Fabric(models.Model):
    """A quality of cloth. Percentages are of the length or width before washing."""

    class SoldBy(models.TextChoices):
        METRE = "metre", "by length"
        ROLL = "roll", "by the roll"
        KG = "kg", "by weight"

    class Shrinkage(models.TextChoices):
        IN_PATTERN = "in_pattern", "the pattern already allows for it"
        WASH_FIRST = "wash_first", "cloth is washed before cutting"
        CUT_LARGER = "cut_larger", "pieces are cut larger"

    name = models.CharField(max_length=120, unique=True)
    composition = models.CharField(max_length=200, blank=True)
    supplier = models.ForeignKey(
        Supplier, null=True, blank=True, on_delete=models.PROTECT, related_name="fabrics"
    )
    full_width_mm = models.DecimalField(max_digits=7, decimal_places=1)
    selvedge_mm = models.DecimalField(
        "selvedge, each side", max_digits=6, decimal_places=1, default=Decimal("15")
    )
    weight_gsm = models.DecimalField(max_digits=6, decimal_places=1)
    thickness_mm = models.DecimalField(
        "thickness of one layer", max_digits=5, decimal_places=2, null=True, blank=True,
        validators=[MinValueValidator(Decimal("0.01"))],
    )  # fmt: skip
    shrinkage_length_percent = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal("0"))
    shrinkage_width_percent = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal("0"))
    shrinkage_handling = models.CharField(max_length=12, choices=Shrinkage, default=Shrinkage.IN_PATTERN)
    stretch_percent = models.DecimalField(
        "stretch across", max_digits=5, decimal_places=1, default=Decimal("0")
    )
    one_way = models.BooleanField("all pieces point the same way", default=True)
    end_allowance_mm = models.DecimalField(
        "extra at each end", max_digits=5, decimal_places=1, default=Decimal("20")
    )
    damage_percent = models.DecimalField(
        "allowance for flaws", max_digits=4, decimal_places=1, default=Decimal("2")
    )
    sold_by = models.CharField(max_length=6, choices=SoldBy, default=SoldBy.METRE)
    pack_quantity = models.DecimalField(
        "sold in steps of",
        max_digits=8,
        decimal_places=2,
        default=Decimal("0.1"),
        validators=[MinValueValidator(Decimal("0.01"))],
    )
    minimum_quantity = models.DecimalField(
        "least that is sold", max_digits=8, decimal_places=2, default=Decimal("0")
    )
    price = models.DecimalField(
        "price for a metre, a roll or a kilogram", max_digits=10, decimal_places=2, default=Decimal("0")
    )
    low_m = models.DecimalField("low when less than", max_digits=8, decimal_places=2, default=Decimal("0"))
    is_tube = models.BooleanField("knitted as a tube", default=False)
    lay_open = models.BooleanField("open, face up", default=True)
    lay_face_to_face = models.BooleanField("two plies face to face", default=False)
    lay_folded = models.BooleanField("folded lengthwise, or as a tube", default=False)
    repeat_length_mm = models.DecimalField(
        "pattern comes again along the cloth every", max_digits=6, decimal_places=1, null=True, blank=True,
        validators=[MinValueValidator(Decimal("1"))],
    )  # fmt: skip
    repeat_width_mm = models.DecimalField(
        "pattern comes again across the cloth every", max_digits=6, decimal_places=1, null=True, blank=True,
        validators=[MinValueValidator(Decimal("1"))],
    )  # fmt: skip

    objects = FabricQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def usable_width_mm(self) -> Decimal:
        """Width that may be cut, before any washing."""
        return self.full_width_mm - 2 * self.selvedge_mm

    @property
    def ways(self) -> list[str]:
        """The ways it may be laid, in words."""
        fields = ("lay_open", "lay_face_to_face", "lay_folded")
        return [str(self._meta.get_field(name).verbose_name) for name in fields if getattr(self, name)]  # type: ignore[union-attr]

    @property
    def sold_as(self) -> str:
        """What the price is for: "a metre"."""
        return {"metre": "a metre", "roll": "a roll", "kg": "a kilogram"}[self.sold_by]


class FabricColour(models.Model):
    """A fabric in one colour; `swatch` is #rrggbb for the screen."""

    fabric = models.ForeignKey(Fabric, on_delete=models.CASCADE, related_name="colours")
    name = models.CharField(max_length=60)
    swatch = models.CharField(max_length=7, default="#888888")

    objects = FabricColourQuerySet.as_manager()

    class Meta:
        ordering = ["fabric__name", "name"]
        constraints = [models.UniqueConstraint(fields=["fabric", "name"], name="one_colour_name_a_fabric")]

    def __str__(self) -> str:
        return f"{self.fabric.name}, {self.name}"


class Roll(models.Model):
    """One physical length of a fabric colour with its shade lot."""

    fabric_colour = models.ForeignKey(FabricColour, on_delete=models.PROTECT, related_name="rolls")
    number = models.CharField(max_length=40)
    shade_lot = models.CharField(max_length=40, blank=True)
    full_width_mm = models.DecimalField(max_digits=7, decimal_places=1, null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    objects = RollQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.number


class RollFlaw(models.Model):
    """A stretch of a roll that must not be cut from, in metres from its outer end as it is now.

    It moves with every cut there; what was cut off lies below nought.
    """

    roll = models.ForeignKey(Roll, on_delete=models.CASCADE, related_name="flaws")
    from_m = models.DecimalField(max_digits=7, decimal_places=2, validators=[MinValueValidator(Decimal("0"))])
    to_m = models.DecimalField(max_digits=7, decimal_places=2)
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["from_m", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(to_m__gt=models.F("from_m")), name="a_flaw_ends_after_it_begins"
            )
        ]

    def __str__(self) -> str:
        return f"{self.from_m} to {self.to_m} m"


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
