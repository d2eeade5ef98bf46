"""The day a batch is due is the earliest of its orders, whatever becomes of them and of it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.cutting.actions import gathering, taking_out
from planner.cutting.actions.printing import note_printed
from planner.cutting.batch_days import follow_order
from planner.cutting.models import Batch
from planner.cutting.printed import BUNDLES, SHEET, fingerprints
from planner.cutting.reading import bundles_of, lays_of
from planner.orders.actions import change_order, dispatch_order, reopen_order
from planner.orders.data import LineData, OrderData
from planner.orders.models import LineQuantity, Order
from tests.cutting.once import make_planned_batch
from tests.cutting.test_printed import papers_of
from tests.cutting.test_taken_out import batch_of, cut
from tests.cutting.test_taken_out import lays_of as lays_of_colour
from tests.factories import NOON, TODAY
from tests.sewing.makers import make_plain_order

pytestmark = pytest.mark.django_db
SOON, LATER, LAST = (TODAY + timedelta(days=n) for n in (3, 12, 33))


def fill(batch: Batch, *orders: Order) -> date | None:
    """Fills a batch with all of these orders; its day then."""
    rows = LineQuantity.objects.filter(line__order__in=orders)
    filled = gathering.fill_batch(batch, {row.pk: row.quantity for row in rows})
    assert not filled.problems
    day = Batch.objects.get(pk=batch.pk).due_on
    assert filled.batch.due_on == day
    return day


def put_off(order: Order, day: date, person: User) -> None:
    """The order is saved as it is, but for its day."""
    order = Order.objects.get(pk=order.pk)
    lines = [
        LineData(
            key,
            line.pk,
            line.style_id,
            line.colourway_id,
            frozenset(line.options.values_list("pk", flat=True)),
            {row.size_id: row.quantity for row in line.quantities.all()},
        )
        for key, line in enumerate(order.lines.all())
    ]
    data = OrderData(order.customer.name if order.customer else "", day, order.note, tuple(lines))
    assert change_order(order, data, order.version, person).outcome == "saved"


def day_of(batch: Batch) -> date | None:
    return Batch.objects.get(pk=batch.pk).due_on


def test_every_filling_gives_a_batch_the_earliest_day_of_what_it_holds_then() -> None:
    late, soon = make_plain_order(2, LAST, "O-1"), make_plain_order(2, SOON, "O-2")
    batch = gathering.create_batch(None, TODAY)
    assert batch.due_on is None
    assert fill(batch, late) == LAST
    assert fill(batch, late, soon) == SOON
    assert fill(batch, late) == LAST
    assert fill(batch, soon) == SOON
    assert fill(batch) is None


def test_a_batch_follows_the_day_of_its_orders_as_long_as_it_is_on_the_go(maker: User) -> None:
    order, other = make_plain_order(2, LATER, "O-1"), make_plain_order(2, LAST, "O-2")
    gathering_one = gathering.create_batch(None, TODAY)
    assert fill(gathering_one, order, other) == LATER
    for state in Batch.State.values:
        Batch.objects.filter(pk=gathering_one.pk).update(state=state, due_on=LATER)
        put_off(order, SOON, maker)
        over = state in {Batch.State.DONE, Batch.State.CANCELLED}
        assert day_of(gathering_one) == (LATER if over else SOON), state
        put_off(order, LATER, maker)
        assert day_of(gathering_one) == LATER
    Batch.objects.update(state=Batch.State.PLANNED)
    put_off(order, LAST + timedelta(days=9), maker)
    assert day_of(gathering_one) == LAST, "the other order is due first now"


def test_an_order_that_is_sent_is_waited_for_no_longer(maker: User) -> None:
    sent, other = make_plain_order(2, SOON, "O-1"), make_plain_order(2, LATER, "O-2")
    batch = make_planned_batch(sent, other)
    assert day_of(batch) == SOON
    assert dispatch_order(sent, maker, TODAY).outcome == "saved"
    assert day_of(batch) == LATER
    assert dispatch_order(other, maker, TODAY).outcome == "saved"
    assert day_of(batch) == SOON, "of all, where none is open"
    reopen_order(other, maker)
    assert day_of(batch) == LATER


def test_a_batch_follows_when_an_order_is_taken_out_of_it(maker: User) -> None:
    batch = batch_of(("ink", {"M": 3}), ("moss", {"L": 3}))
    ink, moss = Order.objects.order_by("pk")
    put_off(moss, ink.due_on - timedelta(days=5), maker)
    assert day_of(batch) == ink.due_on - timedelta(days=5)
    batch = cut(lays_of_colour(batch, "jersey", "ink")[0])
    assert not taking_out.take_out(batch, moss, None, NOON).problem
    assert day_of(batch) == ink.due_on


def test_another_day_makes_no_paper_old_and_stands_on_the_page(maker: User, maker_client: Client) -> None:
    order = make_plain_order(3, LATER, "O-1")
    batch = make_planned_batch(order)
    lays = lays_of(batch)
    before = fingerprints(lays, bundles_of(batch, lays))
    note_printed(batch, [SHEET, BUNDLES, *(str(lay.number) for lay in lays)], NOON)
    put_off(order, SOON, maker)
    lays = lays_of(batch)
    assert fingerprints(lays, bundles_of(batch, lays)) == before
    assert not papers_of(batch).any_old
    page = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert f"{SOON:%a} {SOON.day} {SOON:%b}" in page
    assert f"{LATER:%a} {LATER.day} {LATER:%b}" not in page


def test_following_an_order_asks_once_and_writes_only_what_changes(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    order = make_plain_order(9, LATER, "O-1")
    box = LineQuantity.objects.get()
    batches = [gathering.create_batch(None, TODAY) for _ in range(3)]
    for batch in batches:
        assert not gathering.fill_batch(batch, {box.pk: 3}).problems
    with django_assert_num_queries(1):
        follow_order(order)
    Order.objects.update(due_on=SOON)
    Batch.objects.filter(pk=batches[0].pk).update(due_on=SOON)
    with django_assert_num_queries(3):
        follow_order(order)
    assert {day_of(batch) for batch in batches} == {SOON}
