"""Cut plans, and what the maker chose of them."""

from django.conf import settings
from django.db import models

from planner.cutting.models.batches import Batch
from planner.materials.models import Fabric


class CutPlan(models.Model):
    """How the lays of one fabric in a batch were chosen, how good that is, and why.

    `facts` is what `planner.core.cut_plan` told of the plan as plain data: the comparison with single sizes, what
    other aims would cost, why it cannot be fewer lays, the price of each choice.
    """

    class Aim(models.TextChoices):
        MONEY = "money", "least money"
        FEWEST_LAYS = "fewest_lays", "fewest lays"
        LEAST_CLOTH = "least_cloth", "least cloth"
        FROM_STOCK = "from_stock", "from stock"

    class AimBy(models.TextChoices):
        NOBODY = "", "nobody yet"
        STOCK = "stock", "what lies in stock"
        MAKER = "maker", "the maker"

    class State(models.TextChoices):
        QUICK = "quick", "a first plan, being improved"
        NESTING = "nesting", "its lays are being nested"
        SETTLED = "settled", "settled"

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="cut_plans")
    fabric = models.ForeignKey(Fabric, on_delete=models.PROTECT, related_name="+")
    aim = models.CharField(max_length=12, choices=Aim, default=Aim.MONEY)
    aim_by = models.CharField(
        max_length=5,
        choices=AimBy,
        default=AimBy.NOBODY,
        blank=True,
        help_text="who chose the aim; what lies in stock decides once at most, and never against the maker",
    )
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


class PlanAhead(models.Model):
    """Cut plans of a fabric found for what was ordered, before a batch was made of it: searches begin from them."""

    fabric = models.OneToOneField(Fabric, on_delete=models.CASCADE, related_name="+")
    plans = models.JSONField(help_text="as `planner.core.lays.wishes` writes them, the newest first")

    def __str__(self) -> str:
        return f"ahead: {self.fabric}"
