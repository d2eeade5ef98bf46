"""Styles as they are sold: sizes, details with options, pieces with outlines, seams, operations, notions."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models

from planner.core.units import plain_number
from planner.materials.models import FabricColour, NotionColour
from planner.materials.models import Machine as OwnMachine
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
    base = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="built_on_it",
        verbose_name="built on", help_text="has all parts of that style and its own besides",
    )  # fmt: skip
    for_children = models.BooleanField(default=False)
    retired = models.BooleanField("no longer sold", default=False)

    objects = StyleQuerySet.as_manager()

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"

    @property
    def family(self) -> tuple[int, ...]:
        """Keys of the styles whose parts this one has: that of its base, if any, and its own."""
        return (self.pk,) if self.base_id is None else (self.base_id, self.pk)


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
    not_with = models.ManyToManyField("self", blank=True, verbose_name="cannot be had together with")
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
    beside = models.CharField(
        "laid side by side with", max_length=20, blank=True,
        help_text="pieces of a garment with the same word here lie side by side",
    )  # fmt: skip
    seam_allowance_mm = models.DecimalField(
        max_digits=5, decimal_places=1, default=Decimal("7"), validators=[MinValueValidator(0)]
    )
    edge_allowances = models.JSONField(
        default=dict, blank=True, help_text="mm by name, for edges whose allowance is another"
    )
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["style", "name"], name="one_piece_name_a_style")]

    def __str__(self) -> str:
        return self.name


class PieceOutline(models.Model):
    """The cut line of a piece in one size, as `Outline.as_json()` gives it (mm, x along the grain).

    `marks` is what is drawn within it, as `Marks.as_json()` gives it; `source` says where it came from.
    """

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="outlines")
    size = models.ForeignKey(Size, on_delete=models.PROTECT, related_name="+")
    shape = models.JSONField()
    area_mm2 = models.FloatField()
    marks = models.JSONField(default=dict, blank=True)
    source = models.CharField(max_length=200, blank=True)
    is_interpolated = models.BooleanField("made from the sizes beside it", default=False)

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


class PatternFile(models.Model):
    """A pattern file: under review until it is taken, then what was answered, for the next file of the style."""

    style = models.ForeignKey(
        Style, null=True, blank=True, on_delete=models.CASCADE, related_name="pattern_files",
        help_text="none while the file is to become a style of its own",
    )  # fmt: skip
    name = models.CharField(max_length=200)
    content = models.BinaryField(help_text="emptied when the file is taken or thrown away")
    rules_name = models.CharField(max_length=200, blank=True)
    rules = models.BinaryField(null=True, blank=True)
    answers = models.JSONField(default=dict, blank=True)
    read_on = models.DateField()
    read_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    taken_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.name


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


class ColourwayThread(models.Model):
    """The thread of one position on the machine, where it is another than the colourway's."""

    class Position(models.TextChoices):
        NEEDLE = "needle", "needles"
        LOOPER = "looper", "loopers and bobbin"
        COVER = "cover", "cover thread on top"

    colourway = models.ForeignKey(Colourway, on_delete=models.CASCADE, related_name="threads")
    position = models.CharField(max_length=6, choices=Position)
    notion_colour = models.ForeignKey(NotionColour, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["colourway", "position"], name="one_thread_a_position")
        ]

    def __str__(self) -> str:
        return f"{self.get_position_display()}: {self.notion_colour}"


class ColourwayCloth(models.Model):
    """The cloth colour of one role in a colourway."""

    colourway = models.ForeignKey(Colourway, on_delete=models.CASCADE, related_name="cloths")
    role = models.ForeignKey(ClothRole, on_delete=models.CASCADE, related_name="+")
    fabric_colour = models.ForeignKey(FabricColour, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["colourway", "role"], name="one_cloth_a_role")]

    def __str__(self) -> str:
        return f"{self.role}: {self.fabric_colour}"
