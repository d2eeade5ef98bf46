"""Nesting in the worker when things go otherwise: stopped, broken down, divided, cut meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest
from django.db import OperationalError, connection
from django_tasks.base import Task

from planner.core.lays import nest as core_nest
from planner.core.lays.check import least_length_mm
from planner.core.lays.nest import NestingFailed
from planner.core.lays.rows import first_marker
from planner.core.lays.stored import job_from_json, marker_from_json
from planner.cutting.actions import cut_off, gathering, nesting, planning, settling, table
from planner.cutting.marker_store import read_marker
from planner.cutting.models import Batch, CutPlan, Marker
from planner.cutting.plan_progress import progress_of
from planner.cutting.stored import planned_batch
from planner.cutting.tasks import nest_marker
from planner.materials.models import Workroom
from planner.orders.models import LineQuantity, Order
from tests.cutting.once import make_planned_batch, once
from tests.cutting.table_makers import tell_all_of
from tests.factories import NOON, TODAY, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db


@pytest.fixture
def order() -> Order:
    return make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])


@pytest.fixture
def queued(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The markers that were put into the worker's queue."""
    pks: list[int] = []

    def note(task: Task, *pk: int) -> None:
        if task.name == nest_marker.name:
            pks.extend(pk)

    monkeypatch.setattr(type(nest_marker), "enqueue", note)
    return pks


def planned(order: Order) -> Batch:
    batch = gathering.create_batch(None, TODAY)
    gathering.fill_batch(
        batch, {row.pk: row.quantity for row in LineQuantity.objects.filter(line__order=order)}
    )
    assert not planning.plan_batch(batch, NOON, seconds=2).problems
    batch.refresh_from_db()
    return batch


waiting_batch = once(planned)


def largest(batch: Batch) -> Marker:
    return max((lay.marker for lay in batch.lays.all()), key=lambda marker: marker.length_mm)


def cut(batch: Batch, number: int) -> None:
    lay = batch.lays.get(number=number)
    tell_all_of(lay, "1")


def test_planning_queues_each_marker_once_all_is_written(
    order: Order, queued: list[int], django_capture_on_commit_callbacks: Callable
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        batch = planned(order)
        assert queued == []
    assert sorted(queued) == sorted(batch.lays.values_list("marker_id", flat=True))


def test_a_lay_that_waits_shows_plain_rows_and_calls_them_so(order: Order) -> None:
    shown = [read_marker(lay.marker) for lay in waiting_batch(order).lays.select_related("marker")]
    assert {marker.how for marker in shown if marker} == {"rows"}


def test_a_stop_keeps_what_was_found_by_then(order: Order, monkeypatch: pytest.MonkeyPatch) -> None:
    marker = largest(waiting_batch(order))
    monkeypatch.setattr(nesting, "BREATH", 0.0)
    better: list[float] = []

    def stop_at_the_first(job: object, **options: object) -> object:
        on_progress = options["on_progress"]

        def tell(found: object) -> None:
            better.append(found.length_mm)  # type: ignore[attr-defined]
            Marker.objects.filter(pk=marker.pk).update(stop_wanted=True)
            on_progress(found)  # type: ignore[operator]

        return core_nest.nest(job, **{**options, "on_progress": tell})  # type: ignore[arg-type]

    monkeypatch.setattr(nesting, "nest", stop_at_the_first)
    Marker.objects.filter(pk=marker.pk).update(seconds=60)
    assert nesting.nest_one(marker.pk) == "stopped"
    marker.refresh_from_db()
    assert marker.is_final
    assert marker.length_mm == pytest.approx(min(better))
    assert len(marker_from_json(marker.placements).placements) == len(job_from_json(marker.job).items)


@pytest.mark.parametrize(("seconds", "gives_way"), [(2, False), (120, False), (2, True)])
def test_a_stop_that_comes_after_the_last_breath_is_heard_too(
    order: Order, monkeypatch: pytest.MonkeyPatch, seconds: float, gives_way: bool
) -> None:
    """Else what somebody stopped would be nested again: on for its time, when it gave way, or a second time."""
    marker = largest(waiting_batch(order))
    monkeypatch.setattr(nesting, "BREATH", 0.0)

    def nest(job: object, **options: object) -> object:
        found = first_marker(job)  # type: ignore[arg-type]
        assert options["should_stop"]() is gives_way  # type: ignore[operator]
        assert nesting.stop_and_keep(marker)
        return found

    monkeypatch.setattr(nesting, "nest", nest)
    Marker.objects.filter(pk=marker.pk).update(seconds=seconds)
    assert nesting.nest_one(marker.pk, (lambda: True) if gives_way else None) == "stopped"
    marker.refresh_from_db()
    assert marker.state == Marker.State.STOPPED


def test_a_lay_that_is_cut_while_the_worker_draws_breath_stops_its_nesting(
    order: Order, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between telling the best and asking whether to stop."""
    marker = largest(waiting_batch(order))
    monkeypatch.setattr(nesting, "BREATH", 0.0)

    def keep_as_cut(execute: Callable, sql: str, *more: object) -> object:
        answer = execute(sql, *more)
        if "heartbeat_at" in sql and sql.startswith("UPDATE") and '"started_at"' not in sql:
            Marker.objects.filter(pk=marker.pk).update(state=Marker.State.STOPPED)
        return answer

    def nest(job: object, **options: object) -> object:
        with connection.execute_wrapper(keep_as_cut):
            assert options["should_stop"]()  # type: ignore[operator]
        return first_marker(job)  # type: ignore[arg-type]

    monkeypatch.setattr(nesting, "nest", nest)
    assert nesting.nest_one(marker.pk) == "stopped"


@pytest.mark.parametrize(
    ("longer_mm", "efficiency", "told"),
    [
        (100, 0.87, "in rows, which fit the cloth well"),
        (100, 0.84, "in plain rows, nothing better was found"),
        (0.5, 0.3, "in rows; these pieces cannot lie shorter"),
    ],
)
def test_rows_are_a_warning_only_where_they_are_poor(
    order: Order, monkeypatch: pytest.MonkeyPatch, longer_mm: float, efficiency: float, told: str
) -> None:
    marker = largest(waiting_batch(order))
    job = job_from_json(marker.job)
    rows = replace(first_marker(job), how="rows", efficiency=efficiency)
    found = replace(rows, length_mm=least_length_mm(job) + longer_mm)
    monkeypatch.setattr(nesting, "nest", lambda *args, **options: found)
    assert nesting.nest_one(marker.pk) == "ready"
    marker.refresh_from_db()
    assert marker.message == told


def test_what_cannot_be_nested_says_why(order: Order, monkeypatch: pytest.MonkeyPatch) -> None:
    batch = waiting_batch(order)
    marker = largest(batch)
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    Marker.objects.filter(pk=marker.pk).update(job={**marker.job, "lay_width_mm": 101.6})
    Workroom.objects.update(display="imperial")
    assert nesting.nest_one(marker.pk) == "failed"
    marker.refresh_from_db()
    assert marker.state == Marker.State.FAILED
    assert marker.message.endswith("but the cloth lies only 4\N{THIN SPACE}in wide")
    told = [one.now for one in progress_of(planned_batch(batch), "metric").values()]
    assert any("could not be nested, and the plan waits for it" in text for text in told)
    assert not any("of work left" in text for text in told), "nobody is at work"
    assert nesting.run_longer(marker, 5.0), "it may be tried again"


def test_a_breakdown_leaves_no_marker_nesting_for_ever(order: Order) -> None:
    marker = largest(waiting_batch(order))
    Marker.objects.filter(pk=marker.pk).update(job={"spoilt": True})
    with pytest.raises(KeyError):
        nesting.nest_one(marker.pk)
    marker.refresh_from_db()
    assert (marker.state, marker.message) == (Marker.State.FAILED, "the nesting broke down")


def test_a_breakdown_leaves_what_was_laid_before_as_it_is(
    order: Order, monkeypatch: pytest.MonkeyPatch
) -> None:
    marker = largest(make_planned_batch(order))
    assert nesting.run_longer(marker, 5.0)
    before = marker.length_mm

    def broken(*_: object, **__: object) -> None:
        raise KeyError("spoilt")

    monkeypatch.setattr(nesting, "nest", broken)
    with pytest.raises(KeyError):
        nesting.nest_one(marker.pk)
    marker.refresh_from_db()
    assert (marker.state, marker.length_mm) == (Marker.State.READY, before)
    assert "broke down" in marker.message


@pytest.mark.parametrize("ends", ["failed", "given up"])
def test_a_lay_nested_before_is_still_laid_whatever_ends_a_later_nesting(
    order: Order, monkeypatch: pytest.MonkeyPatch, ends: str
) -> None:
    marker = largest(make_planned_batch(order))
    before = marker.length_mm
    assert nesting.run_longer(marker, 5.0)
    asked: list[int] = []
    monkeypatch.setattr(nesting, "after_nesting", asked.append)

    def fails(*_: object, **__: object) -> None:
        raise NestingFailed("nothing was found that may be cut")

    monkeypatch.setattr(nesting, "nest", fails)
    if ends == "failed":
        assert nesting.nest_one(marker.pk) == "stays as it was"
        why = "nesting it longer failed (nothing was found that may be cut), so it stays as it was"
    else:
        cut_off.give_up(marker.pk)
        why = cut_off.KEPT
    marker.refresh_from_db()
    assert (marker.state, marker.length_mm, marker.is_laid) == (Marker.State.READY, before, True)
    assert (marker.message, asked) == (why, [marker.pk])


def test_what_is_given_up_too_late_stays_as_it_is(order: Order) -> None:
    marker = largest(make_planned_batch(order))
    cut_off.give_up(marker.pk)
    marker.refresh_from_db()
    assert (marker.state, marker.message) == (Marker.State.READY, "")


def test_a_database_that_is_busy_for_long_spoils_no_nesting(
    order: Order, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither what is written on the way nor the end: it is written with the next breath, and tried again."""
    marker = largest(waiting_batch(order))
    real, asked = nesting._still_nested, []

    def locked_at_first(pk: int) -> object:
        asked.append(pk)
        if len(asked) in {1, 3}:
            raise OperationalError("database is locked")
        return real(pk)

    def nest(job: object, *, on_progress: Callable, should_stop: Callable, **_: object) -> object:
        monkeypatch.setattr(nesting, "BREATH", 0.0)
        found = first_marker(job)
        on_progress(found)
        assert not should_stop()
        return found

    monkeypatch.setattr(nesting, "_still_nested", locked_at_first)
    monkeypatch.setattr(nesting, "nest", nest)
    assert nesting.nest_one(marker.pk) == "ready"
    marker.refresh_from_db()
    assert (marker.state, marker.length_mm is not None, len(asked)) == (Marker.State.READY, True, 4)


def test_running_longer_and_taking_up_again_queue_the_marker(
    order: Order, queued: list[int], django_capture_on_commit_callbacks: Callable
) -> None:
    batch = make_planned_batch(order)
    marker = largest(batch)
    queued.clear()
    with django_capture_on_commit_callbacks(execute=True):
        assert nesting.run_longer(marker, 20.0)
    assert queued == [marker.pk]
    # However lately it was heard of, nothing is nesting when the house is only just being opened.
    Marker.objects.filter(pk=marker.pk).update(state=Marker.State.NESTING, heartbeat_at=NOON)
    with django_capture_on_commit_callbacks(execute=True):
        assert cut_off.take_up_again(NOON) == 0
        assert cut_off.take_up_again(NOON, all_nesting=True) == 1
    assert queued == [marker.pk, marker.pk]
    marker.refresh_from_db()
    assert marker.state == Marker.State.WAITING


@pytest.mark.usefixtures("nested_soon")
def test_needs_follow_a_lay_that_is_nested_after_another_was_cut(order: Order) -> None:
    batch = waiting_batch(order)
    first, second = batch.lays.all()
    Marker.objects.filter(pk__in=[first.marker_id, second.marker_id]).update(seconds=1)
    nesting.nest_one(first.marker_id)
    cut(batch, 1)
    assert batch.needs.get(fabric_colour=second.cloths.get().fabric_colour).is_estimate
    nesting.nest_one(second.marker_id)
    need = batch.needs.get(fabric_colour=second.cloths.get().fabric_colour)
    second.marker.refresh_from_db()
    assert not need.is_estimate
    table_m = (second.marker.length_mm + 2 * second.end_allowance_mm) * second.cloths.get().spreads / 1000
    assert float(need.lay_m) == pytest.approx(table_m, abs=0.001)


def test_what_is_cut_is_never_divided(order: Order) -> None:
    batch = make_planned_batch(order)
    marker = largest(batch)
    lay = marker.lays.get()
    other = batch.lays.exclude(pk=lay.pk).get()
    cut(batch, other.number)
    Workroom.the()
    Workroom.objects.update(table_length_mm=Decimal(str(marker.length_mm * 0.8)))
    before = list(batch.lays.values_list("pk", "cut_at"))
    bundles = list(batch.bundles.values_list("pk", flat=True))
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    assert settling.settle(batch.pk) == "cut, so it stays"
    marker.refresh_from_db()
    assert list(batch.lays.values_list("pk", "cut_at")) == before
    assert list(batch.bundles.values_list("pk", flat=True)) == bundles
    assert "longer than the table" in marker.message


def test_one_garment_too_long_for_the_table_stays_one_lay_and_says_so() -> None:
    batch = make_planned_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"M": 1})]))
    marker = largest(batch)
    Workroom.the()
    Workroom.objects.update(table_length_mm=Decimal(str(marker.length_mm * 0.5)))
    before = batch.lays.count()
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    assert settling.settle(batch.pk) == "polishing", "it may become shorter yet"
    Marker.objects.update(state=Marker.State.READY)
    settling.settle(batch.pk)
    marker.refresh_from_db()
    assert batch.lays.count() == before
    assert marker.message


def test_a_cancelled_batch_stops_its_nesting(order: Order) -> None:
    batch = waiting_batch(order)
    first, second = (lay.marker_id for lay in batch.lays.all())
    Marker.objects.filter(pk=first).update(state=Marker.State.NESTING)
    assert gathering.cancel_batch(batch, None, NOON)
    assert Marker.objects.get(pk=first).stop_wanted
    assert not Marker.objects.filter(pk=second).exists()
    assert nesting.nest_one(second) == "not waiting"
    assert not batch.operations.exists()


def test_a_plan_taken_back_while_it_is_nested_ends_quietly(
    order: Order, monkeypatch: pytest.MonkeyPatch
) -> None:
    batch = waiting_batch(order)
    marker = largest(batch)

    def taken_back_meanwhile(job: object, **options: object) -> object:
        assert planning.take_plan_back(batch, None, NOON)
        return first_marker(job)  # type: ignore[arg-type]

    monkeypatch.setattr(nesting, "nest", taken_back_meanwhile)
    assert nesting.nest_one(marker.pk) in {"ready", "stopped"}
    batch.refresh_from_db()
    assert (batch.state, batch.lays.count(), batch.needs.count()) == (Batch.State.GATHERING, 0, 0)


def test_a_done_batch_keeps_its_lays_cut(order: Order) -> None:
    batch = make_planned_batch(order)
    for number in (1, 2):
        cut(batch, number)
    Batch.objects.update(state=Batch.State.DONE)
    assert not table.take_cut_back(batch.lays.first(), None, NOON)
    batch.refresh_from_db()
    assert batch.state == Batch.State.DONE
    assert batch.lays.first().cut_at is not None
