"""Pages of the cutting room off the straight path: no plan, failed nesting, wrong addresses, roles, big batches."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from planner.cutting.actions import gathering
from planner.cutting.models import Batch, Marker
from planner.materials.models import Workroom
from planner.orders.models import LineQuantity
from tests.cutting.once import make_planned_batch
from tests.factories import TODAY, make_order, stock
from tests.papers.words import all_words
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}
PAPERS = ("cut-sheet", "cut-tickets", "bundle-tickets", "batch-buy-list", "plan-file")
RIB = {"neck": "rib band"}


def text(answer: object) -> str:
    return answer.content.decode()  # type: ignore[attr-defined]


@pytest.fixture
def batch() -> Batch:
    return make_planned_batch(make_order([(the_style(), RIB, "ink", {"S": 2, "M": 3})]))


def test_papers_of_a_batch_without_a_plan_are_refused(maker_client: Client) -> None:
    make_order([(the_style(), RIB, "ink", {"S": 2})])
    batch = gathering.create_batch(None, TODAY)
    gathering.fill_batch(batch, {row.pk: row.quantity for row in LineQuantity.objects.all()})
    # Not even a style that cannot be reckoned breaks the page.
    the_style().pieces.get(name="front").outlines.all().delete()
    for name in PAPERS:
        answer = maker_client.get(reverse(name, args=[batch.number]), follow=True)
        assert answer.redirect_chain[-1][0] == reverse("batch-detail", args=[batch.number]), name
        assert answer.status_code == 200
        assert any(word in text(answer) for word in ("nested", "once it is planned")), name


def test_what_is_not_there_is_not_found(maker_client: Client, batch: Batch) -> None:
    tickets = reverse("cut-tickets", args=[batch.number])
    for lay in ("99", "x", "²", "٣", "1.0", "9" * 40):
        assert maker_client.get(tickets, {"lay": lay}).status_code == 404, lay
    assert maker_client.get(reverse("batch-detail", args=["B-9999"])).status_code == 404
    assert maker_client.get(reverse("lay-detail", args=[batch.number, 77])).status_code == 404
    assert maker_client.get(reverse("batch-list"), {"page": "abc"}).status_code == 200


def test_a_lay_that_failed_is_named_and_the_page_stops_asking(maker_client: Client, batch: Batch) -> None:
    Marker.objects.update(state=Marker.State.FAILED, message="front in size M is 900 mm wide")
    page = text(maker_client.get(reverse("batch-detail", args=[batch.number])))
    assert "A lay could not be nested" in page
    assert "front in size M is 900 mm wide" in page
    assert "every 1s" not in page
    assert "The papers are ready as soon as" in page
    lay = text(maker_client.get(reverse("lay-detail", args=[batch.number, 1])))
    assert "Nest longer" in lay


def test_nesting_longer_is_for_makers_and_only_for_the_times_offered(
    maker_client: Client, helper_client: Client, batch: Batch
) -> None:
    address = reverse("lay-longer", args=[batch.number, 1])
    assert helper_client.post(address, {"seconds": "20"}).status_code == 403
    for wrong in ("x", "1e9", "21"):
        answer = maker_client.post(address, {"seconds": wrong}, follow=True)
        assert "Choose how long to go on" in text(answer)
    assert set(Marker.objects.values_list("state", flat=True)) == {"ready"}
    maker_client.post(address, {"seconds": "20"})
    marker = batch.lays.get(number=1).marker
    assert (marker.state, marker.seconds) == (Marker.State.WAITING, 20.0)
    again = maker_client.post(address, {"seconds": "20"}, follow=True)
    assert "being nested already" in text(again)


def test_stopping_asks_the_worker_or_says_that_nothing_runs(helper_client: Client, batch: Batch) -> None:
    address = reverse("lay-stop", args=[batch.number, 1])
    assert "Nothing is being nested" in text(helper_client.post(address, follow=True))
    Marker.objects.update(state=Marker.State.NESTING)
    helper_client.post(address)
    assert batch.lays.get(number=1).marker.stop_wanted


def test_helpers_do_not_fill_or_plan_and_see_no_buttons_for_it(helper_client: Client, batch: Batch) -> None:
    empty = gathering.create_batch(None, TODAY)
    assert helper_client.get(reverse("batch-fill", args=[empty.number])).status_code == 403
    assert helper_client.post(reverse("batch-fill", args=[empty.number]), {"plan": "1"}).status_code == 403
    assert helper_client.get(reverse("buy-list")).status_code == 403
    page = text(helper_client.get(reverse("batch-detail", args=[batch.number])))
    for name in ("batch-take-back", "batch-cancel", "batch-buy-list"):
        assert reverse(name, args=[batch.number]) not in page
    assert reverse("batch-new") not in text(helper_client.get(reverse("batch-list")))


def test_a_batch_planned_meanwhile_is_not_filled_again(
    maker_client: Client, batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = reverse("batch-fill", args=[batch.number])
    assert "This batch is planned" in text(maker_client.get(address, follow=True))

    other = gathering.create_batch(None, TODAY)

    def planned_just_now(*_: object, **__: object) -> None:
        Batch.objects.filter(pk=other.pk).update(state=Batch.State.PLANNED)
        raise gathering.NotGathering

    monkeypatch.setattr(gathering, "fill_batch", planned_just_now)
    answer = maker_client.post(reverse("batch-fill", args=[other.number]), {}, follow=True)
    assert (answer.status_code, "This batch is planned" in text(answer)) == (200, True)


def test_boxes_that_are_wrong_keep_what_the_others_held(maker_client: Client) -> None:
    make_order([(the_style(), RIB, "ink", {"S": 2, "M": 3})])
    gathering.create_batch(None, TODAY)
    small, medium = LineQuantity.objects.order_by("size__position")
    typed = {f"q-{small.pk}": "two", f"q-{medium.pk}": "3", "q-": "1", "q-x": "1", f"q-{'9' * 30}": "1"}
    answer = maker_client.post(reverse("batch-fill", args=["B-0001"]), typed)
    page = text(answer)
    assert answer.status_code == 422
    assert f'name="q-{small.pk}" value="two"' in page
    assert f'name="q-{medium.pk}" value="3"' in page
    assert 'aria-invalid="true"' in page
    assert not Batch.objects.get().items.exists()


def test_undoing_a_cut_says_what_happened(helper_client: Client, batch: Batch) -> None:
    lay = batch.lays.get(number=1)
    address = reverse("lay-uncut", args=[batch.number, 1])
    assert "not recorded as cut" in text(helper_client.post(address, follow=True))
    key = f"{lay.cloths.get().pk}-0"
    used = {f"spreads-{key}": "1", f"used-{key}": "9", f"much-{key}": "on"}
    helper_client.post(reverse("lay-cut", args=[batch.number, 1]), used)
    twice = helper_client.post(reverse("lay-cut", args=[batch.number, 1]), used, follow=True)
    assert "nothing was changed" in text(twice)
    Batch.objects.update(state=Batch.State.DONE)
    assert "is done" in text(helper_client.post(address, follow=True))
    Batch.objects.update(state=Batch.State.CUTTING)
    assert "back in the stock" in text(helper_client.post(address, follow=True))


def test_what_was_taken_counts_as_there(helper_client: Client, batch: Batch) -> None:
    address = reverse("batch-detail", args=[batch.number])
    assert "There for it" in text(helper_client.get(address))
    label = batch.needs.get(notion_colour__notion__name="size label")
    stock(label.notion_colour, label.need - 1)
    said = text(helper_client.post(reverse("batch-notions", args=[batch.number]), follow=True))
    assert "3 kinds of notions are taken out" in said
    assert "taken for it" in said
    # Of thread and elastic nobody ever noted any, so nobody keeps their books.
    assert said.count("The books lack") == 1
    assert "The books lack 1\u2009pcs of size label that were taken out. Note what came in" in said
    assert "buy 1 × 100 labels" not in said
    again = text(helper_client.post(reverse("batch-notions", args=[batch.number]), follow=True))
    assert "nothing was changed" in again


def test_a_batch_taken_back_has_no_papers_left(maker_client: Client, batch: Batch) -> None:
    token = batch.bundles.first().token
    maker_client.post(reverse("batch-take-back", args=[batch.number]))
    assert maker_client.get(reverse("bundle-scan", args=[token])).status_code == 404
    assert maker_client.get(reverse("cut-tickets", args=[batch.number])).status_code == 302


def test_lays_in_inches_for_a_workroom_that_has_them(helper_client: Client, batch: Batch) -> None:
    Workroom.objects.update(display="imperial")
    page = text(helper_client.get(reverse("lay-detail", args=[batch.number, 1])))
    assert "yd" in page
    lay = batch.lays.get(number=1)
    address = reverse("lay-cut", args=[batch.number, 1])
    key = f"{lay.cloths.get().pk}-0"
    helper_client.post(address, {f"spreads-{key}": "1", f"used-{key}": "12 yd", f"much-{key}": "on"})
    # 1 yd = 0.9144 m exactly (international yard and pound agreement, 1959).
    assert lay.cloths.get().used_m == Decimal("10.97")


def queries(client: Client, address: str, **headers: object) -> int:
    with CaptureQueriesContext(
        connection,
    ) as seen:
        assert client.get(address, **headers).status_code == 200
    return len(seen)


def test_a_larger_batch_asks_no_more_than_a_small_one_and_has_a_ticket_for_every_bundle(
    maker_client: Client, batch: Batch
) -> None:
    style = the_style()
    lines = [
        (style, {"neck": neck}, colour, {"S": 1, "M": 1})
        for neck in ("rib band", "self band")
        for colour in ("ink", "moss")
    ]
    large = make_planned_batch(make_order(lines), make_order(lines[:1]), bundle_size=1)
    numbers = list(large.bundles.values_list("number", flat=True))
    assert (len(numbers), batch.bundles.count()) == (10, 2)
    assert large.lays.count() > batch.lays.count()
    for name, headers in (("batch-detail", {}), ("batch-running", {"headers": HTMX})):
        counts = [queries(maker_client, reverse(name, args=[b.number]), **headers) for b in (batch, large)]
        # The later batch asks once more what the earlier one lacks.
        assert counts[0] + 1 == counts[1] <= 15, name
    for name in PAPERS:
        counts = [queries(maker_client, reverse(name, args=[b.number])) for b in (batch, large)]
        # The later batch asks for what the earlier one is promised of its cloth.
        assert counts[0] + 1 == counts[1] <= 32, name
    printed = all_words(maker_client.get(reverse("bundle-tickets", args=[large.number])).content)
    assert all(number in printed for number in numbers)
    assert queries(maker_client, reverse("lay-detail", args=[large.number, 1])) <= 12
    # M with a rib band and M with a self band are two garments.
    lay = maker_client.get(reverse("lay-detail", args=[large.number, 1])).content.decode()
    assert "(neck: rib band)" in lay or "(neck: self band)" in lay
    assert (
        "1 × 110, moss (neck: rib band)"
        in maker_client.get(reverse("batch-detail", args=[large.number])).content.decode()
    )
    assert queries(maker_client, reverse("buy-page")) <= 15
    fill = gathering.create_batch(None, TODAY)
    make_order(lines)
    assert queries(maker_client, reverse("batch-fill", args=[fill.number])) <= 15
