"""Questions asked of batches, lays and bundles, in the shop's words."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import models
from django.db.models import Case, Count, Exists, F, OuterRef, Prefetch, Q, Subquery, Sum, Value, When
from django.db.models.functions import Cast, Coalesce, Greatest, NullIf

#: A marker whose worker has not been heard of for so long was cut off.
SILENT_AFTER = timedelta(seconds=30)

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
            lays_waiting=count(uncut.filter(_LAID).waiting()),
            lays_not_laid=count(uncut.exclude(_LAID)),
            is_moving=_is_moving("pk", "state"),
        )


#: Lays with a marker that :attr:`Marker.is_laid` is true of.
_LAID = Q(marker__length_mm__isnull=False) & (
    Q(marker__state__in=["ready", "stopped"])
    | (Q(marker__state__in=["waiting", "nesting"]) & Q(marker__seed__gt=0))
)


def _is_moving(batch: str, state: str) -> Case:
    """Whether the lays of a batch may still become others: a cut plan of it does not stand, and nothing is cut yet."""
    from planner.cutting.models import CutPlan

    is_open = CutPlan.objects.filter(batch=OuterRef(batch)).exclude(state=CutPlan.State.SETTLED)
    return Case(
        When(Q(**{state: "planned"}) & Exists(is_open), then=Value(True)),
        default=Value(False),
        output_field=models.BooleanField(),
    )


def _on_the_table(*, uncut: bool = False) -> Subquery:
    """Cloth that all lays of a need's batch and colour take on the table, or what of them is not cut yet (mm).

    A lay that was cut in part counts with what was really spread: its rest is in lays of their own.

    The colour is asked for inside the sum: the search then begins with the few lays of the batch, not with
    every lay that was ever cut from the colour.
    """
    from planner.cutting.models import Lay

    lays = Lay.objects.filter(batch=OuterRef("batch"))
    if uncut:
        lays = lays.filter(cut_at__isnull=True)
    layers = Case(When(mode=Lay.Mode.FACE_TO_FACE, then=Value(2.0)), default=Value(1.0))
    length = Coalesce(F("marker__length_mm"), F("estimated_length_mm")) + 2.0 * F("end_allowance_mm")
    told = Coalesce(F("cloths__cut_spreads"), Value(0))
    if uncut:
        spreads = Greatest(F("cloths__spreads") - told, Value(0))
    else:
        ended = Q(cut_at__isnull=False, cloths__cut_spreads__isnull=False)
        spreads = Case(When(ended, then=told), default=F("cloths__spreads"))
    spread = Cast(spreads, models.FloatField()) * layers * length
    of_colour = Q(cloths__fabric_colour=OuterRef("fabric_colour"))
    in_all = lays.order_by().values("batch").annotate(mm=Sum(spread, filter=of_colour)).values("mm")
    return Subquery(in_all, output_field=models.FloatField())


class BatchNeedQuerySet(models.QuerySet):
    """What batches need."""

    def with_rest(self) -> BatchNeedQuerySet:
        """Annotates `rest`: what must still leave the stock for it, as a float.

        Of a cloth, its need in the share of the plies that are not cut yet, so that more or less used at one lay
        changes nothing for the next. Of a notion, what is not taken yet.
        """
        zero = Value(0.0, output_field=models.FloatField())
        need, taken = (Cast(F(name), models.FloatField()) for name in ("need", "taken"))
        share = Coalesce(_on_the_table(uncut=True) / NullIf(_on_the_table(), zero), zero)
        is_cloth = Q(fabric_colour__isnull=False)
        return self.annotate(
            rest=Case(
                When(is_cloth, then=need * share),
                default=Greatest(need - taken, zero),
                output_field=models.FloatField(),
            )
        )

    def with_flaws_told(self) -> BatchNeedQuerySet:
        """Annotates `any_flaws`: plies of some lay still to be cut, whosever it is, come from a roll with a flaw."""
        from planner.cutting.models import LayRoll

        return self.annotate(any_flaws=Exists(LayRoll.objects.from_flawed().order_by()))

    def with_uncut_mm(self) -> BatchNeedQuerySet:
        """Annotates `uncut_mm`: what its plies that are not cut yet take on the table (mm), None where there are none.

        No allowance for flaws is in it, as there is none in what rolls are promised for.
        """
        return self.annotate(uncut_mm=_on_the_table(uncut=True))

    def with_settled(self) -> BatchNeedQuerySet:
        """Annotates `is_settled`: the cut plan of its cloth stands, whatever lengths come of it; and `has_rolls`: those
        of all cloths of its batch do, so that its plies have been given rolls."""
        from planner.cutting.models import CutPlan

        moving = CutPlan.objects.filter(batch=OuterRef("batch")).exclude(state=CutPlan.State.SETTLED)
        own = moving.filter(fabric=OuterRef("fabric_colour__fabric"))
        return self.annotate(is_settled=~Exists(own), has_rolls=~Exists(moving))

    def of_batches_in_work(self) -> BatchNeedQuerySet:
        """Of batches that are planned, being cut or being sewn."""
        from planner.cutting.models import Batch

        return self.filter(batch__in=Batch.objects.in_work().order_by())


def _first_due(lay: str) -> Subquery:
    """The first day that anything cut from a lay is due. A bundle for several orders is due with the batch."""
    from planner.cutting.models import Bundle

    days = Bundle.objects.filter(lays=OuterRef(lay)).annotate(
        day=Coalesce("line__order__due_on", "batch__due_on")
    )
    return Subquery(days.order_by(F("day").asc(nulls_last=True)).values("day")[:1])


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
        from planner.cutting.models import LayRoll

        return self.filter(Exists(LayRoll.objects.filter(lay_cloth__lay=OuterRef("pk"), roll__isnull=True)))

    def with_turn(self) -> LayQuerySet:
        """Annotates what says when a lay's turn is: `first_due`, the first day that anything cut from it is due;
        `some_cut`; `waits`, for cloth that is still to be bought.

        A bundle for several orders is due with the batch, as its ticket says.
        """
        from planner.cutting.models import LayCloth, LayRoll

        some = LayCloth.objects.filter(lay=OuterRef("pk"), cut_spreads__gt=0)
        to_buy = LayRoll.objects.filter(lay_cloth__lay=OuterRef("pk"), roll__isnull=True)
        return self.annotate(first_due=_first_due("pk"), some_cut=Exists(some), waits=Exists(to_buy))

    def with_standing(self) -> LayQuerySet:
        """Annotates `is_moving`: it may still become another lay, for a cut plan of its batch does not stand and
        nothing is cut yet; `no_papers`: they cannot be printed, be it that another lay of the batch is not nested; and
        `has_old_pieces`: a style of its batch has pieces otherwise by now.
        """
        from planner.cutting.models import CutPlan, Lay, StyleSnapshot

        is_open = CutPlan.objects.filter(batch=OuterRef("batch")).exclude(state=CutPlan.State.SETTLED)
        not_laid = Lay.objects.filter(batch=OuterRef("batch")).exclude(_LAID)
        changed = StyleSnapshot.objects.filter(batches=OuterRef("batch")).exclude(changed=[])
        return self.annotate(
            is_moving=_is_moving("batch", "batch__state"),
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
        """As for a page, with the options of the garments, in two queries more."""
        return self.for_page().prefetch_related("cloths__garments__options__detail")

    def with_everything(self) -> LayQuerySet:
        """Marker with its job, cloths and garments with their options, in five queries. A marker that several lays have
        is read once, for it holds many outlines."""
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
            "marker", Prefetch("cloths", queryset=cloths)
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


class MarkerQuerySet(models.QuerySet):
    """Markers and their nesting."""

    def unfinished(self) -> MarkerQuerySet:
        """Waiting for the worker or being nested."""
        return self.filter(state__in=["waiting", "nesting"])

    def cut_off(self, now: datetime) -> MarkerQuerySet:
        """Being nested, but nothing has been heard of the worker for a while."""
        return self.filter(state="nesting", heartbeat_at__lt=now - SILENT_AFTER)

    def ahead(self) -> MarkerQuerySet:
        """Nested before anybody planned a lay of them."""
        return self.filter(is_ahead=True)

    def answering(self, key: str) -> MarkerQuerySet:
        """Finished answers to the same question, shortest first, of equal ones that which was polished."""
        final = self.filter(key=key, state__in=["ready", "stopped"], length_mm__isnull=False)
        return final.order_by("length_mm", "-seed")

    def of_other_sizes(self, family: str, key: str) -> MarkerQuerySet:
        """Finished markers of a family that ask other questions, those that use the cloth best first."""
        alike = self.filter(family=family, state__in=["ready", "stopped"], length_mm__isnull=False)
        return alike.exclude(family="").exclude(key=key).order_by("-efficiency", "pk")


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
