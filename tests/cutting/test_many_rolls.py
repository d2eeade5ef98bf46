"""Rolls of a large batch: reckoned before anything is locked, written in one go, with what came of it row by row."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from planner.cutting import plies_dealt
from planner.cutting.actions import planning, rolling
from planner.cutting.bundling import write_bundles
from planner.cutting.demand import batch_demand
from planner.cutting.models import Batch, LayCloth, LayRoll
from planner.cutting.portions import spread_m
from planner.cutting.roll_rows import Taken, cloths_of, copies_of, together
from planner.cutting.stored import shop_of, stored_lays
from planner.materials.models import FabricColour, StockMove
from tests.cutting.meanwhile import before_the_lock, settled_plies
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.cutting.test_many_garments import gathered, too_late
from tests.factories import NOON, stock
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    """Five plies of jersey: rolls of two lots have cloth for two each; there is rib enough, on no roll."""
    batch = settled_plies()
    stock(FabricColour.objects.get(fabric__name="rib", name="ink"), 50)
    for name, lot in (("R1", "A"), ("R2", "B")):
        roll_of(only_cloth(jersey_lay(batch)), name, plies_m(batch, 2), shade_lot=lot)
    return batch


def plies_m(batch: Batch, count: int) -> str:
    """Cloth for so many spreads of jersey, and a little."""
    return str(round(spread_m(jersey_lay(batch)) * count + Decimal("0.05"), 2))


def as_written(batch: Batch) -> list[tuple[object, ...]]:
    """Plies with their rolls and garments, and bundles with their lots and lays, in their order."""
    plies = [
        (
            row.lay.number,
            row.fabric_colour_id,
            row.spreads,
            tuple(row.rolls.values_list("roll", "spreads", "position", "came_later")),
            tuple((held.size_id, held.per_marker, *held.options.all()) for held in row.garments.all()),
        )
        for row in LayCloth.objects.filter(lay__batch=batch).order_by("lay__number", "pk")
    ]
    bundles = [
        (
            row.number,
            row.quantity,
            row.size_id,
            row.shade_lot,
            tuple(row.lays.values_list("number", flat=True)),
        )
        for row in batch.bundles.order_by("pk")
    ]
    return [*plies, *bundles]


def write_one_by_one(batch: Batch) -> None:
    """Rolls as they are chosen now, put down row by row, ply after ply from the bottom up; and bundles after them."""
    shop = shop_of(batch, batch_demand(batch))
    lays = stored_lays(batch.lays.with_everything())
    rolled = rolling.assign(batch, lays, shop, {})
    LayRoll.objects.filter(lay_cloth__lay__batch=batch).delete()
    for (pk, key), taken in rolled.items():
        left = [replace(one, spreads=1) for one in taken for _ in range(one.spreads)]
        for alike in together(cloths_of(next(lay for lay in lays if lay.row.pk == pk), key)):
            spreads = sum(cloth.spreads for cloth in alike)
            for cloth in alike[1:]:
                cloth.delete()
            _spread(alike[0], left[:spreads])
            left = left[spreads:]
    stored = stored_lays(batch.lays.with_everything())
    demand = batch_demand(batch)
    write_bundles(batch, demand, shop, [one.planned for one in stored], [one.row for one in stored])


def _spread(row: LayCloth, plies: list[Taken]) -> None:
    row.spreads = 0
    lot = plies[0].lot
    for ply in plies:
        if ply.lot != lot:
            row, lot = copies_of([(row, 0)])[0], ply.lot
        row.spreads += 1
        row.save()
        there = row.rolls.filter(roll=ply.roll).first()
        if there:
            there.spreads += 1
            there.save()
        elif not ply.is_loose:
            LayRoll.objects.create(lay_cloth=row, roll_id=ply.roll, spreads=1, position=row.rolls.count())


def written_otherwise(batch: Batch) -> list[tuple[object, ...]]:
    """What comes of it one by one; nothing of it stays."""
    with transaction.atomic():
        write_one_by_one(batch)
        found = as_written(batch)
        transaction.set_rollback(True)
    return found


def test_rolls_written_in_one_go_are_those_written_row_by_row(batch: Batch) -> None:
    expected = written_otherwise(batch)
    assert rolling.assign_rolls(batch).short == 1
    assert as_written(batch) == expected
    assert [row.spreads for row in jersey_lay(batch).cloths.all()] == [2, 2, 1]
    # What is divided already is put together, and divided otherwise.
    roll_of(jersey_lay(batch).cloths.first(), "R3", plies_m(batch, 3), shade_lot="A")
    expected = written_otherwise(batch)
    assert rolling.assign_rolls(batch).short == 0
    assert as_written(batch) == expected
    assert [row.spreads for row in jersey_lay(batch).cloths.all()] != [2, 2, 1]


def test_two_who_ask_at_once_divide_no_ply_twice(batch: Batch, monkeypatch: pytest.MonkeyPatch) -> None:
    expected = written_otherwise(batch)
    before_the_lock(monkeypatch, rolling, lambda: rolling.assign_rolls(batch))
    assert not rolling.assign_rolls(batch).problem
    assert as_written(batch) == expected


def test_a_roll_that_gets_shorter_before_the_lock_is_thought_over_again(
    batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    roll = roll_of(only_cloth(jersey_lay(batch)), "R3", plies_m(batch, 5), shade_lot="C")
    expected = written_otherwise(batch)
    one_ply = round(spread_m(jersey_lay(batch)), 2)

    def cut_off() -> None:
        StockMove.objects.create(
            fabric_colour=roll.fabric_colour, roll=roll, quantity=-one_ply, reason="counted", moved_at=NOON
        )

    before_the_lock(monkeypatch, rolling, cut_off)
    assert rolling.assign_rolls(batch).short == 0
    assert as_written(batch) != expected
    assert as_written(batch) == written_otherwise(batch)


def test_needs_are_reckoned_again_where_a_lay_gets_longer_before_the_lock(
    batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    lay = jersey_lay(batch)
    need = batch.needs.filter(fabric_colour=only_cloth(lay).fabric_colour)
    before = need.get().lay_m

    def longer() -> None:
        lay.marker.length_mm += 100
        lay.marker.save()

    before_the_lock(monkeypatch, rolling, longer)
    assert not rolling.assign_rolls(batch).problem
    # Five plies, each 100 mm longer.
    assert float(need.get().lay_m - before) == pytest.approx(0.5)


def locked_queries(batch: Batch, monkeypatch: pytest.MonkeyPatch) -> int:
    """Gives a batch its rolls; the queries while it is locked. Nothing is reckoned meanwhile."""
    real = rolling.lock
    with monkeypatch.context() as patch, CaptureQueriesContext(connection) as asked:

        def lock(one: Batch) -> Batch:
            before.append(len(asked))
            for module, name in [
                (plies_dealt, "assign_plies"), (rolling, "rows_dealt"), (rolling, "lined_bundles"),
                (rolling, "stored_lays"), (planning, "work_out_needs"),
            ]:  # fmt: skip
                patch.setattr(module, name, too_late)
            return real(one)

        before: list[int] = []
        patch.setattr(rolling, "lock", lock)
        assert not rolling.assign_rolls(batch).problem
    return len(asked) - before[0]


def test_giving_rolls_asks_as_much_for_many_lays_as_for_few(monkeypatch: pytest.MonkeyPatch) -> None:
    counts = []
    for garments in (4, 30):
        batch = gathered(garments)
        assert not planning.plan_batch(batch, NOON, seconds=2, think_seconds=0.2).problems
        nest_all(batch)
        batch.refresh_from_db()
        ink = FabricColour.objects.get(fabric__name="jersey", name="ink")
        stock(ink, 3, roll=f"R{garments}", shade_lot="A")
        counts.append(locked_queries(batch, monkeypatch))
        assert batch.bundles.filter(shade_lot="A").exists()
    assert batch.lays.count() > 10
    assert counts[1] <= counts[0] + 2
