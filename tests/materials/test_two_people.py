"""Two people at the form of one fabric or style: the second is told before anything of the first is lost."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.materials.models import Fabric
from planner.styles.models import Style
from tests.factories import make_fabric, make_style

pytestmark = pytest.mark.django_db


def fields_of(page: str) -> dict[str, str]:
    """The form as a browser would send it: what stands in inputs, choices and text areas."""
    form = page[page.index('name="version"') - 40 :]
    sent = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, value = re.search(r'name="([^"]+)"', tag), re.search(r'value="([^"]*)"', tag)
        is_box = "checkbox" in tag
        if name and (not is_box or " checked" in tag):
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
