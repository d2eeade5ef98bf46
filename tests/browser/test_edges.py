"""Edges in a real browser: one is clicked in the drawing and named, and all sizes have the name."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from planner.core.outline import Outline, outline_from_json
from planner.styles.models import SeamEdge, Style
from tests import factories as make
from tests.browser.conftest import PHONE


@pytest.fixture
def style(live_server, db) -> Style:
    """A style in S, M and L, its front with the names that a reader of pattern files gives."""
    style = make.make_style("110", sizes="S M L")
    front = style.pieces.get(name="front")
    for row in front.outlines.all():
        shape = outline_from_json(row.shape)
        numbered = [type(edge)(f"edge {i}", edge.start) for i, edge in enumerate(shape.edges, 1)]
        row.shape = Outline(shape.points, tuple(numbered)).as_json()
        row.save()
    SeamEdge.objects.filter(piece=front, edge="neckline").update(edge="edge 3")
    return style


def test_an_edge_is_clicked_and_named_in_all_sizes(signed_in_page: Page, style: Style) -> None:
    page = signed_in_page
    page.goto("/styles/110/")
    page.get_by_role("link", name="Edges of front").click()
    expect(page.get_by_text("6 of 6 edges have no trade name yet.")).to_be_visible()

    # A click on the third edge goes to its row; the drawing shows the name while it is typed.
    page.locator('svg.edges a[data-edge="2"] text.number').click()
    field = page.get_by_label("Name of edge 3")
    expect(field).to_be_focused()
    field.fill("front neckline")
    expect(page.locator('text[data-name="2"]')).to_have_text("front neckline")
    page.get_by_label("Allowance at edge 3").fill("1 cm")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_text("The edges of front are kept in S, M, L.")).to_be_visible()
    expect(page.get_by_text("5 of 6 edges have no trade name yet.")).to_be_visible()
    front = style.pieces.get(name="front")
    for row in front.outlines.all():
        assert "front neckline" in [name for name, _ in row.shape["edges"]]
    assert front.edge_allowances == {"front neckline": 10.0}
    assert SeamEdge.objects.filter(piece=front, edge="front neckline").count() == 2

    # Suggestions are taken without asking the server.
    row = page.locator("li[data-row='0']")
    row.get_by_role("button", name="Take it").click()
    expect(page.get_by_label("Name of edge 1")).not_to_have_value("edge 1")
    page.get_by_role("button", name="Take all suggestions").click()
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_text("The edges of front are kept in S, M, L.")).to_be_visible()
    page.set_viewport_size(PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_a_seam_is_measured_while_it_is_put_together_and_walked(
    signed_in_page: Page, style: Style, axe: Callable[[Page], None]
) -> None:
    page = signed_in_page
    page.goto("/styles/110/")
    page.get_by_role("link", name="New seam").click()
    section = page.locator("#section-seams")
    section.get_by_label("Name", exact=True).fill("back to back")
    section.get_by_label("First side, edge 1", exact=True).select_option(label="back: left side")
    expect(section.locator("#seam-measured table")).to_be_visible()
    section.get_by_label("Second side, edge 1", exact=True).select_option(label="back: hem")
    expect(section.locator("#seam-measured")).to_contain_text("shorter than the left side")
    axe(page)
    section.get_by_label("The second side is").select_option("stretched to fit")
    section.get_by_label("Second side before sewing").fill("0.85")
    section.get_by_role("button", name="Keep").click()
    expect(section.locator("tr", has_text="back to back")).to_contain_text("stretched to fit")

    page.get_by_role("link", name="Walk the seams in all sizes").click()
    seam = page.locator("section.walked", has_text="Back to back")
    seam.get_by_role("link", name="Draw its edges").click()
    expect(seam.locator("svg path.sewn")).to_have_count(2)
    seam.get_by_role("link", name="Put the drawing away").click()
    expect(seam.locator("svg path.sewn")).to_have_count(0)
    page.set_viewport_size(PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
