"""Size ranges, styles, and what is offered of a style: its cloth roles, details and options."""

from django.db import models

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
