"""What can be done with an order."""

from __future__ import annotations

from datetime import date

import pytest

from planner.cutting.models import Batch
from planner.orders import actions
from planner.orders.data import LineData, OrderData
from planner.orders.models import Customer, LineQuantity, Order
from tests import factories as make
from tests.orders.conftest import take

DUE = date(2031, 6, 2)


def line_of(style, colourway="ink", neck="rib band", line_pk=None, key=0, **sizes) -> LineData:
    pks = {size.name: size.pk for size in style.size_range.sizes.all()}
    return LineData(
        key=key,
        line_pk=line_pk,
        style_pk=style.pk,
        colourway_pk=style.colourways.get(name=colourway).pk,
        option_pks=frozenset([style.details.get().options.get(name=neck).pk]),
        quantities={pks[size]: n for size, n in sizes.items()},
    )


def data_of(*lines, customer="Tidewater Stores", due_on=DUE, note="") -> OrderData:
    return OrderData(customer, due_on, note, lines)


def said(order) -> list:
    """The lines of an order as somebody would read them."""
    order = Order.objects.with_sizes().get(pk=order.pk)
    return [
        (
            line.style.number,
            line.colourway.name,
            [option.name for option in line.options.all()],
            {row.size.name: row.quantity for row in line.quantities.all()},
        )
        for line in order.lines.all()
    ]


def test_an_order_is_entered_with_its_lines(style, maker):
    entered = actions.enter_order(
        data_of(line_of(style, S=2, M=3), line_of(style, "chalk", "self band", M=1)), maker, make.TODAY
    )
    order = entered.order
    assert (order.number, order.customer.name, order.due_on, order.version) == (
        "O-0001",
        "Tidewater Stores",
        DUE,
        1,
    )
    assert (order.entered_by, order.entered_on, entered.new_customer) == (maker, make.TODAY, True)
    assert said(order) == [
        ("110", "ink", ["rib band"], {"S": 2, "M": 3}),
        ("110", "chalk", ["self band"], {"M": 1}),
    ]


def test_a_known_customer_is_found_however_it_is_typed(style, maker):
    known = make.make_customer("Tidewater Stores")
    entered = actions.enter_order(
        data_of(line_of(style, M=1), customer="tidewater stores"), maker, make.TODAY
    )
    assert (entered.order.customer, entered.new_customer) == (known, False)
    assert Customer.objects.count() == 1


def test_without_a_customer_it_is_a_stock_make(style, maker):
    entered = actions.enter_order(data_of(line_of(style, M=1), customer=""), maker, make.TODAY)
    assert entered.order.customer is None
    assert list(Order.objects.stock_makes()) == [entered.order]


def test_numbers_go_up_without_a_gap_past_ten_thousand(style, maker):
    make.make_order(number="O-9999")
    make.make_order(number="X-77")
    numbers = [
        actions.enter_order(data_of(line_of(style, M=1)), maker, make.TODAY).order.number for _ in "12"
    ]
    assert numbers == ["O-10000", "O-10001"]


def test_a_failed_entry_leaves_nothing_and_uses_up_no_number(style, maker, monkeypatch):
    with monkeypatch.context() as broken:
        broken.setattr(actions, "_write_lines", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            actions.enter_order(data_of(line_of(style, M=1), customer="Nobody Yet"), maker, make.TODAY)
    assert not Order.objects.exists()
    assert not Customer.objects.exists()
    assert actions.enter_order(data_of(line_of(style, M=1)), maker, make.TODAY).order.number == "O-0001"


def test_who_finds_the_number_taken_takes_the_next(style, monkeypatch):
    make.make_order(number="O-0001")
    offered = iter(["O-0001", "O-0001", "O-0002"])
    monkeypatch.setattr(actions, "next_number", lambda: next(offered))
    entered = actions.enter_order(data_of(line_of(style, M=1)), None, make.TODAY)
    assert entered.order.number == "O-0002"
    assert Order.objects.count() == 2


def test_a_change_is_saved_and_counts_the_version(style, maker, helper):
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"S": 2, "M": 5})], person=maker)
    line = order.lines.get()
    changed = actions.change_order(
        order,
        data_of(
            line_of(style, "chalk", line_pk=line.pk, M=6, L=1), line_of(style, key=1, XS=1), note="ring first"
        ),
        1,
        helper,
    )
    assert changed.outcome == "saved"
    assert (changed.order.version, changed.order.changed_by, changed.order.note) == (2, helper, "ring first")
    assert said(order) == [
        ("110", "chalk", ["rib band"], {"M": 6, "L": 1}),
        ("110", "ink", ["rib band"], {"XS": 1}),
    ]
    assert order.lines.first().pk == line.pk


def test_lines_left_out_are_gone(style, maker):
    ink, chalk = ((style, {"neck": "rib band"}, colour, {"M": 1}) for colour in ("ink", "chalk"))
    order = make.make_order([ink, chalk])
    keep = order.lines.all()[1]
    actions.change_order(order, data_of(line_of(style, "chalk", line_pk=keep.pk, M=1)), 1, maker)
    assert [row[1] for row in said(order)] == ["chalk"]
    assert LineQuantity.objects.count() == 1


def test_a_line_of_another_order_is_never_taken_over(style, maker):
    line = (style, {"neck": "rib band"}, "ink", {"M": 1})
    order, other = make.make_order([line]), make.make_order([line])
    actions.change_order(order, data_of(line_of(style, line_pk=other.lines.get().pk, M=9)), 1, maker)
    assert said(other) == [("110", "ink", ["rib band"], {"M": 1})]
    assert said(order) == [("110", "ink", ["rib band"], {"M": 9})]


def test_who_comes_second_changes_nothing(style, maker):
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 5})])
    line = order.lines.get()
    first = actions.change_order(order, data_of(line_of(style, line_pk=line.pk, M=6)), 1, maker)
    second = actions.change_order(order, data_of(line_of(style, line_pk=line.pk, M=7)), 1, maker)
    assert (first.outcome, second.outcome, second.order.version) == ("saved", "stale", 2)
    assert said(order)[0][3] == {"M": 6}


@pytest.fixture
def batched(style):
    """An order for 2 S and 5 M in ink with a rib band; 3 M of it are in batch B-0003."""
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"S": 2, "M": 5})])
    take(order.lines.get(), "M", 3, number="B-0003")
    return order


def change(order, maker, *lines, **fields):
    return actions.change_order(order, data_of(*lines, **fields), order.version, maker)


def test_what_harms_no_batch_may_change(batched, style, maker):
    line = batched.lines.get()
    changed = change(
        batched, maker, line_of(style, line_pk=line.pk, M=3, XL=4), line_of(style, "chalk", key=1, M=1),
        customer="Mossy Gate", due_on=date(2031, 7, 1), note="later",
    )  # fmt: skip
    assert changed.outcome == "saved"
    assert said(batched)[0] == ("110", "ink", ["rib band"], {"M": 3, "XL": 4})


@pytest.mark.parametrize(
    ("fields", "place", "text"),
    [
        ({"M": 2}, "size:M", "M: 3 of them are in batch B-0003, so it cannot fall below 3."),
        ({"S": 2}, "size:M", "M: 3 of them are in batch B-0003, so it cannot fall below 3."),
        (
            {"M": 5, "colourway": "chalk"},
            "colourway",
            "This line is in batch B-0003, so its colourway stays ink.",
        ),
        (
            {"M": 5, "neck": "self band"},
            "option:neck",
            "This line is in batch B-0003, so its neck stays rib band.",
        ),
    ],
)
def test_what_a_batch_holds_stands_still(batched, style, maker, fields, place, text):
    changed = change(batched, maker, line_of(style, line_pk=batched.lines.get().pk, **fields))
    assert changed.outcome == "refused"
    assert [(p.line, p.field, p.text) for p in changed.problems] == [(0, place, text)]
    assert said(batched) == [("110", "ink", ["rib band"], {"S": 2, "M": 5})]
    assert Order.objects.get().version == 1


def test_a_batched_line_keeps_its_style(batched, maker):
    other = make.make_style("120", "wrap top")
    changed = change(batched, maker, line_of(other, line_pk=batched.lines.get().pk, M=5))
    assert [(p.field, p.text) for p in changed.problems] == [
        ("style", "This line is in batch B-0003, so its style stays 110 box top.")
    ]


def test_a_batched_line_cannot_be_taken_out(batched, style, maker):
    take(batched.lines.get(), "S", 1, number="B-0004")
    changed = change(batched, maker, line_of(style, "chalk", M=1))
    assert [p.text for p in changed.problems] == [
        "110 box top, ink cannot be taken out: it is in batches B-0003 and B-0004."
    ]
    assert len(said(batched)) == 1


def test_a_line_a_cancelled_batch_names_is_refused_in_words(style, maker):
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 5})])
    take(order.lines.get(), "M", 3, state="cancelled")
    refused = change(order, maker, line_of(style, "chalk", M=1))
    assert "a cancelled batch still names it" in refused.problems[0].text
    saved = change(order, maker, line_of(style, "chalk", line_pk=order.lines.get().pk, M=1))
    assert saved.outcome == "saved"


def test_an_order_in_a_batch_is_not_cancelled_and_says_which(batched, maker):
    refused = actions.cancel_order(batched, maker)
    assert refused.outcome == "refused"
    assert [p.text for p in refused.problems] == [
        "O-0001 cannot be cancelled: 3 of its garments are in batch B-0003. "
        "Take them out of batch B-0003 first, or cancel that."
    ]
    assert Order.objects.get().state == "open"


@pytest.mark.parametrize(("quantity", "are"), [(1, "1 of its garments is"), (3, "3 of its garments are")])
def test_an_order_that_a_batch_still_gathers_is_not_dispatched_and_says_which(style, maker, quantity, are):
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 5})])
    take(order.lines.get(), "M", 1, number="B-0002", state="sewing")
    take(order.lines.get(), "M", quantity, number="B-0003")
    refused = actions.dispatch_order(order, maker, make.TODAY)
    assert (refused.outcome, [p.text for p in refused.problems]) == (
        "refused",
        [
            f"O-0001 cannot be dispatched yet: {are} in batch B-0003, still to be planned and made. "
            "Take them out of batch B-0003 first, or cancel that."
        ],
    )
    assert Order.objects.get().state == "open"


@pytest.mark.parametrize("state", ["planned", "cutting", "sewing", "done", "cancelled"])
def test_what_is_made_or_given_up_keeps_no_order_from_being_dispatched(style, maker, state):
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 5})])
    take(order.lines.get(), "M", 3, state=state)
    assert actions.dispatch_order(order, maker, make.TODAY).outcome == "saved"


def test_cancel_dispatch_and_reopen(style, maker):
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 1})])
    assert actions.cancel_order(order, maker).order.state == "cancelled"
    assert "is cancelled. Reopen it first" in actions.cancel_order(order, maker).problems[0].text
    assert actions.dispatch_order(order, maker, make.TODAY).outcome == "refused"
    assert actions.reopen_order(order, maker).order.state == "open"
    sent = actions.dispatch_order(order, maker, make.TODAY).order
    assert (sent.state, sent.dispatched_on) == ("dispatched", make.TODAY)
    assert actions.change_order(order, data_of(line_of(style, M=2)), sent.version, maker).outcome == "refused"
    again = actions.reopen_order(order, maker).order
    assert (again.state, again.dispatched_on, again.version) == ("open", None, 5)


def test_a_duplicate_is_a_new_order_with_the_same_lead(style, maker):
    order = make.make_order(
        [(style, {"neck": "rib band"}, "ink", {"S": 2, "M": 5})], due_on=date(2031, 5, 26), state="dispatched"
    )
    copy = actions.duplicate_order(order, maker, date(2032, 1, 1)).order
    assert (copy.number, copy.customer, copy.state, copy.version) == ("O-0002", order.customer, "open", 1)
    assert copy.due_on == date(2032, 1, 15)
    assert said(copy) == said(order)


def test_in_a_batch_that_is_being_cut_the_way_is_told_by_which_an_order_becomes_smaller(
    batched, maker, style
):
    Batch.objects.update(state="cutting")
    line = batched.lines.get()
    colour = line.colourway.name
    refused = change(batched, maker, line_of(style, colour, line_pk=line.pk, M=1))
    assert "What is not begun can be taken out on the page of batch B-0003." in refused.problems[0].text
    assert "Take them out" not in actions.cancel_order(batched, maker).problems[0].text
    Batch.objects.update(state="sewing")
    said = actions.cancel_order(batched, maker).problems[0].text
    assert said.endswith(
        "What is cut in batch B-0003 can go into stock: leave the customer of the order empty."
    )
    assert "taken out" not in said
    Batch.objects.update(state="planned")
    said = actions.cancel_order(batched, maker).problems[0].text
    assert said.endswith("Take the plan of batch B-0003 back first, then they can be taken out.")
