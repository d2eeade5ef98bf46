"""A figure and its unit stand on one line of a page."""

from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.test import RequestFactory

from planner.settings import base
from planner.web.whole_figures import WholeFiguresMiddleware

THIN, NARROW = "\N{THIN SPACE}", "\N{NARROW NO-BREAK SPACE}"


def served(response: HttpResponseBase) -> HttpResponseBase:
    return WholeFiguresMiddleware(lambda _: response)(RequestFactory().get("/"))


def test_no_line_of_a_page_can_end_before_a_unit() -> None:
    page = served(
        HttpResponse(f"2.8{THIN}m, 84{THIN}%, 2{THIN}¾{THIN}yd, 8{THIN}⅝{THIN}yd of a{THIN}b".encode())
    )
    assert (
        page.content.decode()
        == f"2.8{NARROW}m, 84{NARROW}%, 2{NARROW}¾{NARROW}yd, 8{NARROW}⅝{NARROW}yd of a{THIN}b"
    )
    assert "planner.web.whole_figures.WholeFiguresMiddleware" in base.MIDDLEWARE


JOIN = "\N{WORD JOINER}"


def test_no_line_of_a_page_can_end_within_a_number() -> None:
    page = (
        '<title>B-0003</title><td data-label="B-0003"><a href="/batches/B-0003/">B-0003</a>, O-1042 and B-0003-2b,'
        " R-7, well-known, A4-B5, 2-3</td><select><option>B-0003</option></select>"
        "<textarea>see B-0003</textarea>"
    )
    response = HttpResponse(page)
    response["Content-Length"] = str(len(page))
    whole = served(response)
    assert whole.content.decode() == (
        f'<title>B-0003</title><td data-label="B-0003"><a href="/batches/B-0003/">B-{JOIN}0003</a>, O-{JOIN}1042 and'
        f" B-{JOIN}0003-2b, R-{JOIN}7, well-known, A4-B5, 2-3</td><select><option>B-0003</option></select>"
        "<textarea>see B-0003</textarea>"
    )
    assert whole["Content-Length"] == str(len(whole.content))


def test_what_is_no_page_stays_as_it_is() -> None:
    text = f"2.8{THIN}m"
    assert served(HttpResponse(text, content_type="text/csv")).content.decode() == text
    file = served(FileResponse(iter([text.encode()]), content_type="text/html"))
    assert b"".join(file).decode() == text
