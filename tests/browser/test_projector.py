"""A lay thrown onto the cloth: calibrated with a known length, then measured on the screen."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest
from django.contrib.auth.models import User
from PIL import Image
from playwright.sync_api import Page, expect

from planner.cutting.marker_store import read_marker
from planner.cutting.models import Batch, Lay
from tests.sewing.makers import make_planned_batch

pytestmark = pytest.mark.django_db(transaction=True)
PROJECTOR = {"width": 1280, "height": 720}
#: What the person measures of the line that should be 500 mm; the whole lay is then seen at once.
MEASURED_MM = 1500.0


def open_lay(page: Page) -> tuple[Batch, Lay]:
    batch = make_planned_batch()
    lay = batch.lays.select_related("marker").get(number=1)
    page.goto(f"/batches/{batch.number}/lays/1/projector/")
    return batch, lay


def line_px(page: Page, line: str) -> float:
    """The length of a line as it is drawn, without its stroke."""
    box = page.locator(f"#{line}").evaluate(
        "line => { const b = line.getBBox(); return [b.width, b.height] }"
    )
    return max(box)


def bright(page: Page) -> tuple[int, int, int, int]:
    """The box of all that is not black."""
    picture = (
        Image.open(io.BytesIO(page.screenshot())).convert("L").point(lambda value: 255 if value > 60 else 0)
    )
    box = picture.getbbox()
    assert box is not None
    return box


def test_a_lay_is_projected_at_true_scale(
    new_page: Callable[..., Page], axe: Callable[[Page], None], maker: User
) -> None:
    page = new_page(user=maker, viewport=PROJECTOR)
    _, lay = open_lay(page)
    expect(page.get_by_text("Do not look into the beam.")).to_be_visible()
    # A phone, held upright or not, has room for the words and beside them for both lines with their arrows.
    for width, height in ((390, 844), (320, 640), (844, 390)):
        page.set_viewport_size({"width": width, "height": height})
        # The lines are drawn anew in the frame after the one in which the page has its new size.
        boxes = """new Promise((tell) => requestAnimationFrame(() => requestAnimationFrame(() =>
          tell(['.steps', '#line-x', '#text-x', '#line-y', '#text-y'].map((one) =>
            document.querySelector(one).getBoundingClientRect().toJSON())))))"""
        words, along, arrow_along, up, arrow_up = page.evaluate(boxes)
        assert words["right"] <= min(up["left"], arrow_up["left"])
        assert words["bottom"] <= min(along["top"], arrow_along["top"])
        assert (
            page.locator("#begin").evaluate(
                "e => { e.scrollIntoView(); return e.getBoundingClientRect().bottom }"
            )
            < (words["bottom"])
        ), "what is long is scrolled to"
    page.set_viewport_size(PROJECTOR)
    before = line_px(page, "line-x")
    for typed in ("x", "0", "-3", "12 yards of it"):
        page.get_by_label("Line ↔ measures").fill(typed)
        page.get_by_role("button", name="Set what I measured").click()
        expect(page.locator("#measured-said")).to_contain_text("is no length")
    assert line_px(page, "line-x") == pytest.approx(before)
    page.get_by_label("Line ↔ measures").fill("1.5 m")
    page.get_by_role("button", name="Set what I measured").click()
    expect(page.locator("#measured-said")).to_contain_text("both lines should be 500 mm")
    # What lay 1500 mm long is drawn a third as long now: so many px are 500 mm on the table.
    px_for_mm = before / MEASURED_MM
    assert line_px(page, "line-x") == pytest.approx(500 * px_for_mm, abs=0.1)
    assert line_px(page, "line-y") == pytest.approx(500 * px_for_mm, abs=0.1)
    page.get_by_role("button", name="begin").click()
    expect(page.locator("#controls")).to_be_visible()
    axe(page)
    marker = read_marker(lay.marker)
    assert marker is not None
    for number, placed in enumerate(marker.placements):
        xs, ys = zip(*placed.outline, strict=True)
        size = (
            page.locator("#stage .piece")
            .nth(number)
            .evaluate(
                "piece => { const b = piece.getBBox(), m = piece.getCTM(); return [b.width * m.a, b.height * m.d] }"
            )
        )
        assert size == pytest.approx(
            [(max(xs) - min(xs)) * px_for_mm, (max(ys) - min(ys)) * px_for_mm], abs=0.15
        ), placed.piece
    # And as the eye sees it: nothing but the lay, from its first cross to its end, in bright pixels.
    page.get_by_role("button", name="Labels").click()
    page.locator("#controls").evaluate("controls => { controls.hidden = true }")
    page.evaluate("document.querySelectorAll('.cross, .cross-text').forEach(cross => cross.remove())")
    left, top, right, bottom = bright(page)
    line = 4
    assert right - left - line == pytest.approx(marker.length_mm * px_for_mm, abs=1.5)
    assert bottom - top - line == pytest.approx(lay.lay_width_mm * px_for_mm, abs=1.5)


def test_it_rests_moves_turns_and_remembers(new_page: Callable[..., Page], maker: User) -> None:
    page = new_page(user=maker, viewport=PROJECTOR)
    open_lay(page)
    page.get_by_label("Line ↔ measures").fill("100 mm")
    page.get_by_label("Line ↕ measures").fill("125 mm")
    page.get_by_role("button", name="Set what I measured").click()
    page.get_by_label("The lines should be").select_option("200")
    x, y = line_px(page, "line-x"), line_px(page, "line-y")
    assert x / y == pytest.approx(1.25, abs=0.001)
    page.get_by_role("button", name="Line ↔ longer").click()
    assert line_px(page, "line-x") == pytest.approx(round(x) + 1)
    page.get_by_role("button", name="begin").click()
    page.mouse.move(5, 5)
    controls = page.locator("#controls")
    expect(controls).to_be_hidden(timeout=20_000)
    before = matrix(page)
    page.keyboard.press("ArrowRight")
    expect(controls).to_be_visible()
    px_for_mm = (round(x) + 1) / 200
    after = matrix(page)
    assert after["a"] == pytest.approx(px_for_mm)
    assert before["e"] - after["e"] == pytest.approx(500 * px_for_mm, abs=0.1)
    page.keyboard.press("Home")
    assert matrix(page) == before
    page.keyboard.press("m")
    assert matrix(page)["a"] == pytest.approx(-px_for_mm)
    page.keyboard.press("m")
    page.keyboard.press("t")
    turned = matrix(page)
    assert (turned["a"], turned["d"]) == pytest.approx((0, 0))
    assert abs(turned["b"]) == pytest.approx(y / 200, abs=0.01)
    page.keyboard.press("+")
    assert page.locator("#stage .piece").first.get_attribute("stroke-width") == "5"
    page.keyboard.press("l")
    assert page.locator("#labels").get_attribute("visibility") == "hidden"
    page.keyboard.press("?")
    expect(page.locator("#keys")).to_be_visible()
    page.reload()
    expect(page.locator("#measured-said")).to_contain_text("Set before on this screen")
    page.get_by_label("The lines should be").select_option("200")
    assert line_px(page, "line-x") == pytest.approx(round(x) + 1)


def matrix(page: Page) -> dict[str, float]:
    found: dict[str, float] = page.locator("#cloth").evaluate(
        "cloth => { const m = cloth.transform.baseVal.consolidate().matrix;"
        " return {a: m.a, b: m.b, c: m.c, d: m.d, e: m.e, f: m.f} }"
    )
    return found


def test_without_javascript_it_says_so_and_shows_other_ways(
    new_page: Callable[..., Page], maker: User
) -> None:
    page = new_page(user=maker, java_script_enabled=False)
    open_lay(page)
    expect(page.get_by_text("This view needs JavaScript,")).to_be_visible()
    expect(page.get_by_role("link", name="PDF of sheets to join")).to_be_visible()
    expect(page.locator("#calibrating")).to_be_hidden()
