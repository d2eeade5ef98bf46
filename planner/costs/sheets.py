"""Cost sheets of styles and batches, from needs, standard minutes and the workroom's rates."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from planner.core.cloth import price_per_m
from planner.core.costing import CostLine, CostSheet, PriceError, make_cost_sheet, price_by_margin
from planner.core.labour import garment_minutes
from planner.core.missing import find_missing
from planner.core.needs import Needs, Usage, work_out_needs
from planner.core.spec import ClothKey, Demand, Garment, NotionKey, StyleSpec, Workshop, make_options
from planner.core.too_wide import told_once
from planner.core.units import round_money
from planner.cutting.models import Batch, BatchNeed, BatchOperation, Bundle
from planner.cutting.unpriced import costs_unpriced_in_words
from planner.cutting.wording import options_in_words
from planner.materials.models import Workroom


@dataclass(frozen=True)
class StyleCost:
    """One garment of a style, base size, first option of each detail. An estimate.

    `colourways` are those that cost the same.
    `sheet` is None where `problem` says what keeps it from being reckoned. `unpriced` says what its sums leave out,
    having no price.
    """

    number: str
    name: str
    colourways: str
    size: str
    options: str
    sheet: CostSheet | None
    problem: str = ""
    unpriced: str = ""


@dataclass(frozen=True)
class BatchCost:
    """What a batch costs as planned: materials from its needs, standard minutes of its bundles, overhead.

    Each amount is rounded to the currency's minor unit; `total` is the sum of the three. `unpriced` says what they
    leave out, having no price.
    """

    batch: Batch
    garments: int
    materials: Decimal
    minutes: Decimal
    labour: Decimal
    overhead: Decimal
    total: Decimal
    each: Decimal
    is_estimate: bool
    unpriced: str = ""


def style_costs(
    styles: Iterable[StyleSpec], shop: Workshop, room: Workroom, usage: Mapping[str, Usage] | None = None
) -> list[StyleCost]:
    """Every style in its colourways, those that cost the same in one row. No query.

    `usage` tells how well fabrics are used, by name.
    """
    found: list[StyleCost] = []
    for style in styles:
        alike: dict[object, StyleCost] = {}
        for colourway in style.colourways:
            cost = _style_cost(style, colourway, shop, room, usage or {})
            key = (cost.unpriced, _money_of(cost.sheet)) if cost.sheet else cost.problem
            first = alike.get(key)
            alike[key] = replace(first, colourways=f"{first.colourways}, {colourway}") if first else cost
        found += alike.values()
    return found


def _money_of(sheet: CostSheet) -> tuple[object, ...]:
    """What makes two sheets the same: every amount, whatever the colours are called."""
    return tuple((line.quantity, line.unit, line.unit_price) for line in sheet.materials), sheet.minutes


def _style_cost(
    style: StyleSpec, colourway: str, shop: Workshop, room: Workroom, usage: Mapping[str, Usage]
) -> StyleCost:
    options = make_options((detail, choices[0]) for detail, choices in style.details.items() if choices)
    head = (style.number, style.name, colourway, style.base_size, options_in_words(options))
    demand = [Demand(Garment(style.number, options, colourway, style.base_size), 1)]
    if gaps := find_missing(demand, shop):
        return StyleCost(*head, None, told_once(gaps, room.display)[0])
    minutes = Decimal(repr(garment_minutes(style.operations_for(options))))
    needs = work_out_needs(demand, shop, usage=usage)
    try:
        return StyleCost(*head, _sheet(needs, shop, minutes, room), unpriced=_unpriced(needs, shop))
    except PriceError as refusal:
        return StyleCost(*head, None, str(refusal))


def _unpriced(needs: Needs, shop: Workshop) -> str:
    """What a garment takes and nobody has noted a price for."""
    cloths = [need.cloth.fabric for need in needs.cloths if not shop.cloths[need.cloth].price]
    notions = [one.key.notion for one in needs.notions if one.need and not shop.notions[one.key].pack_price]
    return costs_unpriced_in_words([*cloths, *notions])


def _sheet(needs: Needs, shop: Workshop, minutes: Decimal, room: Workroom) -> CostSheet:
    """Cloth and notions at what they are bought for, whether on hand or not."""
    cloths = [
        CostLine(f"{n.cloth.fabric}, {n.cloth.colour}", Decimal(repr(n.need_m)), "m", n.price_per_m)
        for n in needs.cloths
    ]
    notions = [
        CostLine(
            f"{n.key.notion}, {n.key.colour}".strip(", "),
            Decimal(repr(n.need)),
            n.unit,
            shop.notions[n.key].pack_price / shop.notions[n.key].pack_quantity,
        )
        for n in needs.notions
    ]
    return make_cost_sheet(
        [*cloths, *notions],
        minutes=minutes,
        rate_per_hour=room.labour_rate_per_hour,
        overhead_share=room.overhead_percent / 100,
        margin_share=room.margin_percent / 100,
        currency=room.currency,
    )


def batch_costs(batches: Sequence[Batch], shop: Workshop, room: Workroom) -> list[BatchCost]:
    """The batches that are planned, in their order, in four queries."""
    materials, unpriced, estimated = _materials(batches, shop)
    garments, minutes = _minutes(batches)
    found = []
    for batch in batches:
        if not garments[batch.pk]:
            continue
        spent = round_money(materials[batch.pk], room.currency)
        labour = round_money(minutes[batch.pk] * room.labour_rate_per_hour / 60, room.currency)
        overhead = round_money((spent + labour) * room.overhead_percent / 100, room.currency)
        total = spent + labour + overhead
        found.append(
            BatchCost(
                batch,
                garments[batch.pk],
                spent,
                minutes[batch.pk],
                labour,
                overhead,
                total,
                round_money(total / garments[batch.pk], room.currency),
                batch.pk in estimated,
                costs_unpriced_in_words(unpriced[batch.pk]),
            )
        )
    return found


def _materials(
    batches: Sequence[Batch], shop: Workshop
) -> tuple[dict[int, Decimal], dict[int, list[str]], set[int]]:
    """Money by batch for all it needs, what of that has no price, and the batches some of whose lays are not nested
    yet."""
    spent: dict[int, Decimal] = defaultdict(Decimal)
    unpriced: dict[int, list[str]] = defaultdict(list)
    estimated = set()
    of_cloth = ("fabric_colour__fabric__name", "fabric_colour__name")
    of_notion = ("notion_colour__notion__name", "notion_colour__name")
    rows = BatchNeed.objects.filter(batch__in=batches).order_by("pk")
    for batch, need, is_estimate, fabric, fabric_colour, notion, notion_colour in rows.values_list(
        "batch_id", "need", "is_estimate", *of_cloth, *of_notion
    ):
        if fabric is not None:
            cloth = shop.cloths[ClothKey(fabric, fabric_colour)]
            name, price, each = fabric, cloth.price, price_per_m(cloth)
        else:
            bought = shop.notions[NotionKey(notion, notion_colour)]
            name, price, each = notion, bought.pack_price, bought.pack_price / bought.pack_quantity
        spent[batch] += need * each
        if need and not price:
            unpriced[batch].append(name)
        if is_estimate:
            estimated.add(batch)
    return spent, unpriced, estimated


def _minutes(batches: Sequence[Batch]) -> tuple[dict[int, int], dict[int, Decimal]]:
    """Garments and standard minutes by batch, from its bundles and its own operations."""
    operations: dict[tuple[int, int], list[tuple[int | None, Decimal]]] = defaultdict(list)
    steps = BatchOperation.objects.filter(batch__in=batches).order_by("position", "pk")
    for batch, style, option, standard in steps.values_list(
        "batch_id", "style_id", "option_id", "standard_minutes"
    ):
        operations[batch, style].append((option, standard))
    options: dict[int, frozenset[int]] = defaultdict(frozenset)
    held = Bundle.options.through.objects.filter(bundle__batch__in=batches)
    for bundle, option in held.values_list("bundle_id", "option_id"):
        options[bundle] |= {option}
    garments: dict[int, int] = defaultdict(int)
    minutes: dict[int, Decimal] = defaultdict(Decimal)
    # Many bundles have the same operations: their minutes are summed but once.
    each: dict[tuple[int, int, frozenset[int]], Decimal] = {}
    bundles = Bundle.objects.filter(batch__in=batches).order_by("pk")
    for pk, batch, style, quantity in bundles.values_list("pk", "batch_id", "style_id", "quantity"):
        kind = (batch, style, options[pk])
        if kind not in each:
            own = operations[batch, style]
            each[kind] = sum((m for of, m in own if of is None or of in options[pk]), Decimal(0))
        garments[batch] += quantity
        minutes[batch] += each[kind] * quantity
    return garments, minutes


def price_of(cost: BatchCost, room: Workroom) -> Decimal | None:
    """What one garment of the batch must sell for; None where the margin leaves no price."""
    try:
        return round_money(price_by_margin(cost.each, room.margin_percent / 100), room.currency)
    except PriceError:
        return None
