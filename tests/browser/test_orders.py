"""Orders in a real browser: typed by keyboard only, pasted from a spreadsheet, saved twice over."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Dialog, Page, expect

from planner.orders import actions
from planner.orders.data import LineData, OrderData
from planner.orders.models import Order
from planner.styles.models import Detail, Option, Style
from tests import factories as make
from tests.browser.conftest import PHONE
from tests.browser.kept_pages import Complaints
from tests.sewing.makers import make_planned_batch, the_style

PASTE = """([id, text]) => {
  const data = new DataTransfer();
  data.setData("text/plain", text);
  document.getElementById(id).dispatchEvent(
    new ClipboardEvent("paste", {clipboardData: data, bubbles: true, cancelable: true}));
}"""


@pytest.fixture
def style(live_server, db) -> Style:
    """110 box top, in ink and chalk, XS to XXL."""
    return make.make_style("110", colourways=("ink", "chalk"))


def focused(page: Page) -> str:
    return page.evaluate("document.activeElement.id")


def boxes(page: Page, line: int = 0) -> list[str]:
    return page.locator(f"#line-{line} [data-grid-box]").evaluate_all("all => all.map(box => box.value)")


def quantities(order: Order) -> list[tuple[str, dict[str, int]]]:
    return [
        (line.colourway.name, {row.size.name: row.quantity for row in line.quantities.all()})
        for line in order.lines.all()
    ]


def test_an_order_is_typed_by_keyboard_only(
    signed_in_page: Page, style: Style, axe: Callable[[Page], None]
) -> None:
    page, keys = signed_in_page, signed_in_page.keyboard
    page.goto("/orders/new/")
    expect(page.locator("#id_customer")).to_be_focused()
    keys.type("Tidewater Stores")
    keys.press("Enter")
    expect(page.locator("#id_due_on")).to_be_focused()
    keys.type("06062031")  # the same day whether the day or the month comes first
    keys.press("Enter")
    expect(page.locator("#line-0-style")).to_be_focused()
    # The style brings its options and sizes; Tab waits for them.
    keys.type("110")
    keys.press("Tab")
    expect(page.locator("#line-0-option-0-0")).to_be_focused()
    keys.press("ArrowRight")
    expect(page.get_by_role("radio", name="rib band")).to_be_checked()
    keys.press("Enter")
    keys.press("Space")
    expect(page.get_by_role("radio", name="ink")).to_be_checked()
    keys.press("Enter")
    assert focused(page) == "line-0-size-0"
    # Along the row: Enter goes on, arrows move, a number typed into a box replaces what stood there.
    for quantity in ("2", "3", "9"):
        keys.type(quantity)
        keys.press("Enter")
    keys.press("ArrowLeft")
    keys.type("4")
    keys.press("ArrowRight")
    keys.press("ArrowRight")
    keys.press("Tab")
    assert focused(page) == "line-0-size-5"
    keys.type("1")
    assert boxes(page) == ["2", "3", "4", "", "", "1"]
    expect(page.locator("#line-0 [data-line-total]")).to_have_text("10 garments")
    estimate = page.locator("#line-0-estimate")
    expect(estimate).to_contain_text("10 garments take about")
    expect(estimate).to_contain_text("jersey, ink")
    expect(estimate).to_contain_text("clear elastic 6 mm")
    expect(estimate).to_contain_text("78 % efficiency")
    axe(page)
    # The last box leads to another line.
    keys.press("Enter")
    expect(page.locator("#add-line")).to_be_focused()
    keys.press("Enter")
    expect(page.locator("#line-1-style")).to_be_focused()
    keys.type("110")
    keys.press("Enter")
    expect(page.locator("#line-1-option-0-0")).to_be_focused()
    keys.press("Space")
    keys.press("Enter")
    keys.press("ArrowRight")
    keys.press("Enter")
    assert focused(page) == "line-1-size-0"
    keys.type("5")
    keys.press("ArrowUp")
    assert focused(page) == "line-0-size-0"
    keys.press("ArrowDown")
    expect(page.locator("#order-total")).to_have_text("15 garments: 7 × XS, 3 × S, 4 × M, 1 × XXL")
    keys.press("Control+Enter")
    page.wait_for_url(re.compile(r"/orders/O-0001/$"))
    expect(page.get_by_text("O-0001 for Tidewater Stores, a new customer, is entered")).to_be_visible()
    expect(page.locator("#order-needs")).to_contain_text("size label")
    order = Order.objects.get()
    assert order.due_on == date(2031, 6, 6)
    assert quantities(order) == [("ink", {"XS": 2, "S": 3, "M": 4, "XXL": 1}), ("chalk", {"XS": 5})]


def type_a_style(page: Page, line: int = 0, colourway: str = "ink") -> None:
    page.locator(f"#line-{line}-style").fill("110")
    group = page.locator(f"#line-{line}")
    group.get_by_role("radio", name="rib band").check()
    group.get_by_role("radio", name=colourway).check()


def test_what_is_pasted_from_a_spreadsheet_fills_boxes_and_lines(signed_in_page: Page, style: Style) -> None:
    page = signed_in_page
    page.goto("/orders/new/")
    type_a_style(page)
    page.get_by_role("button", name="Same style, other colour").click()
    expect(page.locator("#line-1-size-0")).to_be_focused()
    expect(page.locator("#line-1").get_by_role("radio", name="chalk")).to_be_checked()
    page.locator("#line-0-size-1").focus()
    page.evaluate(PASTE, ["line-0-size-1", "2\t3\t4\r\n5\t\t x \r\n"])
    assert boxes(page, 0) == ["", "2", "3", "4", "", ""]
    assert boxes(page, 1) == ["", "5", "", "x", "", ""]
    expect(page.locator("#order-total")).to_have_text("14 garments: 7 × S, 3 × M, 4 × L")
    expect(page.locator("#line-1-estimate")).to_contain_text("5 garments take about")
    # Small to large, though the first line has none of the smallest.
    page.locator("#line-1-size-0").fill("1")
    expect(page.locator("#order-total")).to_have_text("15 garments: 1 × XS, 7 × S, 3 × M, 4 × L")
    page.locator("#line-1-size-0").fill("")
    # A single number is pasted as any text is.
    page.locator("#line-0-size-0").focus()
    assert page.evaluate(PASTE, ["line-0-size-0", "7"]) is None
    assert boxes(page, 0)[0] == ""
    # Rows with their heads find the boxes of their sizes.
    page.evaluate(PASTE, ["line-0-size-2", "colour\tL\tS\tM\tXXXL\nink\t3\t1\t2\t4\n"])
    assert boxes(page, 0) == ["", "1", "2", "3", "", ""]
    expect(page.locator("#line-0")).to_contain_text("1 column of what was pasted did not fit")
    # Heads alone are what stands there.
    page.evaluate(PASTE, ["line-0-size-0", "S\tM"])
    assert boxes(page, 0)[:2] == ["S", "M"]
    # Ten thousand columns fill what is there, and it is said.
    page.evaluate(PASTE, ["line-0-size-0", "\t".join(["1"] * 10_000) + "\n1\n1\n1"])
    assert boxes(page) == ["1"] * 6
    expect(page.locator("#line-0 [data-grid-message]")).to_have_text(
        "9,994 columns and 2 rows of what was pasted did not fit the boxes and were left out."
    )


def test_what_is_wrong_is_marked_and_everything_stays(
    signed_in_page: Page, style: Style, axe: Callable[[Page], None], complaints: Complaints
) -> None:
    """Options that exclude each other are told at once, and refused; then a number that is none."""
    page = signed_in_page
    sleeve = Detail.objects.create(style=style, name="sleeve", position=1)
    cap, _ = (Option.objects.create(detail=sleeve, name=name) for name in ("cap", "plain"))
    cap.not_with.add(Option.objects.get(name="rib band"))
    page.goto("/orders/new/")
    page.fill("#line-0-style", "110")
    page.get_by_label("rib band").check()
    page.get_by_label("cap").check()
    told = page.locator("#line-0-estimate .clash")
    expect(told).to_contain_text("the neck rib band and the sleeve cap cannot be had together")
    page.get_by_label("ink").check()
    page.fill('[data-size="M"]', "4")
    page.fill("#id_customer", "Mossy Gate")
    page.fill("#id_due_on", "2031-06-02")
    page.click("#save-order")
    expect(page.locator(".choices.wrong")).to_contain_text("Choose another sleeve, or another neck.")
    complaints.expect("422")
    assert boxes(page)[2] == "4"
    axe(page)
    page.get_by_label("plain").check()
    expect(told).to_have_count(0)
    page.fill('[data-size="S"]', "three")
    page.click("#save-order")
    expect(page.get_by_text("S: type a whole number, such as 12, not “three”.")).to_be_visible()
    complaints.expect("422")
    expect(page.locator("#line-0-size-1")).to_be_focused()
    assert boxes(page) == ["", "three", "4", "", "", ""]
    expect(page.locator("#id_customer")).to_have_value("Mossy Gate")
    axe(page)
    page.keyboard.type("3")
    page.get_by_role("button", name="Save order").click()
    page.wait_for_url(re.compile(r"/orders/O-0001/$"))
    assert quantities(Order.objects.get()) == [("ink", {"S": 3, "M": 4})]


def test_a_line_is_taken_out_and_put_back(signed_in_page: Page, style: Style) -> None:
    page = signed_in_page
    page.goto("/orders/new/")
    type_a_style(page)
    page.locator("#line-0-size-0").fill("2")
    page.get_by_role("button", name="Add another line").click()
    expect(page.locator("#line-1-style")).to_be_focused()
    type_a_style(page, 1, "chalk")
    page.locator("#line-1-size-0").fill("5")
    page.locator("#line-0").get_by_role("button", name="Take out").click()
    expect(page.get_by_text("The line of 110 is taken out.")).to_be_visible()
    expect(page.locator("#order-total")).to_have_text("5 garments: 5 × XS")
    page.get_by_role("button", name="Put it back").click()
    expect(page.locator("#order-total")).to_have_text("7 garments: 7 × XS")
    page.locator("#line-0").get_by_role("button", name="Take out").click()
    # A line added now gets a key of its own, so that the one taken out could still come back.
    page.get_by_role("button", name="Add another line").click()
    expect(page.locator("#line-2-style")).to_be_focused()
    page.locator("#id_due_on").fill("2031-06-02")
    page.get_by_role("button", name="Save order").click()
    page.wait_for_url(re.compile(r"/orders/O-0001/$"))
    assert quantities(Order.objects.get()) == [("chalk", {"XS": 5})]


def test_two_people_change_one_order(
    signed_in_page: Page, style: Style, helper: User, axe: Callable[[Page], None], complaints: Complaints
) -> None:
    page = signed_in_page
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"S": 2, "M": 5})])
    page.goto("/orders/O-0001/edit/")
    page.locator("#line-0-size-2").fill("6")
    line = order.lines.get()
    sizes = {size.name: size.pk for size in style.size_range.sizes.all()}
    options = frozenset(option.pk for option in line.options.all())
    theirs = LineData(0, line.pk, style.pk, line.colourway_id, options, {sizes["S"]: 2, sizes["M"]: 8})
    actions.change_order(order, OrderData("Tidewater Stores", order.due_on, "theirs", (theirs,)), 1, helper)
    page.get_by_role("button", name="Save changes").click()
    expect(page.get_by_text("This order was changed meanwhile by Hale")).to_be_visible()
    complaints.expect("409")
    assert boxes(page) == ["", "2", "6", "", "", ""]
    axe(page)
    page.get_by_role("button", name="Save mine over it").click()
    page.wait_for_url(re.compile(r"/orders/O-0001/$"))
    assert quantities(Order.objects.get()) == [("ink", {"S": 2, "M": 6})]


def test_on_a_phone_everything_is_in_reach_of_a_thumb(
    new_page: Callable[..., Page], maker: User, style: Style
) -> None:
    page = new_page(user=maker, viewport=PHONE, has_touch=True, is_mobile=True)
    page.goto("/orders/new/")
    type_a_style(page)
    box = page.locator("#line-0-size-0")
    expect(box).to_have_attribute("inputmode", "numeric")
    for place in ("#line-0 [data-grid-box]", "#line-0 .choice", "#order-form button:visible"):
        for target in page.locator(place).all():
            size = target.bounding_box()
            assert size is not None
            if target.evaluate("t => t.matches('.visually-hidden')"):
                continue
            assert size["height"] >= 44, (place, size)
            assert size["width"] >= 44, (place, size)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    # Long names are broken where there is no room for them.
    long = "Ausserordentlichlangernamenbestandteil"
    customer = make.make_customer(f"Kundin {long}")
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 5})], customer=customer)
    style.colourways.filter(name="ink").update(name=f"ink {long}")
    for address in ("/orders/", f"/orders/{order.number}/", f"/orders/{order.number}/needs/"):
        page.goto(address)
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"], address


def test_the_list_is_searched_while_typing(signed_in_page: Page, style: Style) -> None:
    page = signed_in_page
    make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 5})])
    make.make_order(customer=make.make_customer("Mossy Gate"))
    page.goto("/orders/")
    page.get_by_role("searchbox").fill("mossy")
    expect(page.locator(".order-row")).to_have_count(1)
    expect(page.get_by_role("link", name="O-0002", exact=True).last).to_be_visible()


def test_answers_that_come_late_never_touch_what_is_typed(signed_in_page: Page, style: Style) -> None:
    """ "11" is a style too: its answer comes first, but Tab goes on into the sizes of 110.

    The estimate of "1" comes late; meanwhile "12" is typed. Box and estimate both end at 12.
    """
    make.make_style("11", "vest", sizes="A B", colourways=("moss",))
    page, keys = signed_in_page, signed_in_page.keyboard
    page.route("**/orders/line/**", lambda route: (page.wait_for_timeout(150), route.continue_()))
    page.goto("/orders/new/")
    page.locator("#line-0-style").focus()
    keys.type("110")
    keys.press("Tab")
    expect(page.locator("#line-0-body")).to_contain_text("110 box top")
    expect(page.locator("#line-0-option-0-0")).to_be_focused()
    expect(page.locator("#line-0 [data-grid-box]")).to_have_count(6)
    page.get_by_role("radio", name="rib band").check()
    page.get_by_role("radio", name="ink").check()
    box = page.locator("#line-0-size-2")

    def late(route) -> None:
        if "size-M=1&" in route.request.url:
            page.wait_for_timeout(400)
        route.continue_()

    page.route("**/orders/estimate/**", late)
    box.focus()
    page.keyboard.type("1")
    page.wait_for_timeout(300)
    page.keyboard.type("2")
    expect(page.locator("#line-0-estimate")).to_contain_text("12 garments take about")
    page.wait_for_timeout(600)
    expect(page.locator("#line-0-estimate")).to_contain_text("12 garments take about")
    assert boxes(page)[2] == "12"
    expect(box).to_be_focused()


def test_a_list_becomes_lines_that_are_looked_through_and_saved(
    signed_in_page: Page, style: Style, axe: Callable[[Page], None], complaints: Complaints
) -> None:
    page = signed_in_page
    page.goto("/orders/new/")
    page.fill("#id_customer", "Tidewater Stores")
    page.fill("#id_due_on", "2031-06-06")
    page.get_by_text("Lines from a list").click()
    page.get_by_role("button", name="Put them into the order").click()
    expect(page.locator("#list-text")).to_be_focused()
    expect(page.locator("#list-wrong")).to_have_text("Paste rows of a list here, or choose a file.")
    complaints.expect("422")
    axe(page)
    rows = "style,options,colourway,S,M\n110,rib band,ink,2,3\n110,self band,chalk,,4\n"
    page.set_input_files("#list-file", {"name": "o.csv", "mimeType": "text/csv", "buffer": rows.encode()})
    page.get_by_role("button", name="Put them into the order").click()
    expect(page.locator("#order-listed")).to_be_focused()
    expect(page.locator("#order-listed")).to_contain_text("2 lines with 9 garments came from the list.")
    expect(page.locator("#order-total")).to_contain_text("9 garments")
    expect(page.locator("[data-days='7']")).to_be_visible()
    page.keyboard.press("Control+Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("O.{0,2}0001"))
    assert quantities(Order.objects.get()) == [("ink", {"S": 2, "M": 3}), ("chalk", {"M": 4})]


def test_who_marks_an_order_dispatched_is_asked_with_how_far_it_is(
    signed_in_page: Page, live_server: object
) -> None:
    page, asked = signed_in_page, []

    def leave(dialog: Dialog) -> None:
        asked.append(dialog.message.replace("\N{WORD JOINER}", ""))
        dialog.dismiss()

    page.on("dialog", leave)
    order = make_planned_batch(cut=True).items.first().line.order
    page.goto(f"/orders/{order.number}/")
    expect(page.locator("#order-sewn .stack")).to_be_visible()
    page.get_by_role("button", name="Dispatched").click()
    other = make.make_order([(the_style(), {"neck": "rib band"}, "ink", {"M": 1})])
    page.goto(f"/orders/{other.number}/")
    page.get_by_role("button", name="Dispatched").click()
    assert asked == [
        f"Mark {order.number} as dispatched? 0 of 5 garments are checked, 5 still to be sewn.",
        f"Mark {other.number} as dispatched? Not in a batch yet.",
    ]
    assert set(Order.objects.values_list("state", flat=True)) == {Order.State.OPEN}
