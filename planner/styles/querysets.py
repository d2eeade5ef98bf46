"""Questions asked of styles, in the shop's words."""

from __future__ import annotations

from django.db import models
from django.db.models import Count, Prefetch, Q


class StyleQuerySet(models.QuerySet):
    """Styles."""

    def sold(self) -> StyleQuerySet:
        """Those that may be ordered."""
        return self.filter(retired=False)

    def matching(self, words: str) -> StyleQuerySet:
        """Those whose number or name holds every one of the words."""
        found = self
        for word in words.split()[:6]:
            found = found.filter(Q(number__icontains=word) | Q(name__icontains=word))
        return found

    def for_list(self) -> StyleQuerySet:
        """Each with its sizes and `option_count`, in two queries however many styles."""
        return (
            self.select_related("size_range", "base_size")
            .prefetch_related("size_range__sizes")
            .annotate(option_count=Count("details__options"))
            .order_by("number")
        )

    def with_everything(self) -> StyleQuerySet:
        """Each with all that its page shows, outlines included, in a fixed number of queries.

        Details are not among it: :func:`planner.styles.loading.details_of` reads them with their options.
        """
        from planner.styles import models as m

        with_option = ("option__detail",)
        seams = m.Seam.objects.select_related("operation", *with_option).prefetch_related(
            Prefetch("edges", queryset=m.SeamEdge.objects.select_related("piece"))
        )
        cloths = m.ColourwayCloth.objects.select_related("role", "fabric_colour__fabric")
        colourways = m.Colourway.objects.select_related("thread__notion").prefetch_related(
            Prefetch("cloths", queryset=cloths.order_by("role__position", "role__pk"))
        )
        notions = m.StyleNotion.objects.select_related("notion_colour__notion", "seam", *with_option)
        return self.select_related("size_range", "base_size").prefetch_related(
            "size_range__sizes",
            "roles",
            Prefetch("pieces", queryset=m.Piece.objects.select_related("role", *with_option)),
            "pieces__outlines",
            Prefetch("operations", queryset=m.Operation.objects.select_related(*with_option)),
            Prefetch("seams", queryset=seams),
            Prefetch("notions", queryset=notions.order_by("pk")),
            Prefetch("colourways", queryset=colourways),
        )
