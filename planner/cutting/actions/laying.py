"""The lays of a batch as rows: those that stay, those that go, those that are new; and the bundles cut from them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db import transaction
from django.db.models import F

from planner.core.lays.model import PlannedLay
from planner.core.lays.nest import seconds_for
from planner.core.lays.plan import numbered
from planner.core.planning import MOST_SECONDS
from planner.core.spec import Garment, Workshop
from planner.cutting.bundling import write_bundles
from planner.cutting.cut_plans import Shape, extras, in_cutting_order, shape_of
from planner.cutting.demand import BatchDemand, batch_demand
from planner.cutting.marker_store import make_marker
from planner.cutting.models import Batch, BatchItem, Lay, Marker
from planner.cutting.stored import StoredLay, stored_lay, write_lays
from planner.cutting.tasks import queue_nesting

#: No marker is nested for less (s).
LEAST_SECONDS = 1.0
#: Lay numbers are moved out of the way by so much before they are given anew.
_ASIDE = 10_000


def nesting_seconds(rounds: int) -> float:
    """Nesting seconds for all lays of a batch together, before the choice stands, and about as long after it.

    Lays that are new in a later round get no less each than in the first, else their lengths would compare badly.
    """
    return float(MOST_SECONDS) * (0.45 if rounds < 2 else 0.3)


@dataclass(frozen=True)
class Laid:
    """What came of putting lays in place: those that are there now, how many are new."""

    lays: tuple[StoredLay, ...]
    new: int


def put_lays(batch: Batch, wanted: Iterable[PlannedLay], shop: Workshop, *, seconds: float | None) -> Laid:
    """Makes these the lays of a batch of which nothing is cut, numbered through in the order of cutting.

    Lays that are cut alike stay what they are, with their markers; the others go. Markers still to be nested go to the
    worker once all is committed, each with its share of the `seconds` for the whole batch. Extra garments and bundles
    follow. Call it with the batch locked.
    """
    there: dict[Shape, list[StoredLay]] = defaultdict(list)
    for row in batch.lays.with_everything():
        stored = stored_lay(row)
        there[shape_of(stored.planned, row.marker.key)].append(stored)
    planned = numbered(in_cutting_order(wanted))
    stays: dict[int, StoredLay] = {}
    for lay in planned:
        alike = there[shape_of(lay)]
        if alike:
            stays[lay.section] = alike.pop(0)
    drop_lays([stored.row for alike in there.values() for stored in alike])
    _renumber(batch, {number: stored.row for number, stored in stays.items()})
    new = [lay for lay in planned if lay.section not in stays]
    shares = dict(
        zip(
            (lay.section for lay in planned),
            nesting_shares([len(lay.job.items) for lay in planned], seconds),
            strict=True,
        )
    )
    markers = [make_marker(lay.job, shares[lay.section]) for lay in new]
    _store_extras(batch, planned, shop)
    demand = batch_demand(batch)
    made = write_lays(batch, list(zip(new, markers, strict=True)), demand.rows)
    for marker in markers:
        if marker.state == Marker.State.WAITING:
            queue_nesting(marker)
    rows = {lay.number: lay for lay in made} | {number: stored.row for number, stored in stays.items()}
    lays = [replace(stays[n].planned, section=n) if n in stays else lay for n, lay in enumerate(planned, 1)]
    write_bundles(batch, demand, shop, lays, [rows[lay.section] for lay in lays])
    return Laid(tuple(StoredLay(rows[lay.section], lay, None) for lay in lays), len(new))


def write_lays_and_bundles(
    batch: Batch, demand: BatchDemand, shop: Workshop, pairs: Sequence[tuple[PlannedLay, Marker]]
) -> None:
    """Lays that were planned elsewhere, with their markers, and bundles as rows."""
    lays = write_lays(batch, pairs, demand.rows)
    write_bundles(batch, demand, shop, [planned for planned, _ in pairs], lays)
    for _, marker in pairs:
        if marker.state == Marker.State.WAITING:
            queue_nesting(marker)


def drop_lays(lays: Sequence[Lay]) -> None:
    """Removes lays. Of their markers those that nobody lays any more are told to stop, or removed if not begun."""
    markers = [lay.marker_id for lay in lays]
    Lay.objects.filter(pk__in=[lay.pk for lay in lays]).delete()
    orphans = Marker.objects.filter(pk__in=markers, lays__isnull=True)
    orphans.filter(state=Marker.State.NESTING).update(stop_wanted=True)
    orphans.filter(state=Marker.State.WAITING).delete()


def _renumber(batch: Batch, rows: Mapping[int, Lay]) -> None:
    """Gives these lays these numbers; all others of the batch are gone."""
    if all(row.number == number for number, row in rows.items()):
        return
    batch.lays.update(number=F("number") + _ASIDE)
    for number, row in rows.items():
        row.number = number
        row.save(update_fields=["number"])


def nesting_shares(pieces: Sequence[int], seconds: float | None) -> list[float]:
    """Nesting seconds for each lay of a batch, by its pieces; None is what each needs."""
    wanted = [seconds_for(count) for count in pieces]
    together = sum(wanted)
    whole = together if seconds is None else min(seconds, together)
    return [max(LEAST_SECONDS, whole * one / together) for one in wanted]


def _store_extras(batch: Batch, planned: Sequence[PlannedLay], shop: Workshop) -> None:
    """Notes at the batch's items which of the garments cut beyond what is ordered are theirs."""
    items = list(batch.items.select_related("line__style", "line__colourway", "size").prefetch_related(
        "line__options__detail"
    ))  # fmt: skip
    if not any(item.extra_allowed or item.extra for item in items):
        return
    left = extras(planned, batch_demand(batch).ordered, shop)
    for item in items:
        garment = garment_of_item(item)
        item.extra = min(left.get(garment, 0), item.extra_allowed)
        left[garment] = left.get(garment, 0) - item.extra
    BatchItem.objects.bulk_update(items, ["extra"])


def garment_of_item(item: BatchItem) -> Garment:
    """What an item asks for, in the core's words (line, options and size read already)."""
    from planner.core.spec import make_options

    options = make_options((option.detail.name, option.name) for option in item.line.options.all())
    return Garment(item.line.style.number, options, item.line.colourway.name, item.size.name)


def lock(batch: Batch) -> Batch:
    """The batch as it is now, and nobody else changes its plan until the transaction ends."""
    assert transaction.get_connection().in_atomic_block
    return Batch.objects.select_for_update().get(pk=batch.pk)
