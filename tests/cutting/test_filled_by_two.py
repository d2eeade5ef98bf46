"""Orders in a batch that gathers them, while others fill it too or send these orders: nothing is taken out unsaid."""

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
from tests.cutting.once import make_planned_batch
from tests.factories import NOON, TODAY
from tests.sewing.makers import make_plain_order

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


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


def more(order: Order) -> str:
    """The box for how many more may be cut."""
    return f"x-{box_of(order)}"


# ---- two people fill one batch ----


@pytest.fixture
def batch() -> Batch:
    """One garment of O-1 is gathered; two more are left of it, and three of O-2."""
    one, _ = make_plain_order(3, TODAY, "O-1"), make_plain_order(3, TODAY, "O-2")
    batch = gathering.create_batch(None, TODAY)
    assert not gathering.fill_batch(batch, {box_of(one): 1}).problems
    return batch


def orders() -> tuple[Order, Order]:
    one, other = Order.objects.order_by("number")
    return one, other


@pytest.mark.parametrize(("headers", "button"), [({}, "plan"), (HTMX, "save")])
def test_who_saves_second_is_told_what_came_between_and_keeps_what_was_typed(
    batch: Batch, maker_client: Client, headers: dict[str, str], button: str
) -> None:
    one, other = orders()
    first, second = (fields(maker_client.get(fill_address(batch))) for _ in range(2))
    saved = maker_client.post(fill_address(batch), {**first, box(one): "", box(other): "3"})
    assert saved.status_code == 302
    answer = maker_client.post(fill_address(batch), {**second, more(one): "2", button: "1"}, headers=headers)
    assert answer.status_code == 409
    assert f"{batch.number} was changed meanwhile" in text(answer)
    assert (
        "Since this page was opened, 3 garments of O-2 were put in and 1 garment of O-1 was taken out. Nothing of "
        "yours is saved yet"
    ) in text(answer)
    assert holds(batch) == {"O-2": 3}
    # What was typed stands there, and what was left alone shows what is saved: sent again, both are meant.
    form = fields(answer)
    assert (form[box(one)], form[more(one)], form[box(other)]) == ("", "2", "3")
    assert maker_client.post(fill_address(batch), {**form, box(one): "2"}, headers=headers).status_code == 302
    assert holds(batch) == {"O-1": 2, "O-2": 3}
    assert batch.items.get(line__order=one).extra_allowed == 2


def test_one_box_that_both_filled_keeps_what_was_typed(batch: Batch, maker_client: Client) -> None:
    one, _ = orders()
    form = fields(maker_client.get(fill_address(batch)))
    assert maker_client.post(fill_address(batch), {**form, box(one): "3", more(one): "1"}).status_code == 302
    answer = maker_client.post(fill_address(batch), {**form, box(one): "2"})
    assert answer.status_code == 409
    assert "2 garments of O-1 were put in and how many more of O-1 may be cut was changed." in text(answer)
    assert (fields(answer)[box(one)], fields(answer)[more(one)]) == ("2", "1")
    assert holds(batch) == {"O-1": 3}
    again = fields(answer)
    assert maker_client.post(fill_address(batch), {**form, box(one): "3", more(one): "4"}).status_code == 409
    assert maker_client.post(fill_address(batch), {**again, more(one): "2"}).status_code == 302
    answer = maker_client.post(fill_address(batch), again)
    assert "1 garment of O-1 was taken out and how many more of O-1 may be cut was changed." in text(answer)
    assert holds(batch) == {"O-1": 2}


def test_a_box_that_is_wrong_does_not_make_a_page_newer_than_it_is(
    batch: Batch, maker_client: Client
) -> None:
    one, other = orders()
    form = fields(maker_client.get(fill_address(batch)))
    assert maker_client.post(fill_address(batch), {**form, box(other): "3"}).status_code == 302
    wrong = maker_client.post(fill_address(batch), {**form, box(one): "two"})
    assert wrong.status_code == 422
    answer = maker_client.post(fill_address(batch), {**fields(wrong), box(one): "2"})
    assert answer.status_code == 409
    assert holds(batch) == {"O-1": 1, "O-2": 3}


def test_a_mark_that_is_none_is_of_another_batch(batch: Batch, maker_client: Client) -> None:
    form = fields(maker_client.get(fill_address(batch)))
    for seen in ("no mark", "1.2.3", "1.2.3.-4", "9" * 40, ""):
        answer = maker_client.post(fill_address(batch), {**form, "seen": seen})
        assert answer.status_code == 409, seen
        assert "Since this page was opened, 1 garment of O-1 was put in." in text(answer), seen


def test_what_is_typed_of_a_line_that_is_no_more_is_told(batch: Batch, maker_client: Client) -> None:
    one, other = orders()
    form = fields(maker_client.get(fill_address(batch))) | {box(one): "2", box(other): "3"}
    other.lines.all().delete()
    answer = maker_client.post(fill_address(batch), form)
    assert answer.status_code == 422
    assert "Something you typed is left out: its order line is no more." in text(answer)
    assert "Nothing was changed: 0 boxes" not in text(answer)
    assert maker_client.post(fill_address(batch), fields(answer)).status_code == 302
    assert holds(batch) == {"O-1": 2}


# ---- an order is sent whose garments a batch gathers again ----


@pytest.fixture
def sent(maker: User) -> Order:
    """Three garments of O-1, which was sent while they were planned; two of O-2 beside them. The plan is taken back."""
    sent, other = make_plain_order(3, TODAY, "O-1"), make_plain_order(2, TODAY, "O-2")
    batch = make_planned_batch(sent, other)
    assert dispatch_order(sent, maker, TODAY).outcome == "saved"
    assert planning.take_plan_back(batch, None, NOON)
    return sent


def test_every_line_that_a_batch_holds_is_shown_and_saving_keeps_it_or_less_and_no_more(
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
    form = fields(maker_client.get(fill_address(batch)))
    LineQuantity.objects.filter(pk=box_of(sent)).update(quantity=9)
    answer = maker_client.post(fill_address(batch), {**form, box(sent): "4"})
    assert answer.status_code == 422
    assert "no more: the order is dispatched" in text(answer)
    assert fields(answer)[box(sent)] == "4"
    assert maker_client.post(fill_address(batch), {**form, box(sent): "1"}).status_code == 302
    assert holds(batch) == {"O-1": 1, "O-2": 2}
    form = fields(maker_client.get(fill_address(batch)))
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
    assert "no more: the order is dispatched" in text(answer)
    assert fields(answer)[box(order)] == "2"
    assert not batch.items.exists()
