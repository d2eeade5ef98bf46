"""What happened at the cutting table, recorded beside the plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import F

from planner.cutting.models import Batch, BatchNeed, Lay
from planner.materials.models import StockMove


@dataclass(frozen=True)
class LayCut:
    """A lay that has been cut. `was_cut` where somebody had recorded it before: then nothing was done again."""

    lay: Lay
    used_m: Decimal
    was_cut: bool = False


@transaction.atomic
def record_lay_cut(lay: Lay, used_m: Mapping[int, Decimal], person: User | None, now: datetime) -> LayCut:
    """Records a lay as cut, with the metres really used of each of its cloths (LayCloth pk → m).

    The cloth leaves the stock and the batch's open need; the batch is then being cut, or being sewn once all
    its lays are cut. Recording it twice does nothing the second time.
    """
    lay = Lay.objects.select_for_update().select_related("batch").get(pk=lay.pk)
    if lay.cut_at is not None:
        return LayCut(lay, Decimal(0), was_cut=True)
    total = Decimal(0)
    for cloth in lay.cloths.all():
        used = used_m[cloth.pk]
        cloth.used_m = used
        cloth.save(update_fields=["used_m"])
        total += used
        StockMove.objects.create(
            fabric_colour_id=cloth.fabric_colour_id,
            quantity=-used,
            reason=StockMove.Reason.CUT,
            note=f"{lay.batch.number} lay {lay.number}",
            person=person,
            moved_at=now,
        )
        BatchNeed.objects.filter(batch=lay.batch, fabric_colour_id=cloth.fabric_colour_id).update(
            taken=F("taken") + used
        )
    lay.cut_at = now
    lay.cut_by = person
    lay.save(update_fields=["cut_at", "cut_by"])
    _move_batch_on(lay.batch)
    return LayCut(lay, total)


@transaction.atomic
def take_cut_back(lay: Lay, person: User | None, now: datetime) -> bool:
    """Undoes a lay recorded as cut by mistake: its cloth is put back by moves of its own.

    False if it was not cut, or its batch is done: then nothing is changed.
    """
    lay = Lay.objects.select_for_update().select_related("batch").get(pk=lay.pk)
    if lay.cut_at is None or lay.batch.state == Batch.State.DONE:
        return False
    for cloth in lay.cloths.exclude(used_m=None):
        StockMove.objects.create(
            fabric_colour_id=cloth.fabric_colour_id,
            quantity=cloth.used_m,
            reason=StockMove.Reason.COUNTED,
            note=f"{lay.batch.number} lay {lay.number} was not cut",
            person=person,
            moved_at=now,
        )
        BatchNeed.objects.filter(batch=lay.batch, fabric_colour_id=cloth.fabric_colour_id).update(
            taken=F("taken") - cloth.used_m
        )
        cloth.used_m = None
        cloth.save(update_fields=["used_m"])
    lay.cut_at = None
    lay.cut_by = None
    lay.save(update_fields=["cut_at", "cut_by"])
    _move_batch_on(lay.batch)
    return True


@transaction.atomic
def take_notions_out(batch: Batch, person: User | None, now: datetime) -> int:
    """Takes the notions a batch needs out of the stock, once; how many kinds were taken."""
    taken = 0
    Batch.objects.select_for_update().get(pk=batch.pk)
    for need in batch.needs.select_for_update().filter(notion_colour__isnull=False, taken__lt=F("need")):
        rest = need.need - need.taken
        StockMove.objects.create(
            notion_colour_id=need.notion_colour_id,
            quantity=-round(rest, 2),
            reason=StockMove.Reason.USED,
            note=batch.number,
            person=person,
            moved_at=now,
        )
        need.taken = need.need
        need.save(update_fields=["taken"])
        taken += 1
    return taken


def _move_batch_on(batch: Batch) -> None:
    """The state of a batch from how many of its lays are cut."""
    lays = batch.lays.count()
    cut = batch.lays.filter(cut_at__isnull=False).count()
    if cut == 0:
        batch.state = Batch.State.PLANNED
    elif cut < lays:
        batch.state = Batch.State.CUTTING
    else:
        batch.state = Batch.State.SEWING
    batch.save(update_fields=["state"])
