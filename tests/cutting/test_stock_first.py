"""A batch planned while cloth lies there that its plies are too long for: made from that where it spends less today."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.wishes import FromStock
from planner.cutting import arrivals
from planner.cutting.actions import choices, found_since, planning, settling
from planner.cutting.cut_plans import facts_of
from planner.cutting.models import Batch, CutPlan
from planner.cutting.offers_shown import BLIND
from planner.cutting.plan_screens import PlanPanel, plan_panels
from planner.cutting.reading import batch_with_plans
from planner.cutting.stock_words import stock_in_words
from planner.cutting.stored import planned_batch
from planner.materials.models import Fabric
from tests.cutting.once import settled, waiting_batch
from tests.cutting.settling_makers import lay_in_rows
from tests.cutting.test_plan_choices import HTMX, facts, outcome
from tests.cutting.test_stock_since import ink, is_less_by, lengths, piece, plan_of
from tests.factories import NOON, make_order, stock
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    """S, M and L of one colour, planned and not nested: one ply of 1.934 m. Two of them take 1.287 m."""
    return waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1, "L": 1})]))


def panel(batch: Batch, *, is_maker: bool = True) -> PlanPanel:
    read = planned_batch(batch_with_plans(batch.number))
    panels = plan_panels(read, "metric", "EUR", is_maker=is_maker)
    return next(one for one in panels if one.fabric == "jersey")


def plain(text: str) -> str:
    return text.replace("\N{THIN SPACE}", " ").replace("\N{NO-BREAK SPACE}", " ")


def told(batch: Batch) -> str:
    return plain(panel(batch).sentences[0])


def aims(batch: Batch) -> tuple[str, str]:
    plan = plan_of(batch)
    return plan.aim, plan.aim_by


# ---- which plan stands ----


def test_a_piece_too_short_for_the_best_lay_is_used_where_that_spends_less(batch: Batch) -> None:
    """0.8 m are bought instead of 2.0 m, for a lay more. Another wish leaves that as stock decided it."""
    piece("1.55")
    settled(batch)
    assert aims(batch) == ("from_stock", "stock")
    assert sorted(lengths(batch)) == [685, 1287]
    stock = facts_of(plan_of(batch)).stock
    assert (stock.is_aim, stock.buys_mm, stock.other_buys_mm) == (
        True,
        pytest.approx(700),
        pytest.approx(2000),
    )
    assert stock.spends < stock.other_spends
    assert choices.choose_most_plies(batch, plan_of(batch).pk, 1) == choices.Chosen()
    settled(batch)
    assert (aims(batch), sorted(lengths(batch))) == (("from_stock", "stock"), [685, 1287])


def test_an_aim_the_maker_chose_is_kept(batch: Batch) -> None:
    piece("1.55")
    assert choices.choose_aim(batch, plan_of(batch).pk, "fewest_lays") == choices.Chosen()
    settled(batch)
    assert (aims(batch), lengths(batch)) == (("fewest_lays", "maker"), [1934])


def test_a_plan_that_stands_is_not_changed_but_one_planned_anew_is(batch: Batch) -> None:
    """What lies there is too short for any ply at first."""
    piece("0.20")
    settled(batch)
    assert (aims(batch), lengths(batch)) == (("money", ""), [1934])
    stock(ink(), "1.55", roll="E-2")
    found_since.look_again(batch.pk)
    assert (aims(batch), lengths(batch), panel(batch).since) == (("money", ""), [1934], "")
    assert planning.take_plan_back(batch, None, NOON)
    planning.plan_batch(batch, NOON, seconds=2, think_seconds=10)
    settled(batch)
    assert (aims(batch)[0], sorted(lengths(batch))) == ("from_stock", [685, 1287])
    # With other figures of the workroom it is decided anew: where the cloth not bought is worth less than the work, it
    # stays and is offered.
    Fabric.objects.filter(name="jersey").update(price="0.10")
    assert found_since.plan_once_more(batch, plan_of(batch).pk) == choices.Chosen()
    settled(batch)
    assert (aims(batch), lengths(batch)) == (("money", ""), [1934])
    assert told(batch).startswith("It buys 2.0 m while 1.75 m in stock stay unused")
    assert "from_stock" in [offer.aim for offer in panel(batch).offers]


def test_lays_that_come_out_too_long_for_their_pieces_are_given_up_once_and_for_all(batch: Batch) -> None:
    """The piece holds two of them by estimates; nested, shorter lays are 1.6 times as long: one of them finds a piece,
    and the others buy as much as the one lay."""
    piece("1.55")
    seen = []
    for _ in range(30):
        lays = batch.lays.filter(cloths__fabric_colour__fabric__name="jersey")
        lay_in_rows(batch, longer_by=1.6 if lays.count() > 1 else 1.0)
        settling.settle(batch.pk)
        seen.append(aims(batch))
        if not batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
            break
    else:
        raise AssertionError("the plan never settled")
    changes = [one for n, one in enumerate(seen) if n == 0 or one != seen[n - 1]]
    assert changes == [("from_stock", "stock"), ("money", "stock")]
    assert lengths(batch) == [1934]
    assert told(batch).startswith("It buys 2.0 m while 1.55 m in stock stay unused")


def test_where_more_may_be_cut_too(db: None) -> None:
    order = make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1, "L": 1})])
    batch = waiting_batch(order, extra=1)
    piece("1.55")
    settled(batch)
    assert aims(batch) == ("from_stock", "stock")
    assert max(lengths(batch)) <= 1550


# ---- in words ----

OTHER = replace(outcome(1, 2, 11_500.0, 52.0, "150.00"), nested=1)
OWN = FromStock(
    800.0, 0.0, OTHER, 12_800.0, is_aim=True, promised_mm=800.0,
    spends=Decimal("31.20"), other_spends=Decimal("75.50"), weighs=Decimal("31.20"), other_weighs=Decimal("75.50"),
)  # fmt: skip


def words(stock: FromStock, currency: str = "EUR", *, is_chosen: bool = False) -> str:
    return plain(stock_in_words(facts(stock=stock), "metric", currency, is_chosen=is_chosen))


def test_it_says_that_it_was_planned_from_stock_and_what_it_would_be_else() -> None:
    assert words(OWN) == (
        "Planned from what lies in stock: it buys 0.8 m, 12.0 m less than without looking there, for 8 minutes more"
        " work. Without looking there: 1 lay, as far as that is nested; what is bought and the work at the"
        " table come to 75.50 EUR instead of 31.20 EUR."
    )
    assert words(OWN, "").endswith("more work. Without looking there: 1 lay, as far as that is nested.")
    guessed = words(replace(OWN, other=replace(OTHER, lays=2, nested=1)))
    assert "Without looking there: 2 lays, an estimate: 1 of its 2 lays is not nested; what is" in guessed
    nested = words(replace(OWN, other=replace(OTHER, lays=2, nested=2)))
    assert "Without looking there: 2 lays, as far as those are nested; what is" in nested
    assert words(OWN, is_chosen=True).startswith("From stock, as you chose: ")
    less = replace(OWN, other=replace(OTHER, minutes=63.0))
    assert "without looking there, and takes 3 minutes less work." in words(less)
    alike = replace(OWN, other=replace(OTHER, minutes=60.2))
    assert "12.0 m less than without looking there. Without" in words(alike)


def test_what_changed_since_is_told_of_it_too() -> None:
    longer = replace(OWN, buys_mm=1500.0)
    assert (
        "It was to buy 0.8 m when it was planned; its plies do not all fit on the pieces that lie there now."
        in words(longer)
    )
    gone = replace(longer, is_too_long=True)
    assert words(gone) == (
        "Planned from what lay in stock; what lies there now is shorter than its longest ply, and it buys 1.5 m."
        " It was to buy 0.8 m when it was planned."
    )
    came = replace(OWN, buys_mm=0.0, other_buys_mm=0.0, other_weighs=Decimal("31.20"))
    assert words(came) == "Planned from what lies in stock: it buys nothing."
    assert words(replace(came, other_weighs=Decimal("30.00"))).endswith(
        "1 lay, as far as that is nested; what is bought and the work at the table come to 75.50 EUR instead of"
        " 31.20 EUR."
    )
    assert words(replace(OWN, other=None)) == "Planned from what lies in stock: it buys 0.8 m."


# ---- on the page ----


def test_page_and_regions_tell_it_and_offer_the_other(
    batch: Batch, maker_client: Client, helper_client: Client
) -> None:
    piece("1.55")
    settled(batch)
    url = reverse("batch-detail", args=[batch.number])
    head = "Planned from what lies in stock: it buys 0.7 m, 1.3 m less than without looking there, for "
    offer = f"<strong>{BLIND}:</strong> 1 lay, buys 2.0 m instead of 0.7 m, "
    page = plain(maker_client.get(url).content.decode())
    assert head in page
    assert offer in page
    assert "what is bought and the work at the table come to " in page
    helped = plain(helper_client.get(url).content.decode())
    assert head in helped
    assert "what is bought and the work" not in helped
    assert BLIND not in helped
    answer = maker_client.post(
        reverse("plan-aim", args=[batch.number, plan_of(batch).pk]), {"aim": "money"}, headers=HTMX
    )
    assert answer.status_code == 200
    assert aims(batch) == ("money", "maker")
    region = answer.content.decode()
    assert "<html" not in region
    assert "Planned from what lies in stock" not in region
    settled(batch)
    assert lengths(batch) == [1934]
    with_htmx = plain(maker_client.get(url, headers=HTMX).content.decode())
    assert "From stock:</strong> 2 lays, buys 0.7 m instead of 2.0 m, " in with_htmx
    # Once taken it stays, whatever else is wished.
    assert choices.choose_most_plies(batch, plan_of(batch).pk, 1) == choices.Chosen()
    settled(batch)
    assert (aims(batch), lengths(batch)) == (("money", "maker"), [1934])


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Batches (pk) that a look at was asked for where cloth came in or went."""
    found: list[int] = []
    monkeypatch.setattr(arrivals, "queue_look_again", found.append)
    return found


def test_cloth_that_comes_in_may_spare_its_work(batch: Batch, looks: list[int]) -> None:
    """All its plies have rolls; with 5 m more the one lay would buy nothing either, which is told after a look."""
    piece("1.55")
    stock(ink(), "0.80", roll="E-2")
    settled(batch)
    looks.clear()
    assert told(batch).startswith("Planned from what lies in stock: it buys nothing, 2.0 m less than without")
    stock(ink(), "5.00", roll="R-7")
    assert looks == [batch.pk]
    found_since.look_again(batch.pk)
    assert told(batch).startswith(
        "Planned from what lies in stock: it buys nothing. Without looking there: 1 lay, as far as that is nested; "
    )
    assert sorted(lengths(batch)) == [685, 1287]
    offer = next(offer for offer in panel(batch).offers if offer.aim == "money")
    assert plain(offer.words).startswith("1 lay, buys nothing too, ")


def test_once_its_piece_is_gone_it_says_so(batch: Batch) -> None:
    piece("1.55")
    settled(batch)
    is_less_by("0.60")
    found_since.look_again(batch.pk)
    assert told(batch).startswith(
        "Planned from what lay in stock; what lies there now is shorter than its longest"
    )
    assert sorted(lengths(batch)) == [685, 1287]
