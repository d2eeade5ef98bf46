"""Materials in a real browser: a fabric typed in inches, its colour, its roll; notions; the workroom."""

from collections.abc import Callable
from decimal import Decimal

from playwright.sync_api import Page, expect

from planner.materials.models import Fabric, StockMove
from tests import factories as make
from tests.browser.conftest import PHONE
from tests.browser.kept_pages import Complaints

THIN = "\N{THIN SPACE}"


def test_a_fabric_is_noted_in_inches_and_its_roll_comes_in(
    signed_in_page: Page, complaints: Complaints, axe: Callable[[Page], None]
) -> None:
    page = signed_in_page
    page.goto("/materials/")
    page.get_by_role("link", name="Add the first fabric").click()
    page.get_by_label("Name").fill("ribbed jersey")
    page.get_by_label("Full width").fill("60 in")
    # What follows from the measures is told while they are typed.
    expect(page.locator("#facts")).to_contain_text(f"149.4{THIN}cm")
    page.get_by_label("Weight").fill("5.3 oz/yd2")
    expect(page.locator("#facts")).to_contain_text("0.274 kg a metre")
    expect(page.get_by_label("Full width")).to_have_value("60 in")
    page.get_by_label("Selvedge, each side").fill("76 cm")
    page.get_by_role("button", name="Save the fabric").click()
    expect(page.locator(".errorlist")).to_contain_text("at most 500 mm")
    complaints.expect("422")
    axe(page)
    expect(page.get_by_label("Full width")).to_have_value("60 in")
    page.get_by_label("Selvedge, each side").fill("1 cm")
    page.get_by_role("button", name="Save the fabric").click()
    expect(page.get_by_role("heading", name="ribbed jersey", level=1)).to_be_visible()

    # A colour is added where the colours stand; a second of that name is refused there.
    colours = page.locator("#colours")
    colours.get_by_role("link", name="Add a colour").click()
    expect(page.get_by_label("Name of the colour")).to_be_focused()
    axe(page)
    page.keyboard.type("moss")
    page.keyboard.press("Enter")
    expect(colours.get_by_role("link", name="moss", exact=True)).to_be_visible()
    expect(page.locator("#messages")).to_contain_text("moss is saved.")
    colours.get_by_role("link", name="Add a colour").click()
    page.get_by_label("Name of the colour").fill("MOSS")
    colours.get_by_role("button", name="Save").click()
    expect(colours.locator(".errorlist")).to_contain_text("already")
    complaints.expect("422")
    expect(page.get_by_label("Name of the colour")).to_have_value("MOSS")
    colours.get_by_role("link", name="Leave it").click()
    colours.get_by_role("link", name="Rename moss").click()
    page.get_by_label("Name of the colour").fill("fern")
    colours.get_by_role("button", name="Save").click()

    # A roll of it comes in and is on the list.
    colours.get_by_role("link", name="fern", exact=True).click()
    page.get_by_role("link", name="A roll came in").click()
    page.get_by_label("Length").fill("27 1/2 yd")
    page.get_by_label("Shade lot").fill("7A")
    axe(page)
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.locator("#cloth-stock")).to_contain_text(f"25.15{THIN}m on hand on 1 roll.")
    page.goto("/materials/")
    row = page.get_by_role("row").filter(has_text="ribbed jersey")
    expect(row).to_contain_text("fern")
    expect(row).to_contain_text(f"25.15{THIN}m")
    assert Fabric.objects.get().full_width_mm == Decimal("1524")


def test_a_helper_measures_a_roll_again_on_a_phone(
    phone_page: Page, complaints: Complaints, axe: Callable[[Page], None]
) -> None:
    roll = make.stock(make.make_fabric_colour(), 10, roll="12", shade_lot="7A").roll
    page = phone_page
    page.goto("/materials/")
    page.get_by_role("link", name="ink").click()
    page.get_by_role("link", name="Measure roll 12 again").click()
    page.get_by_label("What is there now").fill("a lot")
    page.get_by_role("button", name="Set").click()
    expect(page.locator(".errorlist")).to_contain_text("is not a length")
    complaints.expect("422")
    expect(page.get_by_label("What is there now")).to_have_value("a lot")
    expect(page.get_by_label("What is there now")).to_be_focused()
    page.get_by_label("What is there now").fill("8.5")
    page.get_by_role("button", name="Set").click()
    expect(page.locator("#messages")).to_contain_text(f"Roll 12: 8.5{THIN}m")
    axe(page)
    assert [move.quantity for move in StockMove.objects.filter(roll=roll).order_by("pk")] == [
        10,
        Decimal("-1.5"),
    ]
    # Nothing runs off the side of a phone.
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_deleting_asks_first(signed_in_page: Page) -> None:
    make.make_fabric("voile")
    page = signed_in_page
    page.goto("/materials/")
    page.get_by_role("link", name="voile").click()
    asked: list[str] = []

    def refuse(dialog) -> None:
        asked.append(dialog.message)
        dialog.dismiss()

    page.once("dialog", refuse)
    page.get_by_role("button", name="Delete").click()
    assert asked == ["Delete voile with all its colours?"]
    assert Fabric.objects.exists()
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Delete").click()
    expect(page.locator("#messages")).to_contain_text("voile is deleted.")


def test_a_notion_comes_in_and_is_counted(
    signed_in_page: Page, complaints: Complaints, axe: Callable[[Page], None]
) -> None:
    make.make_notion_colour("overlock thread", "ink", "#26324a")
    label = make.make_notion_colour("size label")
    page = signed_in_page
    page.goto("/materials/notions/")
    page.get_by_role("link", name="size label").click()
    page.get_by_role("link", name="size label came in").click()
    page.get_by_label("How much came in").fill("2.5")
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.locator(".errorlist")).to_contain_text("whole number")
    complaints.expect("422")
    axe(page)
    page.get_by_label("How much came in").fill("200")
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.locator("#notion-stock")).to_contain_text(f"200{THIN}pcs.")
    assert StockMove.objects.get().notion_colour == label
