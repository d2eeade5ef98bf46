"""Questions asked of styles, in the shop's words."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Aggregate, OuterRef, Q, Subquery


class Joined(Aggregate):
    """Texts of a group with commas between them. Not for texts that hold commas."""

    function = "GROUP_CONCAT"
    output_field = models.TextField()

    def as_postgresql(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        """The same in PostgreSQL's words."""
        return self.as_sql(
            compiler,
            connection,
            template="STRING_AGG(%(expressions)s::text, ',')",
            function="STRING_AGG",
            **extra,
        )


class StyleQuerySet(models.QuerySet):
    """Styles."""

    _wants_parts = False
    _has_parts = False

    def sold(self) -> StyleQuerySet:
        """Those that may be ordered."""
        return self.filter(retired=False)

    def can_be_built_on(self) -> StyleQuerySet:
        """Those that another style may be built on: a base is not itself built on one."""
        in_use = Q(retired=False) | Q(built_on_it__isnull=False)
        return self.filter(in_use, base=None).distinct().order_by("number")

    def matching(self, words: str) -> StyleQuerySet:
        """Those whose number or name holds every one of the words."""
        found = self
        for word in words.split()[:6]:
            found = found.filter(Q(number__icontains=word) | Q(name__icontains=word))
        return found

    def for_list(self) -> StyleQuerySet:
        """Each with its sizes and its base, in two queries however many styles."""
        rows = self.select_related("size_range", "base_size", "base")
        return rows.prefetch_related("size_range__sizes").order_by("number")

    def with_everything(self) -> StyleQuerySet:
        """Each with all that its page shows, outlines included, in a fixed number of queries.

        The parts of a style built on a base are those of the base and its own, as
        :func:`planner.styles.loading.read_parts` puts them together. Annotates `shared_by`: numbers of the styles
        built on it, with commas between, or None.
        """
        built = self.model._default_manager.filter(base=OuterRef("pk")).order_by().values("base")
        shared_by = Subquery(built.annotate(numbers=Joined("number")).values("numbers"))
        rows = self.annotate(shared_by=shared_by)
        rows = rows.select_related("size_range", "base_size", "base").prefetch_related("size_range__sizes")
        rows._wants_parts = True
        return rows

    def _clone(self) -> StyleQuerySet:
        copy = super()._clone()
        copy._wants_parts = self._wants_parts
        return copy

    def _fetch_all(self) -> None:
        super()._fetch_all()
        if self._wants_parts and not self._has_parts:
            from planner.styles.loading import read_parts

            self._has_parts = True
            read_parts(self._result_cache)
