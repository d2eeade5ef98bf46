"""The QR of a printed bundle ticket, read back by an independent reader.

The page is rendered by PDFium (pypdfium2) and read by zxing-cpp; neither has a part in making it. ISO/IEC
18004 asks for four empty modules round a code.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pypdfium2
import pytest
import zxingcpp

from planner.papers.bundle_tickets import bundle_tickets
from planner.papers.qr import QUIET_MODULES, dark_runs
from tests.papers import samples

DPI = 150


def codes(paper: bytes, dpi: int = DPI) -> list[zxingcpp.Barcode]:
    """Every code on every page, page by page."""
    found = []
    for page in pypdfium2.PdfDocument(paper):
        picture = page.render(scale=dpi / 72).to_pil().convert("L")
        found += zxingcpp.read_barcodes(picture)
    return found


def side_mm(code: zxingcpp.Barcode, dpi: int = DPI) -> float:
    """Length of the upper edge of the code on paper."""
    a, b = code.position.top_left, code.position.top_right
    return math.hypot(b.x - a.x, b.y - a.y) / dpi * 25.4


@pytest.mark.parametrize("size", ["A4", "Letter", "label"])
def test_every_ticket_is_read_back(size: str) -> None:
    # The address is what was asked for; zxing-cpp reads codes by ISO/IEC 18004.
    tickets = [samples.ticket(n) for n in range(1, 13)]
    found = codes(bundle_tickets(samples.HEADING, tickets, size))
    assert sorted(code.text for code in found) == sorted(ticket.url for ticket in tickets)
    assert {code.format for code in found} == {zxingcpp.BarcodeFormat.QRCode}


def test_codes_are_at_least_twenty_millimetres() -> None:
    # Common practice: a code that phones are to read is 2 cm wide at least.
    for size in ("A4", "Letter", "label"):
        (code,) = codes(bundle_tickets(samples.HEADING, [samples.ticket()], size))
        assert side_mm(code) >= 20


def test_the_border_is_empty() -> None:
    # ISO/IEC 18004: four empty modules on every side.
    dpi = 300
    paper = bundle_tickets(samples.HEADING, [samples.ticket()], "label")
    page = pypdfium2.PdfDocument(paper)[0].render(scale=dpi / 72).to_pil().convert("L")
    (code,) = zxingcpp.read_barcodes(page)
    corners = [code.position.top_left, code.position.bottom_right]
    module = (corners[1].x - corners[0].x) / dark_runs(samples.ticket().url)[0]
    border = QUIET_MODULES * module
    left = page.crop(
        (int(corners[0].x - border) + 2, int(corners[0].y), int(corners[0].x) - 2, int(corners[1].y))
    )
    assert left.getextrema() == (255, 255)
    right = page.crop(
        (int(corners[1].x) + 3, int(corners[0].y), int(corners[1].x + border) - 2, int(corners[1].y))
    )
    above = page.crop(
        (int(corners[0].x), int(corners[0].y - border) + 2, int(corners[1].x), int(corners[0].y) - 3)
    )
    below = page.crop(
        (int(corners[0].x), int(corners[1].y) + 3, int(corners[1].x), int(corners[1].y + border) - 2)
    )
    assert [part.getextrema() for part in (right, above, below)] == [(255, 255)] * 3


def test_a_second_label_carries_the_same_code() -> None:
    # By definition: a bundle has one address, on however many labels it is.
    one = samples.ticket(1, samples.many_steps(30))
    found = codes(bundle_tickets(samples.HEADING, [one], "label"))
    assert len(found) > 1
    assert {code.text for code in found} == {one.url}


@pytest.mark.parametrize(
    "url",
    [
        "http://10.0.0.5:8000/b/a/",
        "https://workroom.example/b/" + "Zq7_-" * 12 + "/",
        "http://werkstatt.example/bündel/żółć/",
        "0123456789",
    ],
)
def test_other_addresses(url: str) -> None:
    # Letters outside ASCII, long ones and mere digits take other modes of ISO/IEC 18004; what is read is what was
    # asked.
    (code,) = codes(bundle_tickets(samples.HEADING, [replace(samples.ticket(), url=url)], "label"))
    assert code.text == url
