"""Colourways: which cloth and thread go where."""

from django.db import models

from planner.materials.models import FabricColour, NotionColour
from planner.styles.models.style import ClothRole, Style


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
