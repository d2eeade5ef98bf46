"""Questions asked of what batches need."""

from __future__ import annotations

from django.db import models
from django.db.models import Case, Exists, F, OuterRef, Q, Subquery, Sum, Value, When
from django.db.models.functions import Cast, Coalesce, Greatest, NullIf

from planner.cutting.querysets.standing import marker_mm


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
    length = marker_mm() + 2.0 * F("end_allowance_mm")
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

    def taken_too_much(self) -> BatchNeedQuerySet:
        """Of notions of which more was taken out of the stock than is needed by now."""
        return self.filter(notion_colour__isnull=False, taken__gt=F("need"))

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
