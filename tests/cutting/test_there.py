"""What is told as there for a batch lies on the shelf for it; what hangs on another's purchase is told apart."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.spec import NotionKey
from planner.cutting.actions.notions_out import take_notions_out
from planner.cutting.bill import BillSetting, make_bill
from planner.cutting.buying import what_to_buy
from planner.cutting.models import Batch
from planner.cutting.reckoning import notion_figures
from planner.cutting.stored import planned_batch
from planner.materials.models import FabricColour, Notion, NotionColour
from tests.cutting.once import make_planned_batch
from tests.cutting.table_makers import tell_all_of
from tests.factories import NOON, make_order, stock
from tests.papers.words import all_words
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
LABEL = "size label"


def new_batch(count: int = 5) -> Batch:
    return make_planned_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"M": count})]))


def row_of(client: Client, batch: Batch, what: str) -> list[str]:
    """The texts of a row of the needs on the page of a batch."""
    html = client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    (row,) = [one for one in html.split("<tr") if f'data-label="What"><span>{what}' in one]
    return [
        one.strip() for one in re.findall(r">([^<>]+)<", row.replace("\N{THIN SPACE}", " ")) if one.strip()
    ]


def labels(on_hand: int) -> None:
    stock(NotionColour.objects.get(notion__name=LABEL), on_hand)


def test_what_is_only_bought_for_another_batch_is_not_told_as_there(maker_client: Client) -> None:
    """3 labels lie there, each batch takes 5: the first one buys a pack of 100, of which 98 are left for the next."""
    first, second = new_batch(), new_batch()
    labels(3)
    told = row_of(maker_client, second, LABEL)
    assert told[:5] == [
        LABEL,
        "5 pcs",
        "0 pcs",
        f"3 pcs on hand, all for {first.number}",
        f"besides 98 pcs left of what is to be bought for {first.number}",
    ]
    assert told[5] == f"enough once what {first.number} needs is bought"
    assert "buy 1 × 100 labels" in row_of(maker_client, first, LABEL)
    (bought,) = [need for need in what_to_buy().needs.notions if need.key.notion == LABEL]
    assert bought.to_buy_packs == 1
    # The needs page and the first line say that it hangs on the other.
    bill = make_bill(planned_batch(second), BillSetting("metric", "EUR", open=("all",)))
    (line,) = [line for line in bill.lines if line.what == LABEL]
    assert line.there == "0\N{THIN SPACE}pcs"
    assert line.once == f"once what {first.number} needs is bought"
    assert line.once in bill.answer
    steps = " ".join(line.steps).replace("\N{THIN SPACE}", " ")
    assert f"3 pcs on hand + 100 to be bought for {first.number}" in steps
    assert "= 98 pcs there once that is bought." in steps
    html = maker_client.get(reverse("batch-needs", args=[second.number])).content.decode()
    assert f"enough once what {first.number} needs is bought" in html
    assert f"besides 98\N{THIN SPACE}pcs left of what is to be bought for {first.number}" in html


def test_where_the_shelf_does_for_both_nothing_hangs_on_the_other(maker_client: Client) -> None:
    first, second = new_batch(), new_batch()
    labels(44)
    told = row_of(maker_client, second, LABEL)
    assert told[2:5] == ["39 pcs", f"44 pcs on hand, 5 pcs of it for {first.number}", "enough"]


def test_what_was_taken_for_it_is_not_told_as_there(maker_client: Client) -> None:
    batch = new_batch()
    labels(44)
    take_notions_out(batch, None, NOON)
    told = row_of(maker_client, batch, LABEL)
    assert told[2:5] == ["39 pcs", "besides 5 pcs taken for it", "enough"]


def csv_row(client: Client, batch: Batch, what: str) -> dict[str, str]:
    """A line of the batch's own buy list as a spreadsheet reads it."""
    data = client.get(reverse("batch-buy-list", args=[batch.number]) + "?as=csv").content.decode("utf-8-sig")
    (found,) = [row for row in csv.DictReader(io.StringIO(data, newline="")) if row["item"] == what]
    return found


def test_the_buy_list_tells_as_there_what_the_page_does(maker_client: Client) -> None:
    """11 garments, 3 labels on hand for another batch, packs of 10: 8 are left of what that buys, 3 are short."""
    first, second = new_batch(), new_batch(11)
    Notion.objects.filter(name=LABEL).update(pack="10 labels", pack_quantity=10)
    labels(3)
    told = row_of(maker_client, second, LABEL)
    assert told[2:5] == [
        "0 pcs",
        f"3 pcs on hand, all for {first.number}",
        f"besides 8 pcs left of what is to be bought for {first.number}",
    ]
    row = csv_row(maker_client, second, LABEL)
    assert [row[name] for name in ("need", "there for it", "besides", "short")] == ["11", "0", "8", "3"]
    words = all_words(maker_client.get(reverse("batch-buy-list", args=[second.number])).content)
    assert "11 pcs 0 pcs 3 pcs 1 × 10 labels" in words
    assert "− 0 there for it − 8 left of what is to be bought for others = 3 pcs short" in words
    assert "in stock" not in words
    # Of all batches it is what lies there.
    assert "in stock" in all_words(maker_client.get(reverse("buy-list")).content)
    read = planned_batch(second)
    (need,) = [need for need in read.needs.notions if need.key.notion == LABEL]
    key = NotionKey(LABEL, "")
    assert (need.key, need.coming, need.to_buy_packs) == (key, 8, 1)
    words = notion_figures(need, read.shop.notions[key]).words.replace("\N{THIN SPACE}", " ")
    assert "− 0 in stock − 8 left of what is to be bought for others = 3 pcs short" in words


def test_the_buy_list_leaves_out_what_was_taken_for_it(maker_client: Client) -> None:
    """5 of 8 labels were taken for it; 6 garments more are wanted of it since, and 3 labels are there."""
    batch = new_batch()
    labels(8)
    take_notions_out(batch, None, NOON)
    read = planned_batch(batch)
    (need,) = [need for need in read.needs.notions if need.key.notion == LABEL]
    notion = read.shop.notions[need.key]
    taken = notion_figures(need, notion, stock_is="there for it")
    assert (taken.on_shelf, taken.met) == (3, 5)
    assert "there for it 3 + 5 taken = 8, nothing short" in taken.words
    more = notion_figures(replace(need, need=11.0), notion, stock_is="there for it")
    assert "− 3 there for it − 5 taken = 3" in more.words
    assert row_of(maker_client, batch, LABEL)[2:4] == ["3 pcs", "besides 5 pcs taken for it"]


def test_cloth_there_is_what_lies_on_its_rolls_also_once_some_is_cut(maker_client: Client) -> None:
    batch, later = new_batch(), new_batch(1)
    stock(FabricColour.objects.get(fabric__name="jersey", name="ink"), 24)
    lay = batch.lays.get(cloths__fabric_colour__fabric__name="jersey")
    tell_all_of(lay, "1.80")
    told = row_of(maker_client, batch, "jersey, ")
    there = told.index("besides 1.80 m cut for it")
    assert told[there - 1] == "22.20 m"
    assert "22.20 m" in row_of(maker_client, later, "jersey, ")


def test_cones_that_are_only_bought_for_another_batch_are_not_told_as_there() -> None:
    """Metres enough for both, but the machine takes three cones at once and one is there."""
    first, second = new_batch(), new_batch()
    colour = NotionColour.objects.get(notion__kind="thread", name="ink")
    stock(colour, 4000)
    NotionColour.objects.filter(pk=colour.pk).update(cones=1)
    bill = make_bill(planned_batch(second), BillSetting("metric", "EUR", open=("all",)))
    (line,) = [line for line in bill.lines if line.what == colour.notion.name and line.colour == "ink"]
    assert (line.to_buy, line.once) == ("", f"once what {first.number} needs is bought")
    assert any(f"3 are there {line.once}, started ones too" in step for step in line.steps)


def test_only_those_are_named_that_packs_are_bought_for(maker_client: Client) -> None:
    """8 labels, three batches of 5: the second one buys, and what it leaves is there for the third."""
    first, second, third = new_batch(), new_batch(), new_batch()
    labels(8)
    assert row_of(maker_client, third, LABEL)[2:6] == [
        "0 pcs",
        f"8 pcs on hand, all for {first.number} and {second.number}",
        f"besides 98 pcs left of what is to be bought for {second.number}",
        f"enough once what {second.number} needs is bought",
    ]
