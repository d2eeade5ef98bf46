"""Planned batches for tests, quick to make: markers are laid in plain rows, bundles are ready to be cut."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from itertools import count

from django.contrib.auth.models import User

from planner.core.lays.rows import first_marker
from planner.core.lays.stored import job_from_json
from planner.cutting.actions.gathering import create_batch, fill_batch
from planner.cutting.actions.planning import plan_batch, refresh_needs
from planner.cutting.marker_store import marker_fields
from planner.cutting.models import Batch, Bundle, CutPlan, Lay, Marker
from planner.materials.models import Workroom
from planner.orders.models import LineQuantity, Order
from planner.sewing.actions import Ticked, tick
from planner.sewing.models import ProgressEvent
from planner.sewing.progress import Step, state_of
from planner.styles.models import Style
from tests.factories import NOON, TODAY, make_order, make_style
from tests.kept_rows import made_once, no_rows_yet

_keys = count(1)


def make_planned_batch(*orders: Order, bundle_size: int | None = None, cut: bool = False) -> Batch:
    """A batch of everything the orders want, planned and nested; with `cut`, off the table too.

    Without orders one of its own: three size M and two size L of a box top in ink with a rib band, which makes
    two bundles with four steps each. In an empty workroom that one is planned once a process, then put in as rows.
    """
    if not orders and bundle_size is None and no_rows_yet():
        made_once("the plain batch", lambda: make_planned_batch(_own_order()))
        batch = Batch.objects.get()
        if cut:
            cut_all(batch)
        return batch
    if bundle_size is not None:
        Workroom.the()
        Workroom.objects.update(bundle_size=bundle_size)
    orders = orders or (_own_order(),)
    batch = create_batch(None, TODAY)
    rows = LineQuantity.objects.filter(line__order__in=orders)
    filled = fill_batch(batch, {row.pk: row.quantity for row in rows})
    planned = plan_batch(batch, NOON)
    assert not filled.problems
    assert not planned.problems, planned.problems
    nest_all(batch)
    batch.refresh_from_db()
    if cut:
        cut_all(batch)
    return batch


def _own_order() -> Order:
    return make_order([(the_style(), {"neck": "rib band"}, "ink", {"M": 3, "L": 2})])


def the_style() -> Style:
    """The box top 110, made at first use."""
    return Style.objects.filter(number="110").first() or make_style(colourways=("ink", "moss"))


def nest_all(batch: Batch) -> None:
    """Lays every marker of a batch in plain rows; its plan stands as it was made at first."""
    for row in Marker.objects.filter(lays__batch=batch).distinct():
        marker = first_marker(job_from_json(row.job))
        Marker.objects.filter(pk=row.pk).update(state=Marker.State.READY, **marker_fields(marker))
    batch.cut_plans.update(state=CutPlan.State.SETTLED)
    refresh_needs(batch)


def cut_all(batch: Batch, person: User | None = None) -> None:
    """Every lay of a batch is cut."""
    Lay.objects.filter(batch=batch).update(cut_at=NOON, cut_by=person)
    batch.state = Batch.State.SEWING
    batch.save(update_fields=["state"])


def fresh_key() -> str:
    """A key no page has used."""
    return f"test-{next(_keys)}"


def sew(bundle: Bundle, steps: int | None = None, person: User | None = None) -> None:
    """The first `steps` operations of a bundle that is cut, none of them ticked yet (all where None), are ticked."""
    first = state_of(bundle).steps[:steps]
    assert not any(step.done for step in first), "ticked already"
    _tick_all(bundle, first, person)


def sew_on(bundle: Bundle) -> None:
    """Every operation that is still open is ticked."""
    _tick_all(bundle, [step for step in state_of(bundle).steps if not step.done], None)


def _tick_all(bundle: Bundle, steps: Iterable[Step], person: User | None) -> None:
    """Writes in one go what `tick`, which reads the bundle twice for each step, writes one by one."""
    steps = list(steps)
    assert not steps or Bundle.objects.with_cut().get(pk=bundle.pk).is_cut, (
        "not cut yet, so it cannot be ticked"
    )
    ProgressEvent.objects.bulk_create(
        ProgressEvent(
            bundle=bundle,
            step=ProgressEvent.Step.SEW,
            operation=step.operation,
            done=True,
            person=person,
            happened_at=NOON,
            key=fresh_key(),
        )
        for step in steps
    )


def check(bundle: Bundle, person: User | None = None) -> Ticked:
    """Ticks the check of a bundle."""
    return tick(bundle, None, done=True, person=person, now=NOON, key=fresh_key())


def finish_bundles(batch: Batch) -> None:
    """Sews and checks every bundle of a batch that is cut."""
    for bundle in batch.bundles.all():
        sew(bundle)
        assert check(bundle).changed


def make_plain_order(quantity: int, due_on: date, number: str) -> Order:
    """An order of so many box tops, rib band, ink, size M."""
    return make_order(
        [(the_style(), {"neck": "rib band"}, "ink", {"M": quantity})], due_on=due_on, number=number
    )
