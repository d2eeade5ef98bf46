"""Styles in a real browser: copied, changed in place, outlines entered and drawn."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from planner.core.outline import outline_from_json
from planner.styles.models import PieceOutline, Style
from tests import factories as make
from tests.browser.conftest import PHONE, at_rest
from tests.browser.kept_pages import Complaints

CURVE = "0\t0\themline\n0\t12\tside\n40\t9.5\ttop\n41\t5\n40\t0\tfold side"


@pytest.fixture
def style(live_server, db) -> Style:
    """A whole style in S, M and L."""
    return make.make_style("110", sizes="S M L", colourways=("ink", "chalk"))


def test_a_style_is_made_by_copying_and_gets_two_pieces(
    signed_in_page: Page, style: Style, axe: Callable[[Page], None]
) -> None:
    page = signed_in_page
    page.goto("/styles/")
    expect(page.get_by_text("1 style, nothing missing.")).to_be_visible()
    page.get_by_role("link", name="110 box top").click()
    page.get_by_role("link", name="Copy", exact=True).click()
    page.get_by_label("Number of the copy").fill("115")
    page.get_by_label("Name of the copy").fill("pocket top")
    page.get_by_role("button", name="Make the copy").click()
    expect(page.get_by_role("heading", name="115 pocket top", level=1)).to_be_visible()

    # A piece is entered where the pieces stand; the head of the page says at once what it lacks.
    page.get_by_role("link", name="New piece").click()
    section = page.locator("#section-pieces")
    section.get_by_label("Name", exact=True).fill("pocket")
    axe(page)
    section.get_by_role("button", name="Keep").click()
    expect(section.locator("figcaption", has_text="pocket")).to_be_visible()
    expect(
        page.locator("#style-head").get_by_role("link", name="No outline for pocket in any size")
    ).to_be_visible()
    expect(page.locator("#section-outlines").get_by_role("row", name=re.compile("pocket"))).to_be_visible()

    # A rectangle for every size, drawn while it is typed.
    section.get_by_role("link", name="Outline of pocket").click()
    page.get_by_role("link", name="As a rectangle").click()
    for size in ("S", "M", "L"):
        expect(
            page.get_by_role("textbox", name=f"Length along the grain in {size}", exact=True)
        ).to_be_visible()
        expect(page.get_by_role("textbox", name=f"Width across in {size}", exact=True)).to_be_visible()
    page.get_by_label("Length along the grain, every size").fill("14 cm")
    page.get_by_label("Width across, every size").fill("5 1/2 in")
    expect(page.locator("#outline-preview svg")).to_be_visible()
    expect(page.locator("#outline-preview")).to_contain_text("14\u2009cm along the grain")
    axe(page)
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_text("pocket has its outline in S, M, L.")).to_be_visible()
    expect(page.get_by_text("Ready to plan.")).to_be_visible()
    page.get_by_label("Drawn in size").select_option("L")
    expect(page.get_by_role("img", name="pocket, size L")).to_be_visible()

    # And one that is pasted from a spreadsheet, in one size.
    page.get_by_role("link", name=re.compile("^pocket in M")).click()
    page.get_by_label("Points, one a line").fill(CURVE.replace("41\t5", "41\tfive"))
    expect(page.locator("#outline-preview")).to_contain_text("line 4: ")
    page.get_by_label("Points, one a line").fill(CURVE)
    expect(page.locator("#outline-preview svg")).to_be_visible()
    expect(page.locator("#outline-preview")).to_contain_text("41\u2009cm along the grain")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_text("pocket has its outline in M.")).to_be_visible()
    expect(page.get_by_role("img", name="pocket, size M")).to_be_visible()

    shape = outline_from_json(PieceOutline.objects.get(piece__name="pocket", size__name="M").shape)
    assert (shape.length_mm, shape.width_mm) == (410.0, 120.0)
    assert not style.pieces.filter(name="pocket").exists()


def test_parts_are_changed_in_place(
    signed_in_page: Page, style: Style, axe: Callable[[Page], None], complaints: Complaints
) -> None:
    page = signed_in_page
    page.goto("/styles/110/")
    steps = page.locator("#section-operations")
    steps.get_by_role("button", name="Move close sides up").click()
    expect(steps.locator("tbody tr").first).to_contain_text("1. close sides")

    ways = page.locator("#section-colourways")
    ways.get_by_role("link", name="Change ink").click()
    ways.get_by_label("Cloth for rib").select_option(label="not chosen yet")
    ways.get_by_role("button", name="Keep").click()
    expect(page.locator("#style-head")).to_contain_text("The colourway ink has no cloth for rib")

    roles = page.locator("#section-roles")
    roles.get_by_role("link", name="Change body").click()
    page.on("dialog", lambda dialog: dialog.accept())
    roles.get_by_role("button", name="Take out").click()
    expect(page.locator("#messages")).to_contain_text("body is still needed by the pieces front, back")
    complaints.expect("409")
    expect(roles.get_by_role("link", name="Change body")).to_be_visible()

    roles.get_by_role("link", name="New role").click()
    roles.get_by_label("Name").fill("Body")
    roles.get_by_role("button", name="Keep").click()
    expect(roles).to_contain_text("has one called Body already")
    complaints.expect("422")
    expect(roles.get_by_label("Name")).to_have_value("Body")
    axe(page)
    roles.get_by_role("link", name="Cancel").click()
    expect(roles.get_by_role("link", name="Change body")).to_be_visible()


def test_areas_and_files_of_outlines_and_every_size_of_a_seam_are_reached_on_a_phone(
    new_page: Callable[..., Page], maker, style: Style
) -> None:
    style.pieces.get(name="back").outlines.filter(size__name="M").delete()
    page = new_page(user=maker, viewport=PHONE, has_touch=True, is_mobile=True)
    page.goto("/styles/110/")
    outlines = page.locator("#section-outlines")
    links = outlines.locator("tbody a, tbody button")
    assert links.count() == 4 * (3 + 3) + 1
    for i in range(links.count()):
        box = links.nth(i).bounding_box()
        assert box is not None
        assert box["x"] >= 0, links.nth(i).inner_text()
        assert box["x"] + box["width"] <= PHONE["width"], links.nth(i).inner_text()
        assert min(box["width"], box["height"]) >= 44, links.nth(i).inner_text()
    assert outlines.locator(".scroll").evaluate("box => box.scrollWidth <= box.clientWidth")
    sizes = outlines.locator("tbody tr").first.locator("td.num")
    assert sizes.evaluate_all("cells => cells.map(c => getComputedStyle(c, '::before').content)") == [
        '"S"', '"M"', '"L"',
    ]  # fmt: skip
    # So is every size of a seam that is walked.
    page.goto("/styles/110/seams/")
    boxes = page.locator("table.walk td.num")
    assert boxes.count() > 0
    seen = boxes.evaluate_all(
        "cells => cells.every(cell => cell.getBoundingClientRect().right <= innerWidth)"
    )
    assert seen


def test_a_message_goes_when_what_it_is_about_is_put_right(
    signed_in_page: Page, style: Style, complaints: Complaints
) -> None:
    page = signed_in_page
    address = f"/styles/110/pieces/{style.pieces.get(name='front').pk}/outline/"
    page.goto(f"{address}?how=grow")
    cells = page.locator("table.grow input")
    wide = page.locator("table.grow").first.evaluate("table => table.offsetWidth")
    cells.first.fill("rather far")
    expect(page.locator("#outline-preview")).to_contain_text("rather far")
    page.get_by_role("button", name="Keep").click()
    told = page.locator("#outline tr.why")
    expect(told).to_contain_text("“rather far” is not a length")
    assert page.locator("table.grow").first.evaluate("table => table.offsetWidth") <= wide + 1
    cells.first.fill("2")
    expect(told).to_have_count(0)
    expect(page.locator("#outline [aria-invalid=true]")).to_have_count(0)
    page.goto(f"{address}?how=points")
    page.locator("#outline textarea").fill("rubbish")
    expect(page.locator("#outline-preview")).to_contain_text("rubbish")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("#outline .errorlist")).to_have_count(1)
    page.locator("#outline textarea").fill("0, 0\n0, 200\n300, 200\n300, 0")
    expect(page.locator("#outline .errorlist")).to_have_count(0)
    at_rest(page)
    complaints.expect("422")
    # A far too long paste is answered before it is sent.
    page.get_by_label("Points, one a line").evaluate("field => { field.value = '1, 23\\n'.repeat(50000); }")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("#messages")).to_contain_text("300,000 characters long; at most 200,000 are read")
