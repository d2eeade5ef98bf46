"""What a batch needs, or what is to be bought for all of them, as rows of a page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from planner.core.needs import ClothNeed, Needs, NotionNeed
from planner.core.spec import ClothKey, NotionKey, Workshop
from planner.cutting.buying import Buying
from planner.cutting.reckoning import cloth_figures, notion_figures
from planner.cutting.stored import PlannedBatch
from planner.cutting.there import ThereFor, there_for
from planner.cutting.told_amounts import told_amounts
from planner.cutting.wording import cloth_to_buy, cones_in_words, how_reckoned, packs_to_buy
from planner.orders.due import day_words
from planner.papers.buy_data import BuyFigures

Key = ClothKey | NotionKey
#: The batches (numbers) that wait for a thing, and the day the first of them is due.
Waiting = Mapping[Key, tuple[tuple[str, ...], date | None]]


@dataclass(frozen=True)
class NeedRow:
    """One thing a batch needs, in words and units."""

    what: str
    colour: str
    swatch: str
    need: str
    in_stock: str
    to_buy: str
    how: str
    is_estimate: bool
    #: Which batches wait for it, and by when the first needs it.
    batches: str = ""
    by: str = ""
    #: Why its metres may still change.
    not_settled: str = ""
    #: What it comes to together with batches that want it before.
    in_all: str = ""
    #: Why more is to be bought than its amount says.
    why_buy: str = ""
    #: What is said beneath what is in stock: whose promise is taken off, what comes once others are bought for.
    besides: tuple[str, ...] = ()
    #: What must be bought for others before it is enough.
    once: str = ""


def need_rows(
    needs: Needs,
    shop: Workshop,
    display: str,
    swatches: Mapping[Key, str],
    *,
    waiting: Waiting | None = None,
    today: date | None = None,
    not_settled: Mapping[ClothKey, str] | None = None,
    in_all: Mapping[ClothKey, str] | None = None,
    read: PlannedBatch | None = None,
) -> list[NeedRow]:
    """Needs as rows, cloths first; figures are rounded as on the needs page and the papers.

    `not_settled` has words for cloths whose metres may still change, `in_all` for those that others want before. With
    `read` the stock is what is there for that batch, else all that is on hand.
    """
    moving, shared = not_settled or {}, in_all or {}
    rows = []
    for need in needs.cloths:
        cloth = shop.cloths[need.cloth]
        figures = cloth_figures(need, cloth)
        told = told_amounts(figures, display)
        there = _there(need, figures, told.in_stock, display, read)
        batches, by = _waits(need.cloth, waiting, today)
        rows.append(
            NeedRow(
                what=need.cloth.fabric,
                colour=need.cloth.colour,
                swatch=swatches.get(need.cloth, ""),
                need=told.need,
                in_stock=there.on_shelf,
                to_buy=cloth_to_buy(need, cloth, display),
                how=how_reckoned(need, display),
                is_estimate=need.is_estimate,
                batches=batches,
                by=by,
                not_settled=moving.get(need.cloth, ""),
                in_all=shared.get(need.cloth, ""),
                besides=there.besides,
                once=there.once,
            )
        )
    return rows + [_notion_row(one, shop, display, swatches, waiting, today, read) for one in needs.notions]


def _notion_row(
    need: NotionNeed,
    shop: Workshop,
    display: str,
    swatches: Mapping[Key, str],
    waiting: Waiting | None,
    today: date | None,
    read: PlannedBatch | None,
) -> NeedRow:
    notion = shop.notions[need.key]
    figures = notion_figures(need, notion)
    told = told_amounts(figures, display, in_packs=True)
    there = _there(need, figures, told.in_stock, display, read)
    batches, by = _waits(need.key, waiting, today)
    return NeedRow(
        what=need.key.notion,
        colour=need.key.colour,
        swatch=swatches.get(need.key, ""),
        need=told.need,
        in_stock=there.on_shelf,
        to_buy=packs_to_buy(need),
        how=need.how,
        is_estimate=False,
        batches=batches,
        by=by,
        why_buy=cones_in_words(need, notion),
        besides=there.besides,
        once=there.once,
    )


def _there(
    need: ClothNeed | NotionNeed, figures: BuyFigures, in_stock: str, display: str, read: PlannedBatch | None
) -> ThereFor:
    return there_for(need, figures, read, display) if read else ThereFor(in_stock)  # type: ignore[arg-type]


def _waits(key: Key, waiting: Waiting | None, today: date | None) -> tuple[str, str]:
    if waiting is None or key not in waiting:
        return "", ""
    batches, day = waiting[key]
    return ", ".join(batches), day_words(day, today) if day and today else ""


def buying_rows(
    buying: Buying, shop: Workshop, display: str, swatches: Mapping[Any, str], today: date
) -> list[NeedRow]:
    """What must be bought for all batches."""
    short = Needs(buying.short_cloths, buying.short_notions, (), ())
    return need_rows(
        short, shop, display, swatches, waiting=buying.waiting, today=today, not_settled=buying.remarks
    )
