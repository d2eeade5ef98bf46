"""The workshop with its stock as far as it is there for one batch: less what others have a claim on."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from planner.core.notions.thread import cones_on_hand
from planner.core.spec import Cloth, Notion, Workshop
from planner.cutting.claims import Claims, claims
from planner.cutting.models import Batch
from planner.cutting.shelves import shelf_of_cloth, shelf_of_notion
from planner.styles.specs import workshop


def free_workshop(
    style_numbers: set[str] | None, batch: Batch | None = None, known: Claims | None = None
) -> Workshop:
    """The workshop with stock as far as it is there for `batch` (for anything new where None).

    A batch that was planned earlier and is not cut yet keeps what it needs, from the stock or from what is bought for
    it. What the batch itself has taken out counts as there, else it would be bought once more. `known` spares the
    query of :func:`claims`, and its `shelves` are filled in.
    """
    shop = workshop(style_numbers, marks=True)
    known = known or claims(batch)
    return replace(
        shop,
        cloths={key: _free_cloth(cloth, known) for key, cloth in shop.cloths.items()},
        notions={key: _free_notion(notion, known) for key, notion in shop.notions.items()},
    )


def _free_cloth(cloth: Cloth, known: Claims) -> Cloth:
    """The metres, rolls or kg bought for others count toward the least that is sold."""
    shelf = shelf_of_cloth(cloth, known.others_of(cloth.key), known.own_of(cloth.key), keep_m=known.keep_m)
    known.shelves[cloth.key] = shelf
    least = max(Decimal(0), cloth.minimum_quantity - shelf.packs_to_come)
    there, coming = float(shelf.there), float(shelf.coming)
    return replace(cloth, in_stock_m=there, coming_m=coming, minimum_quantity=least)


def _free_notion(notion: Notion, known: Claims) -> Notion:
    """Batches are sewn one after the other: a cone that is spoken for is still there to thread a machine with."""
    shelf = shelf_of_notion(notion, known.others_of(notion.key), known.own_of(notion.key))
    known.shelves[notion.key] = shelf
    cones = cones_on_hand(notion) + int(shelf.packs_to_come) if notion.kind == "thread" else notion.cones
    return replace(notion, in_stock=shelf.there, coming=shelf.coming, cones=cones)
