"""A plan that buys while cloth stays on the shelf says so, and the plan from stock beside it can be taken."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.wishes import FromStock, facts_to_json
from planner.cutting.actions import found_since, settling
from planner.cutting.cut_plans import facts_of
from planner.cutting.models import Batch, CutPlan, LayRoll
from planner.cutting.offers_shown import Offer
from planner.cutting.other_plans import NOT_COMPARED
from planner.cutting.plan_screens import PlanPanel, plan_panels
from planner.cutting.reading import batch_with_plans
from planner.cutting.stock_words import NO_LESS, buys_in_words, stock_offer_in_words
from planner.cutting.stored import planned_batch
from planner.cutting.why import how_good, why_not_fewer
from planner.materials.models import FabricColour
from tests.cutting.once import settled, waiting_batch
from tests.cutting.settling_makers import lay_in_rows
from tests.cutting.test_plan_choices import facts, outcome
from tests.factories import make_order, stock
from tests.sewing.makers import the_style

BUYS = FromStock(2900.0, 2380.0, outcome(2, 2, 2900.0, 30.0, "159.04", "from_stock"), 800.0)


def plain(text: str) -> str:
    return text.replace("\N{THIN SPACE}", " ")


def panel(batch: Batch) -> PlanPanel:
    read = planned_batch(batch_with_plans(batch.number))
    panels = plan_panels(read, "metric", "EUR", is_maker=True)
    return next(one for one in panels if one.fabric == "jersey")


# ---- in words ----


def test_what_is_bought_is_told_with_what_stays_unused() -> None:
    assert plain(buys_in_words(BUYS, "metric")) == (
        "It buys 2.9 m while 2.38 m in stock stay unused, for no length there is enough for a ply;"
        " 2 lays from stock would buy 0.8 m, as far as estimates tell."
    )
    assert BUYS.other is not None
    nested = replace(BUYS, other=replace(BUYS.other, nested=2))
    assert plain(buys_in_words(nested, "metric")).endswith("would buy 0.8 m.")
    alone = replace(BUYS, other=None)
    assert buys_in_words(alone, "metric").endswith("for no length there is enough for a ply.")
    assert buys_in_words(None, "metric") == ""
    flawed = plain(buys_in_words(replace(alone, unused_mm=5000.0, flaws_mm=300.0), "metric"))
    assert "while 5.0 m in stock (and 0.3 m of flaws) stay unused" in flawed
    # No centimetre more than what its page says is there.
    assert "while 1.67 m in stock stay unused" in plain(
        buys_in_words(replace(alone, unused_mm=1679.0), "metric")
    )
    own = FromStock(0.0, 0.0, is_aim=True)
    assert buys_in_words(own, "metric").endswith("the longest piece there, and it buys nothing.")


def test_what_the_plan_from_stock_is_against_the_one_there_is() -> None:
    best = replace(outcome(1, 1, 2800.0, 30.0, "158.40"), nested=1)
    words = plain(stock_offer_in_words(BUYS, best, "metric", "EUR"))
    assert words == (
        "2 lays, buys 0.8 m instead of 2.9 m, 0.1 m more cloth, 0.64 EUR more;"
        " an estimate: none of its 2 lays is nested"
    )
    sums = replace(BUYS, spends=Decimal("75.50"), other_spends=Decimal("31.20"))
    words = plain(stock_offer_in_words(sums, best, "metric", "EUR")).replace("\N{NO-BREAK SPACE}", " ")
    assert (
        ", 0.64 EUR more with all cloth counted; what is bought and the work at the table come to 31.20 EUR instead of"
        " 75.50 EUR;"
    ) in words
    assert stock_offer_in_words(FromStock(2900.0, 2380.0), best, "metric", "EUR") == NO_LESS
    assert stock_offer_in_words(FromStock(2900.0, 2380.0, is_open=True), best, "metric", "") == NOT_COMPARED


def test_a_plan_from_stock_is_only_proven_among_those() -> None:
    told = facts(stock=FromStock(800.0, 0.0, is_aim=True), fewer="dearer")
    assert how_good(told).startswith("Proven: no plan of plies that fit what lies in stock costs less")
    assert "longer than what lies in stock" in why_not_fewer(told)
    assert how_good(replace(told, gap_share=0.1)).startswith("Best found of plies that fit")


# ---- on the page ----


@pytest.fixture
def batch(db: None) -> Batch:
    """One lay of one ply, S, M and L beside each other, all of it to be bought."""
    return settled(
        waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1, "L": 1})]))
    )


def end_of_stock(metres: str, number: str) -> None:
    stock(FabricColour.objects.get(fabric__name="jersey", name="ink"), metres, roll=number)


def lays_in(batch: Batch) -> list[tuple[int, int]]:
    """How long each ply of jersey is (mm), and its spreads."""
    lays = batch.lays.filter(cloths__fabric_colour__fabric__name="jersey").order_by("number")
    return [
        (
            round((lay.marker.length_mm or lay.estimated_length_mm) + 2 * lay.end_allowance_mm),
            lay.cloths.get().spreads,
        )
        for lay in lays
    ]


def offers(batch: Batch) -> dict[str, Offer]:
    return {offer.aim: offer for offer in panel(batch).offers}


def choose(client: Client, batch: Batch, aim: str) -> None:
    plan = batch.cut_plans.get(fabric__name="jersey")
    assert client.post(reverse("plan-aim", args=[batch.number, plan.pk]), {"aim": aim}).status_code == 302


def test_the_plan_from_stock_is_offered_taken_planned_shorter_where_it_comes_out_too_long_and_left(
    maker_client: Client, db: None
) -> None:
    """Two S and two M: two plies of S and M together fit on 1.55 and 1.30 m by estimates. Nested they are 1.31 m, so
    that one fits no more and 1.4 m would be bought; S and M by themselves need nothing, for 8 minutes more."""
    batch = settled(waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 2})])))
    assert list(offers(batch)) == ["fewest_lays", "least_cloth"], "nothing lies there"
    for number, metres in enumerate(("1.55", "1.30", "0.75")):
        end_of_stock(metres, f"E-{number}")
    found_since.look_again(batch.pk)
    told = plain(panel(batch).sentences[0])
    assert told.startswith("It buys ")
    assert "2 lays from stock would buy nothing, as far as estimates tell." in told
    offer = offers(batch)["from_stock"]
    assert offer.can_take
    assert offer.words.startswith("2 lays, buys ")
    page = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert "<strong>From stock:</strong> 2 lays, buys " in page

    choose(maker_client, batch, "from_stock")
    seen = []
    for _ in range(20):
        together = batch.lays.filter(cloths__spreads=2, cloths__fabric_colour__fabric__name="jersey")
        lay_in_rows(batch, longer_by=1.02 if together.count() == 1 else 1.0)
        settling.settle(batch.pk)
        seen.append(lays_in(batch))
        if not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
            break
    assert seen[0] == [(1287, 2)], "the cheapest by estimates"
    assert seen[-1] == [(670, 2), (655, 2)]
    told = plain(panel(batch).sentences[0])
    assert told.startswith("From stock, as you chose")
    assert told.endswith("and it buys nothing.")
    rolls = LayRoll.objects.filter(
        lay_cloth__fabric_colour__fabric__name="jersey", lay_cloth__lay__batch=batch
    )
    assert all(one.roll for one in rolls)

    assert "money" in offers(batch)
    choose(maker_client, batch, "money")
    settled(batch)
    assert not panel(batch).sentences[0].startswith("From stock")


def test_where_no_shorter_plies_help_it_says_that_it_was_to_buy_less(
    maker_client: Client, batch: Batch
) -> None:
    """S, M and L: two of them fit on 1.75 m and the third on 0.8 m by estimates; nested each by itself is longer."""
    end_of_stock("1.75", "E-1")
    end_of_stock("0.80", "E-2")
    found_since.look_again(batch.pk)
    assert "2 lays from stock would buy nothing" in panel(batch).sentences[0]
    choose(maker_client, batch, "from_stock")
    for _ in range(20):
        lay_in_rows(batch, longer_by=1.3)
        settling.settle(batch.pk)
        if not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
            break
    words = plain(panel(batch).sentences[0])
    assert "as you chose: no ply is longer than the longest piece there, and it buys 0." in words
    assert words.endswith(
        "It was to buy nothing when it was chosen; its plies do not all fit on the pieces that lie there now."
    )


def test_once_it_is_bought_nothing_is_said_of_it_any_more(batch: Batch) -> None:
    plan = batch.cut_plans.get(fabric__name="jersey")
    CutPlan.objects.filter(pk=plan.pk).update(
        facts={**plan.facts, "stock": facts_to_json(facts(stock=BUYS))["stock"]}
    )
    assert panel(batch).sentences[0].startswith("It buys 2.9")
    LayRoll.objects.filter(roll=None).delete()
    told = panel(batch)
    assert not told.sentences[0].startswith("It buys")
    assert "from_stock" not in [offer.aim for offer in told.offers]


def test_a_piece_used_up_meanwhile_is_told_and_the_plan_stays(maker_client: Client, batch: Batch) -> None:
    plan = batch.cut_plans.get(fabric__name="jersey")
    stock(FabricColour.objects.get(fabric__name="jersey", name="ink"), "0.20", roll="E-1")
    answer = maker_client.post(reverse("plan-aim", args=[batch.number, plan.pk]), {"aim": "from_stock"})
    assert answer.status_code == 422
    assert "long enough any more" in answer.content.decode()
    plan.refresh_from_db()
    assert (plan.aim, facts_of(plan) is not None) == ("money", True)
