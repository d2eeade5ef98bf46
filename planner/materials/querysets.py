"""Questions asked of materials, in the shop's words."""

from collections.abc import Collection
from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import DecimalField, Exists, OuterRef, Subquery, Sum, Value
from django.db.models.functions import Coalesce


def summed_moves(field: str, *, of: str = "pk", **only: object) -> Any:
    """Sum of the stock moves that point through `field` at the outer row, or at what its column `of` names; of those
    that are so `only`."""
    from planner.materials.models import StockMove

    moves = StockMove.objects.filter(**{field: OuterRef(of)}, **only).order_by().values(field)
    return Coalesce(
        Subquery(moves.annotate(total=Sum("quantity")).values("total")),
        Value(Decimal("0")),
        output_field=DecimalField(max_digits=12, decimal_places=2),
    )


class FabricQuerySet(models.QuerySet):
    """Fabrics."""

    def with_colours(self) -> "FabricQuerySet":
        """Each with its colours and what is on hand of them, in two queries."""
        from planner.materials.models import FabricColour

        colours = FabricColour.objects.with_stock()
        return self.select_related("supplier").prefetch_related(models.Prefetch("colours", queryset=colours))


class FabricColourQuerySet(models.QuerySet):
    """Fabrics in a colour."""

    def with_stock(self) -> "FabricColourQuerySet":
        """Annotates `on_hand_m`: metres on hand, the sum of all moves."""
        return self.select_related("fabric").annotate(on_hand_m=summed_moves("fabric_colour"))

    def low(self) -> "FabricColourQuerySet":
        """Those of which less is on hand than the fabric's low mark, least first."""
        return self.with_stock().filter(on_hand_m__lt=models.F("fabric__low_m")).order_by("on_hand_m", "pk")

    def owing_on_no_roll(self) -> "FabricColourQuerySet":
        """Those kept on rolls of which more was cut without one than the books have on none: annotates `on_no_roll_m`,
        which is below 0. Less than half a centimetre is none: SQLite sums in binary, so what cancels out may be a hair.
        """
        owing = self.annotate(on_no_roll_m=summed_moves("fabric_colour", roll=None))
        return owing.filter(on_no_roll_m__lt=Decimal("-0.005"), rolls__isnull=False).distinct()


class RollQuerySet(models.QuerySet):
    """Rolls of cloth."""

    def with_left(self) -> "RollQuerySet":
        """Annotates `left_m`: metres left on the roll, the sum of its moves."""
        return self.annotate(left_m=summed_moves("roll"))

    def not_used_up(self) -> "RollQuerySet":
        """Those on which something is left, the oldest first."""
        return self.with_left().filter(left_m__gt=0).order_by("pk")

    def with_begun(self) -> "RollQuerySet":
        """Annotates `is_begun`: an end, of which something was cut or used, or that was itself cut off a roll."""
        from planner.materials.models import StockMove

        moves = StockMove.objects.filter(roll=OuterRef("pk"))
        gone = moves.filter(quantity__lt=0).exclude(reason=StockMove.Reason.COUNTED)
        bought = moves.filter(reason=StockMove.Reason.BOUGHT)
        return self.annotate(is_begun=Exists(gone) | ~Exists(bought))


class StockMoveQuerySet(models.QuerySet):
    """Moves of stock."""

    def for_reading(self) -> "StockMoveQuerySet":
        """With all that a line of the history shows, in one query; the newest first."""
        return self.select_related("roll", "person", "notion_colour", "fabric_colour")

    def total(self) -> Decimal:
        """What they come to: metres of cloth or units of a notion."""
        return self.order_by().aggregate(total=Sum("quantity"))["total"] or Decimal("0.00")


class NotionQuerySet(models.QuerySet):
    """Notions."""

    def with_colours(self) -> "NotionQuerySet":
        """Each with its colours and what is on hand of them, in two queries."""
        from planner.materials.models import NotionColour

        colours = NotionColour.objects.with_stock()
        return self.select_related("supplier").prefetch_related(models.Prefetch("colours", queryset=colours))

    def counted_in_pieces(self, names: Collection[str]) -> frozenset[str]:
        """Those of these names that are counted in pieces, so that nothing is cut to length of them."""
        return frozenset(self.filter(name__in=names, unit="pcs").values_list("name", flat=True))


class NotionColourQuerySet(models.QuerySet):
    """Notions in a colour."""

    def with_stock(self) -> "NotionColourQuerySet":
        """Annotates `on_hand`: quantity on hand in the notion's unit."""
        return self.select_related("notion").annotate(on_hand=summed_moves("notion_colour"))

    def owing(self) -> "NotionColourQuerySet":
        """Those whose books are kept, for some came in or was counted, and have less than nothing: more was taken out.
        Annotates `on_hand`. Less than half of the hundredth that is kept is none: SQLite sums in binary.
        """
        return self.with_stock().filter(on_hand__lt=Decimal("-0.005"), moves__quantity__gt=0).distinct()

    def low(self) -> "NotionColourQuerySet":
        """Those of which less is on hand than the notion's low mark, least first."""
        return (
            self.with_stock().filter(on_hand__lt=models.F("notion__low_quantity")).order_by("on_hand", "pk")
        )
