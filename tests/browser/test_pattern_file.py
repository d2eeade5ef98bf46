"""From a pattern file to a style that can be planned, in a real browser."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from planner.styles.models import PatternFile, Style
from tests import factories as make
from tests.browser.conftest import PHONE
from tests.browser.kept_pages import Complaints
from tests.styles import pattern_files as files

pytestmark = pytest.mark.django_db(transaction=True)


def chosen(content: bytes, name: str) -> dict[str, object]:
    """A file as the browser's own dialogue hands it over."""
    return {"name": name, "mimeType": "application/octet-stream", "buffer": content}


def test_a_file_becomes_a_style_that_is_ready_to_plan(
    signed_in_page: Page, live_server, axe: Callable[[Page], None], complaints: Complaints
) -> None:
    page = signed_in_page
    make.make_fabric_colour("jersey", "ink")
    make.make_fabric_colour("rib", "ink")
    page.goto("/styles/")
    page.get_by_role("link", name="Make it from a pattern file").click()
    page.get_by_label("Number").fill("210")
    page.get_by_label("Name").fill("harbour tee")
    page.get_by_label("Pattern file").set_input_files([chosen(b"not a drawing", "tee.dxf")])
    page.get_by_role("button", name="Read the file").click()
    expect(page.locator(".errorlist")).to_contain_text("tee.dxf: ")
    expect(page.get_by_label("Name")).to_have_value("harbour tee")
    complaints.expect("422")
    axe(page)

    # The file does not say its units: both answers are shown with what follows from them.
    drawing = files.top().replace(b"Units: METRIC", b"Remark: none")
    page.get_by_label("Pattern file").set_input_files([chosen(drawing, "tee.dxf")])
    page.get_by_role("button", name="Read the file").click()
    expect(page.get_by_role("heading", name="New style from tee.dxf")).to_be_visible()
    axe(page)
    front = page.locator(".review-piece").first
    page.get_by_label(re.compile("inches: back M would be 15.62")).check()
    expect(front).to_contain_text("1562.1\u2009cm along")
    page.get_by_label(re.compile("millimetres")).check()
    expect(front).to_contain_text("61.5\u2009cm along")
    page.get_by_label(re.compile("No: they are the lines to sew")).check()
    expect(front).to_contain_text("62.9\u2009cm along")
    expect(page.get_by_label("How wide is the seam allowance?")).to_have_value("7 mm")
    band = page.locator(".review-piece", has_text="neck band")
    band.get_by_label("Cut from").fill("rib")
    page.get_by_role("button", name="Make the style").click()

    expect(page.get_by_role("heading", name="210 harbour tee", level=1)).to_be_visible()
    expect(
        page.get_by_text("210 harbour tee is made from tee.dxf: 3 new pieces, 9 outlines.")
    ).to_be_visible()
    page.get_by_role("link", name="New colourway").click()
    section = page.locator("#section-colourways")
    section.get_by_label("Name", exact=True).fill("ink")
    section.get_by_label("body").select_option(label="jersey, ink")
    section.get_by_label("rib").select_option(label="rib, ink")
    section.get_by_role("button", name="Keep").click()
    expect(page.locator("#style-head")).to_contain_text("Ready to plan.")


def test_a_corrected_file_on_a_phone(new_page: Callable[..., Page], maker, live_server) -> None:
    style: Style = make.make_style("110", sizes="S M L")
    page = new_page(user=maker, viewport=PHONE, has_touch=True, is_mobile=True)
    page.goto("/styles/110/")
    page.get_by_role("link", name="Read pattern files").click()
    page.get_by_label("Pattern files").set_input_files(
        [chosen(files.top(longer_mm=8, pieces=("front",)), "corrected.dxf")]
    )
    page.get_by_role("button", name="Read them").click()
    expect(page.get_by_role("heading", name="Review of corrected.dxf")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    page.get_by_label(re.compile("Yes: the outlines")).check()
    page.get_by_label("S of front").uncheck()
    page.get_by_role("button", name="Take it over").click()
    expect(page.get_by_text("corrected.dxf is taken over: 2 outlines.")).to_be_visible()
    assert not style.pieces.get(name="front").outlines.get(size__name="S").source
    assert PatternFile.objects.get().taken_at is not None
