"""In a real browser no line ends between a figure and its unit."""

from django.http import HttpResponse
from django.test import RequestFactory
from playwright.sync_api import Page

from planner.web.whole_figures import WholeFiguresMiddleware

LINES = """() => [...document.querySelectorAll("p")].map((one) => {
  const range = document.createRange();
  range.selectNodeContents(one);
  return range.getClientRects().length;
})"""
WIDTH = "() => document.querySelector('b').getBoundingClientRect().width"
FIGURES = (
    "2.8\N{THIN SPACE}m",
    "84\N{THIN SPACE}%",
    "8\N{THIN SPACE}⅝\N{THIN SPACE}yd",
    "1\N{THIN SPACE}594",
)


def test_a_number_stands_on_one_line_and_is_copied_as_it_is(signed_in_page: Page) -> None:
    page = signed_in_page
    page.goto("/")
    numbers = "<p>B-0003</p><p>O-1042</p>"
    show = """(main, html) => {
      main.innerHTML = html;
      main.querySelectorAll("p").forEach((one) => {
        Object.assign(one.style, { width: "1px", overflowWrap: "normal" });
      });
    }"""
    lines = LINES.replace('"p"', '"main p"')
    page.locator("main").evaluate(show, numbers)
    assert page.evaluate(lines) == [2, 2]
    whole = WholeFiguresMiddleware(lambda _: HttpResponse(numbers))(RequestFactory().get("/"))
    page.locator("main").evaluate(show, whole.content.decode())
    assert page.evaluate(lines) == [1, 1]
    copied = """() => {
      window.getSelection().selectAllChildren(document.querySelector("main p"));
      const event = new ClipboardEvent("copy", { clipboardData: new DataTransfer(), bubbles: true, cancelable: true });
      document.dispatchEvent(event);
      return event.clipboardData.getData("text/plain");
    }"""
    assert page.evaluate(copied) == "B-0003"


def test_a_figure_and_its_unit_stand_on_one_line(page: Page) -> None:
    # Too narrow for any two words: what may be parted is.
    narrow = (
        "".join(f'<p style="width: 1px">{figure}</p>' for figure in FIGURES) + "<b>2.8\N{THIN SPACE}m</b>"
    )
    page.set_content(narrow)
    assert page.evaluate(LINES) == [2, 2, 3, 2]
    as_worded = page.evaluate(WIDTH)
    middleware = WholeFiguresMiddleware(lambda _: HttpResponse(narrow))
    page.set_content(middleware(RequestFactory().get("/")).content.decode())
    assert page.evaluate(LINES) == [1, 1, 1, 1]
    assert abs(page.evaluate(WIDTH) - as_worded) < 2.5
