"""The stock of one thing as a batch meets it: what lies there, less what batches planned before it have spoken for.

Where the stock does not suffice even for those, whole packs are bought for them, and what they leave of these packs is
there for the next batch. Bought batch by batch it is thereby as many packs as bought for all at once.

Cloth goes by its pieces. What plies are to be cut from is spoken for; plies that fit on no piece are bought whole; and
of cloth bought so for others only ends worth keeping are left.
"""

from __future__ import annotations

from decimal import Decimal

from planner.core.cloth import ClothBuy, buy_cloth, need_for_lay_m
from planner.core.notions.thread import packs_to_buy
from planner.core.spec import Cloth, Notion
from planner.cutting.claims import OthersClaim, OwnClaim, Shelf
from planner.cutting.short_cloth import bought_whole
from planner.papers.figures import up

#: A difference in metres below this is none: needs are kept rounded up to the millimetre.
SAME_M = Decimal("0.01")


def shelf_of_cloth(cloth: Cloth, others: OthersClaim, own: OwnClaim, *, keep_m: Decimal) -> Shelf:
    """The stock of a cloth with the claims of other batches taken off. Ends shorter than `keep_m` are not kept."""
    on_hand = Decimal(str(cloth.in_stock_m))
    if not others.rest:
        return Shelf(on_hand, met=own.met)
    # Of what lies there others can have no more than what is not promised to the batch itself.
    for_others = max(on_hand - own.on_rolls_m, Decimal(0))
    bought, coming = _bought_for_others(cloth, others, for_others)
    if coming < keep_m:
        coming = Decimal(0)
    to_come = Decimal(str(bought.length_m)) if coming else Decimal(0)
    taken = _taken_by_others(cloth, others, own, for_others)
    by = tuple(others.by)
    buying = tuple(number for number in by if others.off_rolls_of.get(number, 0) > SAME_M)
    return Shelf(on_hand, taken + to_come - coming, by, to_come, bought.sold, own.met, coming, buying or by)


def _bought_for_others(cloth: Cloth, others: OthersClaim, for_others: Decimal) -> tuple[ClothBuy, Decimal]:
    """What is bought for others who find so much in stock, and how much of that they leave (m)."""
    by_metres = others.rest - for_others
    bought = buy_cloth(float(by_metres), cloth)
    whole = bought_whole(others.short, cloth) if others.short else None
    if whole is not None and whole.buy.length_m > bought.length_m:
        bought = whole.buy
    wanted = max(by_metres, _plies_to_buy_m(cloth, others), Decimal(0))
    return bought, max(Decimal(str(bought.length_m)) - wanted, Decimal(0))


def _plies_to_buy_m(cloth: Cloth, others: OthersClaim) -> Decimal:
    """Metres, as bought, of those plies of others that fit on nothing in stock."""
    short_mm = sum(one.plies * one.ply_mm for one in others.short)
    return Decimal(repr(need_for_lay_m(short_mm / 1000.0, cloth)))


def _taken_by_others(cloth: Cloth, others: OthersClaim, own: OwnClaim, for_others: Decimal) -> Decimal:
    """Metres that others take of what lies in stock.

    It is not known which pieces plies not dealt out yet will come from, so all of them are counted as coming from
    stock, with the allowance for flaws.
    """
    on_hand = Decimal(str(cloth.in_stock_m))
    not_dealt = others.off_rolls_m * (1 + Decimal(repr(cloth.damage_share))) - _plies_to_buy_m(cloth, others)
    from_stock = others.on_rolls_m + (up(not_dealt, 3) if not_dealt > SAME_M else 0)
    taken = min(from_stock, max(for_others, min(others.on_rolls_m, on_hand)))
    # Nothing is bought merely because promises to others are rounded up to the centimetre.
    lacking = own.rest - (on_hand - taken)
    return taken - lacking if 0 < lacking <= others.rounded_m else taken


def shelf_of_notion(notion: Notion, others: OthersClaim, own: OwnClaim) -> Shelf:
    """The stock of a notion with the claims of other batches taken off."""
    packs = packs_to_buy(notion, float(others.rest), others.most_cones) if others.rest else 0
    to_come = packs * notion.pack_quantity
    lacking = max(others.rest - notion.in_stock, Decimal(0))
    return Shelf(
        notion.in_stock,
        others.rest,
        tuple(others.by),
        to_come,
        Decimal(packs),
        own.met,
        max(to_come - lacking, Decimal(0)),
        _packs_bought_for(notion, others),
    )


def _packs_bought_for(notion: Notion, others: OthersClaim) -> tuple[str, ...]:
    """The batches that packs of a notion are bought for: those that lack some, once all before them are served."""
    wanted, cones, packs = Decimal(0), 0, 0
    found = []
    for one in sorted(others.waiting):
        wanted, cones = wanted + one.rest, max(cones, one.cones)
        if (until := packs_to_buy(notion, float(wanted), cones)) > packs:
            found.append(one.number)
            packs = until
    return tuple(found)
