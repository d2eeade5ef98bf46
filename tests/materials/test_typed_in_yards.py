"""What is typed of notions and of how heavy a cloth is, with its unit or in that of the workroom."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client

from planner.materials.forms import FabricForm
from planner.materials.models import Notion, Workroom

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
