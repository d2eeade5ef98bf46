"""The pages of the orders room, with and without HTMX."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from planner.materials.models import Workroom
from planner.orders.estimate import estimate_needs
from planner.orders.models import Customer, LineQuantity, Order
from planner.orders.screens import demand_of_rows
from planner.styles.models import PieceOutline
from tests import factories as make
from tests.orders.conftest import line_fields, order_form, take

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def workroom(db):
    """There from the first start on; made here so that no page is charged with making it."""
    return Workroom.the()


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def plain(style, quantities, colourway="ink"):
    return (style, {"neck": "rib band"}, colourway, quantities)


# ---- who may ----


@pytest.mark.parametrize(
    "path", ["/orders/", "/orders/new/", "/orders/O-0001/", "/orders/estimate/", "/orders/line/"]
)
def test_nobody_sees_orders_without_signing_in(client, path):
    answer = client.get(path)
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/")


def test_helpers_read_and_makers_write(helper_client, style):
    make.make_order([plain(style, {"M": 1})])
    for path in ("/orders/", "/orders/O-0001/", "/orders/O-0001/needs/", "/orders/customers/"):
        assert helper_client.get(path).status_code == 200
    for path in ("/orders/new/", "/orders/O-0001/edit/", "/orders/estimate/", "/orders/line/"):
        assert helper_client.get(path).status_code == 403
    assert helper_client.post("/orders/new/", order_form(line_fields(M=1))).status_code == 403
    for what in ("cancel", "dispatch", "reopen", "duplicate"):
        assert helper_client.post(f"/orders/O-0001/{what}/").status_code == 403
    assert Order.objects.get().state == "open"
    assert "New order" not in text_of(helper_client.get("/orders/"))


# ---- the list ----


def test_the_list_answers_in_its_first_line(maker_client, style):
    today = timezone.localdate()
    make.make_order([plain(style, {"M": 1})], due_on=today - timedelta(days=3))
    make.make_order([plain(style, {"M": 1})], due_on=today + timedelta(days=9))
    page = text_of(maker_client.get("/orders/"))
    assert "2 open orders, 1 of them late . Next: O-0002 for Tidewater Stores, due" in page
    assert "3 days late" in page
    assert "in 9 days." in page


def test_an_order_is_a_row_with_its_sizes_and_how_much_is_batched(maker_client, style):
    order = make.make_order([plain(style, {"S": 2, "M": 5})])
    take(order.lines.get(), "M", 3)
    page = maker_client.get("/orders/")
    assert "110 box top, rib band, ink S 2 M 5" in text_of(page)
    assert "3 of 7 in a batch" in text_of(page)
    take(order.lines.get(), "M", 2, number="B-2")
    take(order.lines.get(), "S", 2, number="B-2")
    assert "all in a batch" in text_of(maker_client.get("/orders/"))


def test_each_shelf_shows_its_own(maker_client):
    make.make_order(customer=make.make_customer("Open One"))
    make.make_order(stock_make=True)
    make.make_order(state="dispatched", customer=make.make_customer("Sent One"))
    make.make_order(state="cancelled", customer=make.make_customer("Given Up"))
    numbers = lambda shelf: re.findall(  # noqa: E731
        r'class="order-number" href="/orders/(O-\d+)/',
        maker_client.get(f"/orders/?show={shelf}").content.decode(),
    )
    assert numbers("open") == ["O-0001", "O-0002"]
    assert numbers("stock") == ["O-0002"]
    assert numbers("dispatched") == ["O-0003"]
    assert numbers("cancelled") == ["O-0004"]
    assert numbers("nonsense") == ["O-0001", "O-0002"]


def test_the_search_answers_with_the_rows_only(maker_client, style):
    make.make_order([plain(style, {"M": 1})])
    make.make_order(customer=make.make_customer("Mossy Gate"))
    region = maker_client.get("/orders/?q=mossy", headers=HTMX)
    assert region.content.decode().lstrip().startswith("{#") is False
    assert "<html" not in region.content.decode()
    assert "O-0002" in text_of(region)
    assert "O-0001" not in text_of(region)
    assert "Nothing here for “zzz”" in text_of(maker_client.get("/orders/?q=zzz"))


def test_an_empty_list_teaches_the_next_step(maker_client):
    page = maker_client.get("/orders/")
    assert "Enter the first order" in text_of(page)
    assert reverse("order-new") in page.content.decode()


def test_the_list_takes_the_same_queries_for_any_number_of_orders(
    maker_client, style, django_assert_num_queries
):
    for _ in range(3):
        make.make_order([plain(style, {"S": 1, "M": 2})])
    with django_assert_num_queries(10):
        maker_client.get("/orders/")
    for _ in range(48):
        make.make_order([plain(style, {"S": 1, "M": 2}), plain(style, {"L": 2}, "chalk")])
    with django_assert_num_queries(10):
        page = maker_client.get("/orders/?q=box")
    assert "Page 1 of 2" in text_of(page)
    assert maker_client.get("/orders/?page=99").status_code == 200


# ---- reading one ----


def test_an_order_says_what_who_and_when(maker_client, style, maker):
    order = make.make_order([plain(style, {"S": 2, "M": 5})], person=maker)
    take(order.lines.get(), "M", 3, number="B-0007")
    page = text_of(maker_client.get("/orders/O-0001/"))
    assert "7 garments for Tidewater Stores , due Mon 2 Jun 2031" in page
    assert "3 of 7 garments in a batch" in page
    assert "B-0007" in page
    assert maker_client.get("/orders/O-9999/").status_code == 404


def test_an_order_page_and_its_needs_take_a_fixed_number_of_queries(
    maker_client, style, django_assert_num_queries
):
    order = make.make_order([plain(style, {"S": 2}), plain(style, {"M": 5}, "chalk")] * 4)
    take(order.lines.first(), "S", 1)
    with django_assert_num_queries(9):
        maker_client.get("/orders/O-0001/")
    with django_assert_num_queries(17):
        needs = maker_client.get("/orders/O-0001/needs/", headers=HTMX)
    assert "what of it is cut by now is out of the stock already" in text_of(needs)


def test_what_an_order_takes_is_a_region_and_a_page(maker_client, style):
    make.make_order([plain(style, {"S": 2, "M": 5})])
    region = maker_client.get("/orders/O-0001/needs/", headers=HTMX)
    page = maker_client.get("/orders/O-0001/needs/")
    assert "<html" in page.content.decode()
    assert "<html" not in region.content.decode()
    for answer in (region, page):
        assert "jersey, ink" in text_of(answer)
        assert "clear elastic 6 mm" in text_of(answer)
        assert "Estimate: from piece areas at 78 % efficiency" in text_of(answer)
        assert "out of the stock" not in text_of(answer), "none of it is in a batch"


def test_an_estimate_names_the_cloths_that_are_reckoned_otherwise(style):
    order = make.make_order([plain(style, {"S": 2}), plain(style, {"L": 2}, "chalk")])
    demand = demand_of_rows(LineQuantity.objects.of_order(order.number))
    assert estimate_needs(demand).how == "from piece areas at 78 % efficiency"
    PieceOutline.objects.filter(piece__name="front", size__name="L").update(is_interpolated=True)
    assert estimate_needs(demand).how == (
        "jersey chalk from piece areas at 78 % efficiency, 110 L interpolated; "
        "jersey ink and rib from piece areas at 78 % efficiency"
    )


def test_cancel_dispatch_reopen_and_duplicate_by_post_only(maker_client, style):
    make.make_order([plain(style, {"M": 1})])
    for what, state in (("cancel", "cancelled"), ("reopen", "open"), ("dispatch", "dispatched")):
        assert maker_client.get(f"/orders/O-0001/{what}/").status_code == 405
        answer = maker_client.post(f"/orders/O-0001/{what}/", follow=True)
        assert answer.status_code == 200
        assert Order.objects.get().state == state
    answer = maker_client.post("/orders/O-0001/duplicate/", follow=True)
    assert answer.redirect_chain[-1][0] == "/orders/O-0002/edit/"
    assert "O-0002 is a copy of O-0001" in text_of(answer)


def test_cancelling_what_is_batched_says_why_not(maker_client, style):
    order = make.make_order([plain(style, {"M": 1})])
    take(order.lines.get(), "M", 1, number="B-0007")
    page = text_of(maker_client.post("/orders/O-0001/cancel/", follow=True))
    assert "O-0001 cannot be cancelled: 1 of its garments is in batch B-0007." in page


# ---- entering ----


def test_a_new_order_without_javascript(maker_client, style):
    page = maker_client.get("/orders/new/")
    assert '<option value="110">box top</option>' in page.content.decode()
    answer = maker_client.post(
        "/orders/new/", order_form(line_fields(S=2, M=3), note="ring first"), follow=True
    )
    assert answer.redirect_chain == [("/orders/O-0001/", 302)]
    assert "O-0001 for Tidewater Stores, a new customer, is entered" in text_of(answer)
    order = Order.objects.get()
    assert order.note == "ring first"
    assert {q.size.name: q.quantity for q in order.lines.get().quantities.all()} == {"S": 2, "M": 3}


def test_a_new_order_with_htmx_moves_on_to_the_order(maker_client, style):
    answer = maker_client.post("/orders/new/", order_form(line_fields(M=3)), headers=HTMX)
    assert answer["HX-Redirect"] == "/orders/O-0001/"


def test_a_day_that_has_passed_is_saved_with_a_warning(maker_client, style):
    form = order_form(line_fields(M=3), due_on="2020-02-03")
    page = text_of(maker_client.post("/orders/new/", form, follow=True))
    assert "The day it is due, Mon 3 Feb 2020, has passed already." in page
    assert Order.objects.count() == 1


SLIPS = (
    (order_form(line_fields(M="x")), "M: type a whole number, such as 12, not “x”."),
    (order_form(line_fields(M="-3")), "M: “-3” is less than nothing. Enter 0 or more."),
    (order_form(line_fields(M="2.5")), "M: only whole garments can be ordered, not “2.5”."),
    (order_form(line_fields(M="1e9")), "M: type a whole number"),
    (order_form(line_fields(M="")), "Type at least one quantity."),
    (order_form(line_fields(M="1", XXXL="2")), "110 box top has no size XXXL."),
    (order_form(line_fields(M="1", neck="")), "Choose the neck."),
    (order_form(line_fields(M="1", colourway="moss")), "Choose a colourway."),
    (order_form(line_fields(M="1", style="99")), "There is no style “99”."),
    (order_form(line_fields(M="1"), due_on=""), "Choose the day it is due."),
    (order_form(line_fields(M="1"), due_on="31.2.2031"), "This is no day of the calendar."),
    (order_form(line_fields(M="1"), due_on="0026-12-04"), "all four figures"),
    (order_form(line_fields(M="1"), customer="x" * 121), "At most 120 letters"),
    (order_form(line_fields(M="1"), note="x" * 2001), "At most 2000 letters"),
    ({"customer": "", "due_on": "2031-06-02"}, "An order needs at least one line."),
)


def test_a_slip_is_said_and_nothing_is_saved(maker_client, style, subtests):
    """With HTMX and without by turns."""
    for at, (form, says) in enumerate(SLIPS):
        with subtests.test(says):
            headers = HTMX if at % 2 else {}
            answer = maker_client.post("/orders/new/", form, headers=headers)
            assert answer.status_code == 422
            assert says in text_of(answer)
            assert ("<html" in answer.content.decode()) is not bool(headers)
            assert not Order.objects.exists()
            assert not Customer.objects.exists()


def test_everything_typed_stays_when_something_is_wrong(maker_client, style):
    form = order_form(
        line_fields(0, S="2", M="x"),
        line_fields(3, neck="self band", colourway="chalk", XL="7", XXXL="4"),
        customer="Mossy <Gate>", note="ring \"first\"",
    )  # fmt: skip
    page = maker_client.post("/orders/new/", form).content.decode()
    for kept in (
        'value="Mossy &lt;Gate&gt;"', "ring &quot;first&quot;", 'value="2031-06-02"',
        'name="line-0-size-S" value="2"', 'name="line-0-size-M" value="x"',
        'name="line-3-size-XL" value="7"', 'name="line-3-size-XXXL" value="4"',
    ):  # fmt: skip
        assert kept in page
    assert re.search(r'name="line-3-option-neck" value="self band" checked', page)
    assert re.search(r'name="line-3-colourway" value="chalk" checked', page)


def test_a_name_of_five_megabytes_is_answered_at_its_field(maker_client, style):
    answer = maker_client.post("/orders/new/", order_form(line_fields(M="1"), customer="x" * 5_000_000))
    assert answer.status_code == 422
    assert "At most 120 letters, please; this has 5000000." in text_of(answer)
    assert not Order.objects.exists()


def test_very_many_boxes_are_refused_and_change_nothing(maker_client, style, settings):
    """So many that they are more than an order of the largest size can have."""
    most = settings.DATA_UPLOAD_MAX_NUMBER_FIELDS
    assert 10_000 < most < 30_000
    settings.DATA_UPLOAD_MAX_NUMBER_FIELDS = most // 100
    form = order_form(line_fields(0, **{f"s{i}": 1 for i in range(most // 100)}))
    assert maker_client.post("/orders/new/", form).status_code == 400
    assert not Order.objects.exists()


# ---- lines without JavaScript ----


def test_another_line_keeps_what_was_typed(maker_client, style):
    page = maker_client.post("/orders/new/", order_form(line_fields(0, M="x"), do="add"))
    html = page.content.decode()
    assert page.status_code == 200
    assert 'name="line-0-size-M" value="x"' in html
    assert 'name="line" value="1"' in html
    assert 'value="Tidewater Stores"' in html
    assert "errorlist" not in html
    assert not Order.objects.exists()


def test_a_line_is_copied_and_taken_out(maker_client, style):
    html = maker_client.post("/orders/new/", order_form(line_fields(0, M="2"), do="copy-0")).content.decode()
    assert re.search(r'name="line-1-colourway" value="chalk" checked', html)
    assert 'name="line-1-size-M" value=""' in html
    html = maker_client.post(
        "/orders/new/", order_form(line_fields(0, M="2"), line_fields(1, M="3"), do="drop-0")
    ).content.decode()
    assert 'name="line" value="0"' not in html
    assert 'name="line-1-size-M" value="3"' in html


def test_a_style_shows_its_sizes_by_a_button(maker_client, style):
    html = maker_client.post("/orders/new/", order_form({"line-0-style": "110"}, do="show")).content.decode()
    assert 'name="line-0-size-XXL"' in html
    assert 'value="rib band"' in html


def test_the_estimate_stands_there_without_javascript(maker_client, style):
    page = maker_client.post("/orders/new/", order_form(line_fields(0, M="2"), do="show"))
    assert "2 garments take about" in text_of(page)


# ---- regions HTMX asks for ----


def test_a_line_is_added_with_a_key_of_its_own(maker_client, style):
    html = maker_client.get("/orders/line/?do=add&line=0&line=4&gone=6", headers=HTMX).content.decode()
    assert 'name="line" value="7"' in html
    assert "<html" not in html


def test_another_style_keeps_the_numbers_of_sizes_it_has(maker_client, style):
    make.make_style("120", "wrap top", sizes="S M")
    fields = line_fields(2, style="120", M="3", XXL="4") | {"line": "2", "do": "body"}
    html = maker_client.get("/orders/line/", fields, headers=HTMX).content.decode()
    assert 'name="line-2-size-M" value="3"' in html
    # Not the style's, but typed: it stays to be seen until it is emptied.
    assert 'name="line-2-size-XXL" value="4"' in html
    assert "stray" in html


def test_an_unknown_style_keeps_what_was_chosen(maker_client, style):
    fields = line_fields(0, style="1100", M="3") | {"line": "0", "do": "body"}
    html = maker_client.get("/orders/line/", fields, headers=HTMX).content.decode()
    assert "No style is called “1100”" in html
    assert '<input type="hidden" name="line-0-option-neck" value="rib band">' in html
    assert 'name="line-0-size-M" value="3"' in html


def estimate(client, **fields) -> str:
    return text_of(client.get("/orders/estimate/", line_fields(0, **fields) | {"line": "0"}, headers=HTMX))


def test_the_estimate_of_a_line(maker_client, style):
    # Elastic by hand: M is the third size, so its shoulder is cut 170 + 2 × 12.5 = 195 mm long. It is sewn 7 mm
    # inside: the side takes 7 mm off its end, and the neckline, which leaves the shoulder with a slope of
    # 1.537 : 17.558 (the first of eight steps of its quarter ellipse), 7 × √(1 + 0.08755²) − 7 × 0.08755 = 6.4 mm.
    # Two shoulders of 181.6 mm a garment, a tail of 20 mm at each end: 443 mm, so 0.89 m for two garments.
    said = estimate(maker_client, M="2")
    assert "2 garments take about" in said
    assert "0.89 m clear elastic 6 mm" in said
    assert "jersey, ink" in said
    assert "rib, ink" in said
    assert "from piece areas at 78 % efficiency" in said
    assert "rib, ink" not in estimate(maker_client, M="2", neck="self band")


def test_the_estimate_says_what_it_waits_for(maker_client, style):
    assert "Type how many" in estimate(maker_client, M="")
    assert "Choose the neck to see what it takes." in estimate(maker_client, M="2", neck="")
    assert "Choose the colourway to see what it takes." in estimate(maker_client, M="2", colourway="")
    assert "Type a style" in estimate(maker_client, M="2", style="no")
    # What cannot be read is left out of the estimate and marked when it is saved.
    assert "2 garments take" in estimate(maker_client, M="2", L="x")
    assert maker_client.get("/orders/estimate/", headers=HTMX).status_code == 200


def test_a_size_without_an_outline_is_said_at_once(maker_client, style):
    style.pieces.get(name="front").outlines.filter(size__name="L").delete()
    assert "2 garments take" in estimate(maker_client, M="2")
    said = estimate(maker_client, L="2")
    assert "No estimate" in said
    assert "Front has no outline in size L" in said


def test_the_estimate_takes_a_fixed_number_of_queries(maker_client, style, django_assert_num_queries):
    for number in ("120", "130", "140"):
        make.make_style(number, colourways=("ink", "moss"))
    with django_assert_num_queries(15):
        estimate(maker_client, XS="1", S="2", M="3")


# ---- changing ----


def edit_form(order, *lines, **fields):
    return order_form(*lines, version=str(order.version), **fields)


def test_an_order_is_changed_on_the_same_page(maker_client, style, maker):
    order = make.make_order([plain(style, {"S": 2, "M": 5})])
    html = maker_client.get("/orders/O-0001/edit/").content.decode()
    assert 'name="line-0-size-S" value="2"' in html
    assert 'name="line-0-size-L" value=""' in html
    assert 'name="version" value="1"' in html
    line = line_fields(0, id=order.lines.get().pk, M="6")
    answer = maker_client.post("/orders/O-0001/edit/", edit_form(order, line), follow=True)
    assert "O-0001 for Tidewater Stores is changed" in text_of(answer)
    order.refresh_from_db()
    assert (order.version, order.changed_by) == (2, maker)


def test_the_form_takes_the_same_queries_for_any_number_of_lines(
    maker_client, style, django_assert_num_queries
):
    make.make_order([plain(style, {"M": 5})])
    make.make_order([plain(style, {"M": 5}), plain(style, {"S": 1, "L": 5}, "chalk")] * 2)
    for number in ("O-0001", "O-0002"):
        with django_assert_num_queries(15):
            maker_client.get(f"/orders/{number}/edit/")
    with django_assert_num_queries(4):
        maker_client.get("/orders/new/")


def test_an_order_that_is_over_is_not_changed(maker_client, style):
    make.make_order([plain(style, {"M": 5})], state="dispatched")
    answer = maker_client.get("/orders/O-0001/edit/", follow=True)
    assert answer.redirect_chain == [("/orders/O-0001/", 302)]
    assert "Reopen it first" in text_of(answer)


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_the_second_of_two_editors_is_told_and_loses_nothing(maker_client, style, helper, headers):
    order = make.make_order([plain(style, {"S": 2, "M": 5})])
    line = order.lines.get()
    line.quantities.filter(size__name="M").update(quantity=8)
    Order.objects.update(version=2, changed_by=helper, note="from Hale")
    form = edit_form(order, line_fields(0, id=line.pk, M="6", L="1"), customer="Mossy Gate", note="mine")
    answer = maker_client.post("/orders/O-0001/edit/", form, headers=headers)
    assert answer.status_code == 409
    html, page = answer.content.decode(), text_of(answer)
    assert "This order was changed meanwhile by Hale" in page
    assert "from Hale" in page
    assert "S 2 M 8" in page
    for mine in (
        'value="Mossy Gate"',
        'name="line-0-size-M" value="6"',
        'name="line-0-size-L" value="1"',
        "mine",
    ):
        assert mine in html
    assert 'name="version" value="2"' in html
    assert "Save mine over it" in page
    assert line.quantities.get(size__name="M").quantity == 8
    # Seen, and saved over all the same.
    again = form | {"version": "2"}
    assert maker_client.post("/orders/O-0001/edit/", again).status_code == 302
    order.refresh_from_db()
    assert (order.version, order.note, order.customer.name) == (3, "mine", "Mossy Gate")


def test_a_version_that_is_no_number_is_an_old_one(maker_client, style):
    order = make.make_order([plain(style, {"M": 5})])
    form = edit_form(order, line_fields(0, id=order.lines.get().pk, M="6")) | {"version": "x"}
    assert maker_client.post("/orders/O-0001/edit/", form).status_code == 409


def test_what_a_batch_holds_is_refused_at_its_field(maker_client, style):
    order = make.make_order([plain(style, {"S": 2, "M": 5})])
    take(order.lines.get(), "M", 3, number="B-0003")
    assert "Part of this line is in batch B-0003" in text_of(maker_client.get("/orders/O-0001/edit/"))
    form = edit_form(order, line_fields(0, id=order.lines.get().pk, M="2"))
    answer = maker_client.post("/orders/O-0001/edit/", form)
    assert answer.status_code == 422
    assert "M: 3 of them are in batch B-0003, so it cannot fall below 3." in text_of(answer)
    assert re.search(r'name="line-0-size-M" value="2"[^>]*aria-invalid="true"', answer.content.decode())


def test_a_batched_line_that_was_taken_out_comes_back(maker_client, style):
    order = make.make_order([plain(style, {"S": 2, "M": 5})])
    take(order.lines.get(), "M", 3, number="B-0003")
    answer = maker_client.post(
        "/orders/O-0001/edit/", edit_form(order, line_fields(0, colourway="chalk", M="2"))
    )
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "110 box top, ink cannot be taken out: it is in batch B-0003." in html
    assert 'name="line-0-size-M" value="2"' in html
    assert 'name="line-1-size-M" value="5"' in html


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_a_line_that_a_cancelled_batch_names_comes_back_too(maker_client, style, headers):
    """It has to be there to be changed, as the form says; a line that no batch names stays out."""
    order = make.make_order([plain(style, {"M": 5}), plain(style, {"L": 7})])
    named, _ = order.lines.order_by("pk")
    take(named, "M", 3, state="cancelled")
    form = edit_form(order, line_fields(0, colourway="chalk", S="2"))
    answer = maker_client.post("/orders/O-0001/edit/", form, headers=headers)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "a cancelled batch still names it" in html
    assert 'name="line-1-size-M" value="5"' in html
    assert 'value="7"' not in html
    form = edit_form(
        order, line_fields(0, colourway="chalk", S="2"), line_fields(1, id=named.pk, colourway="chalk", M="1")
    )
    assert maker_client.post("/orders/O-0001/edit/", form).status_code == 302


# ---- customers ----


def test_customers_are_listed_and_changed(maker_client, django_assert_num_queries):
    for name in ("Tidewater Stores", "Mossy Gate"):
        make.make_order(customer=make.make_customer(name))
    with django_assert_num_queries(4):
        page = text_of(maker_client.get("/orders/customers/"))
    assert "2 customers." in page
    assert "Mossy Gate" not in text_of(maker_client.get("/orders/customers/?q=tide"))
    pk = Customer.objects.get(name="Mossy Gate").pk
    answer = maker_client.post(f"/orders/customers/{pk}/", {"name": "tidewater  stores", "contact": "x"})
    assert answer.status_code == 422
    assert "There is a customer of that name already." in text_of(answer)
    maker_client.post(f"/orders/customers/{pk}/", {"name": "Mossy Gate & Co", "contact": "by the mill"})
    assert Customer.objects.get(pk=pk).contact == "by the mill"


def test_interpolated_sizes_are_marked_at_their_boxes(maker_client, style):
    def boxes() -> str:
        typed = order_form({"line-0-style": style.number}, do="show")
        return maker_client.post("/orders/new/", typed).content.decode()

    assert "interpolated" not in boxes()
    PieceOutline.objects.filter(piece__style=style, size__name="L").update(is_interpolated=True)
    page = boxes()
    assert page.count('<span class="visually-hidden">interpolated</span>') == 1
    assert "L interpolated: made from the sizes beside" in page
