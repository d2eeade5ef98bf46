"""Where bundles stand, and what the board makes of it."""

from datetime import timedelta

import pytest
from pytest_django import DjangoAssertNumQueries

from planner.cutting.models import Batch, Bundle
from planner.sewing.board import CHECKING, Board, make_board
from planner.sewing.finding import find_bundle
from planner.sewing.models import ProgressEvent
from planner.sewing.progress import Stage, read_states, state_of, states_on_the_go
from planner.sewing.scan import make_scan, next_waiting
from tests.factories import NOON, TODAY, make_notion_colour, make_order
from tests.sewing.makers import check, make_plain_order, make_planned_batch, sew, sew_on, the_style

pytestmark = pytest.mark.django_db


def _board(machine: str = "") -> Board:
    batches = list(Batch.objects.on_the_go())
    states = read_states(Bundle.objects.of_batches_on_the_go())
    return make_board(batches, states, {}, TODAY, machine=machine)


def test_every_stage() -> None:
    batch = make_planned_batch()
    bundle = batch.bundles.first()
    assert state_of(bundle).stage == Stage.TABLE
    batch.lays.update(cut_at=NOON)
    assert state_of(bundle).stage == Stage.CUT
    sew(bundle, 1)
    assert state_of(bundle).stage == Stage.SEWING
    sew_on(bundle)
    assert state_of(bundle).stage == Stage.SEWN
    check(bundle)
    assert state_of(bundle).stage == Stage.CHECKED


def test_minutes_left_by_hand() -> None:
    """3 garments at 2 + 3 + 3 + 4 = 12 minutes; after the shoulders 10 are left for each."""
    bundle = make_planned_batch(cut=True).bundles.get(size__name="M")
    assert state_of(bundle).minutes_left == pytest.approx(36)
    sew(bundle, 1)
    assert state_of(bundle).minutes_left == pytest.approx(30)


def test_reading_takes_four_queries_however_many(django_assert_num_queries: DjangoAssertNumQueries) -> None:
    for _ in range(2):
        for bundle in make_planned_batch(cut=True).bundles.all():
            sew(bundle, 2)
    with django_assert_num_queries(4):
        states = read_states(Bundle.objects.of_batches_on_the_go())
        assert [(s.steps_done, s.bundle.size.name) for s in states] == [(2, "M"), (2, "L")] * 2
        assert {s.next_operation.machine for s in states} == {"overlock"}
    with django_assert_num_queries(1):
        assert not read_states(Bundle.objects.filter(number="none"))


def test_all_on_the_go_are_read_as_any_others_are(django_assert_num_queries: DjangoAssertNumQueries) -> None:
    assert states_on_the_go() == []
    for done in (0, 2):
        for bundle in make_planned_batch(cut=done > 0).bundles.all():
            sew(bundle, done)
    over = make_planned_batch(cut=True)
    Batch.objects.filter(pk=over.pk).update(state=Batch.State.DONE)
    with django_assert_num_queries(4):
        found = states_on_the_go()
        numbers = [state.bundle.batch.number for state in found]
    assert over.number not in numbers
    assert len(set(numbers)) == 2
    read = read_states(Bundle.objects.of_batches_on_the_go())
    assert found == read
    assert [(s.stage, s.next_operation, s.options) for s in found] == [
        (s.stage, s.next_operation, s.options) for s in read
    ]
    assert {s.stage for s in found} == {Stage.TABLE, Stage.SEWING}


def test_events_of_other_bundles_are_not_read() -> None:
    over = make_planned_batch(cut=True)
    sew(over.bundles.first())
    Batch.objects.filter(pk=over.pk).update(state=Batch.State.DONE)
    going = make_planned_batch(cut=True).bundles.first()
    sew(going, 2)
    found = ProgressEvent.objects.last_of(Bundle.objects.of_batches_on_the_go())
    assert {event.bundle_id for event in found} == {going.pk}
    assert found.count() == 2


def test_tapes_count_bundles_that_are_at_least_that_far() -> None:
    batch = make_planned_batch(cut=True)
    first, second = batch.bundles.all()
    sew(first)
    check(first)
    sew(second, 1)
    (shown,) = _board().batches
    assert [(t.name, t.done, t.total) for t in shown.tapes] == [
        ("cut", 2, 2),
        ("begun", 2, 2),
        ("sewn", 1, 2),
        ("checked", 1, 2),
    ]
    assert [card.number for card in shown.cards] == [second.number]
    assert not shown.can_finish


def test_waiting_by_machine_and_thread() -> None:
    style = the_style()
    order = make_order(
        [
            (style, {"neck": "rib band"}, "ink", {"M": 3, "L": 2}),
            (style, {"neck": "rib band"}, "moss", {"M": 1}),
        ]
    )
    batch = make_planned_batch(order, cut=True)
    moss = batch.bundles.get(colourway__name="moss")
    medium, large = batch.bundles.filter(colourway__name="ink")
    sew(medium, 3)
    sew(large)
    board = _board()
    assert [(g.station, g.bundles, g.garments) for g in board.stations] == [
        ("coverstitch", 1, 3),
        ("overlock", 1, 1),
        (CHECKING, 1, 2),
    ]
    assert [t.thread for t in board.stations[1].threads] == ["moss"]
    assert (
        board.answer
        == "Waiting: 1 bundle at the coverstitch, 1 bundle at the overlock, 1 bundle to be checked."
    )
    assert [c.number for b in _board("overlock").batches for c in b.cards] == [moss.number]


def test_a_thread_kept_without_colours_is_one_heap_for_cloths_of_all_colours() -> None:
    style = the_style()
    order = make_order([(style, {"neck": "rib band"}, name, {"M": 1}) for name in ("ink", "moss")])
    batch = make_planned_batch(order, cut=True)
    colours = {bundle.colourway_id: f"#{i}{i}{i}" for i, bundle in enumerate(batch.bundles.all())}
    thread = make_notion_colour("thread 120")
    for sewn_with, heaps in ((thread, [("thread 120", "", 2)]), (None, [("", "", 2)])):
        style.colourways.update(thread=sewn_with)
        states = read_states(Bundle.objects.of_batches_on_the_go())
        (overlock,) = make_board([batch], states, colours, TODAY).stations
        assert [(heap.thread, heap.swatch, len(heap.cards)) for heap in overlock.threads] == heaps


def test_the_answer_of_a_board_with_nothing_cut_and_with_nothing() -> None:
    assert _board().answer == "No batch is planned, so there is nothing to sew."
    make_planned_batch()
    assert _board().answer == "2 bundles still to be cut."


def test_a_batch_that_is_checked_can_be_finished() -> None:
    batch = make_planned_batch(cut=True)
    for bundle in batch.bundles.all():
        sew(bundle)
        check(bundle)
    board = _board()
    assert board.batches[0].can_finish
    assert board.answer == "Everything is sewn and checked."


def test_the_next_bundle_at_the_machine_that_is_left() -> None:
    style = the_style()
    moss = make_order([(style, {"neck": "rib band"}, "moss", {"M": 1})])
    first = make_planned_batch(moss, cut=True).bundles.get()
    ink, other_ink = make_planned_batch(cut=True).bundles.all()
    assert next_waiting(state_of(ink)) is None, "nothing was sewn yet"
    sew(ink, 2)
    assert next_waiting(state_of(ink)) is None, "goes on at the overlock"
    sew_on(ink)
    assert next_waiting(state_of(ink)) is None, "nothing waits at the coverstitch"
    sew(first, 3)
    machine, found = next_waiting(state_of(first))
    assert (machine, found.bundle) == ("overlock", other_ink)


def test_the_same_thread_comes_first() -> None:
    style = the_style()
    make_planned_batch(make_order([(style, {"neck": "rib band"}, "moss", {"M": 1})]), cut=True)
    ink, other_ink = make_planned_batch(cut=True).bundles.all()
    sew(ink, 3)
    assert next_waiting(state_of(ink))[1].bundle == other_ink


def test_keys_are_new_for_every_row_and_page() -> None:
    state = state_of(make_planned_batch(cut=True).bundles.first())
    pages = [make_scan(state, NOON) for _ in range(2)]
    keys = [row.key for page in pages for row in (*page.rows, page.check)]
    assert len(set(keys)) == len(keys) == 10


def test_when_is_said_with_the_day_once_it_has_passed() -> None:
    bundle = make_planned_batch(cut=True).bundles.first()
    sew(bundle, 1)
    assert ":" in make_scan(state_of(bundle), NOON).rows[0].when
    assert make_scan(state_of(bundle), NOON).rows[0].when.count(",") == 0
    assert make_scan(state_of(bundle), NOON + timedelta(days=1)).rows[0].when.startswith("Mon 12 May, ")


@pytest.mark.parametrize("typed", ["B-0001-02", " b-0001-02 ", "1-2", "b1-2", "B 1 2", "0001/02"])
def test_found_by_its_number_as_somebody_types_it(typed: str) -> None:
    bundle = make_planned_batch().bundles.all()[1]
    assert find_bundle(typed) == bundle


def test_nothing_is_found_for_what_is_no_number() -> None:
    make_plain_order(1, TODAY, "O-1")
    make_planned_batch()
    for typed in ("", "   ", "B-0001-99", "shirt", "1-2-3", "9" * 500, "1-" + "9" * 30, "²-³"):
        assert find_bundle(typed) is None, typed
