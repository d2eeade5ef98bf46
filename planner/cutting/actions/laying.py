"""The lays of a batch as rows: those that stay, those that go, those that are new; and the bundles cut from them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db import transaction
from django.db.models import Case, F, PositiveIntegerField, Value, When

from planner.core.lays.model import MarkerJob, PlannedLay
from planner.core.lays.nest import seconds_for
from planner.core.lays.plan import numbered
from planner.core.lays.stored import marker_key
from planner.core.planning import MOST_SECONDS
from planner.core.spec import Garment, Workshop
from planner.cutting.bundling import write_bundles
from planner.cutting.cut_plans import Shape, extras, in_cutting_order, shape_of
from planner.cutting.demand import BatchDemand, batch_demand
from planner.cutting.marker_store import unsaved_marker
from planner.cutting.models import Batch, BatchItem, Lay, Marker
from planner.cutting.stored import StoredLay, write_lays
from planner.cutting.tasks import FIRST_SEED, POLISH_SEED, queue_nestings

#: No marker is nested for less (s).
LEAST_SECONDS = 1.0
#: Lay numbers are moved out of the way by at least so much before they are given anew.
_ASIDE = 10_000
#: Each holds all its outlines, so that many in one statement would take much memory.
MARKERS_AT_ONCE = 50
#: So many lays get other numbers in one statement.
NUMBERS_AT_ONCE = 200


def nesting_seconds(rounds: int) -> float:
    """Nesting seconds for all lays of a batch together, before the choice stands, and about as long after it.

    Lays that are new in a later round get no less each than in the first, else their lengths would compare badly.
    """
    return float(MOST_SECONDS) * (0.45 if rounds < 2 else 0.3)


@dataclass(frozen=True)
class Ready:
    """Lays to be put in place, all that takes long reckoned: `planned` are all of them, numbered through in the order
    of cutting, `stays` those that are there already, by their new numbers, `gone` those that go. `new` have markers
    that are not saved yet, one for all lays that ask the very same.
    """

    planned: tuple[PlannedLay, ...]
    stays: dict[int, StoredLay]
    gone: tuple[Lay, ...]
    new: tuple[tuple[PlannedLay, Marker], ...]


def ready_lays(wanted: Iterable[PlannedLay], there: Sequence[StoredLay], *, seconds: float | None) -> Ready:
    """What becomes of the lays that are `there` where these are `wanted`. Reckons only, before anything is locked.

    Lays that are cut alike stay what they are, with their markers; the others go. Each marker still to be nested has
    its share of the `seconds` for the whole batch (None for as long as they need).
    """
    planned = numbered(in_cutting_order(wanted))
    stays, gone = _those_that_stay(planned, there)
    pieces: dict[MarkerJob, int] = {lay.job: len(lay.job.items) for lay in planned}
    shares = dict(zip(pieces, nesting_shares(list(pieces.values()), seconds), strict=True))
    markers: dict[MarkerJob, Marker] = {}
    new = []
    for lay in planned:
        if lay.section not in stays:
            if lay.job not in markers:
                markers[lay.job] = unsaved_marker(lay.job, shares[lay.job])
            new.append((lay, markers[lay.job]))
    return Ready(planned, stays, gone, tuple(new))


def _those_that_stay(
    planned: Sequence[PlannedLay], there: Sequence[StoredLay]
) -> tuple[dict[int, StoredLay], tuple[Lay, ...]]:
    """Of the lays that are there those that are cut as planned, by the numbers they are to have; and those that go."""
    if not there:
        return {}, ()
    alike: dict[Shape, list[StoredLay]] = defaultdict(list)
    for stored in there:
        alike[shape_of(stored.planned, stored.row.marker.key)].append(stored)
    keys: dict[MarkerJob, str] = {}
    stays: dict[int, StoredLay] = {}
    for lay in planned:
        key = keys.get(lay.job) or keys.setdefault(lay.job, marker_key(lay.job))
        if found := alike[shape_of(lay, key)]:
            stays[lay.section] = found.pop(0)
    return stays, tuple(stored.row for left in alike.values() for stored in left)


@dataclass(frozen=True)
class Laid:
    """What came of putting lays in place: those that are there now, how many are new."""

    lays: tuple[StoredLay, ...]
    new: int


def put_lays(batch: Batch, ready: Ready, shop: Workshop) -> Laid:
    """Makes these the lays of a batch of which nothing is cut; extra garments and bundles follow.

    Markers still to be nested go to the worker once all is committed. Call it with the batch locked, and only where
    its lays are still those that `ready` was reckoned from. The number of queries grows with that of different markers
    alone, and only by one for every fifty.
    """
    drop_lays(ready.gone)
    _renumber(batch, {number: stored.row for number, stored in ready.stays.items()})
    markers = list({id(marker): marker for _, marker in ready.new}.values())
    Marker.objects.bulk_create(markers, batch_size=MARKERS_AT_ONCE)
    _store_extras(batch, ready.planned, shop)
    demand = batch_demand(batch)
    made = write_lays(batch, ready.new, demand.rows)
    queue_nestings(marker for marker in markers if marker.state == Marker.State.WAITING)
    stays = ready.stays
    rows = {lay.number: lay for lay in made} | {number: stored.row for number, stored in stays.items()}
    lays = [
        replace(stays[n].planned, section=n) if n in stays else lay for n, lay in enumerate(ready.planned, 1)
    ]
    write_bundles(batch, demand, shop, lays, [rows[lay.section] for lay in lays])
    return Laid(tuple(StoredLay(rows[lay.section], lay, None) for lay in lays), len(ready.new))


def write_lays_and_bundles(
    batch: Batch, demand: BatchDemand, shop: Workshop, pairs: Sequence[tuple[PlannedLay, Marker]]
) -> None:
    """Lays that were planned elsewhere, with their markers, and bundles as rows."""
    lays = write_lays(batch, pairs, demand.rows)
    write_bundles(batch, demand, shop, [planned for planned, _ in pairs], lays)
    queue_nestings(marker for _, marker in pairs if marker.state == Marker.State.WAITING)


def drop_lays(lays: Sequence[Lay]) -> None:
    """Removes lays. Of their markers those that nobody lays any more are told to stop, or removed if not begun.

    One that waits for a second nesting has a length that plans were chosen by: it is left with that, as it was.
    """
    markers = [lay.marker_id for lay in lays]
    Lay.objects.filter(pk__in=[lay.pk for lay in lays]).delete()
    orphans = Marker.objects.filter(pk__in=markers, lays__isnull=True)
    orphans.filter(state=Marker.State.NESTING).update(stop_wanted=True)
    waiting = orphans.filter(state=Marker.State.WAITING)
    again = waiting.exclude(seed=FIRST_SEED).exclude(length_mm=None)
    first = Value(FIRST_SEED, output_field=PositiveIntegerField())
    before = Case(When(seed=POLISH_SEED, then=first), default=F("seed"))
    again.update(state=Marker.State.READY, seed=before)
    waiting.delete()


def _renumber(batch: Batch, rows: Mapping[int, Lay]) -> None:
    """Gives these lays these numbers; all others of the batch are gone."""
    if all(row.number == number for number, row in rows.items()):
        return
    highest = max((row.number for row in rows.values()), default=0)
    batch.lays.update(number=F("number") + max(_ASIDE, highest))
    for number, row in rows.items():
        row.number = number
    Lay.objects.bulk_update(rows.values(), ["number"], batch_size=NUMBERS_AT_ONCE)


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
