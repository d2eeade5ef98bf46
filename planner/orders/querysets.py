"""Questions asked of orders, in the shop's words.

What is batched belongs to a later room; it is reached through the relation of an order line only
(`line.batch_items`), and a cancelled batch holds nothing.
"""

from __future__ import annotations

from datetime import date
from typing import Any, NamedTuple

from django.db import models
from django.db.models import Exists, F, OuterRef, Prefetch, Q, Subquery, Sum, Value
from django.db.models.functions import Coalesce


class Held(NamedTuple):
    """Garments of one size of an order line that a batch, not cancelled, holds."""

    line_pk: int
    batch: str
    size_pk: int
    size: str
    quantity: int
    state: str


#: Two options, each with its detail.
Clash = tuple[tuple[str, str], tuple[str, str]]

_LIVE = ~Q(batch_items__batch__state="cancelled")


def _summed(rows: models.QuerySet, field: str, filter: Q | None = None) -> Any:
    """Sum of `field` over the rows of one order or line as a subquery, 0 where there is none."""
    totals = rows.order_by().values("pk").annotate(total=Sum(field, filter=filter)).values("total")
    return Coalesce(Subquery(totals, output_field=models.IntegerField()), Value(0))


class CustomerQuerySet(models.QuerySet):
    """Who orders."""

    def called(self, name: str) -> CustomerQuerySet:
        """The customer of that name, however it is capitalised."""
        return self.filter(name__iexact=name)

    def with_orders(self) -> CustomerQuerySet:
        """Annotates `open_orders` and `all_orders`: how many orders each has."""
        is_open = Q(orders__state="open")
        return self.annotate(
            open_orders=models.Count("orders", filter=is_open), all_orders=models.Count("orders")
        )


class OrderQuerySet(models.QuerySet):
    """Orders and stock makes."""

    def open(self) -> OrderQuerySet:
        """Still to be made or sent."""
        return self.filter(state="open")

    def dispatched(self) -> OrderQuerySet:
        """On their way to the customer, or on the shelf where they were stock makes."""
        return self.filter(state="dispatched")

    def cancelled(self) -> OrderQuerySet:
        """Given up."""
        return self.filter(state="cancelled")

    def late(self, today: date) -> OrderQuerySet:
        """Open, and their day has passed."""
        return self.open().filter(due_on__lt=today)

    def stock_makes(self) -> OrderQuerySet:
        """Nobody ordered these: they are made for the shelf."""
        return self.filter(customer__isnull=True)

    def matching(self, words: str) -> OrderQuerySet:
        """Orders whose number, customer or one of whose styles holds the words."""
        words = words.strip()
        if not words:
            return self
        from planner.orders.models import OrderLine

        of_style = Q(style__number__icontains=words) | Q(style__name__icontains=words)
        lines = OrderLine.objects.filter(of_style, order=OuterRef("pk"))
        return self.filter(Q(number__icontains=words) | Q(customer__name__icontains=words) | Exists(lines))

    def by_due_day(self) -> OrderQuerySet:
        """The most urgent first."""
        return self.order_by("due_on", "pk")

    def with_sizes(self) -> OrderQuerySet:
        """Each with its customer, lines, styles, colourways, options and quantities, in six queries.

        Sizes are read for themselves: many rows lead to few of them, and so each is made but once. The quantities
        carry `batched` and `left` as :meth:`LineQuantityQuerySet.with_batched` gives them.
        """
        from planner.orders.models import LineQuantity, OrderLine
        from planner.styles.models import ColourwayCloth, Option

        quantities = LineQuantity.objects.with_batched().order_by("size__position").prefetch_related("size")
        options = Option.objects.select_related("detail").order_by("detail__position", "position")
        cloths = ColourwayCloth.objects.select_related("fabric_colour").order_by("role__position", "role")
        lines = OrderLine.objects.select_related("style", "colourway").prefetch_related(
            Prefetch("options", queryset=options),
            Prefetch("quantities", queryset=quantities),
            Prefetch("colourway__cloths", queryset=cloths),
        )
        return self.select_related("customer").prefetch_related(Prefetch("lines", queryset=lines))


class OrderLineQuerySet(models.QuerySet):
    """Lines of orders."""

    def clashing(self) -> dict[int, list[Clash]]:
        """Lines whose options cannot be had together (any more), with the pairs. One query."""
        names = ("options__detail__name", "options__name")
        other = ("options__not_with__detail__name", "options__not_with__name")
        found: dict[int, list[Clash]] = {}
        rows = self.filter(options__not_with__order_lines=F("pk")).order_by("pk", *names)
        for pk, detail, option, other_detail, other_option in rows.values_list(
            "pk", *names, *other
        ).distinct():
            pair = ((detail, option), (other_detail, other_option))
            if pair[::-1] not in found.get(pk, ()):
                found.setdefault(pk, []).append(pair)
        return found

    def held_in_batches(self) -> list[Held]:
        """Everything that batches hold of these lines, batch by batch. One query."""
        rows = self.filter(batch_items__isnull=False)
        rows = rows.order_by("batch_items__batch_id", "batch_items__size__position")
        size = ("batch_items__size", "batch_items__size__name")
        columns = (
            "pk",
            "batch_items__batch__number",
            *size,
            "batch_items__quantity",
            "batch_items__batch__state",
        )
        return [Held(*row) for row in rows.values_list(*columns) if row[-1] != "cancelled"]


class LineQuantityQuerySet(models.QuerySet):
    """Quantities of one size on an order line."""

    def with_batched(self) -> LineQuantityQuerySet:
        """Annotates `batched` (held by batches that are not cancelled) and `left` (quantity − batched)."""
        from planner.orders.models import OrderLine

        same = OrderLine.objects.filter(pk=OuterRef("line"))
        of_size = Q(batch_items__size=OuterRef("size")) & _LIVE
        return self.annotate(batched=_summed(same, "batch_items__quantity", of_size)).annotate(
            left=F("quantity") - F("batched")
        )

    def of_order(self, number: str) -> LineQuantityQuerySet:
        """All of one order, with everything a reckoning needs to know of its lines. Two queries."""
        from planner.styles.models import Option

        options = Option.objects.select_related("detail")
        return (
            self.filter(line__order__number=number)
            .select_related("line__style", "line__colourway", "size")
            .prefetch_related(Prefetch("line__options", queryset=options))
            .order_by("line__position", "line", "size__position")
        )

    def still_to_batch(self) -> LineQuantityQuerySet:
        """What open orders want and no batch holds yet, with `batched` and `left` (> 0), by due day."""
        return (
            self.with_batched()
            .filter(line__order__state="open", left__gt=0)
            .order_by("line__order__due_on", "line__order", "line__position", "line", "size__position")
        )
