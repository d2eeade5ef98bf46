"""Lays with their markers, plies, rolls, and what was really cut."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models

from planner.cutting.models.batches import Batch
from planner.cutting.querysets import LayQuerySet, LayRollQuerySet, MarkerQuerySet
from planner.materials.models import FabricColour, Roll
from planner.papers.layers import way_of
from planner.styles.models import Colourway, Option, Size, Style


class Marker(models.Model):
    """The arrangement of pieces for one lay, with the nesting job that makes it.

    `job` is the frozen question, `placements` the best answer so far, both as `planner.core.lays` writes them.
    """

    #: A marker with another seed than the first has been nested before and has an answer.
    FIRST_SEED = 0
    #: One with this seed had its second nesting, which those have that are chosen for a plan.
    POLISH_SEED = 3

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        NESTING = "nesting", "nesting"
        READY = "ready", "nested"
        STOPPED = "stopped", "stopped, best kept"
        FAILED = "failed", "failed"

    key = models.CharField(max_length=64, db_index=True, help_text="the same question has the same key")
    family = models.CharField(
        max_length=64,
        blank=True,
        db_index=True,
        help_text="alike where the same pieces are laid, in any sizes",
    )
    job = models.JSONField()
    seconds = models.FloatField(default=5)
    seed = models.PositiveIntegerField(default=0)
    state = models.CharField(max_length=8, choices=State, default=State.WAITING, db_index=True)
    stop_wanted = models.BooleanField(default=False)
    placements = models.JSONField(null=True, blank=True)
    length_mm = models.FloatField(null=True, blank=True)
    efficiency = models.FloatField(null=True, blank=True)
    started_at = models.DateTimeField(null=True, blank=True)
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    message = models.CharField(max_length=300, blank=True)
    is_ahead = models.BooleanField(
        default=False, help_text="nested before it was planned; no lay is cut from this row"
    )

    objects = MarkerQuerySet.as_manager()

    def __str__(self) -> str:
        return f"marker {self.pk} ({self.state})"

    @property
    def is_final(self) -> bool:
        """Nested to an end, or stopped with the best kept; before that its length still changes."""
        return self.state in {self.State.READY, self.State.STOPPED} and self.length_mm is not None

    @property
    def is_laid(self) -> bool:
        """Nested to an end once at least: it can be cut as it is, though it may be nested for longer just now."""
        again = self.state in {self.State.WAITING, self.State.NESTING} and self.seed != self.FIRST_SEED
        return self.is_final or (again and self.length_mm is not None)


class Lay(models.Model):
    """One section of a batch's cut plan: a marker, spread so many times in one or more colours of a fabric."""

    class Mode(models.TextChoices):
        OPEN = "open", "open, face up"
        FACE_TO_FACE = "face_to_face", "face to face"
        FOLDED = "folded", "folded or as a tube"

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="lays")
    number = models.PositiveSmallIntegerField(help_text="counts the lays of the batch from 1")
    mode = models.CharField(max_length=12, choices=Mode, default=Mode.OPEN)
    lay_width_mm = models.FloatField()
    one_way = models.BooleanField()
    end_allowance_mm = models.FloatField()
    estimated_length_mm = models.FloatField()
    marker = models.ForeignKey(Marker, on_delete=models.PROTECT, related_name="lays")
    is_kept = models.BooleanField(default=False, help_text="the maker wants it just so")
    rest_of = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="rests",
        help_text="the lay that was cut in part, whose rest this cuts",
    )  # fmt: skip
    cut_at = models.DateTimeField(null=True, blank=True)
    cut_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    objects = LayQuerySet.as_manager()

    class Meta:
        ordering = ["batch", "number"]
        constraints = [models.UniqueConstraint(fields=["batch", "number"], name="one_lay_number_a_batch")]

    def __str__(self) -> str:
        return f"{self.batch} lay {self.number}"

    @property
    def fabric_id(self) -> int | None:
        """The fabric it is cut from (pk); no query where its cloths were read with their colours."""
        cloths = self.cloths.all()
        return cloths[0].fabric_colour.fabric_id if cloths else None

    @property
    def way(self) -> str:
        """How it is spread, in the words of `papers.layers`; no query where its cloths were read with their fabrics."""
        is_folded = self.mode == self.Mode.FOLDED
        is_tube = is_folded and any(one.fabric_colour.fabric.is_tube for one in self.cloths.all())
        return way_of(self.mode, is_tube=is_tube)


class LayCloth(models.Model):
    """Plies of one fabric colour in a lay that are marked alike; their garments stand in the order of the marker's.

    `spreads` is the plan; `cut_spreads` and `used_m` are what was really spread, the sums of its `facts`.
    """

    lay = models.ForeignKey(Lay, on_delete=models.CASCADE, related_name="cloths")
    fabric_colour = models.ForeignKey(FabricColour, on_delete=models.PROTECT, related_name="+")
    spreads = models.PositiveSmallIntegerField()
    cut_spreads = models.PositiveSmallIntegerField(null=True, blank=True)
    used_m = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.lay}: {self.spreads} × {self.fabric_colour}"


class LayRoll(models.Model):
    """Spreads of a lay that are planned to come from one roll; None where the cloth is still to be bought.

    Rolls beyond the spreads of their plies are kept for them, see `cutting.kept_rolls`.
    """

    lay_cloth = models.ForeignKey(LayCloth, on_delete=models.CASCADE, related_name="rolls")
    roll = models.ForeignKey(Roll, null=True, blank=True, on_delete=models.PROTECT, related_name="promised")
    spreads = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])
    position = models.PositiveSmallIntegerField(default=0, help_text="from the bottom ply up")
    came_later = models.BooleanField(
        default=False, help_text="was cloth to be bought when the bundles were given their plies"
    )

    objects = LayRollQuerySet.as_manager()

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return f"{self.spreads} from {self.roll or 'cloth to be bought'}"


class LayFact(models.Model):
    """What was really spread and cut of a lay, as told at the table. Never changed; one told wrongly is taken back.

    `lost_m` of `used_m` was lost at flaws noted on the roll by then; a flaw noted later lies in what was left of it.
    Both are metres on the table. `booked_m` is what left the stock, as bought: more than was used where the cloth is
    washed first, and less, by no more than the error of a tape, where its roll had less. None in facts told before this
    was kept: then as much as was used.
    """

    lay_cloth = models.ForeignKey(LayCloth, on_delete=models.CASCADE, related_name="facts")
    roll = models.ForeignKey(Roll, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    spreads = models.PositiveSmallIntegerField()
    used_m = models.DecimalField(max_digits=8, decimal_places=2)
    booked_m = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    lost_m = models.DecimalField(max_digits=8, decimal_places=2, default=Decimal(0))
    note = models.CharField("flaws and faults", max_length=300, blank=True)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    told_at = models.DateTimeField()
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["told_at", "pk"]

    def __str__(self) -> str:
        return f"{self.lay_cloth}: {self.spreads} spread"

    @property
    def left_stock_m(self) -> Decimal:
        """Metres by the books that left the stock."""
        return self.used_m if self.booked_m is None else self.booked_m


class LayGarment(models.Model):
    """How many of one garment the marker of a lay holds, in the plies of one cloth colour."""

    lay_cloth = models.ForeignKey(LayCloth, on_delete=models.CASCADE, related_name="garments")
    style = models.ForeignKey(Style, on_delete=models.PROTECT, related_name="+")
    options = models.ManyToManyField(Option, blank=True, related_name="+")
    colourway = models.ForeignKey(Colourway, on_delete=models.PROTECT, related_name="+")
    size = models.ForeignKey(Size, on_delete=models.PROTECT, related_name="+")
    per_marker = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.per_marker} × {self.style} {self.size}"
