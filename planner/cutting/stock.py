"""What of the stock is still free for a batch: on hand, less what batches planned before it have spoken for."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from django.db.models import Sum

from planner.core.spec import ClothKey, NotionKey, Workshop
from planner.cutting.models import Batch, BatchNeed
from planner.styles.specs import workshop


def free_workshop(style_numbers: set[str] | None, batch: Batch | None = None) -> Workshop:
    """The workshop with stock as far as it is free for `batch` (for anything new where None).

    A batch that was planned earlier and is not cut yet keeps what it needs; of two batches the one with the
    lower number was first.
    """
    shop = workshop(style_numbers)
    cloths, notions = spoken_for(batch)
    return replace(
        shop,
        cloths={
            key: replace(cloth, in_stock_m=max(0.0, cloth.in_stock_m - float(cloths.get(key, 0))))
            for key, cloth in shop.cloths.items()
        },
        notions={
            key: replace(notion, in_stock=max(Decimal("0"), notion.in_stock - notions.get(key, Decimal("0"))))
            for key, notion in shop.notions.items()
        },
    )


def spoken_for(batch: Batch | None) -> tuple[dict[ClothKey, Decimal], dict[NotionKey, Decimal]]:
    """Needs of other planned batches that come before this one: metres of cloths, quantities of notions.

    Cloth of a lay that is cut has left the stock already and is not counted again. One query.
    """
    others = BatchNeed.objects.filter(batch__state__in=["planned", "cutting"])
    if batch is not None and batch.pk:
        others = others.filter(batch_id__lt=batch.pk)
    cloths: dict[ClothKey, Decimal] = {}
    notions: dict[NotionKey, Decimal] = {}
    rows = (
        others.order_by()
        .values_list(
            "fabric_colour__fabric__name",
            "fabric_colour__name",
            "notion_colour__notion__name",
            "notion_colour__name",
        )
        .annotate(rest=Sum("need") - Sum("taken"))
    )
    for fabric, fabric_colour, notion, notion_colour, rest in rows:
        if fabric is not None:
            cloths[ClothKey(fabric, fabric_colour)] = max(Decimal("0"), rest)
        else:
            notions[NotionKey(notion, notion_colour)] = max(Decimal("0"), rest)
    return cloths, notions
