"""Notions that leave the stock for a batch, and come back where it is not made after all, or with fewer garments."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import F

from planner.cutting.models import Batch, BatchNeed
from planner.materials.cones import keep_in_step
from planner.materials.models import StockMove


@transaction.atomic
def take_notions_out(batch: Batch, person: User | None, now: datetime) -> int:
    """Takes the notions a batch needs out of the stock, once; how many kinds were taken."""
    taken: list[int | None] = []
    Batch.objects.select_for_update().get(pk=batch.pk)
    for need in batch.needs.select_for_update().filter(notion_colour__isnull=False, taken__lt=F("need")):
        if rest := _booked(need.need) - _booked(need.taken):
            StockMove.objects.create(
                notion_colour_id=need.notion_colour_id,
                quantity=-rest,
                reason=StockMove.Reason.USED,
                note=batch.number,
                person=person,
                moved_at=now,
            )
        need.taken = need.need
        need.save(update_fields=["taken"])
        taken.append(need.notion_colour_id)
    keep_in_step(taken)
    return len(taken)


@transaction.atomic
def put_notions_back(batch: Batch, person: User | None, now: datetime) -> int:
    """Puts what was taken out for a batch back into the stock, before its needs are dropped; how many kinds."""
    taken = list(batch.needs.filter(notion_colour__isnull=False, taken__gt=0))
    StockMove.objects.bulk_create(
        StockMove(
            notion_colour_id=need.notion_colour_id,
            quantity=_booked(need.taken),
            reason=StockMove.Reason.COUNTED,
            note=f"the plan of {batch.number} was dropped",
            person=person,
            moved_at=now,
        )
        for need in taken
    )
    keep_in_step([need.notion_colour_id for need in taken])
    return len(taken)


@transaction.atomic
def put_surplus_back(batch: Batch, person: User | None, now: datetime, *, why: str) -> int:
    """Puts back into the stock what was taken out for a batch beyond its needs as they stand; how many kinds. `why` is
    what the stock says of it."""
    back: list[int | None] = []
    Batch.objects.select_for_update().get(pk=batch.pk)
    for need in batch.needs.select_for_update().taken_too_much():
        if more := surplus_of(need):
            StockMove.objects.create(
                notion_colour_id=need.notion_colour_id,
                quantity=more,
                reason=StockMove.Reason.COUNTED,
                note=why,
                person=person,
                moved_at=now,
            )
            back.append(need.notion_colour_id)
        need.taken = need.need
        need.save(update_fields=["taken"]) if need.need else need.delete()
    keep_in_step(back)
    return len(back)


def surplus_of(need: BatchNeed) -> Decimal:
    """What was taken out of the stock for a notion beyond what is needed of it by now, as it stands in the books."""
    return max(_booked(need.taken) - _booked(need.need), Decimal(0))


def _booked(taken: Decimal) -> Decimal:
    """What of so much stands in the books, which are kept to the hundredth: of several parts taken one after the other
    just as much is put back as left the stock for all of them."""
    return round(taken, 2)
