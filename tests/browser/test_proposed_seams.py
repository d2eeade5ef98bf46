"""From a pattern file with two necks and two sleeves to seams that fit, in a real browser."""

from collections.abc import Callable
from pathlib import Path

import pytest
from django.conf import settings
from playwright.sync_api import Page, expect

from planner.styles.models import Seam, Style
from tests import factories as make
from tests.browser.conftest import PHONE

pytestmark = pytest.mark.django_db(transaction=True)

TEE = Path(settings.BASE_DIR) / "fixtures" / "patterns" / "110-plover-tee.dxf"
OPTIONS = {
    "self neck band": "neck: self band", "rib neck band": "neck: rib band", "short sleeve": "sleeve: short",
    "long sleeve": "sleeve: long", "cuff": "sleeve: long",
}  # fmt: skip


def test_a_file_with_two_necks_becomes_a_style_whose_seams_fit(
    signed_in_page: Page, live_server, axe: Callable[[Page], None]
) -> None:
    page = signed_in_page
    page.goto("/styles/new/from-file/")
    page.get_by_label("Number").fill("310")
    page.get_by_label("Name").fill("file tee")
    page.get_by_label("Pattern file").set_input_files(TEE)
    page.get_by_role("button", name="Read the file").click()
    asked = page.get_by_role("heading", name="Is each of these an option?")
    expect(asked).to_be_visible()
    axe(page)
    for piece, option in OPTIONS.items():
        heading = page.get_by_role("heading", name=piece)
        card = page.locator(".review-piece").filter(has=heading)
        # The page is drawn anew after each, so that what was typed is offered for the others.
        with page.expect_response(lambda answer: "/styles/file/" in answer.url):
            card.get_by_label("Belongs to").fill(option)
            card.get_by_label("Belongs to").press("Tab")
        expect(page.locator(f"#known-options option[value='{option}']")).to_have_count(1)
    expect(asked).to_be_hidden()
    page.get_by_role("button", name="Make the style").click()
    expect(page.get_by_role("heading", name="310 file tee", level=1)).to_be_visible()
    expect(page.locator("#section-details")).to_contain_text("neck: self band or rib band")
    expect(page.locator("#style-head")).not_to_contain_text("every garment")

    page.get_by_role("link", name="Propose seams").click()
    expect(page.locator(".answer")).to_contain_text("15 seams can be told from the edges.")
    axe(page)
    assert not Seam.objects.exists()
    hems = page.get_by_role("region", name="hem the body")
    hems.get_by_label("Standard minutes").fill("2.1")
    page.get_by_label("Back neck tape", exact=True).uncheck()
    page.get_by_role("button", name="Make the ticked seams").click()
    expect(page.get_by_text("14 seams and 11 operations are made.")).to_be_visible()
    style = Style.objects.get(number="310")
    assert str(style.operations.get(name="hem the body").standard_minutes) == "2.10"

    page.get_by_role("link", name="Walk the seams in all sizes").click()
    expect(page.locator(".answer")).to_have_text("The two sides fit in every seam and size.")


def test_proposed_seams_on_a_phone(new_page: Callable[..., Page], maker, live_server) -> None:
    style = make.make_style("110", sizes="S M L")
    for name in ("front", "back"):
        for outline in style.pieces.get(name=name).outlines.all():
            edges = [
                [edge.replace("left ", "").replace("right ", ""), at] for edge, at in outline.shape["edges"]
            ]
            outline.shape["edges"] = edges
            outline.save()
    style.notions.all().delete()
    style.seams.all().delete()
    page = new_page(user=maker, viewport=PHONE, has_touch=True, is_mobile=True)
    page.goto("/styles/110/seams/propose/")
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    # An operation that is there sews it: what a new one is asked is put away, and comes back.
    step = page.get_by_role("region", name="join shoulders")
    expect(step.get_by_label("Sewn by")).to_have_value(str(style.operations.get(name="join shoulders").pk))
    expect(step.get_by_label("Standard minutes")).to_be_hidden()
    step.get_by_label("Sewn by").select_option(label="a new operation")
    expect(step.get_by_label("Standard minutes")).to_be_visible()


def test_the_number_of_a_new_seam_follows_its_edges(signed_in_page: Page, live_server) -> None:
    style = make.make_style("110", sizes="S M L")
    for outline in style.pieces.get(name="front").outlines.all():
        outline.shape["edges"] = [
            [edge.replace("left ", "").replace("right ", ""), at] for edge, at in outline.shape["edges"]
        ]
        outline.save()
    page = signed_in_page
    page.goto("/styles/110/")
    page.get_by_role("link", name="New seam").click()
    times = page.get_by_label("Such seams in a garment")
    expect(times).to_have_value("1")
    page.get_by_label("First side, edge 1", exact=True).select_option(label="front: shoulder (it has 2)")
    expect(page.locator(".times-told")).to_contain_text("the shoulder of front occurs twice: 2 such seams.")
    expect(times).to_have_value("2")
    times.fill("1")
    times.press("Tab")
    expect(page.locator(".times-told")).to_contain_text("not 1")
    page.get_by_label("First side, edge 2", exact=True).select_option(label="front: side (it has 2)")
    expect(page.locator(".times-told")).to_contain_text("the side of front occurs twice")
    expect(times).to_have_value("1")
