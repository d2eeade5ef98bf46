"""Cloth nobody has noted a price for: each sum of money says that it is left out."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal
from html import unescape

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.cut_plans import facts_of
from planner.cutting.models import Batch
from planner.cutting.unpriced import plan_unpriced_in_words
from planner.materials.models import Fabric, StockMove
from tests.cutting.once import make_planned_batch
from tests.cutting.test_plan_panel import panel
from tests.factories import make_order
from tests.papers.words import all_words
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    """Nothing in stock; its jersey has no price, all else has one."""
    style = the_style()
    StockMove.objects.all().delete()
    Fabric.objects.filter(name="jersey").update(price=0)
    return make_planned_batch(make_order([(style, {"neck": "rib band"}, "ink", {"S": 2, "M": 3})]))


def words(client: Client, name: str, batch: Batch) -> str:
    text = unescape(re.sub(r"<[^>]+>", " ", client.get(reverse(name, args=[batch.number])).content.decode()))
    return re.sub(r"\s+", " ", text)


def test_a_plan_says_that_its_money_is_without_the_cloth(batch: Batch) -> None:
    """8 a metre where plans are compared: no price of any real cloth, stated in core."""
    told = panel(batch).unpriced.replace("\N{THIN SPACE}", " ")
    assert told == (
        "No price was noted for jersey: the sums of money here are without its cloth. "
        "Where plans are compared a metre of it counts as 8.00 EUR."
    )
    # 8 × 0.9144 m, which a yard is.
    facts = facts_of(batch.cut_plans.get(fabric__name="jersey"))
    assert "a yard of it counts as 7.32" in plan_unpriced_in_words(facts, "jersey", "imperial", "EUR")


def test_a_helper_is_told_of_no_money(maker_client: Client, helper_client: Client, batch: Batch) -> None:
    assert "No price was noted for jersey" in words(maker_client, "batch-detail", batch)
    assert "No price" not in words(helper_client, "batch-detail", batch)
    assert "rice is noted" not in words(helper_client, "batch-needs", batch)


def test_needs_name_what_their_sum_leaves_out(maker_client: Client, batch: Batch) -> None:
    page = words(maker_client, "batch-needs", batch)
    assert "No price is noted for jersey: what is bought of it is not in this sum." in page
    assert page.count("Cost no price") == 1


def test_the_buy_list_names_it_and_sums_up_what_has_a_price(maker_client: Client, batch: Batch) -> None:
    address = reverse("batch-buy-list", args=[batch.number])
    paper = all_words(maker_client.get(address).content)
    assert " no price " in paper
    assert "No price is noted for jersey: what is bought of it is not in this sum." in paper
    assert "× 0.00" not in paper
    assert "in all, what has a price" in paper
    rows = list(
        csv.DictReader(io.StringIO(maker_client.get(f"{address}?as=csv").content.decode("utf-8-sig")))
    )
    assert [row["price"] for row in rows if row["item"] == "jersey"] == [""]
    total = sum((Decimal(row["price"]) for row in rows if row["price"]), Decimal(0))
    assert total > 0
    assert f"{total}" in paper


def test_where_all_has_a_price_nothing_is_said(maker_client: Client, batch: Batch) -> None:
    Fabric.objects.filter(price=0).update(price=12)
    assert "No price" not in words(maker_client, "batch-needs", batch)
    paper = all_words(maker_client.get(reverse("batch-buy-list", args=[batch.number])).content)
    assert "No price" not in paper
    assert "what has a price" not in paper
