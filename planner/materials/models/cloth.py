"""Fabrics, their colours, rolls and flaws."""

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models

from planner.materials.models.workroom import Supplier
from planner.materials.querysets import FabricColourQuerySet, FabricQuerySet, RollQuerySet


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
    shades = models.BooleanField("its colour is not quite the same all over", default=False)
    end_allowance_mm = models.DecimalField(
        "extra at each end", max_digits=5, decimal_places=1, default=Decimal("20")
    )
    damage_percent = models.DecimalField(
        "allowance for flaws", max_digits=4, decimal_places=1, default=Decimal("2")
    )
    sold_by = models.CharField(max_length=6, choices=SoldBy, default=SoldBy.METRE)
    pack_quantity = models.DecimalField(
        "sold in steps of",
        max_digits=10,
        # Half a yard is 0.4572 m: steps a trifle longer come to more than the shop measures off.
        decimal_places=4,
        default=Decimal("0.1"),
        validators=[MinValueValidator(Decimal("0.01"))],
    )
    minimum_quantity = models.DecimalField(
        "least that is sold", max_digits=8, decimal_places=2, default=Decimal("0")
    )
    price = models.DecimalField(
        "price for a metre, a roll or a kilogram",
        max_digits=14,
        # So near that the price of a yard or a pound comes back to the cent (`materials/sold.py`).
        decimal_places=6,
        default=Decimal("0"),
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
    """One physical length of a fabric colour with its shade lot.

    Its number is all that papers call it by; actions give it once in a fabric (`materials/roll_numbers.py`).
    """

    fabric_colour = models.ForeignKey(FabricColour, on_delete=models.PROTECT, related_name="rolls")
    number = models.CharField(max_length=40)
    shade_lot = models.CharField(max_length=40, blank=True)
    full_width_mm = models.DecimalField(max_digits=7, decimal_places=1, null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    objects = RollQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["fabric_colour", "number"], name="one_roll_number_a_colour")
        ]

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
