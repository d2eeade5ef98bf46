"""Questions asked of batches and bundles, in the shop's words."""

from __future__ import annotations

from datetime import date

from django.db import models
from django.db.models import Count, Exists, F, OuterRef, Subquery, Sum
from django.db.models.functions import Coalesce

from planner.cutting.querysets.lays import LayQuerySet
from planner.cutting.querysets.standing import LAID, is_moving

#: States of batches neither done nor cancelled. Named one by one, so that an index leads to these few: what is
#: over grows from year to year.
ON_THE_GO = ("gathering", "planned", "cutting", "sewing")


class BatchQuerySet(models.QuerySet):
    """Batches."""

    def on_the_go(self) -> BatchQuerySet:
        """Neither done nor cancelled."""
        return self.filter(state__in=ON_THE_GO)

    def planned_not_cut(self) -> BatchQuerySet:
        """Planned or partly cut: what they need still lies in the stock or has to be bought."""
        return self.filter(state__in=["planned", "cutting"])

    def in_work(self) -> BatchQuerySet:
        """Planned, being cut or being sewn: what they still need is spoken for."""
        return self.filter(state__in=["planned", "cutting", "sewing"])

    def late(self, today: date) -> BatchQuerySet:
        """On the go although their day has passed."""
        return self.on_the_go().filter(due_on__lt=today)

    def with_counts(self) -> BatchQuerySet:
        """Annotates garments, lays_total and lays_cut; of those not cut lays_waiting, for cloth, and lays_not_laid; and
        `is_moving` as :meth:`LayQuerySet.with_standing` does.
        """
        from planner.cutting.models import BatchItem, Lay

        garments = (
            BatchItem.objects.filter(batch=OuterRef("pk"))
            .order_by()
            .values("batch")
            .annotate(total=Sum(F("quantity") + F("extra")))
            .values("total")
        )
        lays = Lay.objects.filter(batch=OuterRef("pk")).order_by().values("batch")

        def count(rows: LayQuerySet) -> Coalesce:
            return Coalesce(Subquery(rows.annotate(n=Count("pk")).values("n")), 0)

        uncut = lays.filter(cut_at=None)
        return self.annotate(
            garments=Coalesce(Subquery(garments), 0),
            lays_total=count(lays),
            lays_cut=count(lays.filter(cut_at__isnull=False)),
            lays_waiting=count(uncut.filter(LAID).waiting()),
            lays_not_laid=count(uncut.exclude(LAID)),
            is_moving=is_moving("pk", "state"),
        )


class BundleQuerySet(models.QuerySet):
    """Bundles."""

    def with_cut(self) -> BundleQuerySet:
        """Annotates `is_cut`: every lay that the pieces come from has been cut."""
        from planner.cutting.models import Lay

        uncut = Lay.objects.filter(bundles=OuterRef("pk"), cut_at__isnull=True)
        any_lay = Lay.objects.filter(bundles=OuterRef("pk"))
        return self.annotate(is_cut=Exists(any_lay) & ~Exists(uncut))

    def in_full(self) -> BundleQuerySet:
        """In their order, with garment and lays. Four queries."""
        rows = self.select_related("style", "colourway", "size", "lay").order_by("pk")
        return rows.prefetch_related("options__detail", "lays")

    def of_batches_on_the_go(self) -> BundleQuerySet:
        """Of batches neither done nor cancelled, in batch order."""
        return self.filter(batch__state__in=ON_THE_GO).order_by("batch__due_on", "batch_id", "pk")
