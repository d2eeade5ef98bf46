"""What is told to be bought, bought as one roll: then nothing is short, whatever other batches count on."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.spec import ClothKey
from planner.cutting.actions import rolling
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.buying import what_to_buy
from planner.cutting.models import Batch
from planner.cutting.stored import planned_batch
from planner.cutting.wording import length_to_buy
from planner.materials.models import Fabric, FabricColour
from tests.cutting.once import settled, waiting_batch
from tests.factories import make_order, stock
from tests.papers.words import all_words
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}
JERSEY = ClothKey("jersey", "ink")


def ink() -> FabricColour:
    return FabricColour.objects.get(fabric__name="jersey", name="ink")


@pytest.fixture
def batches() -> tuple[Batch, Batch]:
    """Two, one after the other; of jersey 5 % are kept for flaws, and there is rib enough."""
    the_style()
    stock(FabricColour.objects.get(fabric__name="rib", name="ink"), 50)
    first = settled(waiting_batch(make_order([(the_style(), RIB, "ink", {"M": 5})])))
    later = settled(waiting_batch(make_order([(the_style(), RIB, "ink", {"M": 4})])))
    Fabric.objects.filter(name="jersey").update(damage_percent=Decimal(5), pack_quantity=Decimal("0.01"))
    for batch in (first, later):
        refresh_needs(batch)
    return first, later


def laid_m(batch: Batch) -> Decimal:
    """Metres that its jersey takes on the table."""
    mm = sum(
        (lay.marker.length_mm + 2 * lay.end_allowance_mm) * cloth.spreads
        for lay in batch.lays.all()
        for cloth in lay.cloths.filter(fabric_colour=ink())
    )
    return Decimal(str(mm)) / 1000


def of_jersey(batch: Batch):  # type: ignore[no-untyped-def]
    return next(need for need in planned_batch(batch).needs.cloths if need.cloth == JERSEY)


def test_the_roll_of_an_earlier_batch_takes_nothing_of_the_one_bought_for_the_next(
    batches: tuple[Batch, Batch],
) -> None:
    """The first batch has a roll just as long as its plies are; what it keeps for flaws is not reckoned to another."""
    first, later = batches
    stock(ink(), round(laid_m(first) + Decimal("0.01"), 2), roll="R-1")
    assert rolling.assign_rolls(first).short == 0
    assert rolling.assign_rolls(later).short
    # Just what its plies take: each has its length, and none is left over for what others keep for flaws.
    stock(ink(), round(laid_m(later) + Decimal("0.005"), 2), roll="R-2")
    assert rolling.assign_rolls(later).short == 0


def test_bought_for_all_in_one_roll_both_batches_have_their_plies(batches: tuple[Batch, Batch]) -> None:
    first, later = batches
    told = next(need for need in what_to_buy().needs.cloths if need.cloth == JERSEY).to_buy_m
    stock(ink(), str(told), roll="R-1")
    # The later one is asked first: it leaves the other what that needs.
    assert rolling.assign_rolls(later).short == 0
    assert rolling.assign_rolls(first).short == 0
    assert rolling.assign_rolls(later).short == 0


def test_a_batch_says_what_is_bought_for_all_where_an_earlier_one_lacks_cloth_too(
    batches: tuple[Batch, Batch], helper_client: Client
) -> None:
    first, later = batches
    total = length_to_buy(next(n for n in what_to_buy().needs.cloths if n.cloth == JERSEY).to_buy_m, "metric")
    own = length_to_buy(of_jersey(later).to_buy_m, "metric")
    assert own != total
    page = helper_client.get(reverse("batch-detail", args=[later.number])).content.decode()
    words = f"with {first.number}: {total} in all"
    assert f"Buy {own} jersey ink ({words})" in page
    assert (
        f'{words.capitalize().replace("b-", "B-")}, see <a href="{reverse("buy-page")}">What to buy</a>'
        in page
    )
    assert total in helper_client.get(reverse("buy-page")).content.decode()
    # The earlier one is served first, whatever the later one wants.
    assert " in all" not in helper_client.get(reverse("batch-detail", args=[first.number])).content.decode()


def test_it_says_so_too_where_one_roll_does_for_both(
    batches: tuple[Batch, Batch], maker_client: Client
) -> None:
    """By the roll of 25 m either batch alone buys one, and so do both together: one is not bought twice."""
    first, later = batches
    Fabric.objects.filter(name="jersey").update(sold_by="roll", pack_quantity=25)
    for batch in batches:
        rolling.assign_rolls(batch)
        refresh_needs(batch)
    assert [of_jersey(one).to_buy_m for one in batches] == [25, 25]
    assert next(n for n in what_to_buy().needs.cloths if n.cloth == JERSEY).to_buy_m == 25
    words = f"with {first.number}: 1 roll (25.0\N{THIN SPACE}m) in all"
    page = maker_client.get(reverse("batch-detail", args=[later.number])).content.decode()
    assert f"Buy 1 roll (25.0\N{THIN SPACE}m) jersey ink ({words})" in page
    paper = all_words(maker_client.get(reverse("batch-buy-list", args=[later.number])).content)
    assert f"With {words[5:]}".replace("\N{THIN SPACE}", " ") in paper.replace("\N{THIN SPACE}", " ")
    alone = maker_client.get(reverse("batch-detail", args=[first.number])).content.decode()
    assert f"with {later.number}" not in alone
