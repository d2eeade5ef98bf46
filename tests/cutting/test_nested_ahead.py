"""What open orders will be cut in is laid while the worker has nothing else to do, and found when it is planned."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from planner.core.lays import kept_code, nestings
from planner.core.lays.marker_lengths import Lengths
from planner.core.lays.model import Marker as Arrangement
from planner.core.lays.model import MarkerJob
from planner.core.lays.rows import first_marker
from planner.core.spec import Demand
from planner.cutting import ahead_store, tasks
from planner.cutting.actions import ahead, gathering, planning, settling
from planner.cutting.cut_plans import facts_of
from planner.cutting.models import Batch, CutPlan, Marker, PlanAhead
from planner.cutting.plans_ahead import plans_ahead
from planner.materials.models import Workroom
from planner.materials.signals import said_of
from planner.orders.actions import cancel_order
from planner.orders.models import LineQuantity
from planner.settings import base
from planner.styles.models import PieceOutline
from tests.cutting.settling_makers import waiting_batch
from tests.factories import NOON, TODAY, make_order, make_style
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}
Nested = list[tuple[int, float]]


@pytest.fixture(autouse=True)
def search_is_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_code, "is_awaited", lambda: False)
    monkeypatch.setattr(ahead, "_is_wanted_elsewhere", lambda: False)


@pytest.fixture
def nested(monkeypatch: pytest.MonkeyPatch) -> Nested:
    """How many pieces each marker held that was nested, in plain rows, and how long it had; a second time a bit more
    of the cloth is used."""
    done: Nested = []

    def in_rows(job: MarkerJob, *, seconds: float, start: Arrangement | None = None, **_: Any) -> Arrangement:
        done.append((len(job.items), seconds))
        marker = replace(first_marker(job), how="nested")
        return replace(marker, length_mm=marker.length_mm - (5.0 if start else 0.0))

    monkeypatch.setattr(nestings, "nest_ruled", in_rows)
    return done


def counted(demand: tuple[Demand, ...]) -> Counter[str]:
    return Counter({row.garment.size: row.quantity for row in demand})


def planned_batch() -> Batch:
    """All that is ordered, in a batch that was just planned."""
    batch = gathering.create_batch(None, TODAY)
    gathering.fill_batch(batch, {row.pk: row.quantity for row in LineQuantity.objects.all()})
    assert not planning.plan_batch(batch, NOON, think_seconds=10).problems
    return batch


def test_a_batch_finds_its_lays_laid_when_it_is_planned(nested: Nested) -> None:
    make_order([(the_style(), RIB, "ink", {"M": 3, "L": 1})])
    assert ahead.nest_ahead() == f"{len(nested)} nested"
    batch = planned_batch()
    count = len(nested)
    for _ in range(20):
        settling.settle(batch.pk)
        markers = Marker.objects.filter(lays__batch=batch)
        # Nothing is nested for it any more, not even a second time.
        assert {(row.state, row.seed) for row in markers} == {(Marker.State.READY, Marker.POLISH_SEED)}
        if not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
            break
    else:
        raise AssertionError("the plan never settled")
    assert not markers.ahead().exists()
    assert len(nested) == count
    # The single sizes it is held against were nested too.
    assert all(facts["single"]["nested"] for facts in batch.cut_plans.values_list("facts", flat=True))


def test_what_was_nested_is_not_nested_again_until_something_else_is_ordered(nested: Nested) -> None:
    order = make_order([(the_style(), RIB, "ink", {"M": 1})])
    ahead.nest_ahead()
    count, rows = len(nested), Marker.objects.count()
    assert count >= rows > 0
    assert ahead.nest_ahead() == "0 nested"
    make_order([(the_style(), RIB, "ink", {"L": 1})])
    ahead.nest_ahead()
    assert len(nested) > count
    # What is given up again needs no cloth.
    cancel_order(order, None)
    assert counted(ahead.still_to_batch()) == {"L": 1}


def test_the_plan_found_ahead_is_what_the_search_for_a_batch_begins_from(
    nested: Nested, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Entered the other way round than a batch reads them.
    make_order([(the_style(), RIB, "ink", {"L": 1})], due_on=TODAY + timedelta(days=9))
    make_order([(the_style(), RIB, "ink", {"M": 2, "S": 1})], due_on=TODAY)
    ahead.nest_ahead()
    found = plans_ahead({"jersey", "rib"})
    seen, real = [], planning.decide

    def decide(*args: Any, lengths: Lengths, **options: Any) -> Any:
        seen.append(lengths.plans)
        return real(*args, lengths=lengths, **options)

    monkeypatch.setattr(planning, "decide", decide)
    batch = planned_batch()
    assert seen == [found]
    for plan in batch.cut_plans.all():
        facts = facts_of(plan)
        assert facts is not None
        assert facts.plans[0] == found[plan.fabric.name][0]
    # Others that are ordered later are planned beside them, the newest first.
    make_order([(the_style(), RIB, "ink", {"XL": 1})])
    ahead.nest_ahead()
    kept = plans_ahead({"jersey"})["jersey"]
    assert kept[0] != found["jersey"][0]
    assert found["jersey"][0] in kept
    PlanAhead.objects.update(plans=[[["of another version"]]])
    assert plans_ahead({"jersey"}) == {}


def test_of_orders_those_due_first_make_the_next_batch(monkeypatch: pytest.MonkeyPatch) -> None:
    late = TODAY + timedelta(days=30)
    make_order([(the_style(), RIB, "ink", {"XL": 4})], due_on=late)
    make_order([(the_style(), RIB, "ink", {"S": 1, "M": 2})], due_on=TODAY)
    assert counted(ahead.still_to_batch()) == {"S": 1, "M": 2, "XL": 4}
    monkeypatch.setattr(ahead, "MOST_GARMENTS", 5)
    assert counted(ahead.still_to_batch()) == {"S": 1, "M": 2, "XL": 2}


def test_a_batch_being_gathered_goes_before_what_is_in_none() -> None:
    order = make_order([(the_style(), RIB, "ink", {"S": 1, "M": 2})])
    make_order([(the_style(), RIB, "ink", {"XL": 4})])
    first, second, _ = (gathering.create_batch(None, TODAY) for _ in range(3))
    small, medium = order.lines.get().quantities.order_by("quantity")
    gathering.fill_batch(first, {small.pk: 1})
    gathering.fill_batch(second, {medium.pk: 1})
    assert [counted(demand) for demand in ahead.expected()] == [{"M": 1}, {"S": 1}, {"M": 1, "XL": 4}]


def test_what_cannot_be_planned_is_left_out_and_the_rest_is_laid(nested: Nested) -> None:
    make_order([(make_style("120", "long top"), RIB, "ink", {"S": 1})])
    PieceOutline.objects.filter(piece__style__number="120").delete()
    assert ahead.nest_ahead() == "0 nested"
    make_order([(the_style(), RIB, "ink", {"M": 1})])
    assert ahead.nest_ahead() != "0 nested"
    assert {item["style"] for row in Marker.objects.ahead() for item in row.job["items"]} == {"110"}


def test_it_gives_way_keeps_what_had_its_time_and_asks_to_go_on(
    nested: Nested,
    monkeypatch: pytest.MonkeyPatch,
    settings: Settings,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    settings.TASKS = base.TASKS
    make_order([(the_style(), RIB, "ink", {"S": 2, "M": 4})])
    monkeypatch.setattr(ahead_store, "BREATH", 0.0)
    monkeypatch.setattr(ahead, "_is_wanted_elsewhere", lambda: len(nested) == 2)
    with django_capture_on_commit_callbacks(execute=True):
        assert ahead.nest_ahead() == "gave way, 1 nested"
    assert Marker.objects.ahead().count() == 1
    assert DBTaskResult.objects.get().task_path == tasks.nest_ahead.module_path
    monkeypatch.setattr(ahead, "_is_wanted_elsewhere", lambda: False)
    done = len(nested)
    ahead.nest_ahead()
    keys = Marker.objects.ahead().values_list("key", flat=True)
    assert len(set(keys)) == len(keys) > 1
    assert len(nested) > done


def test_the_same_lay_is_not_nested_beside_one_that_is_to_be_cut(nested: Nested) -> None:
    order = make_order([(the_style(), RIB, "ink", {"S": 2, "M": 4})])
    batch = waiting_batch(order)
    make_order([(the_style(), RIB, "ink", {"S": 2, "M": 4})])
    assert ahead.nest_ahead().startswith("gave way")
    keys = batch.lays.values("marker__key")
    assert not Marker.objects.ahead().filter(key__in=keys).exists()


def test_without_our_own_search_nothing_is_nested_ahead(
    nested: Nested, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_order([(the_style(), RIB, "ink", {"M": 1})])
    monkeypatch.setattr(kept_code, "is_awaited", lambda: True)
    assert ahead.nest_ahead() == "the search is not ready"
    assert not nested


def test_it_can_be_switched_off(nested: Nested) -> None:
    make_order([(the_style(), RIB, "ink", {"M": 1})])
    room = Workroom.the()
    room.nests_ahead = False
    room.save()
    assert ahead.nest_ahead() == "switched off"
    assert not nested


def test_only_the_newest_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    def make(n: int, *, is_ahead: bool = True) -> int:
        return Marker.objects.create(key=f"{n}", job={}, state=Marker.State.READY, is_ahead=is_ahead).pk

    other, *rows = [make(0, is_ahead=False), *(make(n) for n in range(1, 6))]
    monkeypatch.setattr(ahead_store, "MOST_KEPT", 5)
    assert ahead_store.forget_oldest() == 0
    monkeypatch.setattr(ahead_store, "MOST_KEPT", 3)
    assert ahead_store.forget_oldest() == 2
    assert list(Marker.objects.order_by("pk").values_list("pk", flat=True)) == [other, *rows[2:]]


class TestTheQueue:
    """When it is asked for, and what goes before."""

    @pytest.fixture(autouse=True)
    def with_a_queue(self, settings: Settings) -> None:
        settings.TASKS = base.TASKS

    def asked(self) -> Any:
        return DBTaskResult.objects.filter(task_path=tasks.nest_ahead.module_path)

    @pytest.mark.parametrize(
        "change",
        [
            lambda: make_order([(the_style(), RIB, "ink", {"M": 1})]),
            lambda: gathering.fill_batch(gathering.create_batch(None, TODAY), {}),
            lambda: said_of(Workroom.the()),
        ],
        ids=["an order is saved", "a batch is filled", "the workroom is saved"],
    )
    def test_it_is_asked_for_in_a_while_and_once(
        self,
        change: Callable[[], object],
        django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
    ) -> None:
        for _ in range(2):
            with django_capture_on_commit_callbacks(execute=True):
                change()
        waits = self.asked().get().run_after - timezone.now()
        assert timedelta(seconds=tasks.QUIET_SECONDS - 10) < waits < timedelta(seconds=tasks.QUIET_SECONDS)
        assert not DBTaskResult.objects.ready().exists()

    def test_everything_else_goes_before_even_a_night_of_nesting(self) -> None:
        assert tasks.AHEAD < tasks.LATER < tasks.BESIDE

    def test_two_workers_do_not_nest_the_same(
        self, nested: Nested, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
    ) -> None:
        with django_capture_on_commit_callbacks(execute=True):
            make_order([(the_style(), RIB, "ink", {"M": 1})])
        task = self.asked().get()
        for _ in range(2):
            task.pk, task.status = None, TaskResultStatus.RUNNING
            task.save(force_insert=True)
        assert tasks.nest_ahead.call() == "another worker does it"
        assert not nested
        self.asked().filter(status=TaskResultStatus.RUNNING).first().delete()
        assert tasks.nest_ahead.call() != "another worker does it"
        assert nested

    def test_what_another_worker_is_at_goes_before(self) -> None:
        running = DBTaskResult.objects.create(
            status=TaskResultStatus.RUNNING,
            args_kwargs={"args": [1], "kwargs": {}},
            task_path=tasks.nest_marker.module_path,
            priority=tasks.LATER,
            worker_ids=["w"],
            backend_name="default",
            exception_class_path="",
            traceback="",
        )
        assert tasks.is_done_before(tasks.AHEAD)
        assert not tasks.is_done_before(tasks.LATER)
        running.delete()
        assert not tasks.is_done_before(tasks.AHEAD)
