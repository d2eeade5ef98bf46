"""An odd number of what comes in twos is refused with the way out, and the way out is one."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import gathering
from planner.cutting.stored import stored_lays
from planner.materials.models import Fabric
from planner.orders.models import LineQuantity
from tests.factories import TODAY, make_order, make_style

pytestmark = pytest.mark.django_db


def test_one_more_allowed_makes_a_plan_where_the_rib_comes_in_twos(maker_client: Client) -> None:
    """Three tops of which the rib band, one of each, is cut folded: a fourth, as soon as it may be cut."""
    make_order([(make_style(), {"neck": "rib band"}, "ink", {"M": 3})])
    Fabric.objects.filter(name="rib").update(lay_open=False, lay_folded=True)
    batch = gathering.create_batch(None, TODAY)
    box = LineQuantity.objects.get().pk
    address, fill = (reverse(name, args=[batch.number]) for name in ("batch-plan", "batch-fill"))

    maker_client.post(fill, {f"q-{box}": "3"})
    refused = maker_client.post(address)
    assert refused.status_code == 422
    assert "allow one more" in refused.content.decode()

    maker_client.post(fill, {f"q-{box}": "3", f"x-{box}": "1"})
    assert maker_client.post(address).status_code == 302
    assert list(batch.items.values_list("quantity", "extra")) == [(3, 1)]
    lays = [lay.planned for lay in stored_lays(batch.lays.with_everything())]
    assert {lay.fabric: sum(lay.cut_from(key).total() for key in lay.cloths) for lay in lays} == {
        "jersey": 4,
        "rib": 4,
    }


def test_of_a_tube_it_is_said_why_one_is_over_and_nothing_that_cannot_be_done(maker_client: Client) -> None:
    """A tube is cut through both layers; it cannot lie open, so one more is the only way."""
    make_order([(make_style(), {"neck": "rib band"}, "ink", {"M": 1})])
    Fabric.objects.filter(name="rib").update(lay_open=False, lay_folded=True, is_tube=True)
    batch = gathering.create_batch(None, TODAY)
    box = LineQuantity.objects.get().pk
    address, fill = (reverse(name, args=[batch.number]) for name in ("batch-plan", "batch-fill"))
    maker_client.post(fill, {f"q-{box}": "1"})
    refused = maker_client.post(address)
    words = refused.content.decode()
    assert refused.status_code == 422
    assert (
        "a tube, which is cut through both of its layers and so gives 2 at a time, one of them over" in words
    )
    assert "allow one more to be cut than ordered" in words
    assert "laid open" not in words

    maker_client.post(fill, {f"q-{box}": "1", f"x-{box}": "1"})
    assert maker_client.post(address).status_code == 302
    lays = [lay.planned for lay in stored_lays(batch.lays.with_everything())]
    assert {lay.fabric: sum(lay.cut_from(key).total() for key in lay.cloths) for lay in lays} == {
        "jersey": 2,
        "rib": 2,
    }
