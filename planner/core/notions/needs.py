"""What is needed of one notion, and the whole packs to buy of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from planner.core.notions.lines import Uses
from planner.core.notions.thread import cones_needed, packs_to_buy
from planner.core.spec import Basis, Notion, NotionKey

#: How a notion's need is reckoned, by what it is taken for.
_BASIS_WORDS: Mapping[Basis, str] = {
    "seam": "along the seams",
    "garment": "counted by the garment",
    "piece": "counted by the piece",
    "order": "counted by the order",
}


@dataclass(frozen=True, slots=True)
class NotionNeed:
    """What is needed of one notion in its own unit, waste included (:func:`with_waste`), and the whole packs to buy.

    `least_packs` must be on hand in all; for thread these are cones, as many as the hungriest machine takes
    at once (`threads_at_once`) or more. `cost` is that of what is bought. Money is not rounded. `coming` of
    `in_stock` is left of what is to be bought for others, `taken` of it was taken for it already.
    """

    key: NotionKey
    unit: str
    need: float
    in_stock: Decimal
    to_buy_packs: int
    least_packs: int
    pack: str
    cost: Decimal
    how: str
    threads_at_once: int = 0
    coming: Decimal = Decimal(0)
    taken: Decimal = Decimal(0)


def notion_need(notion: Notion, uses: Uses) -> NotionNeed:
    """Need with waste, and whole packs for what stock lacks."""
    key, pack = notion.key, notion.pack_quantity
    need = with_waste(uses.amounts[key], notion)
    positions = uses.threads_at_once.get(key, 0)
    to_buy = packs_to_buy(notion, need, positions)
    how = " and ".join(words for basis, words in _BASIS_WORDS.items() if basis in uses.bases[key])
    if positions:
        how = f"seam lengths × thread ratio; {uses.hungriest[key]} takes {positions} at once"
    if notion.waste_share:
        how += f", {percent_in_words(notion.waste_share)} for waste"
    return NotionNeed(
        key=key,
        unit=notion.unit,
        need=need,
        in_stock=notion.in_stock,
        to_buy_packs=to_buy,
        least_packs=cones_needed(need, float(pack), positions),
        pack=notion.pack,
        cost=to_buy * notion.pack_price,
        how=how,
        threads_at_once=positions,
        coming=notion.coming,
    )


def with_waste(amount: float, notion: Notion) -> float:
    """An amount of a notion with its allowance for waste, in the notion's own unit.

    Where pieces are counted, waste is whole pieces too: one label in fifty is spoilt, not a fiftieth of each. It is
    rounded to the nearest whole number, so nothing is added for a few (common practice).
    """
    if notion.unit == "m":
        return amount * (1.0 + notion.waste_share)
    before = Decimal(repr(round(amount, 9)))
    return float(counted_with_waste(before, 1 + Decimal(repr(notion.waste_share))))


def counted_with_waste(before: Decimal, factor: Decimal) -> Decimal:
    """What is needed of something counted, from what is taken of it and its factor for waste: 1.02 for 2 %."""
    return before + (before * (factor - 1)).quantize(Decimal(1), ROUND_HALF_UP)


def percent_in_words(share: float) -> str:
    """A share in per cent: "5 %", "2.5 %"."""
    return f"{share * 100:.1f}".removesuffix(".0") + "\N{NO-BREAK SPACE}%"
