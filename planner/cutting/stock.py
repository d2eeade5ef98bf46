"""What of the stock is there for a batch: on hand, less what batches planned before it have spoken for."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace
from decimal import Decimal

from django.db.models import Q

from planner.core.spec import ClothKey, NotionKey, Workshop
from planner.cutting.models import Batch, BatchNeed
from planner.styles.specs import workshop


@dataclass(frozen=True)
class Claims:
    """Who has a claim on the stock, seen from one batch: metres of cloths, quantities of notions.

    `spoken_for` is what other batches still have to take, `met` how much of this batch's own need has left the
    stock for it already, `settled` what it has no further need of.
    """

    spoken_for: dict[ClothKey | NotionKey, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    met: dict[ClothKey | NotionKey, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    settled: set[ClothKey | NotionKey] = field(default_factory=set)

    def free(self, key: ClothKey | NotionKey, on_hand: Decimal) -> Decimal:
        """What is there for the batch: free on the shelf, or cut or taken for it already."""
        free = max(Decimal(0), on_hand - self.spoken_for.get(key, Decimal(0)))
        return free + self.met.get(key, Decimal(0))


def claims(batch: Batch | None) -> Claims:
    """The claims on the stock as `batch` meets them; anything new (None) comes after all others. One query.

    Of two batches the one with the lower number was first.
    """
    found = Claims()
    needs = BatchNeed.objects.with_rest().order_by()
    if batch is None:
        needs = needs.of_batches_in_work()
    else:
        earlier = Q(batch__in=Batch.objects.in_work().order_by(), batch_id__lt=batch.pk)
        needs = needs.filter(earlier | Q(batch=batch))
    rows = needs.values_list(
        "fabric_colour__fabric__name",
        "fabric_colour__name",
        "notion_colour__notion__name",
        "notion_colour__name",
        "batch_id",
        "need",
        "rest",
    )
    for fabric, fabric_colour, notion, notion_colour, batch_id, need, rest_float in rows:
        rest = round(Decimal(rest_float), 3)
        key: ClothKey | NotionKey = (
            ClothKey(fabric, fabric_colour) if fabric is not None else NotionKey(notion, notion_colour)
        )
        if batch is None or batch_id != batch.pk:
            found.spoken_for[key] += rest
            continue
        found.met[key] += need - rest
        if not rest or batch.state == Batch.State.DONE:
            found.settled.add(key)
    return found


def free_workshop(
    style_numbers: set[str] | None, batch: Batch | None = None, known: Claims | None = None
) -> Workshop:
    """The workshop with stock as far as it is there for `batch` (for anything new where None).

    A batch that was planned earlier and is not cut yet keeps what it needs. What the batch itself has taken
    out counts as there, else it would be bought once more. `known` spares the query of :func:`claims`.
    """
    shop = workshop(style_numbers)
    known = known or claims(batch)
    return replace(
        shop,
        cloths={
            key: replace(cloth, in_stock_m=float(known.free(key, Decimal(str(cloth.in_stock_m)))))
            for key, cloth in shop.cloths.items()
        },
        notions={
            key: replace(notion, in_stock=known.free(key, notion.in_stock))
            for key, notion in shop.notions.items()
        },
    )
