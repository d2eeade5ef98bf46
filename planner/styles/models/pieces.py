"""Pieces with their outlines, and the files they come from."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models

from planner.styles.models.style import ClothRole, Option, Size, Style


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
