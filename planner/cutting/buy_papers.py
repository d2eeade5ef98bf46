"""Fills the buy list, of one batch or of all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from planner.core.needs import ClothNeed, Needs
from planner.core.planning import NestedLay
from planner.core.spec import ClothKey, Workshop
from planner.core.units import round_money
from planner.cutting.papers import PaperSetting
from planner.cutting.reckoned import in_metres
from planner.cutting.reckoning import cloth_figures, notion_figures
from planner.cutting.told_amounts import ToldAmounts, told_amounts
from planner.cutting.unpriced import unpriced_in_words
from planner.cutting.wording import cloth_to_buy, packs_to_buy
from planner.papers.buy_data import IN_STOCK, THERE_FOR_IT, BuyFigures, BuyLine, BuyList
from planner.papers.figures import figure


def buy_list_data(
    needs: Needs,
    shop: Workshop,
    setting: PaperSetting,
    lays: Mapping[ClothKey, Sequence[NestedLay]] | None = None,
    not_settled: Mapping[ClothKey, str] | None = None,
    *,
    in_all: Mapping[ClothKey, str] | None = None,
    for_batch: bool = True,
) -> BuyList:
    """What stock lacks, as it is sold. Prices are for what is bought, in the workroom's currency.

    With the `lays` of one batch the metres laid are the sum that its cut sheet prints. `not_settled` has words for
    cloths whose metres may still change, `in_all` for those that are bought for other batches too (`bought_together`).
    `for_batch`: the needs are those of one batch, and stock what is there for it.
    The total is the sum of the prices as they are printed; it says what has none.
    """
    lines = []
    stock_is = THERE_FOR_IT if for_batch else IN_STOCK
    for need in needs.cloths:
        cloth = shop.cloths[need.cloth]
        to_buy = cloth_to_buy(need, cloth, setting.display)
        if to_buy:
            names = (setting.suppliers.get(need.cloth.fabric, ""), need.cloth.fabric, need.cloth.colour)
            together = (in_all or {}).get(need.cloth, "")
            note = _note(need, (not_settled or {}).get(need.cloth, ""), together)
            lines.append(
                _line(
                    names,
                    to_buy,
                    cloth_figures(need, cloth, (lays or {}).get(need.cloth, ()), stock_is=stock_is),
                    cloth.price,
                    note,
                    setting,
                )
            )
    for one in needs.notions:
        if one.to_buy_packs:
            notion = shop.notions[one.key]
            names = (setting.suppliers.get(one.key.notion, ""), one.key.notion, one.key.colour)
            own = [line for line in needs.lines if line.key == one.key]
            figures = notion_figures(one, notion, own, stock_is=stock_is)
            lines.append(
                _line(names, packs_to_buy(one), figures, notion.pack_price, "", setting, in_packs=True)
            )
    return BuyList(
        heading=setting.heading,
        lines=tuple(sorted(lines, key=lambda line: (line.supplier, line.item, line.colour))),
        total=str(
            round_money(
                sum((Decimal(line.price) for line in lines if line.price), Decimal(0)), setting.currency
            )
        ),
        currency=setting.currency,
        unpriced=unpriced_in_words(needs, shop),
        for_batch=for_batch,
    )


def _note(need: ClothNeed, moving: str, together: str) -> str:
    """What is said of metres that may still change, how they were reached where they are an estimate, and what is
    bought `together` with other batches."""
    said = [moving]
    if need.is_estimate:
        said.append(f"{need.how[:1].upper()}{need.how[1:]}" if moving else f"Estimate: {need.how}")
    said.append(f"{together[:1].upper()}{together[1:]}" if together else "")
    return " ".join(part for part in said if part)


def _line(
    names: tuple[str, str, str],
    to_buy: str,
    figures: BuyFigures,
    price_each: Decimal,
    note: str,
    setting: PaperSetting,
    *,
    in_packs: bool = False,
) -> BuyLine:
    price = str(round_money(figures.packs * price_each, setting.currency)) if price_each else ""
    told = told_amounts(figures, setting.display, in_packs=in_packs)
    by = f"{figure(figures.packs)} × {figure(price_each, least=2)} = {price}"
    words = f"{figures.words}; price {by}" if price else figures.words
    supplier, item, colour = names
    return BuyLine(
        supplier=supplier,
        item=item,
        colour=colour,
        need=told.need,
        in_stock=told.on_shelf,
        to_buy=to_buy,
        price=price,
        note=note,
        short=told.short,
        left=told.left,
        figures=replace(figures, words=_reckoned(words, figures, told, setting.display, in_packs=in_packs)),
    )


def _reckoned(words: str, figures: BuyFigures, told: ToldAmounts, display: str, *, in_packs: bool) -> str:
    """The reckoning beneath a line; what packs hold is said in yards too, for what is left over follows from it."""
    if figures.unit != "m" or display != "imperial":
        return words
    packs = f"{figure(figures.bought, 'm')} hold {told.bought}. " if in_packs else ""
    return f"{packs}{in_metres(words, display)}"
