"""Questions asked of lays and of the rolls of their plies."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import Case, Exists, F, OuterRef, Prefetch, Q, Subquery, Sum, Value, When
from django.db.models.functions import Coalesce

from planner.cutting.querysets.standing import LAID, is_moving
from planner.styles.models import Option


def _first_due(lay: str) -> Subquery:
    """The first day that anything cut from a lay is due. A bundle for several orders is due with the batch."""
    from planner.cutting.models import Bundle

    days = Bundle.objects.filter(lays=OuterRef(lay)).annotate(
        day=Coalesce("line__order__due_on", "batch__due_on")
    )
    return Subquery(days.order_by(F("day").asc(nulls_last=True)).values("day")[:1])


def _to_buy_for(lay: str) -> LayRollQuerySet:
    """What is to be bought for plies of a lay that are still to be cut."""
    from planner.cutting.models import LayRoll

    return LayRoll.objects.to_buy().filter(lay_cloth__lay=OuterRef(lay))


class LayQuerySet(models.QuerySet):
    """Lays."""

    def to_cut(self) -> LayQuerySet:
        """Of batches on the go and not cut yet."""
        return self.filter(cut_at__isnull=True, batch__state__in=["planned", "cutting"])

    def begun(self) -> LayQuerySet:
        """Cut, or of which some plies are."""
        from planner.cutting.models import LayCloth

        some = LayCloth.objects.filter(lay=OuterRef("pk"), cut_spreads__gt=0)
        return self.filter(Q(cut_at__isnull=False) | Exists(some))

    def waiting(self) -> LayQuerySet:
        """With plies whose cloth is still to be bought."""
        return self.filter(Exists(_to_buy_for("pk")))

    def with_turn(self) -> LayQuerySet:
        """Annotates what says when a lay's turn is: `first_due`, the first day that anything cut from it is due;
        `some_cut`; `waits`, for cloth that is still to be bought.

        A bundle for several orders is due with the batch, as its ticket says.
        """
        from planner.cutting.models import LayCloth

        some = LayCloth.objects.filter(lay=OuterRef("pk"), cut_spreads__gt=0)
        waits = Exists(_to_buy_for("pk"))
        return self.annotate(first_due=_first_due("pk"), some_cut=Exists(some), waits=waits)

    def with_standing(self) -> LayQuerySet:
        """Annotates `is_moving`: it may still become another lay, for a cut plan of its batch does not stand and
        nothing is cut yet; `no_papers`: they cannot be printed, be it that another lay of the batch is not nested; and
        `has_old_pieces`: a style of its batch has pieces otherwise by now.
        """
        from planner.cutting.models import CutPlan, Lay, StyleSnapshot

        is_open = CutPlan.objects.filter(batch=OuterRef("batch")).exclude(state=CutPlan.State.SETTLED)
        not_laid = Lay.objects.filter(batch=OuterRef("batch")).exclude(LAID)
        changed = StyleSnapshot.objects.filter(batches=OuterRef("batch")).exclude(changed=[])
        return self.annotate(
            is_moving=is_moving("batch", "batch__state"),
            no_papers=Exists(is_open) | Exists(not_laid),
            has_old_pieces=Exists(changed),
        )

    def with_flaws_told(self) -> LayQuerySet:
        """Annotates `has_flaws`: there is a flaw in what is left of a roll it is planned from."""
        from planner.cutting.models import LayRoll

        rolls = LayRoll.objects.filter(lay_cloth__lay=OuterRef("pk"), roll__flaws__to_m__gt=0)
        return self.annotate(has_flaws=Exists(rolls))

    def without_drawing(self) -> LayQuerySet:
        """With the marker's length and state, but neither its job nor its places. One query."""
        return self.select_related("marker").defer("marker__job", "marker__placements")

    def for_sums(self) -> LayQuerySet:
        """With the marker's length and state, and its plies with their cloths. Two queries."""
        from planner.cutting.models import LayCloth

        cloths = LayCloth.objects.select_related("fabric_colour__fabric")
        return self.without_drawing().prefetch_related(Prefetch("cloths", queryset=cloths))

    def for_page(self) -> LayQuerySet:
        """Marker, cloths and garments without their options, in three queries; the nesting job is left out. Cloths
        know what was lost at flaws (`lost_m`)."""
        from planner.cutting.models import LayCloth, LayGarment

        garments = LayGarment.objects.select_related("style", "colourway", "size")
        cloths = LayCloth.objects.select_related("fabric_colour__fabric").prefetch_related(
            Prefetch("garments", queryset=garments)
        )
        cloths = cloths.annotate(lost_m=lost_at_flaws("pk"))
        whole = self.select_related("marker", "batch", "cut_by").defer("marker__job")
        return whole.prefetch_related(Prefetch("cloths", queryset=cloths))

    def with_rolls(self) -> LayQuerySet:
        """As for a page, with the rolls of the plies, in one query more."""
        from planner.cutting.models import LayRoll

        rolls = LayRoll.objects.with_flaws_told().select_related("roll")
        return self.for_page().prefetch_related(Prefetch("cloths__rolls", queryset=rolls))

    def with_options(self) -> LayQuerySet:
        """As for a page, with the options of the garments, in one query more."""
        return self.for_page().naming_options()

    def naming_options(self) -> LayQuerySet:
        """The options of the garments too, each with its detail, for what is read as for a page."""
        options = Option.objects.select_related("detail")
        return self.prefetch_related(Prefetch("cloths__garments__options", queryset=options))

    def with_everything(self, markers: models.QuerySet | None = None) -> LayQuerySet:
        """Marker with its job, cloths and garments with their options, in five queries. A marker that several lays have
        is read once, for it holds many outlines; as these `markers` say, where they are given."""
        from planner.cutting.models import LayCloth, LayGarment
        from planner.styles.models import Option

        options = Option.objects.select_related("detail")
        garments = LayGarment.objects.select_related("style", "colourway", "size").prefetch_related(
            Prefetch("options", queryset=options)
        )
        cloths = LayCloth.objects.select_related("fabric_colour__fabric").prefetch_related(
            Prefetch("garments", queryset=garments)
        )
        return self.select_related("batch", "cut_by").prefetch_related(
            "marker" if markers is None else Prefetch("marker", queryset=markers),
            Prefetch("cloths", queryset=cloths),
        )


def lost_at_flaws(cloth: str) -> Coalesce:
    """What was lost at flaws of the rolls (m) of the plies that are found under this name, by the facts that hold."""
    from planner.cutting.models import LayFact

    facts = LayFact.objects.filter(lay_cloth=OuterRef(cloth), taken_back_at=None).order_by()
    metres = models.DecimalField(max_digits=8, decimal_places=2)
    in_all = facts.values("lay_cloth").annotate(m=Sum("lost_m")).values("m")
    return Coalesce(Subquery(in_all, output_field=metres), Value(Decimal(0)), output_field=metres)


class LayRollQuerySet(models.QuerySet):
    """Rolls that plies are planned from."""

    def to_buy(self) -> LayRollQuerySet:
        """Cloth still to be bought, but for plies that are all cut: they came from cloth that was there after all."""
        left = Q(lay_cloth__cut_spreads=None) | Q(lay_cloth__cut_spreads__lt=F("lay_cloth__spreads"))
        return self.filter(left, roll=None)

    def with_flaws_told(self) -> LayRollQuerySet:
        """Annotates `has_flaws`: there is a flaw in what is left of the roll, or was in what is cut off it."""
        from planner.materials.models import RollFlaw

        return self.annotate(has_flaws=Exists(RollFlaw.objects.filter(roll=OuterRef("roll"))))

    def first_due_at_flaws(self) -> Case:
        """When the first of what is cut from the lay is due, as `with_turn` notes it, where there is a flaw in what is
        left of the roll; else None, for nobody asks then."""
        from planner.materials.models import RollFlaw

        flaws = RollFlaw.objects.filter(roll=OuterRef("roll"), to_m__gt=0)
        return Case(When(Exists(flaws), then=_first_due("lay_cloth__lay")), default=None)

    def from_flawed(self) -> LayRollQuerySet:
        """Of lays still to be cut, and there is a flaw in what is left of the roll."""
        of_lay = Q(lay_cloth__lay__cut_at=None, lay_cloth__lay__batch__state__in=["planned", "cutting"])
        return self.filter(of_lay, roll__flaws__to_m__gt=0)
