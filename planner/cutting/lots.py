"""The shade lot of bundles that exist already: what was told of their plies at the table, else that of their rolls."""

from __future__ import annotations

from planner.core.bundle_lots import shade_lot_of
from planner.core.lays.kinds import main_cloth
from planner.core.spec import Workshop
from planner.cutting.demand import batch_demand
from planner.cutting.mixed_lots import apart_in
from planner.cutting.models import Bundle, Lay
from planner.cutting.spread_rows import runs_in
from planner.cutting.stored import garment_of, planned_bundles, shop_of


def give_lots(lay: Lay, shop: Workshop | None = None) -> None:
    """Gives the bundles cut from a lay the shade lot of their plies of the garment's main cloth.

    What was told at the table stands before the plan, ply by ply. A bundle has a lot only where all its own plies are
    of it; where they are of several, or one is not known, it has none. `shop` is the batch's, where known already.
    """
    bundled = list(lay.main_bundles.in_full())
    if not bundled:
        return
    runs = runs_in(Lay.objects.filter(pk=lay.pk), planned_bundles(bundled)).get(lay.number, ())
    for row in bundled:
        cloths = list(dict.fromkeys(run.cloth for run in runs if row.number in run.bundles))
        if len(cloths) > 1:
            # Its lay is that of its main cloth, so this is asked only where another colour lies in the same lay.
            shop = shop or shop_of(lay.batch, batch_demand(lay.batch))
            cloths = [main_cloth(garment_of(row), shop)]
        row.shade_lot = shade_lot_of(row.number, runs, cloths[0]) if cloths else ""
    Bundle.objects.bulk_update(bundled, ["shade_lot"])


def bundles_apart(lay: Lay) -> tuple[tuple[str, str], ...]:
    """The bundles with plies of this lay that are of several shade lots: number, and which plies are of which in words.

    Twelve queries.
    """
    return apart_in(lay.number, runs_in(lay.batch.lays.all(), planned_bundles(lay.batch.bundles.in_full())))
