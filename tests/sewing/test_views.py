"""The pages of the sewing room, with and without JavaScript."""

import re
from urllib.parse import quote

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.cutting.actions.gathering import create_batch
from planner.cutting.models import Batch, Bundle
from planner.materials.models import Notion, Workroom
from planner.sewing import views
from planner.sewing.actions import finish_batch
from planner.sewing.models import ProgressEvent
from planner.sewing.progress import state_of
from tests.conftest import PASSWORD
from tests.factories import TODAY, make_customer, make_order
from tests.sewing.makers import check, finish_bundles, make_plain_order, make_planned_batch, sew, the_style

pytestmark = pytest.mark.django_db
HX = {"HX-Request": "true"}


@pytest.fixture
def bundle() -> Bundle:
    return make_planned_batch(cut=True).bundles.get(size__name="M")


def _scan(bundle: Bundle) -> str:
    return reverse("bundle-scan", args=[bundle.token])


def _form(html: str, step: str) -> dict[str, str]:
    """The hidden fields of a step's form, as the page holds them."""
    row = re.search(rf'<li id="step-{step}".*?</li>', html, re.S)
    assert row, f"no row for step {step}"
    return dict(re.findall(r'name="(step|key|done)" value="([^"]*)"', row[0]))


def _post(client: Client, bundle: Bundle, fields: dict[str, str], **more: object):
    return client.post(reverse("bundle-tick", args=[bundle.token]), fields, **more)


def _first(bundle: Bundle, number: int = 0) -> str:
    return str(state_of(bundle).steps[number].operation.pk)


# ---- the scanned bundle ----


def test_the_page_of_a_bundle_says_all_that_is_needed(helper_client: Client, bundle: Bundle) -> None:
    answer = helper_client.get(_scan(bundle))
    html = answer.content.decode()
    text = re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", html))
    for words in (
        bundle.number, "110 box top", "rib band", "ink", "Tidewater Stores", "join shoulders", "stitch 504",
        "elastic in the seam, 1 : 1", "Next: join shoulders, at the overlock.", "0 of 4 steps sewn",
        "account for every fragment", "clear elastic 6 mm, along shoulder", "1 × size label",
    ):  # fmt: skip
        assert words in text, words
    assert "set self band" not in text, "belongs to the other option"
    assert re.search(r"front</span><b>3</b>", html), "one front for each of three garments"
    assert re.search(r"2\N{NARROW NO-BREAK SPACE}?.*min each", html)
    assert 'fill="#26324a"' in html, "the swatch of the body cloth"
    assert answer["Cache-Control"].startswith("max-age=0")
    # Coming back fetches only what moves.
    html = helper_client.get(_scan(bundle), headers=HX).content.decode()
    assert html.count('id="bundle-moving"') == 1
    assert "<html" not in html
    assert "What is in it" not in html
    # It is found by typing its number, and after signing in one comes to it.
    found = helper_client.get(reverse("bundle-find"), {"number": bundle.number.lower()})
    assert found["Location"] == _scan(bundle)
    stranger = Client()
    answer = stranger.get(_scan(bundle))
    assert answer["Location"] == f"/sign-in/?next={quote(_scan(bundle))}"
    answer = stranger.post(answer["Location"], {"username": "Hale", "password": PASSWORD})
    assert answer["Location"] == _scan(bundle)


def test_lengths_are_in_the_units_of_the_workroom_and_what_is_counted_has_none(
    helper_client: Client, bundle: Bundle
) -> None:
    def along() -> str:
        html = helper_client.get(_scan(bundle)).content.decode()
        return re.search(r"<li>([^<]*clear elastic[^<]*)</li>", html)[1]

    assert along().endswith("mm")
    Workroom.objects.update(display="imperial")
    assert along().endswith("in")
    assert "mm" not in along().removeprefix("clear elastic 6 mm")
    Notion.objects.filter(name="clear elastic 6 mm").update(unit=Notion.Unit.PIECE)
    assert along() == "2 × clear elastic 6 mm, along shoulder"


def test_without_javascript_a_tap_ticks_and_undo_takes_back(helper_client: Client, bundle: Bundle) -> None:
    step = _first(bundle)
    page = helper_client.get(_scan(bundle)).content.decode()
    answer = _post(helper_client, bundle, _form(page, step))
    assert answer.status_code == 302
    assert answer["Location"] == f"{_scan(bundle)}#step-{step}"
    page = helper_client.get(_scan(bundle)).content.decode()
    assert "1 of 4 steps sewn" in page
    assert "Hale, " in page
    assert ">Undo" in page
    _post(helper_client, bundle, _form(page, step))
    assert "0 of 4 steps sewn" in helper_client.get(_scan(bundle)).content.decode()


def test_with_htmx_only_the_row_the_tape_and_what_follows_come_back(
    helper_client: Client, bundle: Bundle
) -> None:
    step = _first(bundle)
    form = _form(helper_client.get(_scan(bundle)).content.decode(), step)
    answer = _post(helper_client, bundle, form, headers=HX)
    html = answer.content.decode()
    assert answer.status_code == 200
    assert re.findall(r'<\w+ id="([\w-]+)"[^>]*hx-swap-oob="true"', html) == [
        "bundle-tape", "step-check", "bundle-next", "bundle-problem",
    ]  # fmt: skip
    assert re.findall(r'<li id="([\w-]+)"', html) == [f"step-{step}", "step-check"]
    assert "<html" not in html
    assert "1 of 4 steps sewn" in html
    assert _form(html, step)["key"] != form["key"], "the row comes with a fresh key"


def test_a_tap_sent_twice_counts_once(helper_client: Client, bundle: Bundle) -> None:
    form = _form(helper_client.get(_scan(bundle)).content.decode(), _first(bundle))
    for headers in ({}, HX, HX):
        assert _post(helper_client, bundle, form, headers=headers).status_code in (200, 302)
    assert ProgressEvent.objects.count() == 1


def test_an_old_page_does_not_undo_what_somebody_else_ticked(
    helper_client: Client, maker_client: Client, bundle: Bundle
) -> None:
    step = _first(bundle)
    mine, theirs = (_form(c.get(_scan(bundle)).content.decode(), step) for c in (helper_client, maker_client))
    _post(helper_client, bundle, mine)
    html = _post(maker_client, bundle, theirs, headers=HX).content.decode()
    assert "Hale, " in html
    assert ProgressEvent.objects.get().person.username == "Hale"


def test_a_bundle_that_is_not_cut_says_so_and_refuses(helper_client: Client) -> None:
    bundle = make_planned_batch().bundles.first()
    page = helper_client.get(_scan(bundle)).content.decode()
    assert "Not cut yet" in page
    assert reverse("lay-detail", args=[bundle.batch.number, 1]) in page
    assert '<button class="step-face"' not in page
    form = _form(page, _first(bundle))
    plain = _post(helper_client, bundle, form)
    assert plain.status_code == 409
    assert "Nothing was ticked: this bundle is not cut yet." in plain.content.decode()
    assert bundle.number in plain.content.decode()
    hx = _post(helper_client, bundle, form, headers=HX)
    assert hx.status_code == 409
    assert "Nothing was ticked" in hx.content.decode()
    assert not ProgressEvent.objects.exists()


def test_the_check_opens_once_all_is_sewn(helper_client: Client, bundle: Bundle) -> None:
    sew(bundle, 3)
    page = helper_client.get(_scan(bundle)).content.decode()
    assert 'id="press-check"' not in page
    assert _post(helper_client, bundle, _form(page, "check")).status_code == 409
    last = _post(helper_client, bundle, _form(page, _first(bundle, 3)), headers=HX).content.decode()
    assert 'id="press-check"' in last, "the check can be pressed at once"
    assert "All steps are sewn. Check it." in last
    assert _post(helper_client, bundle, _form(last, "check"), headers=HX).status_code == 200
    assert "Sewn and checked." in helper_client.get(_scan(bundle)).content.decode()


def test_what_no_page_sends_is_answered_with_the_page(helper_client: Client, bundle: Bundle) -> None:
    for fields in (
        {},
        {"step": "x", "key": "k", "done": "1"},
        {"step": "999999", "key": "k", "done": "1"},
        {"step": "check", "key": "", "done": "1"},
        {"step": "check", "key": "k" * 500, "done": "1"},
    ):
        for headers in ({}, HX):
            answer = _post(helper_client, bundle, fields, headers=headers)
            assert answer.status_code == 409, fields
            assert "out of date" in answer.content.decode() or headers
        assert not ProgressEvent.objects.exists(), fields


def test_the_next_bundle_at_the_machine_is_offered(helper_client: Client, bundle: Bundle) -> None:
    other = bundle.batch.bundles.exclude(pk=bundle.pk).get()
    sew(bundle, 2)
    form = _form(helper_client.get(_scan(bundle)).content.decode(), _first(bundle, 2))
    html = _post(helper_client, bundle, form, headers=HX).content.decode()
    assert f"Next at the overlock: {other.number}, 2 × L ink" in html
    assert _scan(other) in html


def test_an_order_shared_bundle_names_its_orders(helper_client: Client) -> None:
    first = make_plain_order(2, TODAY, "O-1")
    second = make_order(
        [(the_style(), {"neck": "rib band"}, "ink", {"M": 1})],
        number="O-2",
        customer=make_customer("Other Shop"),
    )
    other_kind = make_order([(the_style(), {"neck": "self band"}, "ink", {"M": 1})], number="O-3")
    batch = make_planned_batch(first, second, other_kind)
    page = helper_client.get(_scan(batch.bundles.filter(line=None).first())).content.decode()
    assert "O-1" in page
    assert "Other Shop" in page
    assert "O-3" not in page


@pytest.mark.parametrize(("orders", "words"), [(3, ""), (4, "and 1 more order<"), (5, "and 2 more orders<")])
def test_orders_that_find_no_room_on_a_shared_bundle_are_counted(
    helper_client: Client, orders: int, words: str
) -> None:
    batch = make_planned_batch(*(make_plain_order(1, TODAY, f"O-{n}") for n in range(orders)), bundle_size=9)
    page = helper_client.get(_scan(batch.bundles.get(line=None))).content.decode()
    assert (words in page) if words else ("more order" not in page)


def test_one_step_and_several(helper_client: Client, bundle: Bundle) -> None:
    steps = list(bundle.batch.operations.values_list("pk", flat=True))
    for count, words in ((2, "0 of 2 steps sewn"), (1, "0 of 1 step sewn")):
        bundle.batch.operations.exclude(pk__in=steps[:count]).delete()
        assert f"<p>{words}</p>" in helper_client.get(_scan(bundle)).content.decode()


def test_the_page_asks_no_more_however_many_bundles_wait(
    helper_client: Client, bundle: Bundle, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _ in range(3):
        make_planned_batch(cut=True)
    sew(bundle, 3)
    with django_assert_num_queries(14):
        page = helper_client.get(_scan(bundle)).content.decode()
    assert "Next at the overlock" in page


def test_an_unknown_ticket_gets_a_friendly_page(helper_client: Client) -> None:
    for address in (reverse("bundle-scan", args=["nobody"]), reverse("bundle-find") + "?number=9-9"):
        answer = helper_client.get(address)
        assert answer.status_code == 404
        assert "No bundle has this ticket" in answer.content.decode()
        assert 'name="number"' in answer.content.decode()


# ---- the board ----


def test_the_board_shows_tapes_and_bundles(helper_client: Client, bundle: Bundle) -> None:
    sew(bundle, 1)
    html = helper_client.get(reverse("sewing-board")).content.decode()
    assert "Waiting: 2 bundles at the overlock." in html
    assert "2 of 2 cut" in html
    assert "1 of 2 begun" in html
    assert _scan(bundle) in html
    assert "close sides" in html
    region = helper_client.get(reverse("sewing-board"), headers=HX).content.decode()
    assert region.count('id="board"') == 1
    assert "<html" not in region


def test_the_board_by_batch_and_by_machine(helper_client: Client, bundle: Bundle) -> None:
    other = make_planned_batch(cut=True).bundles.first()
    sew(other, 3)
    board = reverse("sewing-board")
    of_batch = helper_client.get(board, {"batch": bundle.batch.number}).content.decode()
    assert _scan(bundle) in of_batch
    assert _scan(other) not in of_batch
    cover = helper_client.get(board, {"machine": "coverstitch"}).content.decode()
    cards = re.findall(r'class="card" href="([^"]+)"', cover)
    assert cards == [_scan(other)]
    nothing = helper_client.get(board, {"batch": "B-9999"})
    assert nothing.status_code == 200
    assert "There is no batch B-9999." in nothing.content.decode()


def test_a_batch_that_is_over_or_not_planned_is_told_beside_others_that_are_sewn(
    helper_client: Client, bundle: Bundle
) -> None:
    done = make_planned_batch(cut=True)
    finish_bundles(done)
    finish_batch(done)
    gathering = create_batch(None, TODAY)
    board = reverse("sewing-board")
    for batch, state in ((done, "done"), (gathering, "gathering orders")):
        page = helper_client.get(board, {"batch": batch.number}).content.decode()
        assert f"{batch.number} is {state}, so nothing of it stands on the board." in page
        assert "No batch is planned" not in page
    assert "Waiting: 2 bundles at the overlock." in helper_client.get(board).content.decode()


def test_only_a_batch_that_stands_on_the_board_is_linked_there(helper_client: Client, bundle: Bundle) -> None:
    batch = bundle.batch
    on_board = f'{reverse("sewing-board")}?batch={batch.number}"'
    page = reverse("batch-detail", args=[batch.number])
    places = (reverse("order-progress", args=[bundle.line.order.number]), _scan(bundle))
    for place in places:
        assert on_board in helper_client.get(place).content.decode()
    finish_bundles(batch)
    finish_batch(batch)
    for place in places:
        html = helper_client.get(place).content.decode()
        assert on_board not in html
        assert f'<a href="{page}">{batch.number}</a> is done' in html


def test_an_empty_board_teaches_the_next_step(helper_client: Client) -> None:
    html = helper_client.get(reverse("sewing-board")).content.decode()
    assert reverse("batch-list") in html
    assert "Bundles come from a planned batch" in html


def test_the_board_asks_no_more_however_many_bundles(
    helper_client: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    def ask() -> None:
        with django_assert_num_queries(9):
            assert helper_client.get(reverse("sewing-board")).status_code == 200

    sew(make_planned_batch(cut=True).bundles.first(), 2)
    ask()
    orders = [make_plain_order(6, TODAY, f"O-9{n}") for n in range(2)]
    for order in orders:
        for bundle in make_planned_batch(order, bundle_size=1, cut=True).bundles.all():
            sew(bundle, 1)
    ask()


def test_very_many_bundles_come_in_pages(
    helper_client: Client, django_assert_num_queries: DjangoAssertNumQueries, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of 2,074 bundles the page had 900 KB: as on the page of their batch, so many stand on one page of it."""
    monkeypatch.setattr("planner.sewing.board.MOST_CARDS", 5)
    batch = make_planned_batch(make_plain_order(12, TODAY, "O-91"), bundle_size=1, cut=True)
    numbers = list(batch.bundles.order_by("pk").values_list("number", flat=True))
    assert len(numbers) == 12

    def ask(**asked: str) -> tuple[list[str], str]:
        with django_assert_num_queries(9):
            html = helper_client.get(reverse("sewing-board"), asked).content.decode()
        return re.findall(r'class="card-words">\s*<b>([^<]+)', html), html

    shown, html = ask()
    assert shown == numbers[:5]
    assert "Bundles 1 to 5 of 12." in html
    assert f'href="?batch={batch.number}#b-{batch.pk}">All of {batch.number}</a>' in html
    assert "12 of 12 cut" in html, "the tapes count all of them"
    assert "Page 1 of 3" not in html, "pages are turned where the batch alone is looked at"
    shown, html = ask(batch=batch.number)
    assert shown == numbers[:5]
    assert f'href="?batch={batch.number}&amp;bundles=2#b-{batch.pk}">Next</a>' in html
    assert "All of" not in html
    shown, html = ask(batch=batch.number, bundles="3")
    assert shown == numbers[10:]
    assert f'href="?batch={batch.number}&amp;bundles=2#b-{batch.pk}">Before</a>' in html
    assert ">Next</a>" not in html
    assert ask(batch=batch.number, bundles="99")[0] == numbers[10:]
    assert ask(batch=batch.number, bundles="x")[0] == numbers[:5]
    shown, html = ask(batch=batch.number, machine="overlock", bundles="2")
    assert shown == numbers[5:10]
    assert "Bundles 6 to 10 of 12 that wait at overlock." in html
    assert "machine=overlock&amp;bundles=3" in html


def test_ten_batches_on_a_page(helper_client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three stand for ten."""
    assert views.PAGE == 10
    monkeypatch.setattr(views, "PAGE", 3)
    style = the_style()
    for n in range(4):
        make_planned_batch(make_order([(style, {"neck": "rib band"}, "ink", {"M": 1})], number=f"O-8{n}"))
    board = reverse("sewing-board")
    assert "Page 1 of 2" in helper_client.get(board).content.decode()
    second = helper_client.get(board, {"page": "2"}).content.decode()
    assert len(re.findall(r'class="card"', second)) == 1


def test_a_maker_finishes_a_batch_and_opens_it_again(maker_client: Client, helper_client: Client) -> None:
    batch = make_planned_batch(cut=True)
    finish, again = (reverse(name, args=[batch.number]) for name in ("batch-finish", "batch-open-again"))
    refused = maker_client.post(finish, follow=True).content.decode()
    assert "2 bundles are not checked yet" in refused
    finish_bundles(batch)
    assert finish in maker_client.get(reverse("sewing-board")).content.decode()
    helpers = helper_client.get(reverse("sewing-board")).content.decode()
    assert finish not in helpers
    assert "A maker can finish the batch." in helpers
    assert helper_client.post(finish).status_code == 403
    assert f"{batch} is finished." in maker_client.post(finish, follow=True).content.decode()
    batch.refresh_from_db()
    assert batch.state == Batch.State.DONE
    assert again in maker_client.get(reverse("sewing-board")).content.decode()
    assert "being sewn again" in maker_client.post(again, follow=True).content.decode()
    assert "nothing was changed" in maker_client.post(again, follow=True).content.decode()


def test_nothing_of_a_finished_batch_can_be_pressed(helper_client: Client) -> None:
    batch = make_planned_batch(cut=True)
    finish_bundles(batch)
    finish_batch(batch)
    page = helper_client.get(_scan(batch.bundles.first())).content.decode()
    assert 'id="press-' not in page
    assert "Sewn and checked." in page


# ---- orders ----


def test_an_orders_progress_as_a_page_and_as_a_region(helper_client: Client, bundle: Bundle) -> None:
    sew(bundle)
    check(bundle)
    order = bundle.line.order
    address = reverse("order-progress", args=[order.number])
    page = helper_client.get(address).content.decode()
    assert "<html" in page
    assert "3 of 5 checked" in page
    region = helper_client.get(address, headers=HX).content.decode()
    assert "<html" not in region
    assert region.count('id="order-sewn"') == 1
    assert "3 of 5 garments are checked" in region
    assert helper_client.get(reverse("order-progress", args=["O-none"])).status_code == 404


def test_the_order_page_asks_for_it_and_links_to_it(helper_client: Client, bundle: Bundle) -> None:
    order = bundle.line.order
    address = reverse("order-progress", args=[order.number])
    page = helper_client.get(reverse("order-detail", args=[order.number])).content.decode()
    assert f'hx-get="{address}"' in page
    assert f'href="{address}"' in page
