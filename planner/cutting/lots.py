"""The shade lot of bundles that exist already: from the rolls of their plies, or from what was told at the table."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping

from django.db.models import Sum

from planner.core.lays.kinds import main_cloth
from planner.core.spec import Garment
from planner.cutting.bundling import TO_BUY, lots_of
from planner.cutting.demand import batch_demand
from planner.cutting.models import Bundle, Lay, LayCloth, LayFact
from planner.cutting.roll_rows import key_of
from planner.cutting.stored import garment_of, shop_of

#: Garments by shade lot, as far as it is known.
Lots = Counter[str]


def give_lots(lay: Lay) -> None:
    """Gives the bundles cut from a lay the shade lots that are known of its plies, or takes them away again.

    Known is the lot of the roll that plies are planned from. Where that is still to be bought, or its lot was not
    noted, it is that of the rolls they were told to be cut from. A bundle has a lot only where all its garments can be
    of it; it keeps the one it has as long as that holds.
    """
    bundled = _bundles_by_garment(lay)
    if not bundled:
        return
    known = _lots_by_garment(lay, bundled.keys())
    for garment, rows in bundled.items():
        left = Lots(known.get(garment, {}))
        for row in rows:
            if row.shade_lot and left[row.shade_lot] >= row.quantity:
                left[row.shade_lot] -= row.quantity
            else:
                row.shade_lot = ""
        for row in rows:
            lot = next((lot for lot, count in left.items() if count >= row.quantity), "")
            if not row.shade_lot and lot:
                left[lot] -= row.quantity
                row.shade_lot = lot
    Bundle.objects.bulk_update([row for rows in bundled.values() for row in rows], ["shade_lot"])


def give_lots_told(lay: Lay) -> None:
    """The same once something was told of a lay or taken back, where lots of its plies are still to be known."""
    if any(lot in ("", TO_BUY) for lot in lots_of(lay.batch, [lay]).get(lay.number, ())):
        give_lots(lay)


def _bundles_by_garment(lay: Lay) -> Mapping[Garment, list[Bundle]]:
    rows = lay.main_bundles.order_by("pk").select_related("style", "colourway", "size")
    found: dict[Garment, list[Bundle]] = defaultdict(list)
    for row in rows.prefetch_related("options__detail"):
        found[garment_of(row)].append(row)
    return found


def _lots_by_garment(lay: Lay, garments: Collection[Garment]) -> Mapping[Garment, Lots]:
    """How many of each of these garments the lay cuts from which shade lot of the garment's main cloth."""
    shop = shop_of(lay.batch, batch_demand(lay.batch))
    mains = {garment: main_cloth(garment, shop) for garment in garments}
    cloths = LayCloth.objects.filter(lay=lay, spreads__gt=0).select_related("fabric_colour__fabric")
    cloths = cloths.order_by("pk").prefetch_related(
        "garments__style", "garments__colourway", "garments__size", "garments__options__detail"
    )
    planned = lots_of(lay.batch, [lay]).get(lay.number, [])
    told = _told_by_cloth(lay)
    found: dict[Garment, Lots] = defaultdict(Lots)
    for cloth, lot in zip(cloths, planned, strict=True):
        spreads = told[cloth.pk] if lot in ("", TO_BUY) else {lot: cloth.spreads}
        for held in cloth.garments.all():
            garment = garment_of(held)
            if mains.get(garment) == key_of(cloth):
                for name, count in spreads.items():
                    found[garment][name] += count * held.per_marker
    return found


def _told_by_cloth(lay: Lay) -> Mapping[int, Lots]:
    """Spreads told to be cut from rolls whose shade lot is noted, by plies (LayCloth pk) and lot."""
    facts = LayFact.objects.filter(lay_cloth__lay=lay, taken_back_at=None, spreads__gt=0)
    rows = facts.exclude(roll=None).exclude(roll__shade_lot="").order_by("lay_cloth", "roll__shade_lot")
    found: dict[int, Lots] = defaultdict(Lots)
    for cloth, lot, count in rows.values_list("lay_cloth", "roll__shade_lot").annotate(n=Sum("spreads")):
        found[cloth][lot] = count
    return found
