"""A seam is unpicked at the machine, and a step of sewing is offered only what fits, in a real browser."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from planner.materials.models import Machine, MachineStitch
from tests import factories as make
from tests.browser.kept_pages import Complaints

pytestmark = pytest.mark.django_db(transaction=True)


def own_machine(name: str, kind: str, *makes: str) -> Machine:
    machine = Machine.objects.create(name=name, kind=kind)
    MachineStitch.objects.bulk_create(MachineStitch(machine=machine, stitch_type=n) for n in makes)
    return machine


def test_the_ratio_stands_there_while_it_is_typed(
    new_page: Callable[..., Page], axe: Callable[[Page], None], complaints: Complaints, maker: User
) -> None:
    heron = own_machine("Heron", "sewing machine", "401")
    page = new_page(user=maker)
    page.goto(f"/materials/machines/{heron.pk}/")
    # A cursor that comes a moment later lands in the middle of what somebody quick is typing elsewhere.
    page.evaluate("""() => { window.cursor = new Promise(tell => document.addEventListener("htmx:afterSwap",
        () => setTimeout(() => tell(document.activeElement.name), 0), { once: true })); }""")
    page.get_by_role("link", name="Measure the thread of 401").click()
    assert page.evaluate("window.cursor") == "unpicked_mm"
    # The published worked example of a 401.
    page.get_by_label("Needle thread").fill("19.5 cm")
    page.get_by_label("Looper thread").fill("62.0")
    expect(page.locator("[aria-live] .estimate")).to_contain_text("In all 5.43 times the seam")
    axe(page)
    page.get_by_label("Needle thread").fill("0")
    page.get_by_role("button", name="Keep the ratio").click()
    expect(page.locator(".wrong")).to_contain_text("must be more than 0")
    complaints.expect("422")
    expect(page.get_by_label("Looper thread")).to_have_value("62.0")
    page.get_by_label("Needle thread").fill("19.5")
    page.get_by_role("button", name="Keep the ratio").click()
    expect(page.locator(f"#stitch-{heron.stitches.get().pk}")).to_contain_text("needle 1.30, looper 4.13")


def test_a_step_is_offered_only_what_fits_its_machine_and_a_notion_asked_only_what_its_counting_needs(
    new_page: Callable[..., Page], maker: User
) -> None:
    make.make_style("110")
    own_machine("Heron", "overlock", "504")
    wren = own_machine("Wren", "coverstitch", "406")
    page = new_page(user=maker)
    page.goto("/styles/110/")
    page.locator("#section-operations").get_by_role("link", name="New operation").click()
    form = page.locator("#section-operations form").first
    form.get_by_label("Name", exact=True).fill("hem twice")
    form.locator("select[name=stitch_type]").select_option("504")
    form.locator("select[name=machine]").select_option("coverstitch")
    expect(form.locator("select[name=stitch_type]")).to_have_value("")
    offered = form.locator("select[name=stitch_type] option:not([hidden])")
    assert [option.get_attribute("value") for option in offered.all()][1:3] == ["101", "401"]
    expect(form.locator("optgroup[label=overlock]")).to_have_attribute("hidden", "")
    form.locator("select[name=own_machine]").select_option(str(wren.pk))
    form.locator("select[name=stitch_type]").select_option("406")
    form.get_by_role("button", name="Keep").click()
    expect(page.locator("#section-operations tbody")).to_contain_text("hem twice")
    expect(page.locator("#section-operations tbody")).to_contain_text("Wren")
    page.locator("#section-notions").get_by_role("link", name="New notion").click()
    form = page.locator("#section-notions form").first
    expect(form.get_by_label("For the piece")).to_be_hidden()
    form.get_by_label("Counted").select_option("piece")
    expect(form.get_by_label("For the piece")).to_be_visible()
    form.get_by_label("Counted").select_option("seam")
    expect(form.get_by_label("Along the seam")).to_be_visible()
    expect(form.get_by_label("So many")).to_be_hidden()
