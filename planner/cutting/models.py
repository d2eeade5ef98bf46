"""Batches, their needs, lays with nested markers, and bundles.

What is planned is written once as a snapshot (outlines, operations, widths), so that later changes of a style
never alter a batch that is on the table. What really happened is recorded beside it.
"""

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models

from planner.cutting.querysets import (
    BatchNeedQuerySet,
    BatchQuerySet,
    BundleQuerySet,
    LayQuerySet,
    MarkerQuerySet,
)
from planner.materials.models import Fabric, FabricColour, NotionColour, Roll
from planner.orders.models import OrderLine
from planner.styles.models import Colourway, Option, Size, Style


class StyleSnapshot(models.Model):
    """A style as it was when something was planned, kept once however many batches were planned with it."""

    key = models.CharField(max_length=64, unique=True)
    style = models.ForeignKey(Style, on_delete=models.PROTECT, related_name="+")
    data = models.JSONField()

    def __str__(self) -> str:
        return f"{self.style} as planned"


class Batch(models.Model):
    """Garments made together."""

    class State(models.TextChoices):
        GATHERING = "gathering", "gathering orders"
        PLANNED = "planned", "planned"
        CUTTING = "cutting", "being cut"
        SEWING = "sewing", "being sewn"
        DONE = "done", "done"
        CANCELLED = "cancelled", "cancelled"

    number = models.CharField(max_length=20, unique=True)
    state = models.CharField(max_length=10, choices=State, default=State.GATHERING, db_index=True)
    due_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    made_on = models.DateField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    planned_at = models.DateTimeField(null=True, blank=True)
    snapshots = models.ManyToManyField(StyleSnapshot, blank=True, related_name="batches")

    objects = BatchQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "batches"
        indexes = [models.Index(fields=["state", "due_on"])]

    def __str__(self) -> str:
        return self.number


class BatchItem(models.Model):
    """So many of one size of an order line, taken into a batch."""

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="items")
    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="batch_items")
    size = models.ForeignKey(Size, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    extra_allowed = models.PositiveSmallIntegerField(
        "may be cut more by", default=0, help_text="so many more may be cut where that saves a lay"
    )
    extra = models.PositiveSmallIntegerField(default=0, help_text="so many more are cut by the plan")

    class Meta:
        ordering = ["line", "size__position"]
        constraints = [
            models.UniqueConstraint(fields=["batch", "line", "size"], name="one_item_a_line_and_size")
        ]

    def __str__(self) -> str:
        return f"{self.line} {self.size} {self.quantity}"


class BatchNeed(models.Model):
    """What a planned batch needs of one cloth or notion; cloth in metres as bought.

    `how` says in plain words how the figure was reached ("estimate at 78 % efficiency" until the lays are nested).
    """

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="needs")
    fabric_colour = models.ForeignKey(
        FabricColour, null=True, blank=True, on_delete=models.PROTECT, related_name="needs"
    )
    notion_colour = models.ForeignKey(
        NotionColour, null=True, blank=True, on_delete=models.PROTECT, related_name="needs"
    )
    need = models.DecimalField(max_digits=12, decimal_places=3)
    taken = models.DecimalField(
        max_digits=12, decimal_places=3, default=0, help_text="what has left the stock for it already"
    )
    lay_m = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    least_packs = models.PositiveIntegerField(default=0, help_text="cones that must be threaded at once")
    is_estimate = models.BooleanField(default=True)
    how = models.CharField(max_length=300, blank=True)

    objects = BatchNeedQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(fabric_colour__isnull=False, notion_colour__isnull=True)
                | models.Q(fabric_colour__isnull=True, notion_colour__isnull=False),
                name="a_need_is_of_cloth_or_of_a_notion",
            )
        ]

    def __str__(self) -> str:
        return f"{self.need} {self.fabric_colour or self.notion_colour}"


class BatchOperation(models.Model):
    """A copy of a style's operation as it was when the batch was planned."""

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="operations")
    style = models.ForeignKey(Style, on_delete=models.PROTECT, related_name="+")
    option = models.ForeignKey(Option, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=80)
    machine = models.CharField(max_length=20)
    stitch_type = models.CharField(max_length=3, blank=True)
    standard_minutes = models.DecimalField(max_digits=6, decimal_places=2)
    setup_note = models.CharField(max_length=300, blank=True)
    own_machine = models.CharField(max_length=60, blank=True)
    stitch_length_mm = models.DecimalField(max_digits=4, decimal_places=2, null=True, blank=True)
    differential_feed = models.DecimalField(max_digits=3, decimal_places=2, null=True, blank=True)
    tension_note = models.CharField(max_length=120, blank=True)
    needle_note = models.CharField(max_length=120, blank=True)
    quality_note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["style", "position", "pk"]

    def __str__(self) -> str:
        return self.name


class Marker(models.Model):
    """The arrangement of pieces for one lay, with the nesting job that makes it.

    `job` is the frozen question, `placements` the best answer so far, both as `planner.core.lays` writes them.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        NESTING = "nesting", "nesting"
        READY = "ready", "nested"
        STOPPED = "stopped", "stopped, best kept"
        FAILED = "failed", "failed"

    key = models.CharField(max_length=64, db_index=True, help_text="the same question has the same key")
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

    objects = MarkerQuerySet.as_manager()

    def __str__(self) -> str:
        return f"marker {self.pk} ({self.state})"

    @property
    def is_final(self) -> bool:
        """Nested to an end, or stopped with the best kept; before that its length still changes."""
        return self.state in {self.State.READY, self.State.STOPPED} and self.length_mm is not None


class CutPlan(models.Model):
    """How the lays of one fabric in a batch were chosen, how good that is, and why.

    `facts` is what `planner.core.cut_plan` told of the plan as plain data: the comparison with single sizes, what
    other aims would cost, why it cannot be fewer lays, the price of each choice.
    """

    class Aim(models.TextChoices):
        MONEY = "money", "least money"
        FEWEST_LAYS = "fewest_lays", "fewest lays"
        LEAST_CLOTH = "least_cloth", "least cloth"

    class State(models.TextChoices):
        QUICK = "quick", "a first plan, being improved"
        NESTING = "nesting", "its lays are being nested"
        SETTLED = "settled", "settled"

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="cut_plans")
    fabric = models.ForeignKey(Fabric, on_delete=models.PROTECT, related_name="+")
    aim = models.CharField(max_length=12, choices=Aim, default=Aim.MONEY)
    most_plies = models.PositiveSmallIntegerField(null=True, blank=True, help_text="the maker's own limit")
    state = models.CharField(max_length=8, choices=State, default=State.QUICK)
    is_proven = models.BooleanField(default=False)
    gap_share = models.FloatField(null=True, blank=True)
    method = models.CharField(max_length=80, blank=True)
    rounds = models.PositiveSmallIntegerField(
        default=0, help_text="how often real lengths changed the choice"
    )
    facts = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["batch", "fabric"], name="one_cut_plan_a_fabric")]

    def __str__(self) -> str:
        return f"{self.batch}: {self.fabric}"


class PlanChoice(models.Model):
    """What the maker wants of a cut plan: garments that must share every marker, or never one.

    `kinds` lists pairs [style number, size].
    """

    class Kind(models.TextChoices):
        TOGETHER = "together", "always together"
        APART = "apart", "never together"

    plan = models.ForeignKey(CutPlan, on_delete=models.CASCADE, related_name="choices")
    kind = models.CharField(max_length=8, choices=Kind)
    kinds = models.JSONField()
    chosen_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.kinds}"


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
    usable_width_mm = models.FloatField()
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
    """Spreads of a lay that are planned to come from one roll; None where the cloth is still to be bought."""

    lay_cloth = models.ForeignKey(LayCloth, on_delete=models.CASCADE, related_name="rolls")
    roll = models.ForeignKey(Roll, null=True, blank=True, on_delete=models.PROTECT, related_name="promised")
    spreads = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])
    position = models.PositiveSmallIntegerField(default=0, help_text="from the bottom ply up")

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return f"{self.spreads} from {self.roll or 'cloth to be bought'}"


class LayFact(models.Model):
    """What was really spread and cut of a lay, as told at the table. Never changed; one told wrongly is taken back."""

    lay_cloth = models.ForeignKey(LayCloth, on_delete=models.CASCADE, related_name="facts")
    roll = models.ForeignKey(Roll, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    spreads = models.PositiveSmallIntegerField()
    used_m = models.DecimalField(max_digits=8, decimal_places=2)
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
