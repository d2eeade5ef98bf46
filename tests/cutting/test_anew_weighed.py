"""Lays of a batch being cut planned anew once the table was changed: what is too long goes, what costs less stays."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import pytest

from planner.cutting.actions import anew, anew_weighed, arrived, other_rolls, table
from planner.cutting.actions.anew_weighed import OTHER_ROLLS
from planner.cutting.actions.booking import Told
from planner.cutting.demand import batch_demand
from planner.cutting.models import Batch, Lay, LayRoll, Marker
from planner.cutting.portions import spread_m
from planner.cutting.roll_rows import Taken, write_taken, write_to_buy
from planner.cutting.short_table import longer_than
from planner.cutting.stored import planned_batch, shop_of, stored_lay
from planner.materials.models import Workroom
from planner.materials.promised import over_promised
from tests.cutting import once
from tests.cutting.table_makers import only_cloth, roll_of
from tests.factories import NOON, make_order
from tests.sewing.makers import nest_all, the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}


@once.once
def being_cut(table_mm: int) -> Batch:
    """Three tops in each of two colours, of one ply each; its rib is cut, none of its jersey is begun or has cloth."""
    Workroom.the()
    Workroom.objects.update(most_plies=1, table_length_mm=table_mm)
    lines = [(the_style(), RIB, "ink", {"M": 3}), (the_style(), RIB, "moss", {"L": 3})]
    batch = once.settled(once.waiting_batch(make_order(lines)))
    for rib in batch.lays.filter(cloths__fabric_colour__fabric__name="rib"):
        told = [Told(cloth.pk, cloth.spreads, spread_m(rib)) for cloth in rib.cloths.all()]
        assert not table.tell_lay(rib, told, None, NOON).problem
    return Batch.objects.get(pk=batch.pk)


def lays_of(batch: Batch, colour: str) -> list[Lay]:
    rows = batch.lays.filter(cloths__fabric_colour__fabric__name="jersey", cloths__fabric_colour__name=colour)
    return list(rows.select_related("marker").order_by("number"))


def set_table(table_mm: int) -> None:
    Workroom.objects.update(table_length_mm=table_mm)


def plan_anew(batch: Batch) -> anew.PlannedAnew:
    return anew.plan_uncut_anew(batch, batch.cut_plans.get(fabric__name="jersey").pk)


def from_roll(lay: Lay, number: str, metres: str) -> None:
    """The lay is planned from a new roll."""
    cloth = only_cloth(lay)
    LayRoll.objects.filter(lay_cloth=cloth).delete()
    write_taken([cloth], [Taken(roll_of(cloth, number, metres).pk, cloth.spreads)])


def to_buy_m(batch: Batch, colour: str) -> float:
    needs = planned_batch(batch).needs.cloths
    return next(one.to_buy_m for one in needs if (one.cloth.fabric, one.cloth.colour) == ("jersey", colour))


def test_what_no_longer_lies_on_the_table_is_planned_anew_beside_what_waits_for_cloth() -> None:
    batch = being_cut(1500)
    long, short = lays_of(batch, "moss")
    from_roll(long, "R1", "5")
    from_roll(short, "R2", "5")
    set_table(1310)
    assert longer_than(1310) == {batch.number: [long.number]}
    done = plan_anew(batch)
    assert long.number in done.gone
    # Its cloth is there and it lies on the table.
    assert short.number not in done.gone
    nest_all(batch)
    arrived.cloth_came_in(batch.pk)
    assert longer_than(1310) == {}


def test_what_comes_out_longer_than_the_table_is_planned_again_by_itself_not_where_that_became_shorter() -> (
    None
):
    batch = being_cut(4000)
    set_table(1500)
    done = plan_anew(batch)
    assert done.lays
    nest_all(batch)
    long = next(lay for lay in lays_of(batch, "moss") if lay.estimated_length_mm > 1000)
    assert long.estimated_length_mm + 2 * long.end_allowance_mm < 1500
    Marker.objects.filter(pk=long.marker_id).update(length_mm=1500 - long.end_allowance_mm)
    said = arrived.cloth_came_in(batch.pk)
    assert said.startswith("too long: planned again as lay"), said
    assert not Lay.objects.filter(pk=long.pk).exists()
    nest_all(batch)
    assert longer_than(1500) == {}
    assert "planned again" not in arrived.cloth_came_in(batch.pk)
    # They are not too long by themselves: the table became shorter since.
    set_table(1200)
    assert longer_than(1200) != {}
    before = [lay.number for lay in batch.lays.order_by("number")]
    assert "planned again" not in arrived.cloth_came_in(batch.pk)
    assert [lay.number for lay in batch.lays.order_by("number")] == before


def test_for_what_cannot_come_out_shorter_it_is_said_and_not_tried_again() -> None:
    batch = being_cut(4000)
    set_table(700)
    plan_anew(batch)
    nest_all(batch)
    one = lays_of(batch, "moss")[0]
    Marker.objects.filter(pk=one.marker_id).update(length_mm=699.0)
    before = [lay.number for lay in batch.lays.order_by("number")]
    arrived.cloth_came_in(batch.pk)
    assert [lay.number for lay in batch.lays.order_by("number")] == before
    assert (
        Marker.objects.get(pk=one.marker_id).message == "longer than the table, and nothing shorter was found"
    )


def is_better(
    monkeypatch: pytest.MonkeyPatch, new: tuple[float, str, str], there: tuple[float, str, str]
) -> bool:
    """Whether lays take the place of others, by what is bought (m), its price, and what all comes to."""
    come = [anew_weighed._Comes(m, Decimal(price), Decimal(cost)) for m, price, cost in (new, there)]
    monkeypatch.setattr(anew_weighed, "_comes", lambda lays, asked: come[lays[0]])
    monkeypatch.setattr(anew_weighed, "marker_key", lambda job: "known")
    lengths = SimpleNamespace(nested={"known": 1000.0})
    index = type("Index", (int,), {"job": None})
    return anew_weighed._is_better([index(0)], [index(1)], SimpleNamespace(lengths=lengths))  # type: ignore[arg-type]


def test_what_is_saved_in_all_is_held_against_what_more_must_be_bought(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Two lays of 8.39 m for 5.7 m to buy against four of 9.28 m for 4.9 m: 18.55 saved for 9.12 more."""
    two, four = (5.7, "64.98", "127.28"), (4.9, "55.86", "145.84")
    assert is_better(monkeypatch, two, four)
    assert not is_better(monkeypatch, four, two)
    # Of as much as is saved, or of cloth whose price nobody noted, the less is bought the better.
    dear = (5.7, "64.98", "137.00")
    assert not is_better(monkeypatch, dear, four)
    assert is_better(monkeypatch, four, dear)
    unpriced = (5.7, "0", "60.00"), (4.9, "0", "80.00")
    assert not is_better(monkeypatch, *unpriced)
    assert is_better(monkeypatch, *reversed(unpriced))


def test_others_are_planned_anew_once_those_that_wait_for_cloth_stay() -> None:
    """Formerly lays whose cloth is there stayed as a short table had them for as long as another colour was awaited."""
    batch = being_cut(1000)
    for n, lay in enumerate(lays_of(batch, "ink")):
        from_roll(lay, f"R{n}", "5")
    set_table(4000)
    first = plan_anew(batch)
    assert first.lays
    assert (len(lays_of(batch, "ink")), len(lays_of(batch, "moss"))) == (3, 1)
    nest_all(batch)
    arrived.cloth_came_in(batch.pk)
    assert plan_anew(batch).lays
    assert (len(lays_of(batch, "ink")), len(lays_of(batch, "moss"))) == (1, 1)
    nest_all(batch)
    arrived.cloth_came_in(batch.pk)
    assert plan_anew(batch).stays


def test_two_lays_exchange_what_they_have_where_the_shorter_one_is_then_to_be_bought() -> None:
    batch = being_cut(1500)
    long, short = lays_of(batch, "moss")
    from_roll(short, "R1", "1.40")
    for lay in (long, *lays_of(batch, "ink")):
        LayRoll.objects.filter(lay_cloth__lay=lay).delete()
        write_to_buy(list(lay.cloths.all()))
    before = to_buy_m(batch, "moss")
    assert before > float(spread_m(long))
    # Planned anew they would be the same lays; it is said what helps.
    assert OTHER_ROLLS in plan_anew(batch).stays
    done = other_rolls.give_other_rolls(batch)
    assert (long.number in done.lays, short.number in done.lost) == (True, True)
    assert LayRoll.objects.get(lay_cloth__lay=long).roll.number == "R1"
    assert to_buy_m(batch, "moss") == pytest.approx(
        before - float(spread_m(long) - spread_m(short)), abs=0.11
    )
    assert not over_promised(None)
    # Once more nothing is changed.
    assert other_rolls.give_other_rolls(batch).lays == ()
    assert OTHER_ROLLS not in plan_anew(batch).stays


def test_an_estimate_that_comes_out_a_little_longer_than_the_table_speaks_against_no_lays() -> None:
    """Reckoned with the other lays of their plan, estimates come out otherwise than when these were planned: formerly
    lays that nearly fill the table were then thought impossible, and six short ones stayed."""
    batch = being_cut(4000)
    there = [stored_lay(lay) for lay in batch.lays.with_everything().order_by("number") if not lay.cut_at]
    shop = shop_of(batch, batch_demand(batch))
    counts = anew_weighed._counts([lay.planned for lay in there])
    asked = anew_weighed._question(batch, "jersey", there, counts, shop)
    long_mm = max(lay.planned.estimated_length_mm for lay in there)
    short = replace(asked, shop=replace(asked.shop, table_length_mm=long_mm + 30.0))
    costs = [anew_weighed._cost([lay.planned for lay in there], one) for one in (asked, short)]
    assert costs[0] is not None
    assert costs[0] == costs[1]
