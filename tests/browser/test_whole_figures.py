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
