"""A lay told at the table, in a real browser: on a phone, in parts, with a flaw; and the rest planned anew."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from planner.cutting.models import LayFact, LayRoll
from planner.materials.models import RollFlaw, Workroom
from tests.browser.conftest import PHONE
from tests.browser.kept_pages import Complaints
from tests.cutting.table_makers import jersey_lay, only_cloth, plies_batch, roll_of

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_lay_is_told_in_parts_on_a_phone_and_its_rest_planned(
    new_page: Callable[..., Page], axe: Callable[[Page], None], complaints: Complaints, maker: User
) -> None:
    lay = jersey_lay(plies_batch(5))
    roll = roll_of(only_cloth(lay), "R1", shade_lot="A")
    page = new_page(user=maker, viewport=PHONE, has_touch=True, is_mobile=True)
    page.goto(f"/batches/{lay.batch.number}/lays/{lay.number}/")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    plies, used = page.get_by_label("Plies spread and cut"), page.get_by_label("Cloth used for them")
    whole_m = float(used.input_value().split()[0])
    plies.fill("2")
    each_m = (lay.marker.length_mm + 2 * lay.end_allowance_mm) / 1000
    assert float(used.input_value().split()[0]) == pytest.approx(2 * each_m, abs=0.011)
    assert whole_m == pytest.approx(5 * each_m, abs=0.011)
    # A slip in the plies takes the metres away no more than emptying them does for good.
    plies.fill("")
    expect(used).to_have_value("")
    plies.fill("two")
    assert float(used.input_value().split()[0]) == pytest.approx(2 * each_m, abs=0.011)
    plies.fill("3")
    assert float(used.input_value().split()[0]) == pytest.approx(3 * each_m, abs=0.011)
    # More than the roll has is asked about.
    page.get_by_label("From roll").select_option(str(roll.pk))
    used.fill("99 m")
    page.get_by_role("button", name="It is cut").tap()
    expect(page.get_by_label("The roll really gave that much")).not_to_be_checked()
    complaints.expect("422")
    axe(page)
    # Metres that were typed stay, however many plies.
    used.fill("1.8 m")
    plies.fill("9")
    expect(used).to_have_value("1.8 m")
    page.get_by_role("button", name="It is cut").tap()
    said = "▲ Only 5 plies are still to be cut of this colour."
    expect(plies).to_have_accessible_description(said)
    expect(plies).to_be_focused()
    expect(used).to_have_value("1.8 m")
    complaints.expect("422")
    axe(page)
    # What is put right is marked no longer, before it is sent; what belongs to the field otherwise stays.
    wrong = page.locator(".telling .wrong, .telling [aria-invalid=true], .telling .errorlist")
    assert wrong.count() == 3
    plies.fill("2")
    expect(wrong).to_have_count(0)
    expect(plies).not_to_have_accessible_description(said)
    page.get_by_label("From roll").select_option(str(roll.pk))
    page.get_by_text("A flaw or a fault?").tap()
    page.get_by_label("Flaw on what is left of the roll, from").fill("1.5")
    page.get_by_label("to", exact=True).fill("1.6 m")
    page.get_by_label("What happened").fill("a run")
    page.get_by_role("button", name="It is cut").tap()
    expect(page.locator("#messages")).to_contain_text("3 plies of lay")
    expect(page.locator(".told")).to_contain_text("from roll R1 (lot A): a run")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    fact = LayFact.objects.get()
    assert (fact.spreads, fact.used_m, RollFlaw.objects.count()) == (2, Decimal("1.80"), 1)
    # Somebody else was first: that is said far above the form, and the page goes there.
    page.locator("[name=so_far]").evaluate("field => field.value = '0'")
    page.get_by_role("button", name="It is cut").tap()
    refused = page.locator("#messages .message.error")
    expect(refused).to_be_focused()
    expect(refused).to_be_in_viewport()
    complaints.expect("409")
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="That is all: plan the rest anew").tap()
    expect(page.locator("#messages")).to_contain_text("goes on with its own marker")
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="End it here all the same").tap()
    expect(page.locator("#messages")).to_contain_text("The rest, 3 garments, is lay")
    expect(page.locator("#h-cut ~ p").first).to_contain_text("Cut in part: 2 of 5 plies")


def test_in_yards_the_cloth_follows_the_plies_to_the_centimetre_that_is_kept(
    new_page: Callable[..., Page], maker: User
) -> None:
    lay = jersey_lay(plies_batch(5))
    Workroom.objects.update(display="imperial")
    page = new_page(user=maker)
    page.goto(f"/batches/{lay.batch.number}/lays/{lay.number}/")
    plies, used = page.get_by_label("Plies spread and cut"), page.get_by_label("Cloth used for them")
    each_m = (lay.marker.length_mm + 2 * lay.end_allowance_mm) / 1000
    for count in (2, 3, 5):
        plies.fill(str(count))
        number, unit = used.input_value().split()
        assert unit == "yd"
        # Up to the centimetre, as the plan is told beside it once it is cut.
        assert round(float(number) * 0.9144, 2) == pytest.approx(math.ceil(count * each_m * 100 - 1e-4) / 100)


def test_on_a_phone_what_is_to_be_spread_stands_in_one_line_and_what_is_pressed_is_a_finger_high(
    new_page: Callable[..., Page], maker: User
) -> None:
    lay = jersey_lay(plies_batch(5))
    lay.mode = "face_to_face"
    lay.save()
    LayRoll.objects.filter(lay_cloth__lay=lay).delete()
    LayRoll.objects.create(lay_cloth=only_cloth(lay), roll=None, spreads=5)
    page = new_page(user=maker, viewport=PHONE, has_touch=True, is_mobile=True)
    page.goto(f"/batches/{lay.batch.number}/lays/{lay.number}/")
    legend = page.locator(".portion legend")
    expect(legend).to_contain_text("5 pairs of plies of ")
    assert legend.evaluate("one => one.offsetHeight / parseFloat(getComputedStyle(one).lineHeight)") < 1.5
    expect(page.locator(".portion")).to_contain_text("of cloth as planned, still to be bought")
    # What is pressed on the page of its batch is a finger high.
    page.goto(f"/batches/{lay.batch.number}/")
    for pressed in (".lay h3 > a", ".bundles li > a", ".plan-choices > summary", ".crumb a"):
        heights = page.locator(pressed).evaluate_all(
            "all => all.map(one => one.getBoundingClientRect().height)"
        )
        assert heights, pressed
        assert min(heights) >= 43.5, pressed
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
