"""The first page: what there is to do, each a sentence with a link."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from planner.cutting.actions.gathering import create_batch
from planner.cutting.models import Batch, CutPlan, Lay, LayCloth, LayRoll, Marker
from planner.web.today import SHOWN, Today, what_to_do
from tests.factories import TODAY, make_fabric_colour, make_order, make_style, stock
from tests.sewing.makers import (
    check,
    cut_all,
    finish_bundles,
    make_plain_order,
    make_planned_batch,
    sew,
    sew_on,
)

pytestmark = pytest.mark.django_db


def _texts(today: Today, heap: str) -> list[str]:
    return [line.text for found in today.heaps if found.name == heap for line in found.lines]


def test_an_empty_workroom_teaches_the_first_steps(helper_client: Client) -> None:
    html = helper_client.get(reverse("today")).content.decode()
    assert "Let us set up your workroom." in html
    for room in ("fabric-list", "style-list", "order-list", "batch-list"):
        assert f'<a href="{reverse(room)}">' in html


def test_steps_that_are_taken_are_marked() -> None:
    make_style()
    steps = what_to_do(TODAY).steps
    assert [step.done for step in steps] == [True, True, False, False]


def test_an_order_in_no_batch_is_to_be_planned() -> None:
    make_plain_order(4, TODAY, "O-1")
    today = what_to_do(TODAY)
    assert today.headline == "1 thing to do today; nothing is late."
    assert _texts(today, "Plan") == ["4 ordered garments are in no batch yet: make one."]
    assert not today.steps


def test_a_batch_that_gathers_is_to_be_planned() -> None:
    create_batch(None, TODAY)
    assert _texts(what_to_do(TODAY), "Plan") == ["B-0001 gathers orders: plan it."]


def test_what_a_planned_batch_needs_is_to_be_bought_and_cut() -> None:
    order = make_plain_order(2, TODAY + timedelta(days=7), "O-1")
    batch = make_planned_batch(order)
    today = what_to_do(TODAY)
    buy = _texts(today, "Buy")
    need = batch.needs.get(fabric_colour__fabric__name="jersey").need
    cloth = next(text for text in buy if "jersey, ink" in text)
    bought = float(re.search(r"Buy ([\d.]+)", cloth)[1])
    assert float(need) <= bought < float(need) + 0.1, "sold by the tenth of a metre"
    assert cloth.endswith("jersey, ink for B-0001, due Mon 19 May.")
    assert "Buy 1 × 25 m roll clear elastic 6 mm for B-0001, due Mon 19 May." in buy
    lays = batch.lays.count()
    assert _texts(today, "Cut") == [f"Cut {lays} lays of B-0001, due Mon 19 May."]
    assert [h.lines[0].url for h in today.heaps] == [
        reverse("buy-page"),
        reverse("batch-detail", args=[batch.number]),
    ]


def test_cloth_on_the_shelf_is_not_to_be_bought() -> None:
    make_planned_batch()
    stock(make_fabric_colour(), 100)
    assert not [text for text in _texts(what_to_do(TODAY), "Buy") if "jersey" in text]


def test_lays_that_nest_or_failed_are_said_apart() -> None:
    batch = make_planned_batch()
    first, second = Lay.objects.filter(batch=batch)
    Marker.objects.filter(lays=first).update(state=Marker.State.NESTING)
    Marker.objects.filter(lays=second).update(state=Marker.State.FAILED)
    assert _texts(what_to_do(TODAY), "Cut") == [
        f"1 lay of {batch} is still being nested.",
        f"1 lay of {batch} could not be nested: look why.",
    ]


def test_lays_of_a_plan_that_does_not_stand_yet_are_not_to_be_cut() -> None:
    """They may still become other lays, and have no rolls yet."""
    batch = make_planned_batch()
    batch.cut_plans.filter(fabric__name="rib").update(state=CutPlan.State.NESTING)
    assert _texts(what_to_do(TODAY), "Cut") == [
        f"2 lays of {batch} are still being planned: wait with cutting."
    ]
    Marker.objects.filter(lays=batch.lays.first()).update(state=Marker.State.FAILED)
    assert _texts(what_to_do(TODAY), "Cut") == [
        f"1 lay of {batch} is still being planned: wait with cutting.",
        f"1 lay of {batch} could not be nested: look why.",
    ]


def test_once_something_is_cut_the_other_lays_are_to_be_cut_whatever_the_plan_says() -> None:
    batch = make_planned_batch()
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    Lay.objects.filter(pk=batch.lays.first().pk).update(cut_at=timezone.now())
    Batch.objects.update(state=Batch.State.CUTTING)
    (line,) = _texts(what_to_do(TODAY), "Cut")
    assert line.startswith(f"Cut 1 lay of {batch}")


def test_lays_that_wait_for_cloth_are_told_apart_from_those_that_can_be_cut() -> None:
    batch = make_planned_batch(make_plain_order(2, TODAY + timedelta(days=7), "O-1"))
    first, second = LayCloth.objects.filter(lay__batch=batch)
    LayRoll.objects.create(lay_cloth=first, roll=None, spreads=first.spreads)
    assert _texts(what_to_do(TODAY), "Cut") == [
        f"Cut 1 lay of {batch}, due Mon 19 May.",
        f"1 lay of {batch} waits for cloth.",
    ]
    LayRoll.objects.create(lay_cloth=second, roll=None, spreads=second.spreads)
    assert _texts(what_to_do(TODAY), "Cut") == [f"2 lays of {batch} wait for cloth."]


def test_a_lay_nested_for_longer_can_be_cut_as_it_is() -> None:
    batch = make_planned_batch(make_plain_order(2, TODAY + timedelta(days=7), "O-1"))
    Marker.objects.filter(lays__batch=batch).update(state=Marker.State.NESTING, seed=Marker.POLISH_SEED)
    assert _texts(what_to_do(TODAY), "Cut") == [f"Cut 2 lays of {batch}, due Mon 19 May."]


def test_bundles_wait_by_machine_and_a_checked_batch_is_to_be_finished() -> None:
    batch = make_planned_batch(cut=True)
    assert _texts(what_to_do(TODAY), "Sew") == ["2 bundles wait at the overlock."]
    first, second = batch.bundles.all()
    sew(first)
    sew(second, 3)
    today = what_to_do(TODAY)
    assert _texts(today, "Sew") == ["1 bundle waits at the coverstitch.", "1 bundle waits to be checked."]
    sewing = next(heap for heap in today.heaps if heap.name == "Sew")
    assert sewing.lines[1].url == f"{reverse('sewing-board')}?machine=the+check"
    check(first)
    sew_on(second)
    check(second)
    assert _texts(what_to_do(TODAY), "Sew") == [f"{batch} is sewn and checked: finish it."]


def test_late_orders_come_first() -> None:
    order = make_plain_order(2, TODAY - timedelta(days=3), "O-1")
    make_order([], number="O-2", due_on=TODAY - timedelta(days=1), stock_make=True)
    make_order([], number="O-3", due_on=TODAY - timedelta(days=1), state="dispatched")
    today = what_to_do(TODAY)
    assert today.headline == "1 thing to do today; 2 orders are late."
    assert today.heaps[0].is_late
    assert _texts(today, "Late") == [
        "O-1 for Tidewater Stores is 3 days late: it was due Fri 9 May.",
        "O-2 for stock is 1 day late: it was due Sun 11 May.",
    ]
    assert today.heaps[0].lines[0].url == reverse("order-detail", args=[order.number])


def test_long_heaps_are_cut_short_and_counted_whole() -> None:
    for n in range(SHOWN + 1):
        make_order([], number=f"O-{n}", due_on=TODAY - timedelta(days=1))
    one_more = what_to_do(TODAY).heaps[0].more
    assert one_more is not None
    assert one_more.text == "and 1 more late order"
    for n in range(SHOWN + 1, SHOWN + 3):
        make_order([], number=f"O-{n}", due_on=TODAY - timedelta(days=1))
    late = what_to_do(TODAY).heaps[0]
    assert (len(late.lines), late.total, late.more.text) == (SHOWN, SHOWN + 3, "and 3 more late orders")


def test_nothing_to_do(helper_client: Client) -> None:
    batch = make_planned_batch(cut=True)
    finish_bundles(batch)
    batch.needs.all().delete()
    batch.state = "done"
    batch.save()
    today = what_to_do(TODAY)
    assert (today.headline, today.heaps, today.steps) == ("Nothing to do today; nothing is late.", (), ())
    html = helper_client.get(reverse("today")).content.decode()
    assert "Everything ordered is made." in html


def test_the_page_stays_within_its_queries(
    helper_client: Client, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    now = timezone.localdate()
    for n in range(3):
        make_plain_order(3, now - timedelta(days=1), f"O-{n}")
        make_planned_batch(make_plain_order(2, now, f"O-1{n}"), cut=n > 0)
    cut_all(create_batch(None, now))
    create_batch(None, now)
    with django_assert_max_num_queries(15):
        html = helper_client.get(reverse("today")).content.decode()
    headings = re.findall(r'<h2 id="heap-\d">(\w+)</h2>', html)
    assert headings == ["Late", "Buy", "Cut", "Sew", "Plan"]
