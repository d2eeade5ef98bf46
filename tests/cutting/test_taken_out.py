"""Garments of an order taken out of a batch that is being cut: what is not begun goes, everything else stays."""

from __future__ import annotations

from collections import Counter

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.cutting.actions import arrived, table, taking_out
from planner.cutting.actions.booking import Told
from planner.cutting.models import Batch, Lay
from planner.cutting.portions import spread_m
from planner.materials.models import Workroom
from planner.orders.actions import cancel_order
from planner.orders.models import Order
from tests.cutting import once
from tests.factories import NOON, make_order
from tests.sewing.makers import nest_all, the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}


def batch_of(*wanted: tuple[str, dict[str, int]], **room: int) -> Batch:
    """A settled batch of an order for each colour with sizes; one ply a lay, so that lays are many."""
    Workroom.the()
    Workroom.objects.update(**{"most_plies": 1, "table_length_mm": 1500, **room})
    orders = [make_order([(the_style(), RIB, colour, sizes)]) for colour, sizes in wanted]
    return once.make_planned_batch(*orders)


def lays_of(batch: Batch, fabric: str, colour: str) -> list[Lay]:
    of_colour = {"cloths__fabric_colour__fabric__name": fabric, "cloths__fabric_colour__name": colour}
    return list(batch.lays.filter(**of_colour).order_by("number"))


def cut(lay: Lay) -> Batch:
    told = [Told(cloth.pk, cloth.spreads, spread_m(lay)) for cloth in lay.cloths.all()]
    assert not table.tell_lay(lay, told, None, NOON).problem
    return Batch.objects.get(pk=lay.batch_id)


def assert_adds_up(batch: Batch) -> None:
    """Lays of each fabric, bundles and items hold just as many of each garment."""
    items: Counter[tuple[str, str]] = Counter()
    for item in batch.items.all():
        items[item.line.colourway.name, item.size.name] += item.quantity + item.extra
    for fabric in ("jersey", "rib"):
        found: Counter[tuple[str, str]] = Counter()
        for lay in batch.lays.filter(cloths__fabric_colour__fabric__name=fabric).distinct():
            for cloth in lay.cloths.all():
                for held in cloth.garments.all():
                    found[held.colourway.name, held.size.name] += cloth.spreads * held.per_marker
        assert found == items, fabric
    bundles: Counter[tuple[str, str]] = Counter()
    for one in batch.bundles.all():
        bundles[one.colourway.name, one.size.name] += one.quantity
        assert one.lay.batch_id == batch.pk
        fabrics = {lay.cloths.all()[0].fabric_colour.fabric.name for lay in one.lays.all()}
        assert fabrics == {"jersey", "rib"}
    assert bundles == items


def garments_to_take_out(batch: Batch) -> dict[int, int]:
    """How many garments of each order (pk) may be taken out."""
    return {
        order: sum(count for _, count in rows) for order, rows in taking_out.items_to_take_out(batch).items()
    }


def test_an_order_of_which_nothing_is_begun_is_taken_out_and_can_be_cancelled(maker: User) -> None:
    batch = batch_of(("ink", {"M": 3}), ("moss", {"L": 3}))
    batch = cut(lays_of(batch, "jersey", "ink")[0])
    moss = Order.objects.order_by("pk")[1]
    kept = dict(batch.bundles.filter(colourway__name="ink").values_list("number", "token"))
    assert garments_to_take_out(batch)[moss.pk] == 3
    refused = cancel_order(moss, maker)
    assert [one.text for one in refused.problems] == [
        f"{moss.number} cannot be cancelled: 3 of its garments are in batch {batch.number}. What is not begun can be"
        f" taken out on the page of batch {batch.number}. What is cut in batch {batch.number} can go into stock: leave"
        " the customer of the order empty."
    ]
    done = taking_out.take_out(batch, moss, None, NOON)
    assert (done.problem, done.garments, done.lays) == ("", 3, ())
    assert_adds_up(batch)
    assert dict(batch.bundles.values_list("number", "token")) == kept
    assert not batch.needs.filter(fabric_colour__name="moss", need__gt=0).exists()
    assert cancel_order(moss, maker).outcome == "saved"
    assert Batch.objects.get(pk=batch.pk).state == Batch.State.CUTTING
    assert taking_out.take_out(batch, moss, None, NOON).problem == taking_out.NOTHING_LEFT


def test_once_all_that_stays_is_cut_the_batch_goes_on_to_the_machines() -> None:
    """Of what is kept, though nothing of it is begun, nothing can be taken out before."""
    batch = batch_of(("ink", {"M": 3}), ("moss", {"L": 3}))
    for fabric in ("jersey", "rib"):
        for lay in lays_of(batch, fabric, "ink"):
            batch = cut(lay)
    moss = Order.objects.order_by("pk")[1]
    batch.lays.update(is_kept=True)
    assert garments_to_take_out(batch)[moss.pk] == 0
    assert taking_out.take_out(batch, moss, None, NOON).problem == taking_out.NOTHING_LEFT
    batch.lays.update(is_kept=False)
    assert not taking_out.take_out(batch, moss, None, NOON).problem
    assert Batch.objects.get(pk=batch.pk).state == Batch.State.SEWING


def test_of_an_order_cut_in_part_the_others_go_and_lays_they_share_are_planned_anew() -> None:
    batch = batch_of(("ink", {"M": 3}), ("moss", {"L": 3}))
    begun, open_one = lays_of(batch, "jersey", "ink")
    (rib,) = lays_of(batch, "rib", "ink")
    batch = cut(begun)
    ink = Order.objects.order_by("pk").first()
    left = open_one.cloths.get().garments.get().per_marker
    stays = begun.cloths.get().garments.get().per_marker
    assert (stays, left) == (2, 1)
    assert garments_to_take_out(batch)[ink.pk] == left
    last = max(batch.lays.values_list("number", flat=True))
    done = taking_out.take_out(batch, ink, None, NOON)
    assert (done.problem, done.garments) == ("", left)
    assert sorted(done.gone) == sorted((open_one.number, rib.number))
    assert done.lays == (last + 1,)
    assert_adds_up(batch)
    assert batch.items.get(line__order=ink).quantity == stays
    nest_all(batch)
    arrived.cloth_came_in(batch.pk)
    assert not batch.lays.filter(number=last + 1, cloths__rolls=None).exists()


@pytest.mark.parametrize("bundle_size", [0, 3])
def test_orders_of_the_same_garment_share_lays_and_bundles(bundle_size: int) -> None:
    """With bundles of so many a bundle is of both orders; without, each has its own."""
    batch = batch_of(("ink", {"M": 3, "L": 2}), ("ink", {"M": 3}), bundle_size=bundle_size)
    first = lays_of(batch, "jersey", "ink")[0]
    batch = cut(first)
    one, other = Order.objects.order_by("pk")
    free = garments_to_take_out(batch)
    assert 0 < free[other.pk] <= 3
    before = sum(batch.items.values_list("quantity", flat=True))
    done = taking_out.take_out(batch, other, None, NOON)
    assert (done.problem, done.garments) == ("", free[other.pk])
    assert_adds_up(batch)
    assert sum(batch.items.values_list("quantity", flat=True)) == before - done.garments
    assert sum(batch.items.filter(line__order=one).values_list("quantity", flat=True)) == 5
    assert Lay.objects.filter(pk=first.pk).exists()


def test_however_many_orders_share_a_batch_it_asks_no_more(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    batch = batch_of(("ink", {"M": 3}), ("moss", {"L": 3}))
    with CaptureQueriesContext(connection) as asked:
        assert len(garments_to_take_out(batch)) == 2
    item = batch.items.get(line__colourway__name="moss")
    batch.items.filter(pk=item.pk).update(quantity=1)
    for _ in range(2):
        line = make_order([(the_style(), RIB, "moss", {"L": 1})]).lines.get()
        batch.items.create(line=line, size=item.size, quantity=1)
    with django_assert_num_queries(len(asked)):
        assert len(garments_to_take_out(batch)) == 4


def test_the_page_offers_each_order_and_takes_it_out(maker_client: Client, helper_client: Client) -> None:
    batch = batch_of(("ink", {"M": 3}), ("moss", {"L": 3}))
    address, page = (reverse(name, args=[batch.number]) for name in ("batch-take-out", "batch-detail"))
    assert address not in maker_client.get(page).content.decode()
    assert maker_client.get(address).status_code == 302
    batch = cut(lays_of(batch, "jersey", "ink")[0])
    assert address in maker_client.get(page).content.decode()
    assert address not in helper_client.get(page).content.decode()
    assert helper_client.get(address).status_code == 403
    # Who wants to change its orders is shown the way.
    answer = maker_client.get(reverse("batch-fill", args=[batch.number]), follow=True).content.decode()
    assert "What is not begun can be taken out." in answer
    assert "Take 3 garments out" in answer
    moss = Order.objects.order_by("pk")[1]
    said = maker_client.post(address, {"order": moss.number}, follow=True).content.decode()
    assert f"3 garments of {moss.number} are taken out of the batch" in said
    assert maker_client.post(address, {"order": "no such"}).status_code == 404
    again = maker_client.post(address, {"order": moss.number}, follow=True).content.decode()
    assert taking_out.NOTHING_LEFT in again
