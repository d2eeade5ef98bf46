"""What a batch has to buy together with earlier ones: bought for it alone, those would be given the cloth."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from planner.core.cloth import buy_cloth
from planner.core.needs import ClothNeed, Needs
from planner.core.rolls import PliesShort
from planner.core.spec import Cloth, ClothKey, Workshop
from planner.core.units import Display
from planner.cutting.short_cloth import short_of_all, short_plies, with_short
from planner.cutting.stored import PlannedBatch
from planner.cutting.there import named
from planner.cutting.wording import cloth_to_buy
from planner.materials.promised import StillPromised

#: Shorter is the same length (m).
SAME_M = 0.005


def bought_together(
    read: PlannedBatch, display: Display, promised: StillPromised | None = None
) -> dict[ClothKey, str]:
    """Of each cloth that is short for a batch and that earlier ones want too, what they and it are to buy, in words:
    "with B-0003: 14.0 m in all". Only where that is more than its own, or where the earlier ones buy some too: one roll
    may do for both. One query, none where there is no such cloth, where the metres of the batch are not known yet, or
    where what is `promised` was read already, as with its claims.
    """
    shelves = read.claims.shelves
    wanted = [
        need
        for need in read.needs.cloths
        if need.to_buy_m > 0 and need.cloth in shelves and shelves[need.cloth].by
    ]
    if not wanted or not read.is_nested:
        return {}
    promised = promised or read.claims.promised
    earlier, own = short_of_all(promised, before=read.batch), short_plies(read.lays)
    found = {}
    for need in wanted:
        key, cloth, shelf = need.cloth, read.shop.cloths[need.cloth], shelves[need.cloth]
        theirs, rest = read.claims.others_of(key).rest, read.claims.own_of(key).rest
        plies = earlier.get(key, ())
        before = _bought(need, cloth, theirs - shelf.on_hand, plies, display)
        total = _bought(need, cloth, theirs + rest - shelf.on_hand, (*plies, *own.get(key, ())), display)
        if before.to_buy_m > 0 or total.to_buy_m > need.to_buy_m + SAME_M:
            found[key] = f"with {named(shelf.bought_for)}: {cloth_to_buy(total, cloth, display)} in all"
    return found


def _bought(
    need: ClothNeed, cloth: Cloth, metres: Decimal, plies: tuple[PliesShort, ...], display: Display
) -> ClothNeed:
    """The need with what is bought for so many metres, and at least for these plies, whole."""
    buy = buy_cloth(float(metres), cloth)
    lacking = replace(need, to_buy_m=buy.length_m, to_buy_packs=buy.sold)
    short = {need.cloth: plies} if plies else {}
    return with_short(
        Needs((lacking,), (), (), ()), Workshop({}, {need.cloth: cloth}, {}), short, display
    ).cloths[0]
