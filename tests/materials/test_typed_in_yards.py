"""What is typed of notions and of how heavy a cloth is, with its unit or in that of the workroom."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client

from planner.materials.forms import FabricForm
from planner.materials.models import Fabric, Notion, Workroom

pytestmark = pytest.mark.django_db

WEBBING = {
    "name": "webbing",
    "kind": "tape",
    "unit": "m",
    "pack": "roll",
    "pack_price": "9",
    "low_quantity": "0",
}


def test_a_pack_is_typed_with_its_unit_and_bare_in_that_of_the_workroom(maker_client: Client) -> None:
    """Ten yards of webbing typed into a box that took metres came to eleven."""

    def packed(name: str, typed: str, **more: str) -> Decimal:
        answer = maker_client.post(
            "/materials/notions/new/", {**WEBBING, "name": name, "pack_quantity": typed, **more}
        )
        assert answer.status_code == 302, answer.content.decode()
        return Notion.objects.get(name=name).pack_quantity

    assert packed("a", "25 m") == packed("b", "25") == 25
    assert packed("c", "100", unit="pcs", kind="label") == 100
    refused = {**WEBBING, "pack_quantity": "100 m", "unit": "pcs"}
    assert "is not a number" in maker_client.post("/materials/notions/new/", refused).content.decode()
    Workroom.objects.update_or_create(pk=1, defaults={"display": "imperial"})
    assert packed("d", "10") == packed("e", "10 yd", low_quantity="2 yd") == Decimal("9.14")
    roll = Notion.objects.get(name="e")
    page = maker_client.get(f"/materials/notions/{roll.pk}/change/").content.decode()
    assert 'value="10 yd"' in page
    assert 'value="2 yd"' in page


def test_in_an_imperial_workroom_cloth_weighs_ounces_and_is_sold_in_shares_of_a_yard() -> None:
    form = FabricForm({"weight_gsm": "10", "pack_quantity": "1/2", "sold_by": "metre"}, display="imperial")
    form.is_valid()
    assert form.cleaned_data["weight_gsm"] == Decimal("339.1")
    # A yard is 0.9144 m (NIST SP 811).
    assert form.cleaned_data["pack_quantity"] == Decimal("0.4572")
    stored = FabricForm(initial={"weight_gsm": Decimal("339.1")}, display="imperial")["weight_gsm"].value()
    assert stored == "10 oz/yd2"
    # What a bare number is taken for stands in a box that is empty as well.
    for display, unit in (("metric", "cm"), ("imperial", "in")):
        assert f'placeholder="{unit}"' in str(FabricForm(display=display)["full_width_mm"])


def test_in_an_imperial_workroom_cloth_costs_so_much_a_yard_or_a_pound(maker_client: Client) -> None:
    """9.50 typed for a yard was taken for a metre: cloth came out a twelfth too cheap."""
    Workroom.objects.update_or_create(pk=1, defaults={"display": "imperial"})

    def saved(fabric: Fabric | None, **changed: str) -> Fabric:
        address = f"/materials/cloth/{fabric.pk}/change/" if fabric else "/materials/cloth/new/"
        form = maker_client.get(address).context["form"]
        shown = {name: form[name].value() for name in form.fields}
        data = {name: value for name, value in shown.items() if value not in (None, False)} | changed
        answer = maker_client.post(address, data)
        assert answer.status_code == 302, answer.content.decode()
        return Fabric.objects.get(name="canvas")

    canvas = saved(
        None, name="canvas", full_width_mm="58 in", weight_gsm="10", pack_quantity="1", price="9.50"
    )
    # A yard is 0.9144 m and a pound 0.45359237 kg exactly (NIST SP 811).
    assert canvas.price == Decimal("10.389326")
    assert round(canvas.price * Decimal("0.9144") * 5, 2) == Decimal("47.50")
    page = maker_client.get(f"/materials/cloth/{canvas.pk}/").content.decode()
    listed = maker_client.get("/materials/").content.decode()
    assert "9.50\u2009EUR a yard" in page
    assert "9.50\u2009EUR" in listed
    assert "a yard" in listed
    assert saved(canvas, composition="cotton").price == Decimal("10.389326")
    assert (
        maker_client.get(f"/materials/cloth/{canvas.pk}/change/").context["form"]["price"].value() == "9.50"
    )

    # The same figure of another measure is another price.
    by_weight = saved(canvas, sold_by="kg", pack_quantity="1", minimum_quantity="5", price="9.50")
    assert (by_weight.price, by_weight.pack_quantity) == (Decimal("20.943915"), Decimal("0.4536"))
    shown = maker_client.get(f"/materials/cloth/{canvas.pk}/change/").context["form"]
    assert [shown[name].value() for name in ("pack_quantity", "minimum_quantity")] == ["1 lb", "5 lb"]
    page = maker_client.get(f"/materials/cloth/{canvas.pk}/").content.decode()
    assert "9.50\u2009EUR a pound; in whole pounds" in page
    Workroom.objects.update(display="metric")
    page = maker_client.get(f"/materials/cloth/{canvas.pk}/").content.decode()
    assert "20.94\u2009EUR a kilogram" in page
    assert saved(canvas, composition="linen").price == Decimal("20.943915")
