"""How far orders are, garments of several orders in one bundle among them."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from pytest_django import DjangoAssertNumQueries

from planner.materials.models import Workroom
from planner.orders.models import Order
from planner.sewing.orders import OrderProgress, order_progress
from tests.factories import TODAY, make_order
from tests.sewing.makers import check, cut_all, make_plain_order, make_planned_batch, sew, the_style

pytestmark = pytest.mark.django_db

LATER = TODAY + timedelta(days=30)


def _progress(order: Order, today: date = TODAY) -> OrderProgress:
    return order_progress(order, today, lead_days=5)


def _counts(order: Order) -> tuple[int, int, int, int]:
    found = _progress(order)
    return found.batched, found.cut, found.sewn, found.checked


def test_an_order_in_no_batch() -> None:
    order = make_plain_order(4, LATER, "O-1")
    assert _counts(order) == (0, 0, 0, 0)
    assert _progress(order).words == "Nothing of it is in a batch yet."


def test_an_order_alone_in_its_bundles_by_hand() -> None:
    """3 size M and 2 size L; 12 standard minutes a garment."""
    order = make_order([(the_style(), {"neck": "rib band"}, "ink", {"M": 3, "L": 2})], due_on=LATER)
    batch = make_planned_batch(order)
    assert _counts(order) == (5, 0, 0, 0)
    assert _progress(order).words == "0 of 5 garments are checked, 5 are still to be cut."
    cut_all(batch)
    assert _counts(order) == (5, 5, 0, 0)
    assert _progress(order).minutes_left == pytest.approx(60)
    medium, large = batch.bundles.all()
    sew(medium)
    check(medium)
    sew(large, 1)
    assert _counts(order) == (5, 5, 3, 3)
    assert _progress(order).minutes_left == pytest.approx(20)
    assert _progress(order).words == "3 of 5 garments are checked, 2 still to be sewn."
    assert not _progress(order).is_ready


def test_garments_of_a_shared_bundle_go_to_the_first_due() -> None:
    """4 + 3 garments of one kind in bundles of 4 and 3: the bundle of 4 fills the earlier order of 3 first."""
    later = make_plain_order(4, LATER + timedelta(days=9), "O-1")
    first = make_plain_order(3, LATER, "O-2")
    Workroom.the()
    Workroom.objects.update(table_length_mm=20_000)
    batch = make_planned_batch(later, first, bundle_size=5, cut=True)
    four, three = batch.bundles.order_by("-quantity")
    assert (four.quantity, three.quantity, four.line) == (4, 3, None)
    sew(four)
    assert _counts(first) == (3, 3, 3, 0)
    assert _counts(later) == (4, 4, 1, 0)
    check(four)
    assert _counts(first) == (3, 3, 3, 3)
    assert _counts(later) == (4, 4, 1, 1)
    assert _progress(first).is_ready
    assert _progress(first).minutes_left == 0
    assert _progress(later).minutes_left == pytest.approx(3 * 12)


def test_shared_garments_add_up_whatever_is_sewn() -> None:
    orders = [make_plain_order(n, LATER + timedelta(days=n), f"O-{n}") for n in (2, 3, 6)]
    batch = make_planned_batch(*orders, bundle_size=4, cut=True)
    for done, bundle in enumerate(batch.bundles.all(), 1):
        sew(bundle)
        total = sum(b.quantity for b in batch.bundles.all()[:done])
        assert sum(_progress(order).sewn for order in orders) == total


def test_bundles_by_order_line_count_for_their_line() -> None:
    first, second = make_plain_order(2, LATER, "O-1"), make_plain_order(3, LATER, "O-2")
    batch = make_planned_batch(first, second, bundle_size=0, cut=True)
    mine = batch.bundles.get(line__order=second)
    sew(mine)
    assert _counts(first) == (2, 2, 0, 0)
    assert _counts(second) == (3, 3, 3, 0)


def test_other_options_are_another_kind() -> None:
    style = the_style()
    rib = make_order([(style, {"neck": "rib band"}, "ink", {"M": 2})], due_on=LATER)
    band = make_order([(style, {"neck": "self band"}, "ink", {"M": 2})], due_on=LATER)
    batch = make_planned_batch(rib, band, cut=True)
    sew(batch.bundles.get(options__name="self band"))
    assert (_progress(rib).sewn, _progress(band).sewn) == (0, 2)


def test_late_when_its_day_has_passed_and_not_all_is_checked() -> None:
    order = make_plain_order(2, TODAY, "O-1")
    batch = make_planned_batch(order, cut=True)
    bundle = batch.bundles.get()
    assert not _progress(order).is_late, "its day is today"
    tomorrow = TODAY + timedelta(days=1)
    assert _progress(order, tomorrow).is_late
    assert _progress(order, tomorrow).due.off == "1 day late"
    sew(bundle)
    check(bundle)
    ready = _progress(order, tomorrow)
    assert not ready.is_late
    assert ready.words == "All 2 garments are checked: ready to be sent."


def test_a_warning_when_it_is_not_cut_in_time() -> None:
    order = make_plain_order(2, TODAY + timedelta(days=5), "O-1")
    batch = make_planned_batch(order)
    assert not _progress(order).warning, "5 days are just enough"
    assert "should have been cut by Mon 12 May" in _progress(order, TODAY + timedelta(days=1)).warning
    cut_all(batch)
    assert not _progress(order, TODAY + timedelta(days=1)).warning


def test_a_warning_when_the_sewing_does_not_fit() -> None:
    """50 garments at 12 minutes are 600 minutes: more than the 480 of one day, less than those of two."""
    order = make_plain_order(50, TODAY, "O-1")
    make_planned_batch(order, cut=True)
    assert "about 10 hours of sewing are left and 1 day" in _progress(order).warning
    assert not _progress(order, TODAY - timedelta(days=1)).warning


def test_a_cancelled_batch_holds_nothing_and_a_sent_order_is_never_late() -> None:
    order = make_plain_order(2, TODAY - timedelta(days=9), "O-1")
    batch = make_planned_batch(order)
    type(batch).objects.filter(pk=batch.pk).update(state="cancelled")
    assert _counts(order) == (0, 0, 0, 0)
    order.state = Order.State.DISPATCHED
    sent = _progress(order)
    assert (sent.is_late, sent.warning, sent.words) == (False, "", "This order is dispatched.")


@pytest.mark.parametrize(
    ("ordered", "cut", "sewn", "checked", "words"),
    [
        (1, 0, 0, 0, "0 of 1 garment is checked, 1 is still to be cut."),
        (1, 1, 0, 0, "0 of 1 garment is checked, 1 still to be sewn."),
        (1, 1, 1, 1, "Its garment is checked: ready to be sent."),
        (2, 1, 1, 1, "1 of 2 garments is checked, 1 is still to be cut."),
        (2, 2, 2, 2, "All 2 garments are checked: ready to be sent."),
        (3, 1, 1, 0, "0 of 3 garments are checked, 2 are still to be cut."),
        (3, 3, 3, 2, "2 of 3 garments are checked."),
    ],
)
def test_what_is_told_of_one_garment_and_of_several(
    ordered: int, cut: int, sewn: int, checked: int, words: str
) -> None:
    found = replace(_progress(make_order([], number="O-1", due_on=LATER)), ordered=ordered, batched=ordered)
    assert replace(found, cut=cut, sewn=sewn, checked=checked).words == words


@pytest.mark.parametrize(
    ("minutes", "words"), [(0.4, "1 minute"), (1, "1 minute"), (2, "2 minutes"), (59, "59 minutes")]
)
def test_one_minute_and_several(minutes: float, words: str) -> None:
    found = _progress(make_order([], number="O-1", due_on=LATER))
    assert replace(found, minutes_left=minutes).hours_words == words


@pytest.mark.parametrize(("lead_days", "words"), [(1, "1 day is reckoned"), (2, "2 days are reckoned")])
def test_one_lead_day_and_several(lead_days: int, words: str) -> None:
    order = make_plain_order(2, TODAY, "O-1")
    make_planned_batch(order)
    assert (
        f"It may be late: {words} from cutting to dispatch" in order_progress(order, TODAY, lead_days).warning
    )


def test_the_number_of_queries_is_fixed(django_assert_num_queries: DjangoAssertNumQueries) -> None:
    first = make_plain_order(4, LATER, "O-1")
    others = [make_plain_order(3, LATER, f"O-{n}") for n in range(2, 6)]
    for bundle in make_planned_batch(first, *others, bundle_size=2, cut=True).bundles.all():
        sew(bundle, 2)
    with django_assert_num_queries(7):
        _progress(first)
