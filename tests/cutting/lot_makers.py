"""Plies that are all to be bought in a batch being cut, and cloth that comes in for them."""

from __future__ import annotations

from decimal import Decimal

from planner.cutting.actions import arrived
from planner.cutting.models import Batch, CutPlan, LayRoll
from planner.cutting.portions import spread_m
from planner.cutting.roll_rows import Taken, write_taken
from tests.cutting.once import once, plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.sewing.makers import nest_all


@once
def two_plies_to_buy() -> Batch:
    """Two plies of jersey, both to be bought, in a batch that counts as being cut."""
    batch = plies_batch(2)
    nest_all(batch)
    CutPlan.objects.filter(batch=batch).update(state=CutPlan.State.SETTLED)
    cloth = only_cloth(jersey_lay(batch))
    LayRoll.objects.filter(lay_cloth=cloth).delete()
    write_taken([cloth], [Taken(None, 2)])
    Batch.objects.filter(pk=batch.pk).update(state=Batch.State.CUTTING)
    return Batch.objects.get(pk=batch.pk)


def come_in(batch: Batch, number: str, share: float, lot: str) -> None:
    """A roll of the jersey, of so many spreads' length."""
    lay = jersey_lay(batch)
    roll_of(only_cloth(lay), number, str(round(spread_m(lay) * Decimal(str(share)), 2)), shade_lot=lot)
    arrived.cloth_came_in(batch.pk)
