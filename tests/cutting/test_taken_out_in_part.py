"""Some garments of an order taken out of a batch that is being cut: so many of a size, the others stay."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import taking_out
from planner.cutting.actions.notions_out import take_notions_out
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.models import Batch, BatchItem, BatchNeed
from planner.materials.models import NotionColour, StockMove
from planner.orders.models import Order
from tests.cutting.once import once
from tests.cutting.test_actions import notions_on_hand
from tests.cutting.test_taken_out import assert_adds_up, batch_of, cut, garments_to_take_out, lays_of
from tests.factories import NOON

pytestmark = pytest.mark.django_db


@once
def ink_begun() -> Batch:
    """Ink is begun; of moss nothing is, four L and two M."""
    batch = batch_of(("ink", {"M": 3}), ("moss", {"M": 2, "L": 4}))
    return cut(lays_of(batch, "jersey", "ink")[0])


@pytest.fixture
def batch() -> Batch:
    return ink_begun()


def moss() -> Order:
    return Order.objects.order_by("pk")[1]


def item(batch: Batch, size: str) -> BatchItem:
    return batch.items.get(line__order=moss(), size__name=size)


def of_moss(batch: Batch) -> dict[str, int]:
    rows = batch.items.filter(line__order=moss())
    return dict(rows.values_list("size__name", "quantity"))


def test_so_many_of_a_size_go_and_the_others_are_cut_all_the_same(batch: Batch, maker_client: Client) -> None:
    kept = dict(batch.bundles.filter(colourway__name="ink").values_list("number", "token"))
    done = taking_out.take_out(batch, moss(), None, NOON, {item(batch, "L").pk: 3})
    assert (done.problem, done.garments) == ("", 3)
    assert (done.notions, notions_on_hand()) == (0, {}), "of notions never taken out nothing is put back"
    assert of_moss(batch) == {"M": 2, "L": 1}
    assert_adds_up(batch)
    assert dict(batch.bundles.filter(colourway__name="ink").values_list("number", "token")) == kept
    # What is left of it can still be taken out, all of it or a part.
    assert garments_to_take_out(batch)[moss().pk] == 3
    part = {item(batch, "L").pk: 1, item(batch, "M").pk: 1}
    assert taking_out.take_out(batch, moss(), None, NOON, part).garments == 2
    assert of_moss(batch) == {"M": 1}
    assert_adds_up(batch)
    # A single garment has no boxes.
    page = maker_client.get(reverse("batch-take-out", args=[batch.number])).content.decode()
    assert "Take 1 garment out" in page
    assert "moss · rib band, <strong>M</strong>" in page
    assert f"n-{item(batch, 'M').pk}" not in page


def test_more_than_is_not_begun_is_refused_and_what_is_told_meanwhile_stays(
    batch: Batch, beside: pytest.MonkeyPatch
) -> None:
    before = list(batch.items.values_list())
    large = item(batch, "L").pk
    assert taking_out.take_out(batch, moss(), None, NOON, {large: 5}).problem == taking_out.NOT_SO_MANY
    ink = batch.items.get(line__order=Order.objects.order_by("pk")[0])
    # Of another order's item nothing goes with this one.
    assert taking_out.take_out(batch, moss(), None, NOON, {ink.pk: 1}).problem == taking_out.NOTHING_LEFT
    assert taking_out.take_out(batch, moss(), None, NOON, {ink.pk: 1, large: 1}).problem
    real = taking_out.lock

    def lock(one: Batch) -> Batch:
        for lay in lays_of(batch, "jersey", "moss"):
            cut(lay)
        return real(one)

    beside.setattr(taking_out, "lock", lock)
    done = taking_out.take_out(batch, moss(), None, NOON, {large: 1})
    assert "told or changed meanwhile" in done.problem
    assert list(batch.items.values_list()) == before


def test_where_more_is_cut_than_ordered_it_is_the_ordered_ones_that_go(batch: Batch) -> None:
    """Of four L one was cut beyond the order: she takes two of the three ordered out, and one more is still made."""
    BatchItem.objects.filter(pk=item(batch, "L").pk).update(quantity=3, extra=1)
    assert not taking_out.take_out(batch, moss(), None, NOON, {item(batch, "L").pk: 2}).problem
    left = item(batch, "L")
    assert (left.quantity, left.extra) == (1, 1)
    assert_adds_up(batch)


def test_the_page_has_a_box_for_each_size_and_takes_these_out(batch: Batch, maker_client: Client) -> None:
    address = reverse("batch-take-out", args=[batch.number])
    large, medium = item(batch, "L"), item(batch, "M")
    page = maker_client.get(address).content.decode()
    assert f'name="n-{large.pk}" value=""' in page
    assert "4 not begun" in page
    for typed, says in (
        ("5", "only 4 garments of it are not begun"),
        ("two", "type a whole number up to 9999"),
        ("-1", "type a whole number up to 9999"),
    ):
        data = {"order": moss().number, "some": "1", f"n-{large.pk}": typed, f"n-{medium.pk}": "1"}
        answer = maker_client.post(address, data)
        page = answer.content.decode()
        assert (answer.status_code, says in page) == (422, True), typed
        assert f'name="n-{large.pk}" value="{typed}"' in page
        assert f'name="n-{medium.pk}" value="1"' in page
        assert '<details class="fill-more" open>' in page
    # Empty boxes never mean all of it: that is the other button.
    for typed in ("", "0"):
        answer = maker_client.post(address, {"order": moss().number, "some": "1", f"n-{large.pk}": typed})
        assert answer.status_code == 422
        assert "type how many of a size are taken out" in answer.content.decode()
    assert of_moss(batch) == {"M": 2, "L": 4}
    take_notions_out(batch, None, NOON)
    right = {"order": moss().number, "some": "1", f"n-{large.pk}": "2", f"n-{medium.pk}": ""}
    said = maker_client.post(address, right, follow=True).content.decode()
    assert f"2 garments of {moss().number} are taken out of the batch" in said
    assert of_moss(batch) == {"M": 2, "L": 2}
    assert "Put their notions back on the shelf: what was taken out of" in said
    move = StockMove.objects.filter(reason=StockMove.Reason.COUNTED).earliest("pk")
    assert move.note == f"garments were taken out of {batch.number}"
    assert move.person is not None


def notions_needed(batch: Batch) -> dict[int, Decimal]:
    rows = batch.needs.filter(notion_colour__isnull=False)
    return dict(rows.values_list("notion_colour", "need"))


def assert_out_is_what_is_needed(batch: Batch) -> None:
    """What has left the stock is what the batch needs now, in the rows of its needs and by the moves."""
    needed = notions_needed(batch)
    assert all(need.taken == need.need for need in batch.needs.filter(notion_colour__isnull=False))
    for colour, on_hand in notions_on_hand().items():
        assert on_hand == -round(needed.get(colour, Decimal(0)), 2), colour


def test_notions_of_garments_taken_out_are_in_the_stock_again(batch: Batch) -> None:
    """First of a part of them, then of all: of the thread that only they are sewn with nothing is out any more."""
    kinds = take_notions_out(batch, None, NOON)
    before = notions_needed(batch)
    done = taking_out.take_out(batch, moss(), None, NOON, {item(batch, "L").pk: 3})
    less = [colour for colour, need in notions_needed(batch).items() if need < before[colour]]
    assert (done.problem, done.notions) == ("", len(less))
    assert len(less) > 0
    assert_out_is_what_is_needed(batch)
    taking_out.take_out(batch, moss(), None, NOON)
    assert len(notions_needed(batch)) < kinds
    assert_out_is_what_is_needed(batch)
    assert take_notions_out(batch, None, NOON) == 0


def test_what_was_taken_of_a_notion_stays_known_though_it_is_needed_no_longer(
    batch: Batch, maker_client: Client
) -> None:
    """So that the page says to put it back, and that it is with the others where the plan is dropped."""
    label = NotionColour.objects.latest("pk")
    other = NotionColour.objects.create(notion=label.notion, name="another")
    BatchNeed.objects.create(batch=batch, notion_colour=other, need=5, taken=5, is_estimate=False)
    refresh_needs(batch)
    refresh_needs(batch)
    row = batch.needs.get(notion_colour=other)
    assert (row.need, row.taken) == (0, 5)
    page, address = (reverse(name, args=[batch.number]) for name in ("batch-detail", "batch-notions"))
    shown = maker_client.get(page).content.decode()
    assert 'id="surplus"' in shown
    assert f"5.0\u2009m of {other} too much" in shown
    assert "is in the stock again" in maker_client.post(address, {"back": "1"}, follow=True).content.decode()
    assert notions_on_hand() == {other.pk: 5}
    assert StockMove.objects.get(notion_colour=other).note == f"{batch.number} needs less of it by now"
    after = maker_client.post(address, {"back": "1"}, follow=True).content.decode()
    assert 'id="surplus"' not in after
    assert notions_on_hand() == {other.pk: 5}
