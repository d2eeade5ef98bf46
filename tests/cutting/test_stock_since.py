"""Cloth comes in or is gone after a plan stands: where another plan would now buy less its page says so, no more."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.wishes import FromStock
from planner.cutting import arrivals
from planner.cutting.actions import arrived, found_since, rolling
from planner.cutting.judged_plans import is_better, is_better_at_all
from planner.cutting.models import Batch, CutPlan, LayRoll
from planner.cutting.plan_screens import PlanPanel, plan_panels
from planner.cutting.reading import batch_with_plans
from planner.cutting.stock_words import NO_LESS
from planner.cutting.stored import planned_batch
from planner.materials.models import FabricColour, Roll, RollFlaw, StockMove
from tests.cutting.once import settled, waiting_batch
from tests.cutting.test_plan_choices import facts
from tests.factories import NOON, make_fabric_colour, make_order, stock
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
BUTTON = "Plan once more by it"
#: As she chose it.
FROM_STOCK = {"aim": "from_stock", "aim_by": "maker", "state": CutPlan.State.QUICK}


@pytest.fixture
def batch() -> Batch:
    """One lay of one ply, S, M and L beside each other: 1.934 m, all of it to be bought. Two of them take 1.287 m."""
    return settled(
        waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1, "L": 1})]))
    )


def ink() -> FabricColour:
    return FabricColour.objects.get(fabric__name="jersey", name="ink")


def piece(metres: str) -> None:
    stock(ink(), metres, roll="E-1")


def plan_of(batch: Batch) -> CutPlan:
    return batch.cut_plans.get(fabric__name="jersey")


def panel(batch: Batch) -> PlanPanel:
    panels = plan_panels(planned_batch(batch_with_plans(batch.number)), "metric", "EUR", is_maker=True)
    return next(one for one in panels if one.fabric == "jersey")


def told(batch: Batch) -> str:
    return panel(batch).sentences[0].replace("\N{THIN SPACE}", " ")


def offer(batch: Batch) -> str:
    words = [one.words for one in panel(batch).offers if one.aim == "from_stock"]
    return words[0].replace("\N{THIN SPACE}", " ") if words else ""


def lays_of(batch: Batch) -> list[tuple[int, int]]:
    return list(batch.lays.order_by("pk").values_list("pk", "marker_id"))


def lengths(batch: Batch) -> list[int]:
    lays = batch.lays.filter(cloths__fabric_colour__fabric__name="jersey").order_by("number")
    return [round(lay.marker.length_mm + 2 * lay.end_allowance_mm) for lay in lays]


def is_less_by(metres: str) -> None:
    roll = Roll.objects.get(number="E-1")
    StockMove.objects.create(
        fabric_colour=ink(),
        roll=roll,
        quantity=-Decimal(metres),
        reason=StockMove.Reason.COUNTED,
        moved_at=NOON,
    )


def work(batch: Batch) -> str:
    """What the worker does then: rolls, for what is short; then a look at the plan."""
    arrived.cloth_came_in(batch.pk)
    rolling.assign_rolls(batch)
    return found_since.look_again(batch.pk)


def test_the_plan_from_stock_is_offered_once_a_piece_comes_in_and_no_more_once_it_is_gone(
    batch: Batch,
) -> None:
    lays = lays_of(batch)
    assert offer(batch) == ""
    piece("2.00")
    work(batch)
    assert LayRoll.objects.get(lay_cloth__fabric_colour=ink()).roll.number == "E-1"
    assert offer(batch) == ""
    # It is looked at again once its roll is too short for it.
    is_less_by("0.45")
    work(batch)
    assert offer(batch).startswith("2 lays, buys 0.8 m instead of 2.0 m, ")
    assert told(batch) == (
        "It buys 2.0 m while 1.55 m in stock stay unused, for no length there is enough for a ply;"
        " 2 lays from stock would buy 0.8 m, as far as estimates tell."
    )
    # 40 cm are left, on which not one of them fits.
    is_less_by("1.15")
    work(batch)
    assert "from stock would buy" not in told(batch)
    assert offer(batch) == NO_LESS
    assert lays_of(batch) == lays


def test_a_plan_from_stock_that_would_buy_less_by_the_pieces_there_now_is_planned_once_more_when_she_asks(
    batch: Batch, maker_client: Client, helper_client: Client
) -> None:
    piece("2.00")
    batch.cut_plans.filter(fabric__name="jersey").update(**FROM_STOCK)
    settled(batch)
    assert lengths(batch) == [1934]
    assert told(batch).endswith("it buys nothing.")
    is_less_by("0.45")
    lays = lays_of(batch)
    assert work(batch) == "a better plan is known"
    assert lays_of(batch) == lays, "nothing is changed by looking"
    assert panel(batch).since
    is_less_by("-0.45")
    arrived.cloth_came_in(batch.pk)
    # Its ply has a roll again: nothing is bought, though the worker has not looked yet.
    one = panel(batch)
    assert one.since == ""
    assert "By what lies in stock now another plan would buy less." not in one.sentences
    work(batch)
    assert (panel(batch).since, panel(batch).since_stock) == ("", False)
    assert told(batch).endswith("it buys nothing.")
    is_less_by("0.45")
    assert work(batch) == "a better plan is known"
    assert told(batch).endswith("what lies there now is shorter than its longest ply, and it buys 2.0 m.")
    one = panel(batch)
    assert one.since.replace("\N{THIN SPACE}", " ").startswith("2 lays, buys 0.8 m instead of 2.0 m, ")
    assert "By what lies in stock now another plan would buy less." in one.sentences
    page = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert "<strong>By what lies in stock now:</strong> 2 lays, buys " in page
    assert page.count(BUTTON) == 1
    assert BUTTON not in helper_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    answer = maker_client.post(reverse("plan-again", args=[batch.number, plan_of(batch).pk]))
    assert answer.status_code == 302
    settled(batch)
    assert sorted(lengths(batch)) == [685, 1287]
    assert told(batch).endswith("it buys 0.7 m.")
    assert panel(batch).since == ""


@pytest.mark.parametrize("is_too_long", [True, False])
def test_which_plan_from_stock_is_better_is_a_matter_of_buying_first(is_too_long: bool) -> None:
    """Whether stock is other than it was made for, or its plies came out longer than estimated."""
    there = facts(stock=FromStock(2000.0, 0.0, is_aim=True, is_too_long=is_too_long))
    dearer = replace(there.best, cost=there.best.cost + 5)
    new = replace(there, best=dearer, stock=FromStock(800.0, 0.0, is_aim=True))
    assert is_better(new, there)
    assert is_better_at_all(new, there)
    more = replace(
        new, best=replace(dearer, cost=dearer.cost - 20), stock=FromStock(2900.0, 0.0, is_aim=True)
    )
    assert not is_better(more, there)
    # By a few millimetres, or against one that is not made from stock, the cheaper one is better.
    for stock_of_there in (replace(there.stock, buys_mm=805.0), FromStock(2000.0, 0.0)):
        assert not is_better(new, replace(there, stock=stock_of_there))
        assert is_better(replace(more, stock=new.stock), replace(there, stock=stock_of_there))


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Batches (pk) that a look at was asked for."""
    found: list[int] = []
    for module in (arrivals, arrived, rolling):
        monkeypatch.setattr(module, "queue_look_again", found.append)
    return found


def test_a_look_is_asked_for_where_stock_changes_that_the_batch_has_to_buy(
    batch: Batch, looks: list[int]
) -> None:
    piece("1.55")
    assert looks == [], "the worker first sees whether it does"
    arrived.cloth_came_in(batch.pk)
    assert looks == [batch.pk]
    is_less_by("0.10")
    assert looks == [batch.pk] * 2
    RollFlaw.objects.create(roll=Roll.objects.get(number="E-1"), from_m=0, to_m="0.2")
    assert looks == [batch.pk] * 3
    chalk = stock(make_fabric_colour("jersey", "chalk"), 3, roll="R-9").roll
    RollFlaw.objects.create(roll=chalk, from_m=0, to_m="0.2")
    assert looks == [batch.pk] * 3, "of that it buys nothing"


def test_none_is_where_all_is_there_unless_that_becomes_too_little(batch: Batch, looks: list[int]) -> None:
    for fabric in ("jersey", "rib"):
        stock(
            FabricColour.objects.get(fabric__name=fabric, name="ink"),
            5,
            roll="E-1" if fabric == "jersey" else "R-2",
        )
    arrived.cloth_came_in(batch.pk)
    looks.clear()
    is_less_by("0.10")
    assert rolling.assign_rolls(batch).short == 0
    assert looks == []
    is_less_by("4.00")
    assert rolling.assign_rolls(batch).short == 1
    assert looks == [batch.pk]
