"""Orders in a batch that gathers them, while others send these orders: nothing is taken out unsaid."""

from __future__ import annotations

import re

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import gathering, planning
from planner.cutting.models import Batch
from planner.orders.actions import dispatch_order, reopen_order
from planner.orders.models import LineQuantity, Order
from tests.factories import NOON, TODAY
from tests.sewing.makers import make_plain_order, make_planned_batch

pytestmark = pytest.mark.django_db


def text(answer: object) -> str:
    """What somebody reads of a page."""
    page = answer.content.decode()  # type: ignore[attr-defined]
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def fields(answer: object) -> dict[str, str]:
    """What the browser sends of the form as it stands."""
    page = answer.content.decode()  # type: ignore[attr-defined]
    found = (re.search(r'name="([^"]+)" value="([^"]*)"', one) for one in re.findall(r"<input[^>]*>", page))
    return {one[1]: one[2] for one in found if one and one[1] != "csrfmiddlewaretoken"}


def holds(batch: Batch) -> dict[str, int]:
    """Garments by order."""
    return dict(batch.items.order_by("line").values_list("line__order__number", "quantity"))


def fill_address(batch: Batch) -> str:
    return reverse("batch-fill", args=[batch.number])


def box_of(order: Order) -> int:
    return LineQuantity.objects.get(line__order=order).pk


def box(order: Order) -> str:
    return f"q-{box_of(order)}"


# ---- an order is sent whose garments a batch gathers again ----


@pytest.fixture
def sent(maker: User) -> Order:
    """Three garments of O-1, which was sent while they were planned; two of O-2 beside them. The plan is taken back."""
    sent, other = make_plain_order(3, TODAY, "O-1"), make_plain_order(2, TODAY, "O-2")
    batch = make_planned_batch(sent, other)
    assert dispatch_order(sent, maker, TODAY).outcome == "saved"
    assert planning.take_plan_back(batch)
    return sent


def test_every_line_that_a_batch_holds_is_shown_and_saving_keeps_it(
    sent: Order, maker_client: Client
) -> None:
    batch = Batch.objects.get()
    answer = maker_client.get(fill_address(batch))
    assert f"{sent.number} is dispatched, so nothing can be planned while some of it is in here." in text(
        answer
    )
    assert "3 in it" in text(answer)
    form = fields(answer)
    assert form[box(sent)] == "3"
    assert maker_client.post(fill_address(batch), form).status_code == 302
    assert holds(batch) == {"O-1": 3, "O-2": 2}


def test_of_an_order_that_is_sent_less_is_kept_and_no_more(sent: Order, maker_client: Client) -> None:
    batch = Batch.objects.get()
    form = fields(maker_client.get(fill_address(batch)))
    LineQuantity.objects.filter(pk=box_of(sent)).update(quantity=9)
    answer = maker_client.post(fill_address(batch), {**form, box(sent): "4"})
    assert answer.status_code == 422
    assert "its order is dispatched: no more of it is batched" in text(answer)
    assert fields(answer)[box(sent)] == "4"
    assert maker_client.post(fill_address(batch), {**form, box(sent): "1"}).status_code == 302
    assert holds(batch) == {"O-1": 1, "O-2": 2}
    assert maker_client.post(fill_address(batch), {**form, box(sent): ""}).status_code == 302
    assert holds(batch) == {"O-2": 2}


def test_garments_of_an_order_that_is_sent_are_not_planned(
    sent: Order, maker: User, maker_client: Client
) -> None:
    batch = Batch.objects.get()
    for address, form in (
        (reverse("batch-plan", args=[batch.number]), {}),
        (fill_address(batch), {**fields(maker_client.get(fill_address(batch))), "plan": "1"}),
    ):
        answer = maker_client.post(address, form)
        assert answer.status_code == 422
        assert (
            "O-1 is dispatched, and 3 of its garments are in this batch. Take them out first, or reopen the order."
            in text(answer)
        )
    batch.refresh_from_db()
    assert (batch.state, batch.lays.count()) == (Batch.State.GATHERING, 0)
    reopen_order(sent, maker)
    assert not planning.plan_batch(batch, NOON).problems


def test_what_is_typed_of_an_order_sent_meanwhile_is_kept_and_said_at_its_box(
    maker: User, maker_client: Client
) -> None:
    order, batch = make_plain_order(3, TODAY, "O-1"), gathering.create_batch(None, TODAY)
    form = fields(maker_client.get(fill_address(batch))) | {box(order): "2"}
    assert dispatch_order(order, maker, TODAY).outcome == "saved"
    answer = maker_client.post(fill_address(batch), form)
    assert answer.status_code == 422
    assert "its order is dispatched: no more of it is batched" in text(answer)
    assert fields(answer)[box(order)] == "2"
    assert not batch.items.exists()
