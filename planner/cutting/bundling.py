"""Bundles of a batch: written from the plan, each with a token for its ticket."""

from __future__ import annotations

import secrets
from collections import defaultdict, deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import takewhile

from planner.core.lays.kinds import main_cloth
from planner.core.lays.model import PlannedLay
from planner.core.planning import PlannedBundle, even_parts
from planner.core.spec import ClothKey, Garment, Workshop
from planner.cutting.demand import BatchDemand
from planner.cutting.models import Batch, Bundle, Lay, LayCloth, LayRoll
from planner.orders.models import OrderLine

#: A bundle size no lay reaches: bundles are then divided by order line alone.
NO_LIMIT = 1_000_000

#: So many bundles get another shade lot in one statement.
LOTS_AT_ONCE = 200

LinedBundle = tuple[PlannedBundle, OrderLine | None]


def with_bundle_size(shop: Workshop) -> Workshop:
    """The workshop with a bundle size the core knows: 0 in the workroom means that nothing limits it."""
    return replace(shop, bundle_size=shop.bundle_size or NO_LIMIT)


def write_bundles(
    batch: Batch, demand: BatchDemand, shop: Workshop, planned: Sequence[PlannedLay], lays: Sequence[Lay]
) -> bool:
    """Writes the bundles of a batch in place of those there are; False where they are just those already.

    With a bundle size of 0 in the workroom there is one bundle for each order line (and lay), else bundles of
    at most that size, which may hold garments of several orders. All pieces of a bundle that are cut from one cloth
    are of one shade lot, as far as the rolls of the lays are known.
    """
    lined = lined_bundles(batch, demand, shop, planned, lots_of(batch, lays))
    return put_bundles(batch, lined, demand, lays)


def lined_bundles(
    batch: Batch,
    demand: BatchDemand,
    shop: Workshop,
    planned: Sequence[PlannedLay],
    lots: Mapping[int, Sequence[str]],
) -> list[LinedBundle]:
    """The bundles that :func:`write_bundles` writes, for lays whose plies are of these shade lots. No query."""
    # No batch reaches the limit that stands for "by order line".
    by_line = shop.bundle_size in {0, NO_LIMIT}
    bundles = bundles_of(demand, with_bundle_size(shop), planned, lots, batch=batch.number)
    return _by_order_line(bundles, demand) if by_line else _with_single_orders(bundles, demand)


def put_bundles(batch: Batch, lined: Sequence[LinedBundle], demand: BatchDemand, lays: Sequence[Lay]) -> bool:
    """Writes these as the bundles of a batch; False where they are just those that are there already."""
    lay_rows = {lay.number: lay for lay in lays}
    if _are_there(batch, lined, demand, lay_rows):
        return False
    batch.bundles.all().delete()
    rows = [demand.rows[bundle.garment] for bundle, _ in lined]
    written = Bundle.objects.bulk_create(
        Bundle(
            batch=batch,
            number=f"{batch.number}-{number:02d}",
            token=secrets.token_urlsafe(12),
            lay=lay_rows[bundle.lay],
            line=line,
            style=row.style,
            colourway=row.colourway,
            size=row.size,
            quantity=bundle.quantity,
            shade_lot=named_lot(bundle.shade_lot),
        )
        for number, ((bundle, line), row) in enumerate(zip(lined, rows, strict=True), 1)
    )
    chosen, from_lays = Bundle.options.through, Bundle.lays.through
    chosen.objects.bulk_create(
        chosen(bundle=one, option=option)
        for one, row in zip(written, rows, strict=True)
        for option in row.options
    )
    from_lays.objects.bulk_create(
        from_lays(bundle=one, lay=lay_rows[n])
        for one, (bundle, _) in zip(written, lined, strict=True)
        for n in bundle.lays
    )
    return True


#: Plies of which the cloth is still to be bought are of a lot that nobody knows, but not of any that is there.
TO_BUY = "\0to buy"
#: Put behind the lot of plies whose roll came in later: they are shared out as they were while it was to be bought.
CAME_LATER = "\0came later"


def named_lot(lot: str) -> str:
    """The shade lot as it stands on the ticket."""
    return lot.partition("\0")[0]


def lots_of(batch: Batch, lays: Sequence[Lay]) -> dict[int, list[str]]:
    """The shade lot of each of the plies of each lay by its number, in their order. Two queries."""
    numbers = {lay.pk: lay.number for lay in lays}
    lots: dict[int, str] = {}
    for one in LayRoll.objects.filter(lay_cloth__lay__batch=batch).select_related("roll"):
        if lots.get(one.lay_cloth_id) == TO_BUY:
            continue  # kept for plies to be bought, which gives them no lot yet
        lot = TO_BUY if one.roll is None else one.roll.shade_lot
        lots[one.lay_cloth_id] = f"{lot}{CAME_LATER}" if one.came_later else lot
    found: dict[int, list[str]] = defaultdict(list)
    rows = LayCloth.objects.filter(lay__batch=batch, spreads__gt=0).order_by("pk")
    for pk, lay in rows.values_list("pk", "lay_id"):
        if lay in numbers:
            found[numbers[lay]].append(lots.get(pk, ""))
    return found


#: Garments cut one after the other: the lay, their shade lot, how many.
Run = tuple[int, str, int]


def bundles_of(
    demand: BatchDemand,
    shop: Workshop,
    lays: Sequence[PlannedLay],
    lots: Mapping[int, Sequence[str]],
    *,
    batch: str,
) -> list[PlannedBundle]:
    """Bundles of at most `shop.bundle_size` garments alike, each from one lay of the garments' main cloth.

    The garments a lay holds are shared out evenly over as few bundles as will do, none of which mixes shade lots of a
    cloth. Numbers are batch-01, batch-02 and so on in the order of the lays.
    """
    wanted = [row.garment for row in demand.demand if row.quantity > 0]
    mains = {garment: main_cloth(garment, shop) for garment in wanted}
    others: dict[Garment, dict[ClothKey, list[Run]]] = defaultdict(lambda: defaultdict(list))
    for lay in lays:
        for cloth in lay.cloths:
            for garment, runs in runs_of(lay, cloth, lots.get(lay.section, ())).items():
                if cloth != mains[garment]:
                    others[garment][cloth] += runs
    found: list[PlannedBundle] = []
    for lay in lays:
        for cloth in lay.cloths:
            for garment, runs in runs_of(lay, cloth, lots.get(lay.section, ())).items():
                if cloth != mains[garment]:
                    continue
                for _, lot, count in runs:
                    for quantity, sections in _parts(count, shop.bundle_size, others[garment]):
                        number = f"{batch}-{len(found) + 1:02d}"
                        from_lays = tuple(sorted({lay.section, *sections}))
                        found.append(PlannedBundle(number, garment, quantity, lay.section, from_lays, lot))
    return found


def runs_of(lay: PlannedLay, cloth: ClothKey, lots: Sequence[str]) -> dict[Garment, list[Run]]:
    """How many of each garment a lay cuts from this cloth, shade lot by shade lot."""
    found: dict[Garment, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    known = lots if len(lots) == len(lay.plies) else [""] * len(lay.plies)
    for plies, lot in zip(lay.plies, known, strict=True):
        if plies.cloth == cloth:
            for slot in plies.slots:
                found[slot][lot] += plies.spreads
    return {
        garment: [(lay.section, lot, count) for lot, count in of_lot.items()]
        for garment, of_lot in found.items()
    }


def _parts(count: int, most: int, others: Mapping[ClothKey, list[Run]]) -> Iterator[tuple[int, set[int]]]:
    """So many garments as bundles, each with the lays its other pieces come from, which are taken off `others`."""
    while count > 0:
        alike = min([count, *(_of_one_lot(runs) for runs in others.values() if runs)])
        for quantity in even_parts(alike, most):
            sections: set[int] = set()
            for runs in others.values():
                sections |= _draw(runs, quantity)
            yield quantity, sections
        count -= alike


def _of_one_lot(runs: Sequence[Run]) -> int:
    """Garments until the shade lot changes."""
    return sum(count for _, _, count in takewhile(lambda run: run[1] == runs[0][1], runs))


def _draw(runs: list[Run], quantity: int) -> set[int]:
    """Takes so many garments from the lays in their order; the lays they came from."""
    sections: set[int] = set()
    while quantity > 0 and runs:
        section, lot, there = runs.pop(0)
        sections.add(section)
        if there > quantity:
            runs.insert(0, (section, lot, there - quantity))
        quantity -= there
    return sections


def _are_there(
    batch: Batch, lined: Sequence[LinedBundle], demand: BatchDemand, lays: Mapping[int, Lay]
) -> bool:
    """Whether the bundles of the batch are these already, but for their shade lots, which are then set."""
    there = list(batch.bundles.order_by("pk").prefetch_related("options", "lays"))
    if len(there) != len(lined):
        return False
    for row, (bundle, line) in zip(there, lined, strict=True):
        rows = demand.rows[bundle.garment]
        wanted = (
            lays[bundle.lay].pk, line.pk if line else None, rows.style.pk, rows.colourway.pk, rows.size.pk,
            bundle.quantity, {option.pk for option in rows.options}, {lays[n].pk for n in bundle.lays},
        )  # fmt: skip
        held = (
            row.lay_id, row.line_id, row.style_id, row.colourway_id, row.size_id,
            row.quantity, {option.pk for option in row.options.all()}, {lay.pk for lay in row.lays.all()},
        )  # fmt: skip
        if wanted != held:
            return False
    others = []
    for row, (bundle, _) in zip(there, lined, strict=True):
        if row.shade_lot != named_lot(bundle.shade_lot):
            row.shade_lot = named_lot(bundle.shade_lot)
            others.append(row)
    Bundle.objects.bulk_update(others, ["shade_lot"], batch_size=LOTS_AT_ONCE)
    return True


def _with_single_orders(bundles: Sequence[PlannedBundle], demand: BatchDemand) -> list[LinedBundle]:
    """Each bundle with its order line where all garments of its kind are for one line."""
    lines = demand.lines
    return [
        (bundle, lines[bundle.garment][0][0] if len(lines[bundle.garment]) == 1 else None)
        for bundle in bundles
    ]


def _by_order_line(bundles: Sequence[PlannedBundle], demand: BatchDemand) -> list[LinedBundle]:
    """The bundles divided so that each holds garments of one order line, lines in their order."""
    queues: dict[Garment, deque[list]] = defaultdict(deque)
    for garment, wanted in demand.lines.items():
        queues[garment].extend([line, quantity] for line, quantity in wanted)
    lined: list[LinedBundle] = []
    for bundle in bundles:
        left, queue = bundle.quantity, queues[bundle.garment]
        while left:
            line, wanted = queue[0]
            take = min(left, wanted)
            lined.append((replace(bundle, quantity=take), line))
            left -= take
            queue[0][1] -= take
            if queue[0][1] == 0:
                queue.popleft()
    return lined
