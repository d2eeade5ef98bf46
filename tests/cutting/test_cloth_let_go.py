"""Cloth that a batch no longer takes: others that wait are given it, and those planned from stock looked at."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse
from django_tasks.base import Task

from planner.cutting.actions import (
    anew,
    arrived,
    gathering,
    letting_go,
    other_rolls,
    planning,
    rolling,
    table,
)
from planner.cutting.actions.booking import Told
from planner.cutting.models import Batch, Bundle, CutPlan, LayRoll
from planner.cutting.portions import spread_m
from planner.cutting.tasks import cloth_for_batch, look_again, roll_batch
from planner.materials.models import Fabric, Roll, RollFlaw
from tests.cutting import once
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.cutting.test_stock_since import FROM_STOCK, is_less_by, piece
from tests.factories import NOON, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
ONE_OF_EACH = {"S": 1, "M": 1, "L": 1}


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, int]]:
    """What is asked of the worker, by name of the task and batch (pk)."""
    found: list[tuple[str, int]] = []
    monkeypatch.setattr(Task, "enqueue", lambda task, *args: found.append((task.name, *args)))
    return found


def settled_batch() -> Batch:
    """One lay of one ply of jersey, 1.934 m."""
    order = make_order([(the_style(), {"neck": "rib band"}, "ink", ONE_OF_EACH)])
    return once.settled(once.waiting_batch(order))


@once.once
def first_there() -> Batch:
    """A batch that has the only piece of jersey."""
    batch = settled_batch()
    piece("2.00")
    assert rolling.assign_rolls(batch).short == 1, "of the rib there is none"
    assert roll(batch) == "E-1"
    return batch


@pytest.fixture
def first() -> Batch:
    return first_there()


@once.once
def second_beside(first: Batch) -> Batch:
    batch = settled_batch()
    assert roll(batch) == ""
    return batch


@pytest.fixture
def second(first: Batch) -> Batch:
    """A batch that wants the same roll, which the first has."""
    return second_beside(first)


def roll(batch: Batch) -> str:
    """The roll its jersey comes from, "" where it is to be bought."""
    row = LayRoll.objects.get(lay_cloth__lay=jersey_lay(batch))
    return row.roll.number if row.roll else ""


def test_a_batch_that_waits_for_cloth_is_given_what_a_cancelled_one_lets_go_of(
    first: Batch,
    second: Batch,
    asked: list[tuple[str, int]],
    django_capture_on_commit_callbacks: Callable,
    helper_client: Client,
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        assert gathering.cancel_batch(first, None, NOON)
    assert asked == [(cloth_for_batch.name, second.pk)]
    cloth_for_batch.func(second.pk)
    assert roll(second) == "E-1"
    page = helper_client.get(reverse("lay-detail", args=[second.number, jersey_lay(second).number]))
    assert "does not fit on what is free in stock" not in page.content.decode()


def test_so_it_is_where_a_plan_is_taken_back(
    first: Batch,
    second: Batch,
    asked: list[tuple[str, int]],
    django_capture_on_commit_callbacks: Callable,
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        assert planning.take_plan_back(first, None, NOON)
    assert (cloth_for_batch.name, second.pk) in asked
    # So it is where a flaw of a roll was none: a ply may fit there.
    flaw = RollFlaw.objects.create(roll=Roll.objects.get(number="E-1"), from_m="0.50", to_m="0.60")
    asked.clear()
    with django_capture_on_commit_callbacks(execute=True):
        flaw.delete()
    assert asked == [(cloth_for_batch.name, second.pk)]


def test_what_a_batch_planned_from_stock_says_is_looked_at_again(
    first: Batch,
    second: Batch,
    asked: list[tuple[str, int]],
    django_capture_on_commit_callbacks: Callable,
) -> None:
    plans = CutPlan.objects.filter(batch=second, fabric__name="jersey")
    plans.update(**FROM_STOCK | {"state": CutPlan.State.SETTLED})
    LayRoll.objects.filter(lay_cloth__lay__batch=second).delete()
    with django_capture_on_commit_callbacks(execute=True):
        assert gathering.cancel_batch(first, None, NOON)
    assert asked == [(look_again.name, second.pk)]


def test_rolls_dealt_anew_leave_the_others_what_they_no_longer_take(
    first: Batch,
    second: Batch,
    asked: list[tuple[str, int]],
    django_capture_on_commit_callbacks: Callable,
) -> None:
    piece_of_first = LayRoll.objects.get(lay_cloth__lay=jersey_lay(first)).roll
    assert piece_of_first is not None
    # It is all of one ply shorter now, as after it was nested longer.
    marker = jersey_lay(first).marker
    marker.length_mm = 20.0
    marker.save(update_fields=["length_mm"])
    with django_capture_on_commit_callbacks(execute=True):
        assert not rolling.assign_rolls(first).problem
    assert (cloth_for_batch.name, second.pk) in asked
    assert (cloth_for_batch.name, first.pk) not in asked, "it has just been given what fits"
    cloth_for_batch.func(second.pk)
    assert roll(second) == "E-1"


def test_a_roll_with_too_little_for_plies_that_stay_together_is_there_for_the_others(
    first: Batch,
    second: Batch,
    asked: list[tuple[str, int]],
    django_capture_on_commit_callbacks: Callable,
) -> None:
    """Two plies of one lot were to come from E-1, which has one: it does for the batch that waits for one."""
    lay = jersey_lay(first)
    Batch.objects.filter(pk=first.pk).update(state=Batch.State.CUTTING)
    lay.cloths.update(spreads=2)
    LayRoll.objects.filter(lay_cloth__lay=lay).update(spreads=2)
    Bundle.objects.filter(lay=lay).update(shade_lot="A")
    with django_capture_on_commit_callbacks(execute=True):
        assert letting_go.let_go(Batch.objects.get(pk=first.pk)) == (lay.number,)
    assert asked == [(cloth_for_batch.name, second.pk)]
    assert set(lay.main_bundles.values_list("shade_lot", flat=True)) == {""}, (
        "of which lot is not known again"
    )
    cloth_for_batch.func(second.pk)
    assert roll(second) == "E-1"


def test_a_lay_that_took_less_than_was_kept_for_it_leaves_the_rest_to_the_others(
    first: Batch,
    second: Batch,
    asked: list[tuple[str, int]],
    django_capture_on_commit_callbacks: Callable,
) -> None:
    lay = jersey_lay(first)
    own = LayRoll.objects.get(lay_cloth__lay=lay).roll
    assert own is not None
    other = roll_of(only_cloth(lay), "E-2", str(round(spread_m(lay), 2)))
    with django_capture_on_commit_callbacks(execute=True):
        done = table.tell_lay(
            lay, [Told(only_cloth(lay).pk, 1, round(spread_m(lay), 2), other.pk)], None, NOON
        )
    assert not done.problem
    assert (cloth_for_batch.name, second.pk) in asked
    assert arrived.cloth_came_in(second.pk)
    assert roll(second) == "E-1"


def test_a_lay_not_cut_after_all_counts_on_its_roll_again_which_another_batch_was_given_meanwhile(
    first: Batch,
    second: Batch,
    asked: list[tuple[str, int]],
    django_capture_on_commit_callbacks: Callable,
) -> None:
    """Formerly both counted on it, until somebody had the rolls assigned again."""
    lay = jersey_lay(first)
    assert not table.tell_lay(lay, [Told(only_cloth(lay).pk, 1, round(spread_m(lay), 2))], None, NOON).problem
    arrived.cloth_came_in(second.pk)
    assert roll(second) == "E-1"
    asked.clear()
    with django_capture_on_commit_callbacks(execute=True):
        assert table.take_cut_back(lay, None, NOON)
    assert {pk for name, pk in asked if name == roll_batch.name} == {first.pk, second.pk}
    for pk in (first.pk, second.pk):
        roll_batch.func(pk)
    assert (roll(first), roll(second)) == ("E-1", "")


def test_nobody_is_asked_where_nobody_waits(
    first: Batch, asked: list[tuple[str, int]], django_capture_on_commit_callbacks: Callable
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        assert gathering.cancel_batch(first, None, NOON)
    assert asked == []


def test_a_roll_that_lays_being_cut_give_up_for_another_is_there_for_the_others(
    first: Batch,
    second: Batch,
    asked: list[tuple[str, int]],
    django_capture_on_commit_callbacks: Callable,
) -> None:
    rib = only_cloth(first.lays.exclude(pk=jersey_lay(first).pk).get())
    rest = round(spread_m(rib.lay), 2)
    told = Told(rib.pk, 1, rest, roll_of(rib, "R-1", str(rest)).pk)
    assert not table.tell_lay(rib.lay, [told], None, NOON).problem
    assert Batch.objects.get(pk=first.pk).state == Batch.State.CUTTING
    roll_of(only_cloth(jersey_lay(first)), "E-2", "2.00")
    is_less_by("1.00")
    asked.clear()
    with django_capture_on_commit_callbacks(execute=True):
        assert other_rolls.give_other_rolls(Batch.objects.get(pk=first.pk)).lays == (
            jersey_lay(first).number,
        )
    assert roll(first) == "E-2"
    assert (cloth_for_batch.name, second.pk) in asked


def test_lays_planned_anew_while_others_are_cut_leave_what_they_had(
    first: Batch,
    second: Batch,
    asked: list[tuple[str, int]],
    django_capture_on_commit_callbacks: Callable,
) -> None:
    rib = only_cloth(first.lays.exclude(pk=jersey_lay(first).pk).get())
    rest = round(spread_m(rib.lay), 2)
    told = Told(rib.pk, 1, rest, roll_of(rib, "R-1", str(rest)).pk)
    assert not table.tell_lay(rib.lay, [told], None, NOON).problem
    Fabric.objects.filter(name="jersey").update(full_width_mm=1420)
    asked.clear()
    with django_capture_on_commit_callbacks(execute=True):
        plan = first.cut_plans.get(fabric__name="jersey")
        assert anew.plan_uncut_anew(Batch.objects.get(pk=first.pk), plan.pk).lays
    assert (cloth_for_batch.name, second.pk) in asked


def test_one_that_is_given_what_came_in_asks_no_more_than_once(
    second: Batch, asked: list[tuple[str, int]], django_capture_on_commit_callbacks: Callable
) -> None:
    third = settled_batch()
    asked.clear()
    roll_of(only_cloth(jersey_lay(second)), "E-2", "2.00")
    with django_capture_on_commit_callbacks(execute=True):
        arrived.cloth_came_in(second.pk)
    assert (cloth_for_batch.name, third.pk) in asked
    asked.clear()
    with django_capture_on_commit_callbacks(execute=True):
        arrived.cloth_came_in(second.pk)
        arrived.cloth_came_in(third.pk)
    assert cloth_for_batch.name not in [name for name, _ in asked]
