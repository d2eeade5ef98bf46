"""Needs of a batch that is being cut: what is cut counts by what was used, what is cut or taken is bought no more."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from planner.core.cloth import buy_cloth
from planner.core.needs import ClothNeed, Needs, allowances_in_words
from planner.core.spec import Cloth, Workshop
from planner.cutting.claims import Claims


def with_used(needs: Needs, shop: Workshop, known: Claims) -> Needs:
    """The needs with what is cut of a cloth by the metres really used, and what is still to cut by the plan; and with
    what was taken of notions."""
    return replace(
        needs,
        cloths=tuple(
            _used(need, shop.cloths[need.cloth], known) if known.own_of(need.cloth).met else need
            for need in needs.cloths
        ),
        notions=tuple(replace(need, taken=known.own_of(need.key).met) for need in needs.notions),
    )


def _used(need: ClothNeed, cloth: Cloth, known: Claims) -> ClothNeed:
    own = known.own_of(need.cloth)
    need_m, lost_m = float(own.met + own.rest), float(own.lost_m)
    buy = buy_cloth(need_m - cloth.in_stock_m, cloth)
    return replace(
        need,
        need_m=need_m,
        to_buy_m=buy.length_m,
        to_buy_packs=buy.sold,
        cost=buy.cost,
        how=_used_in_words(need, cloth, own.rest, lost_m),
        cut_m=float(own.met),
        lost_m=lost_m,
    )


def _used_in_words(need: ClothNeed, cloth: Cloth, rest_m: Decimal, lost_m: float) -> str:
    """ "from the nested lays; what is cut by the metres used, the rest with 2 % for flaws": what was used holds flaws
    and washing already, so these are reckoned with for what is still to cut alone."""
    if not rest_m:
        return "all of it is cut: these are the metres used"
    planned = need.how.removesuffix(allowances_in_words(cloth, need.lost_m))
    allowed = allowances_in_words(cloth, lost_m)
    return f"{planned}; what is cut by the metres used{allowed and allowed.replace(',', ', the rest', 1)}"


def without_settled(needs: Needs, known: Claims) -> Needs:
    """The needs with nothing to buy of what is cut or taken already, however much of it was really used."""
    return replace(
        needs,
        cloths=tuple(
            replace(need, to_buy_m=0.0, to_buy_packs=Decimal(0), cost=Decimal(0))
            if known.own_of(need.cloth).is_settled
            else need
            for need in needs.cloths
        ),
        notions=tuple(
            replace(need, to_buy_packs=0, cost=Decimal(0)) if known.own_of(need.key).is_settled else need
            for need in needs.notions
        ),
    )
