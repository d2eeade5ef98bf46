"""Bundles of a batch: written from the plan, each with a token for its ticket."""

from __future__ import annotations

import secrets
from collections import defaultdict, deque
from collections.abc import Sequence
from dataclasses import replace

from planner.core.lays.model import PlannedLay
from planner.core.planning import PlannedBundle, make_bundles
from planner.core.spec import Garment, Workshop
from planner.cutting.demand import BatchDemand
from planner.cutting.models import Batch, Bundle, Lay
from planner.orders.models import OrderLine

#: A bundle size no lay reaches: bundles are then divided by order line alone.
NO_LIMIT = 1_000_000

LinedBundle = tuple[PlannedBundle, OrderLine | None]


def with_bundle_size(shop: Workshop) -> Workshop:
    """The workshop with a bundle size the core knows: 0 in the workroom means that nothing limits it."""
    return replace(shop, bundle_size=shop.bundle_size or NO_LIMIT)


def write_bundles(
    batch: Batch, demand: BatchDemand, shop: Workshop, planned: Sequence[PlannedLay], lays: Sequence[Lay]
) -> None:
    """Writes the bundles of a batch; earlier ones must be gone.

    With a bundle size of 0 in the workroom there is one bundle for each order line (and lay), else bundles of
    at most that size, which may hold garments of several orders.
    """
    # No batch reaches the limit that stands for "by order line".
    by_line = shop.bundle_size in {0, NO_LIMIT}
    bundles = make_bundles(demand.demand, with_bundle_size(shop), planned, batch=batch.number)
    lined = _by_order_line(bundles, demand) if by_line else _with_single_orders(bundles, demand)
    lay_rows = {lay.number: lay for lay in lays}
    for number, (bundle, line) in enumerate(lined, 1):
        row = demand.rows[bundle.garment]
        written = Bundle.objects.create(
            batch=batch,
            number=f"{batch.number}-{number:02d}",
            token=secrets.token_urlsafe(12),
            lay=lay_rows[bundle.lay],
            line=line,
            style=row.style,
            colourway=row.colourway,
            size=row.size,
            quantity=bundle.quantity,
        )
        written.options.set(row.options)
        written.lays.set([lay_rows[n] for n in bundle.lays])


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
