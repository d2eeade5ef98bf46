"""How a style is made: operations, seams, bands cut to measure, and the notions it takes."""

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models

from planner.core.units import plain_number
from planner.materials.models import Machine as OwnMachine
from planner.materials.models import NotionColour
from planner.styles.models.pieces import Piece
from planner.styles.models.style import Option, Size, Style


class Operation(models.Model):
    """One step of sewing on one kind of machine."""

    class Machine(models.TextChoices):
        SEWING = "sewing machine", "sewing machine"
        OVERLOCK = "overlock", "overlock"
        COVERSTITCH = "coverstitch", "coverstitch"
        IRON = "iron", "iron"
        HAND = "hand", "by hand"

    class StitchType(models.TextChoices):
        """Numbers of ISO 4915; names from memory of the standard."""

        NONE = "", "none"
        S101 = "101", "101 single-thread chainstitch"
        S301 = "301", "301 lockstitch"
        S304 = "304", "304 zigzag lockstitch"
        S401 = "401", "401 two-thread chainstitch"
        S406 = "406", "406 two-needle coverstitch"
        S407 = "407", "407 three-needle coverstitch"
        S503 = "503", "503 two-thread overedge"
        S504 = "504", "504 three-thread overedge"
        S514 = "514", "514 four-thread overedge"
        S516 = "516", "516 five-thread safety"
        S602 = "602", "602 four-thread cover"
        S605 = "605", "605 five-thread cover"
        S607 = "607", "607 flat seam"

    style = models.ForeignKey(Style, on_delete=models.CASCADE, related_name="operations")
    option = models.ForeignKey(
        Option, null=True, blank=True, on_delete=models.CASCADE, related_name="operations"
    )
    position = models.PositiveSmallIntegerField(default=0)
    name = models.CharField(max_length=80)
    machine = models.CharField(max_length=20, choices=Machine, default=Machine.OVERLOCK)
    stitch_type = models.CharField(max_length=3, choices=StitchType, blank=True, default="")
    standard_minutes = models.DecimalField(max_digits=6, decimal_places=2, default=Decimal("1.00"))
    setup_note = models.CharField(max_length=300, blank=True)
    own_machine = models.ForeignKey(
        OwnMachine,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
        verbose_name="on this machine",
    )
    stitch_length_mm = models.DecimalField(
        "stitch length", max_digits=4, decimal_places=2, null=True, blank=True,
        validators=[MinValueValidator(Decimal("0.1"))],
    )  # fmt: skip
    stitch_width_mm = models.DecimalField(
        "stitch width or needle span", max_digits=5, decimal_places=2, null=True, blank=True
    )
    layers = models.PositiveSmallIntegerField("layers of cloth", default=2, validators=[MinValueValidator(1)])
    differential_feed = models.DecimalField(max_digits=3, decimal_places=2, null=True, blank=True)
    tension_note = models.CharField("tension", max_length=120, blank=True)
    needle_note = models.CharField("needle", max_length=120, blank=True)
    quality_note = models.CharField("what to look at", max_length=300, blank=True)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.name

    @property
    def set_up(self) -> str:
        """How the machine is set for it, in one line: "2.5 mm long, differential feed 1.5, needle: ball point 75"."""
        figures = (
            (self.stitch_length_mm, "{} mm long"),
            (self.stitch_width_mm, "{} mm wide"),
            (self.layers if self.stitch_type and self.layers != 2 else None, "{} layers"),
            (self.differential_feed, "differential feed {}"),
        )
        told = [words.format(plain_number(figure)) for figure, words in figures if figure is not None]
        notes = (("needle", self.needle_note), ("tension", self.tension_note))
        return ", ".join(told + [f"{word}: {note}" for word, note in notes if note])


class Seam(models.Model):
    """Two sides of edges joined by an operation; side 1 gives the length (see `core.spec.SeamSpec`)."""

    class Fullness(models.TextChoices):
        NONE = "", "both sides alike"
        EASED = "eased", "eased in"
        GATHERED = "gathered", "gathered"
        PLEATED = "pleated", "pleated"
        STRETCHED = "stretched", "stretched to fit"

    style = models.ForeignKey(Style, on_delete=models.CASCADE, related_name="seams")
    option = models.ForeignKey(Option, null=True, blank=True, on_delete=models.CASCADE, related_name="seams")
    name = models.CharField(max_length=60)
    times = models.PositiveSmallIntegerField(
        "such seams in a garment", default=1, validators=[MinValueValidator(1)]
    )
    operation = models.ForeignKey(Operation, on_delete=models.PROTECT, related_name="seams")
    ratio = models.DecimalField(
        "second side to first",
        max_digits=5, decimal_places=3, default=Decimal("1"), validators=[MinValueValidator(Decimal("0.1"))],
    )  # fmt: skip
    fullness = models.CharField("made to fit", max_length=10, choices=Fullness, blank=True, default="")
    match = models.BooleanField("stripes run on over it", default=False)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.name


class SeamEdge(models.Model):
    """One of the edges a seam joins, named as in the outlines."""

    seam = models.ForeignKey(Seam, on_delete=models.CASCADE, related_name="edges")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="+")
    edge = models.CharField(max_length=40)
    side = models.PositiveSmallIntegerField(choices=[(1, "first side"), (2, "second side")], default=1)
    takes = models.PositiveSmallIntegerField(
        "such edges in one seam", default=1, validators=[MinValueValidator(1)]
    )
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return f"{self.piece}: {self.edge}"


class Band(models.Model):
    """How a band piece follows from the opening it finishes (see `core.spec.BandSpec`)."""

    piece = models.OneToOneField(Piece, on_delete=models.CASCADE, related_name="band")
    seam = models.ForeignKey(Seam, on_delete=models.PROTECT, related_name="bands")
    finished_width_mm = models.DecimalField(
        "finished width", max_digits=6, decimal_places=1, validators=[MinValueValidator(Decimal("1"))]
    )
    folded = models.BooleanField("folded in half", default=True)
    ratio = models.DecimalField(
        "your own ratio", max_digits=5, decimal_places=3, null=True, blank=True,
        validators=[MinValueValidator(Decimal("0.1"))],
    )  # fmt: skip
    turn_rad = models.FloatField("how far the opening turns", default=0.0)
    over_head = models.BooleanField("must pass the head", default=False)

    def __str__(self) -> str:
        return str(self.piece)


class StyleNotion(models.Model):
    """What one garment takes of a notion. Thread is not listed: it follows from seams and colourway."""

    class Basis(models.TextChoices):
        GARMENT = "garment", "so many a garment"
        PIECE = "piece", "so many for each piece"
        ORDER = "order", "so many an order"
        SEAM = "seam", "along a seam"

    style = models.ForeignKey(Style, on_delete=models.CASCADE, related_name="notions")
    option = models.ForeignKey(
        Option, null=True, blank=True, on_delete=models.CASCADE, related_name="notions"
    )
    notion_colour = models.ForeignKey(NotionColour, on_delete=models.PROTECT, related_name="+")
    basis = models.CharField(max_length=8, choices=Basis, default=Basis.GARMENT)
    quantity = models.DecimalField(max_digits=7, decimal_places=2, default=Decimal("1"))
    seam = models.ForeignKey(Seam, null=True, blank=True, on_delete=models.CASCADE, related_name="notions")
    piece = models.ForeignKey(Piece, null=True, blank=True, on_delete=models.CASCADE, related_name="notions")
    size = models.ForeignKey(
        Size,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        verbose_name="only in this size",
    )
    ratio = models.DecimalField(max_digits=4, decimal_places=2, default=Decimal("1.00"))
    tail_mm = models.DecimalField("tail at each end", max_digits=5, decimal_places=1, default=Decimal("20"))

    def __str__(self) -> str:
        return str(self.notion_colour)
