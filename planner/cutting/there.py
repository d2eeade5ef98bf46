"""What of the stock is there for a batch, in words.

Told apart are what lies on the shelf, what of it is promised to others, and what comes only once something is bought
for others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.core.listed import listed
from planner.core.needs import ClothNeed, NotionNeed
from planner.core.notions.thread import cones_on_hand
from planner.core.spec import Notion, NotionKey
from planner.core.units import Display
from planner.cutting.claims import Shelf
from planner.cutting.reckoned import amount_in_words
from planner.cutting.stored import PlannedBatch
from planner.cutting.told_amounts import told_amounts
from planner.papers.buy_data import BuyFigures
from planner.papers.figures import nearest, places_of, printed_places

#: This many batches are named; the others are only counted.
MOST_NAMED = 3
#: A smaller difference is none, in metres and pieces: needs are kept to the millimetre.
SAME = 0.0005


@dataclass(frozen=True)
class ThereFor:
    """What is there of one thing for a batch: on the shelf, and beneath that a line for each of `besides`.

    `once` says what must be bought for others before there is enough; "" where it depends on nobody.
    """

    on_shelf: str
    besides: tuple[str, ...] = ()
    once: str = ""


def there_for(
    need: ClothNeed | NotionNeed, figures: BuyFigures, read: PlannedBatch, display: Display
) -> ThereFor:
    """What is there for the batch, in the figures that papers print, so that they add up to the stock told there.

    "0 pcs", "44 pcs on hand, all for B-0008", "besides 88 pcs left of what is to be bought for B-0008".
    """
    key = need.key if isinstance(need, NotionNeed) else need.cloth
    shelf, on_shelf = read.claims.shelves[key], figures.on_shelf
    places = max(printed_places(figures.need), places_of(figures.in_stock))

    def told(amount: Decimal) -> str:
        return amount_in_words(amount.normalize() + Decimal(0), figures, display)

    besides = []
    if shelf.promised > Decimal(repr(SAME)) and not read.claims.own_of(key).is_settled:
        off = "all" if not on_shelf else f"{told(nearest(shelf.on_hand, places) - on_shelf)} of it"
        besides.append(f"{told(nearest(shelf.on_hand, places))} on hand, {off} for {named(shelf.by)}")
    if figures.met:
        besides.append(
            f"besides {told(figures.met)} {'taken' if isinstance(key, NotionKey) else 'cut'} for it"
        )
    if figures.coming:
        left = f"left of what is to be bought for {named(shelf.bought_for)}"
        besides.append(f"besides {told(figures.coming)} {left}")
    stock = told_amounts(figures, display, in_packs=isinstance(key, NotionKey)).on_shelf
    return ThereFor(stock, tuple(besides), hung_on(read, [need]))


def hangs_on_others(need: ClothNeed | NotionNeed, read: PlannedBatch) -> bool:
    """Whether what counts as there suffices for the batch only once something is bought for others."""
    if isinstance(need, ClothNeed):
        settled = read.claims.own_of(need.cloth).is_settled
        return not settled and need.coming_m > 0 and need.need_m > need.in_stock_m - need.coming_m + SAME
    if read.claims.own_of(need.key).is_settled or not need.coming:
        return False
    shelf, notion = read.claims.shelves[need.key], read.shop.notions[need.key]
    return need.need > float(need.in_stock - need.coming) + SAME or need.threads_at_once > _cones_now(
        notion, shelf
    )


def _cones_now(notion: Notion, shelf: Shelf) -> int:
    """Cones that are there before any are bought for others."""
    return cones_on_hand(notion) - int(shelf.packs_to_come) if notion.kind == "thread" else 0


def hung_on(read: PlannedBatch, needs: Sequence[ClothNeed | NotionNeed]) -> str:
    """ "once what B-0003 needs is bought": the batches that these needs depend on; "" where they depend on none."""
    by: dict[str, None] = {}
    for need in needs:
        if hangs_on_others(need, read):
            key = need.key if isinstance(need, NotionNeed) else need.cloth
            by |= dict.fromkeys(read.claims.shelves[key].bought_for)
    needs_it = "needs" if len(by) == 1 else "need"
    return f"once what {named(tuple(by))} {needs_it} is bought" if by else ""


def named(numbers: Sequence[str]) -> str:
    """ "B-0003, B-0004, B-0007 and 2 more"."""
    more = len(numbers) - MOST_NAMED
    return listed([*numbers[:MOST_NAMED], f"{more} more"] if more > 0 else list(numbers))
