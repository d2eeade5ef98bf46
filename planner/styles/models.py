"""Styles as they are sold: sizes, details with options, pieces with outlines, seams, operations, notions."""

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models

from planner.materials.models import FabricColour, NotionColour
from planner.styles.querysets import StyleQuerySet


class SizeRange(models.Model):
    """Sizes that belong together, shared by styles."""

    name = models.CharField(max_length=60, unique=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Size(models.Model):
    """One size of a range; `position` is its place from small to large."""

    size_range = models.ForeignKey(SizeRange, on_delete=models.CASCADE, related_name="sizes")
    name = models.CharField(max_length=12)
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["size_range", "name"], name="one_size_name_a_range")]

    def __str__(self) -> str:
        return self.name


class Style(models.Model):
    """A design that is sold."""

    number = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    note = models.TextField(blank=True, max_length=2000)
    size_range = models.ForeignKey(SizeRange, on_delete=models.PROTECT, related_name="styles")
    base_size = models.ForeignKey(Size, on_delete=models.PROTECT, related_name="+")
    for_children = models.BooleanField(default=False)
    retired = models.BooleanField("no longer sold", default=False)

    objects = StyleQuerySet.as_manager()

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


class ClothRole(models.Model):
    """Which cloth of the style a piece is cut from: body, rib, facing, contrast."""

    style = models.ForeignKey(Style, on_delete=models.CASCADE, related_name="roles")
    name = models.CharField(max_length=40)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["style", "name"], name="one_role_name_a_style")]

    def __str__(self) -> str:
        return self.name


class Detail(models.Model):
    """A place in the style where the maker offers a choice: neck, sleeve."""

    style = models.ForeignKey(Style, on_delete=models.CASCADE, related_name="details")
    name = models.CharField(max_length=40)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["style", "name"], name="one_detail_name_a_style")]

    def __str__(self) -> str:
        return self.name


class Option(models.Model):
    """One of the choices of a detail."""

    detail = models.ForeignKey(Detail, on_delete=models.CASCADE, related_name="options")
    name = models.CharField(max_length=40)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["detail__position", "position", "pk"]
        constraints = [models.UniqueConstraint(fields=["detail", "name"], name="one_option_name_a_detail")]

    def __str__(self) -> str:
        return self.name


class Piece(models.Model):
    """A part that is cut. `count` pieces go into one garment; of a pair one half is cut mirrored."""

    style = models.ForeignKey(Style, on_delete=models.CASCADE, related_name="pieces")
    option = models.ForeignKey(Option, null=True, blank=True, on_delete=models.CASCADE, related_name="pieces")
    name = models.CharField(max_length=60)
    role = models.ForeignKey(ClothRole, on_delete=models.PROTECT, related_name="pieces")
    count = models.PositiveSmallIntegerField(
        "pieces in a garment", default=1, validators=[MinValueValidator(1)]
    )
    pair = models.BooleanField("cut as a mirrored pair", default=False)
    may_turn = models.BooleanField("may be turned end for end", default=True)
    is_band = models.BooleanField("a band, cut by measure", default=False)
    seam_allowance_mm = models.DecimalField(max_digits=5, decimal_places=1, default=Decimal("7"))
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["style", "name"], name="one_piece_name_a_style")]

    def __str__(self) -> str:
        return self.name


class PieceOutline(models.Model):
    """The cut line of a piece in one size, as `Outline.as_json()` gives it (mm, x along the grain)."""

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="outlines")
    size = models.ForeignKey(Size, on_delete=models.PROTECT, related_name="+")
    shape = models.JSONField()
    area_mm2 = models.FloatField()

    class Meta:
        ordering = ["piece", "size__position"]
        constraints = [models.UniqueConstraint(fields=["piece", "size"], name="one_outline_a_piece_and_size")]

    def __str__(self) -> str:
        return f"{self.piece} {self.size}"


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

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.name


class Seam(models.Model):
    """Stretches of edges joined by an operation; the first edge gives its length."""

    style = models.ForeignKey(Style, on_delete=models.CASCADE, related_name="seams")
    option = models.ForeignKey(Option, null=True, blank=True, on_delete=models.CASCADE, related_name="seams")
    name = models.CharField(max_length=60)
    times = models.PositiveSmallIntegerField(
        "such seams in a garment", default=1, validators=[MinValueValidator(1)]
    )
    operation = models.ForeignKey(Operation, on_delete=models.PROTECT, related_name="seams")
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
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return f"{self.piece}: {self.edge}"


class StyleNotion(models.Model):
    """What one garment takes of a notion. Thread is not listed: it follows from seams and colourway."""

    class Basis(models.TextChoices):
        GARMENT = "garment", "so many a garment"
        SEAM = "seam", "along a seam"

    style = models.ForeignKey(Style, on_delete=models.CASCADE, related_name="notions")
    option = models.ForeignKey(
        Option, null=True, blank=True, on_delete=models.CASCADE, related_name="notions"
    )
    notion_colour = models.ForeignKey(NotionColour, on_delete=models.PROTECT, related_name="+")
    basis = models.CharField(max_length=8, choices=Basis, default=Basis.GARMENT)
    quantity = models.DecimalField(max_digits=7, decimal_places=2, default=Decimal("1"))
    seam = models.ForeignKey(Seam, null=True, blank=True, on_delete=models.CASCADE, related_name="notions")
    ratio = models.DecimalField(max_digits=4, decimal_places=2, default=Decimal("1.00"))
    tail_mm = models.DecimalField("tail at each end", max_digits=5, decimal_places=1, default=Decimal("20"))

    def __str__(self) -> str:
        return str(self.notion_colour)


class Colourway(models.Model):
    """Which cloth colour fills each role, with which thread."""

    style = models.ForeignKey(Style, on_delete=models.CASCADE, related_name="colourways")
    name = models.CharField(max_length=60)
    thread = models.ForeignKey(
        NotionColour, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["style", "name"], name="one_colourway_name_a_style")]

    def __str__(self) -> str:
        return self.name


class ColourwayCloth(models.Model):
    """The cloth colour of one role in a colourway."""

    colourway = models.ForeignKey(Colourway, on_delete=models.CASCADE, related_name="cloths")
    role = models.ForeignKey(ClothRole, on_delete=models.CASCADE, related_name="+")
    fabric_colour = models.ForeignKey(FabricColour, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["colourway", "role"], name="one_cloth_a_role")]

    def __str__(self) -> str:
        return f"{self.role}: {self.fabric_colour}"
