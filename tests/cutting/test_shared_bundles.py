"""Bundles with garments of several orders: their tickets name the orders, so that whoever packs knows for whom."""

from __future__ import annotations

from datetime import timedelta

import pytest

from planner.cutting.bundle_orders import SEVERAL
from planner.cutting.bundle_papers import ticket_data
from planner.cutting.papers import cut_sheet_data
from planner.cutting.setting import batch_setting
from planner.cutting.stored import plan_of, planned_batch
from planner.materials.models import Workroom
from planner.orders.models import Order
from tests.factories import TODAY
from tests.sewing.makers import make_plain_order, make_planned_batch, nest_all

pytestmark = pytest.mark.django_db

LATER = TODAY + timedelta(days=30)


def orders_on_tickets(*orders: Order, bundle_size: int) -> list[str]:
    Workroom.the()
    Workroom.objects.update(table_length_mm=20_000)
    batch = make_planned_batch(*orders, bundle_size=bundle_size)
    nest_all(batch)
    read = planned_batch(batch)
    setting = batch_setting(Workroom.the(), read.batch, TODAY)
    return [one.order for one in ticket_data(plan_of(read), read.shop, setting)]


def named(order: Order) -> str:
    return f"{order.number} {order.customer.name if order.customer else 'stock make'}"


def test_a_bundle_for_two_orders_names_both_and_how_many_each_has() -> None:
    one, other = make_plain_order(1, LATER, "O-1"), make_plain_order(2, LATER, "O-2")
    assert orders_on_tickets(one, other, bundle_size=5) == [f"1 for {named(one)}, 2 for {named(other)}"]


def test_where_bundles_share_the_orders_none_says_how_many() -> None:
    one, other = make_plain_order(4, LATER, "O-1"), make_plain_order(3, LATER, "O-2")
    assert orders_on_tickets(one, other, bundle_size=5) == [f"{named(one)} or {named(other)}"] * 2


def test_more_orders_than_there_is_room_for_are_counted() -> None:
    made = [make_plain_order(1, LATER, f"O-{n}") for n in range(SEVERAL + 2)]
    (words,) = orders_on_tickets(*made, bundle_size=50)
    assert words == ", ".join(f"1 for {named(order)}" for order in made[:SEVERAL]) + ", 2 orders more"


def test_a_bundle_for_one_order_names_it() -> None:
    one = make_plain_order(3, LATER, "O-1")
    assert orders_on_tickets(one, bundle_size=5) == [named(one)]


def extra_told(bundle_size: int) -> tuple[list[str], tuple[str, ...]]:
    """What tickets say of the order, and notes on the cut sheet, of three tops ordered and one cut besides."""
    one = make_plain_order(3, LATER, "O-1")
    batch = make_planned_batch(one, bundle_size=bundle_size)
    # As the plan leaves it that cuts one more: the bundle that was last holds it.
    batch.items.update(extra_allowed=1, extra=1)
    last = batch.bundles.order_by("pk").last()
    batch.bundles.filter(pk=last.pk).update(quantity=last.quantity + 1)
    nest_all(batch)
    read = planned_batch(batch)
    setting = batch_setting(Workroom.the(), read.batch, TODAY, read.demand)
    plan = plan_of(read)
    tickets = [one.order for one in ticket_data(plan, read.shop, setting)]
    return tickets, cut_sheet_data(plan, read.shop, setting).notes


def test_a_garment_that_nobody_ordered_is_told_on_ticket_and_sheet() -> None:
    tickets, notes = extra_told(bundle_size=5)
    assert len(tickets) == 1
    assert tickets[0].startswith("O-1 ")
    assert tickets[0].endswith("; 1 more than ordered")
    assert any(note.startswith("More than ordered is cut of 1 × 110 ") for note in notes)


def test_of_several_bundles_each_says_that_one_among_all_is_more() -> None:
    tickets, _ = extra_told(bundle_size=2)
    assert len(tickets) == 2
    assert all(words.endswith("; of 4 in all 1 more than ordered") for words in tickets)
