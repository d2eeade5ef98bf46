"""Two at once who choose rolls: whoever comes in between, no metre is promised twice."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django_tasks.base import Task

from planner.cutting import rolls_there
from planner.cutting.actions import rest, rest_on, rolling, table
from planner.cutting.actions.booking import Told
from planner.cutting.demand import batch_demand
from planner.cutting.models import Batch, Lay, LayCloth, LayRoll
from planner.cutting.portions import spread_m
from planner.cutting.stored import shop_of
from planner.cutting.tasks import roll_batch
from planner.materials.models import Roll
from tests.cutting.meanwhile import before_the_lock, settled_plies
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db


@pytest.fixture
def first() -> Batch:
    return settled_plies()


@pytest.fixture
def second(first: Batch) -> Batch:
    """A later batch with a lay just like the jersey one of the first, nothing bundled from it."""
    lay = jersey_lay(first)
    held = only_cloth(lay).garments.get()
    batch = Batch.objects.create(
        number="B-0002", made_on=NOON, state=Batch.State.PLANNED, planned_at=first.planned_at
    )
    for item in first.items.all():
        item.pk, item.batch = None, batch
        item.save()
    batch.snapshots.set(first.snapshots.all())
    copy = Lay.objects.get(pk=lay.pk)
    copy.pk, copy.batch, copy.number = None, batch, 1
    copy.save()
    cloth = LayCloth.objects.create(lay=copy, fabric_colour=only_cloth(lay).fabric_colour, spreads=5)
    options = list(held.options.all())
    held.pk, held.lay_cloth = None, cloth
    held.save()
    held.options.set(options)
    return batch


def spreads_m(batch: Batch, count: int) -> str:
    """Cloth for so many spreads, and a little."""
    return str(round(spread_m(jersey_lay(batch)) * count + Decimal("0.05"), 2))


def given(batch: Batch) -> int:
    """Spreads of jersey that have a roll."""
    return given_of(jersey_lay(batch))


def given_of(lay: Lay) -> int:
    rows = LayRoll.objects.filter(lay_cloth__lay=lay, roll__isnull=False)
    return sum(row.spreads for row in rows)


def only_planned_now(batch: Batch) -> None:
    """The batch as if nobody had reckoned its needs yet, so that nothing of the stock is spoken for by it."""
    batch.needs.all().delete()


def twice(batch: Batch) -> set[int]:
    return rolls_there.promised_twice(
        Roll.objects.values_list("pk", flat=True), shop_of(batch, batch_demand(batch))
    )


def test_a_roll_that_an_earlier_batch_takes_meanwhile_is_not_given_to_the_later_one(
    first: Batch, second: Batch, beside: pytest.MonkeyPatch
) -> None:
    roll_of(only_cloth(jersey_lay(first)), "R1", spreads_m(first, 7))
    before_the_lock(beside, rolling, lambda: rolling.assign_rolls(first))
    done = rolling.assign_rolls(second)
    assert (given(first), given(second), done.short) == (5, 2, 3)
    assert not twice(first)


def test_a_later_batch_that_had_the_roll_first_is_asked_again(
    first: Batch,
    second: Batch,
    beside: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Callable,
) -> None:
    asked: list[tuple[str, int]] = []
    beside.setattr(Task, "enqueue", lambda task, pk: asked.append((task.name, pk)))
    only_planned_now(first)
    roll_of(only_cloth(jersey_lay(first)), "R1", spreads_m(first, 7))
    before_the_lock(beside, rolling, lambda: rolling.assign_rolls(second))
    with django_capture_on_commit_callbacks(execute=True):
        rolling.assign_rolls(first)
    assert (given(first), given(second)) == (5, 5)
    assert twice(first)
    assert (roll_batch.name, second.pk) in asked
    assert roll_batch.func(second.pk) == "3 spreads short"
    assert (given(first), given(second)) == (5, 2)
    assert not twice(first)


def test_what_is_being_cut_keeps_its_rolls_though_it_came_later(first: Batch, second: Batch) -> None:
    """Its plies may lie on the table already."""
    only_planned_now(first)
    roll = roll_of(only_cloth(jersey_lay(first)), "R1", spreads_m(first, 7))
    assert rolling.assign_rolls(second).short == 0
    lay = second.lays.get()
    told = Told(only_cloth(lay).pk, 1, round(spread_m(lay), 2), roll.pk)
    assert not table.tell_lay(lay, [told], None, NOON).problem
    rolling.assign_rolls(first)
    assert (given(first), given_of(lay)) == (2, 5)
    assert not twice(first)


def test_a_roll_that_somebody_takes_meanwhile_is_not_given_to_a_rest(
    first: Batch, second: Batch, beside: pytest.MonkeyPatch
) -> None:
    lay = jersey_lay(first)
    assert not table.tell_lay(lay, [Told(only_cloth(lay).pk, 2, Decimal(3))], None, NOON).problem
    planned = rest.replan_rest(lay, None, NOON)
    assert not planned.problem
    nest_all(first)
    roll = roll_of(only_cloth(lay), "R1", spreads_m(first, 5))

    def cut_meanwhile() -> None:
        other = second.lays.get()
        told = Told(only_cloth(other).pk, 4, roll.left_m - Decimal("0.10"), roll.pk)
        assert not table.tell_lay(other, [told], None, NOON).problem

    roll = Roll.objects.with_left().get(pk=roll.pk)
    before_the_lock(beside, rest_on, cut_meanwhile)
    wanted = sum(only_cloth(one).spreads for one in planned.lays)
    assert roll_batch.func(first.pk) == f"{wanted} spreads short"
    assert not LayRoll.objects.filter(lay_cloth__lay__in=planned.lays, roll__isnull=False).exists()


def test_a_rest_that_has_its_roll_keeps_it_whatever_comes_in(first: Batch) -> None:
    lay = jersey_lay(first)
    assert not table.tell_lay(lay, [Told(only_cloth(lay).pk, 2, Decimal(3))], None, NOON).problem
    planned = rest.replan_rest(lay, None, NOON)
    nest_all(first)
    old = roll_of(only_cloth(lay), "R1", "30", shade_lot="A")
    assert roll_batch.func(first.pk) == "0 spreads short"
    # Shorter, so that it would be the better choice.
    roll_of(only_cloth(lay), "R2", spreads_m(first, 3), shade_lot="B")
    assert roll_batch.func(first.pk) == "0 spreads short"
    rows = LayRoll.objects.filter(lay_cloth__lay__in=planned.lays)
    assert {row.roll for row in rows} == {old}
