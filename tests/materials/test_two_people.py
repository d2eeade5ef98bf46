"""Two people at the form of one thing: the second is told before anything of the first is lost."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from planner.materials import machines
from planner.materials.models import Fabric, Machine, MachineStitch, Supplier, Workroom
from planner.orders.models import Customer
from planner.styles.models import Style
from tests.factories import make_fabric, make_fabric_colour, make_notion, make_notion_colour, make_style

pytestmark = pytest.mark.django_db


def fields_of(page: str) -> dict[str, Any]:
    """The form as a browser would send it: what stands in inputs, choices and text areas."""
    form = page[page.index('name="version"') - 40 :]
    sent: dict[str, Any] = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, value = re.search(r'name="([^"]+)"', tag), re.search(r'value="([^"]*)"', tag)
        is_box = "checkbox" in tag
        if name and is_box and value and " checked" in tag:
            sent.setdefault(name[1], []).append(value[1])
        elif name and (not is_box or " checked" in tag):
            sent[name[1]] = value[1] if value else "on" if is_box else ""
    for name, inside in re.findall(r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', inside)
        sent[name] = chosen[1] if chosen else ""
    for name, inside in re.findall(r'<textarea[^>]*name="([^"]+)"[^>]*>(.*?)</textarea>', form, re.DOTALL):
        sent[name] = inside.strip()
    return sent


def test_a_fabric_saved_by_somebody_else_meanwhile_is_not_overwritten_unasked(maker_client: Client) -> None:
    fabric = make_fabric("jersey", price=Decimal("9.00"), composition="cotton")
    url = reverse("fabric-change", args=[fabric.pk])
    mine = fields_of(maker_client.get(url).content.decode())
    theirs = fields_of(maker_client.get(url).content.decode())
    assert maker_client.post(url, theirs | {"price": "12.50"}).status_code == 302
    answer = maker_client.post(url, mine | {"composition": "cotton and elastane"})
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "This fabric was changed meanwhile" in page
    newer = page[page.index('id="newer"') :]
    assert re.search(r"<dt>Price</dt><dd>12.50</dd>", newer)
    assert re.search(r"<dt>Composition</dt><dd>cotton</dd>", newer)
    assert "<dt>Full width</dt>" not in newer, "only what differs"
    assert 'value="cotton and elastane"' in page, "nothing that was typed is lost"
    fabric.refresh_from_db()
    assert (fabric.price, fabric.composition) == (Decimal("12.50"), "cotton")
    # Sent again from this page it is meant.
    assert maker_client.post(url, fields_of(page)).status_code == 302
    fabric.refresh_from_db()
    assert (fabric.price, fabric.composition) == (Decimal("9.00"), "cotton and elastane")


def test_saved_without_a_change_nobody_is_disturbed(maker_client: Client) -> None:
    fabric = make_fabric("jersey")
    url = reverse("fabric-change", args=[fabric.pk])
    mine = fields_of(maker_client.get(url).content.decode())
    assert maker_client.post(url, mine).status_code == 302, "the same is saved"
    assert maker_client.post(url, mine | {"price": "3"}).status_code == 302
    assert maker_client.post(url, {**mine, "price": "much"}).status_code == 409, (
        "mine is older than what I saved"
    )
    assert Fabric.objects.get().price == 3


def test_what_is_wrong_stands_at_its_field_besides(maker_client: Client) -> None:
    fabric = make_fabric("jersey")
    url = reverse("fabric-change", args=[fabric.pk])
    mine = fields_of(maker_client.get(url).content.decode())
    Fabric.objects.update(lay_folded=True)
    page = maker_client.post(url, {**mine, "price": "much"}).content.decode()
    assert "<dt>Folded lengthwise, or as a tube</dt><dd>yes</dd>" in page
    assert 'value="much"' in page


def test_a_style_saved_by_somebody_else_meanwhile(maker_client: Client) -> None:
    style = make_style()
    url = reverse("style-change", args=[style.number])
    mine = fields_of(maker_client.get(url).content.decode())
    Style.objects.filter(pk=style.pk).update(name="Box top, wide")
    answer = maker_client.post(url, mine | {"note": "pins sideways"})
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "This style was changed meanwhile" in page
    assert "<dt>Name</dt><dd>Box top, wide</dd>" in page
    style.refresh_from_db()
    assert (style.name, style.note) == ("Box top, wide", "")
    again = fields_of(page)
    assert maker_client.post(url, again | {"name": "Box top, wide"}).status_code == 302
    style.refresh_from_db()
    assert (style.name, style.note) == ("Box top, wide", "pins sideways")


#: What one of two changes of a form that stands on a page of its own or within one, and the other; then how what the
#: first saved is told to the second, beside what.
FORMS = {
    "workroom": ({"labour_rate_per_hour": "33.00"}, {"name": "Attic"}, "An hour's work costs", "33.00"),
    "notion-change": ({"pack_price": "9.99"}, {"name": "Elastic, clear"}, "Price of a pack", "9.99"),
    "notion-colour-change": ({"name": "white"}, {"swatch": "#010203"}, "Name of the colour", "white"),
    "supplier-change": ({"contact": "555 0101"}, {"name": "Mill"}, "How to reach them", "555 0101"),
    "machine-change": ({"setup_note": "needle 80"}, {"name": "Old one"}, "Usual set-up", "needle 80"),
    "stitch-set": ({"stitch_length_mm": "2.5 mm"}, {"width_mm": "5 mm"}, "Stitch length", "2.5"),
    "stitch-measure": ({"needle_mm": "20 cm"}, {"looper_mm": "60 cm"}, "Needle thread", "20 cm"),
    "colour-change": ({"name": "navy"}, {"swatch": "#010203"}, "Name of the colour", "navy"),
    "customer-edit": ({"contact": "555 0101"}, {"name": "Hale and sons"}, "Contact", "555 0101"),
}


def address_of(name: str) -> str:
    """The address of the form of that name, with the thing it changes."""
    if name == "workroom":
        return reverse(name)
    machine = Machine.objects.create(name="Lockstitch", kind="sewing machine")
    things: dict[str, Any] = {
        "notion-change": make_notion("clear elastic 6 mm"),
        "notion-colour-change": make_notion_colour("zip", "black", "#111111"),
        "supplier-change": Supplier.objects.create(name="The mill", contact="by post"),
        "machine-change": machine,
        "stitch-set": MachineStitch.objects.create(machine=machine, stitch_type="301"),
        "stitch-measure": MachineStitch.objects.create(
            machine=machine, stitch_type="401", unpicked_mm=150, needle_mm=195, looper_mm=620
        ),
        "colour-change": make_fabric_colour(),
        "customer-edit": Customer.objects.create(name="Hale"),
    }
    return reverse(name, args=[things[name].pk])


@pytest.mark.parametrize("headers", [{}, {"HX-Request": "true"}], ids=["plain", "htmx"])
@pytest.mark.parametrize("name", FORMS)
def test_who_saves_second_is_told_whatever_is_changed(
    maker_client: Client, name: str, headers: dict[str, str]
) -> None:
    first, second, label, said = FORMS[name]
    url = address_of(name)
    mine = fields_of(maker_client.get(url, headers=headers).content.decode())
    done = 200 if headers and name not in FORMS_OF_A_PAGE else 302
    assert maker_client.post(url, mine | first, headers=headers).status_code == done
    answer = maker_client.post(url, mine | second, headers=headers)
    assert answer.status_code == 409
    page = answer.content.decode()
    newer = page[page.index('id="newer"') :].partition("</dl>")[0]
    assert "was changed meanwhile" in newer
    told = dict(re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", newer))
    shown = {key.replace("&#x27;", "'"): words for key, words in told.items()}
    assert said in shown.pop(label)
    again = fields_of(page)
    for field, typed in second.items():
        assert again[field].startswith(typed), "nothing that was typed is lost"
    assert len(shown) == len(second), "only what differs is told"
    # Sent again, with what the other saved taken over, both are kept.
    assert maker_client.post(url, again | first, headers=headers).status_code == done
    after = fields_of(maker_client.get(url, headers=headers).content.decode())
    for field, typed in (first | second).items():
        assert str(after[field]).startswith(typed.removesuffix(" mm")), field


def test_a_measurement_forgotten_meanwhile_is_told(maker_client: Client) -> None:
    url = address_of("stitch-measure")
    mine = fields_of(maker_client.get(url).content.decode())
    machines.forget_measured(MachineStitch.objects.get(stitch_type="401"))
    answer = maker_client.post(url, mine | {"needle_mm": "20 cm"})
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "This measurement was changed meanwhile" in page
    assert "<dt>Length of seam unpicked</dt><dd>nothing</dd>" in page
    assert fields_of(page)["needle_mm"] == "20 cm", "nothing that was typed is lost"
    assert MachineStitch.objects.get(stitch_type="401").unpicked_mm is None
    assert maker_client.post(url, fields_of(page)).status_code == 302
    assert MachineStitch.objects.get(stitch_type="401").needle_mm == 200


#: Forms that are pages, with HTMX too.
FORMS_OF_A_PAGE = {"workroom", "notion-change", "supplier-change", "machine-change", "customer-edit"}


def test_stitches_ticked_by_somebody_else_are_not_unticked_unasked(maker_client: Client) -> None:
    machine = Machine.objects.create(name="Lockstitch", kind="sewing machine")
    MachineStitch.objects.create(machine=machine, stitch_type="301")
    url = reverse("machine-change", args=[machine.pk])
    mine = fields_of(maker_client.get(url).content.decode())
    assert maker_client.post(url, mine | {"makes": ["301", "304"]}).status_code == 302
    answer = maker_client.post(url, mine | {"setup_note": "needle 80"})
    assert answer.status_code == 409
    assert "<dd>301, 304</dd>" in answer.content.decode()
    assert [one.stitch_type for one in machine.stitches.order_by("stitch_type")] == ["301", "304"]


def test_a_workroom_that_was_just_made_is_no_other_one(maker_client: Client) -> None:
    """Its figures are those of the table, not of the code: 4000.0, not 4000."""
    Workroom.objects.all().delete()
    mine = fields_of(maker_client.get(reverse("workroom")).content.decode())
    assert maker_client.post(reverse("workroom"), mine).status_code == 302


def test_what_is_typed_wrongly_does_not_show_on_the_rest_of_the_page(maker_client: Client) -> None:
    url = reverse("workroom")
    mine = fields_of(maker_client.get(url).content.decode())
    answer = maker_client.post(url, mine | {"name": "Attic", "most_plies": "many"})
    assert answer.status_code == 422
    assert Workroom.the().name != "Attic"
    assert answer.content.decode().count("Attic") == 1
