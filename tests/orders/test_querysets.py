"""Questions asked of orders."""

from datetime import date, timedelta

import pytest

from planner.orders.listing import order_rows
from planner.orders.models import Customer, LineQuantity, Order, OrderLine
from tests import factories as make
from tests.orders.conftest import take

pytestmark = pytest.mark.django_db


def left(rows):
    return [(r.line.order.number, r.size.name, r.quantity, r.batched, r.left) for r in rows]


def test_what_no_batch_holds_is_still_to_batch(style):
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"S": 2, "M": 5, "L": 1})])
    line = order.lines.get()
    take(line, "M", 3)
    take(line, "L", 1)
    take(line, "M", 1, number="B-0002")
    assert left(LineQuantity.objects.still_to_batch()) == [("O-0001", "S", 2, 0, 2), ("O-0001", "M", 5, 4, 1)]


def test_a_cancelled_batch_holds_nothing(style):
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 5})])
    take(order.lines.get(), "M", 5, state="cancelled")
    assert left(LineQuantity.objects.still_to_batch()) == [("O-0001", "M", 5, 0, 5)]
    assert OrderLine.objects.all().held_in_batches() == []


def test_one_line_is_not_counted_for_another_of_the_same_size(style):
    one = (style, {"neck": "rib band"}, "ink", {"M": 5})
    other = (style, {"neck": "rib band"}, "chalk", {"M": 4})
    order = make.make_order([one, other])
    take(order.lines.all()[0], "M", 5)
    assert left(LineQuantity.objects.still_to_batch()) == [("O-0001", "M", 4, 0, 4)]
    medium = style.size_range.sizes.get(name="M")
    assert OrderLine.objects.all().held_in_batches() == [
        (order.lines.all()[0].pk, "B-0001", medium.pk, "M", 5, "gathering")
    ]


def test_only_open_orders_are_still_to_batch_the_most_urgent_first(style):
    line = (style, {"neck": "rib band"}, "ink", {"M": 1})
    make.make_order([line], due_on=date(2031, 6, 9))
    make.make_order([line], due_on=date(2031, 6, 2))
    make.make_order([line], state="dispatched")
    make.make_order([line], state="cancelled")
    assert [row[0] for row in left(LineQuantity.objects.still_to_batch())] == ["O-0002", "O-0001"]


def test_orders_by_state_by_day_and_without_a_customer():
    make.make_order(due_on=make.TODAY - timedelta(days=1))
    make.make_order(due_on=make.TODAY)
    make.make_order(due_on=make.TODAY - timedelta(days=9), state="dispatched")
    make.make_order(state="cancelled", stock_make=True)
    make.make_order(stock_make=True)
    numbers = lambda orders: [o.number for o in orders]  # noqa: E731
    assert numbers(Order.objects.open().by_due_day()) == ["O-0001", "O-0002", "O-0005"]
    assert numbers(Order.objects.late(make.TODAY)) == ["O-0001"]
    assert numbers(Order.objects.dispatched()) == ["O-0003"]
    assert numbers(Order.objects.cancelled()) == ["O-0004"]
    assert numbers(Order.objects.stock_makes().open()) == ["O-0005"]


def test_a_search_finds_number_customer_and_style_each_order_once(style):
    line = (style, {"neck": "rib band"}, "ink", {"M": 1})
    make.make_order([line, line], customer=make.make_customer("Tidewater Stores"))
    make.make_order(customer=make.make_customer("Mossy Gate"))
    assert [o.number for o in Order.objects.matching("box")] == ["O-0001"]
    assert [o.number for o in Order.objects.matching("110")] == ["O-0001"]
    assert [o.number for o in Order.objects.matching("mossy")] == ["O-0002"]
    assert [o.number for o in Order.objects.matching(" o-0002 ")] == ["O-0002"]
    assert Order.objects.matching("").count() == 2
    assert Order.objects.matching("%").count() == 0


def test_sizes_come_with_the_orders_in_a_fixed_number_of_queries(style, django_assert_num_queries):
    for _ in range(3):
        make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 1, "L": 2})] * 2)
    with django_assert_num_queries(6):
        for order in Order.objects.with_sizes():
            for line in order.lines.all():
                assert [o.name for o in line.options.all()] == ["rib band"]
                assert [(q.size.name, q.left) for q in line.quantities.all()] == [("M", 1), ("L", 2)]
                assert line.style.number == "110"
                assert line.colourway.name == "ink"


def test_orders_to_be_read_in_four_queries_however_many(style, django_assert_num_queries):
    due = make.TODAY + timedelta(days=3)
    first = make.make_order(
        [(style, {"neck": "rib band"}, "ink", {"L": 5, "S": 2}), (style, {}, "chalk", {"M": 4})], due_on=due
    )
    take(first.lines.all()[0], "L", 3)
    take(first.lines.all()[1], "M", 4, number="B-0009", state="cancelled")
    make.make_order([(style, {}, "chalk", {"M": 1})], stock_make=True, due_on=due)
    make.make_order([], due_on=due, state="dispatched")
    orders = list(Order.objects.select_related("customer").order_by("pk"))
    with django_assert_num_queries(4):
        rows = order_rows(orders, make.TODAY)
    assert [(row.order, row.who, row.total, row.batched, row.due.off) for row in rows] == [
        (orders[0], "Tidewater Stores", 11, 3, "in 3 days"),
        (orders[1], "stock make", 1, 0, "in 3 days"),
        (orders[2], "Tidewater Stores", 0, 0, ""),
    ]
    ink, chalk = rows[0].lines
    assert (ink.style_number, ink.style, ink.options, ink.colourway) == ("110", str(style), "rib band", "ink")
    # In the order of the size range, whatever the order of typing.
    assert (ink.pairs, ink.total, ink.batched) == ((("S", 2), ("L", 5)), 7, 3)
    assert (chalk.options, chalk.pairs, chalk.batched) == ("", (("M", 4),), 0)
    colours = [
        one.fabric_colour.swatch for one in first.lines.all()[1].colourway.cloths.order_by("role__position")
    ]
    assert colours
    assert chalk.swatches == tuple(dict.fromkeys(colours))
    with django_assert_num_queries(1):
        assert [row.lines for row in order_rows(orders[2:], make.TODAY)] == [()]


def test_customers_know_how_many_orders_they_have():
    buyer = make.make_customer("Tidewater Stores")
    for state in ("open", "open", "dispatched"):
        make.make_order(customer=buyer, state=state)
    found = Customer.objects.called("tidewater stores").with_orders().get()
    assert (found.open_orders, found.all_orders) == (2, 3)
