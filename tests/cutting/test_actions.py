"""Gathering, planning, nesting and the table: what each action writes, and what it refuses."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db.models import F, Sum

from planner.core.lays.stored import job_from_json, marker_from_json
from planner.cutting.actions import cut_off, gathering, nesting, planning, settling, table
from planner.cutting.actions.notions_out import take_notions_out
from planner.cutting.buying import what_to_buy
from planner.cutting.claims import claims
from planner.cutting.demand import batch_demand
from planner.cutting.marker_store import LAID_BEFORE, read_marker
from planner.cutting.models import Batch, BatchItem, Bundle, CutPlan, Marker
from planner.cutting.stored import plan_of, planned_batch
from planner.materials.models import Fabric, FabricColour, NotionColour, StockMove, Workroom
from planner.orders.models import LineQuantity, Order
from planner.styles.models import PieceOutline
from tests.cutting.once import make_planned_batch, once
from tests.cutting.table_makers import tell_all_of
from tests.factories import NOON, TODAY, make_order, make_style, stock
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db


@pytest.fixture
def order() -> Order:
    return make_order([(make_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])


def boxes(order: Order) -> dict[str, int]:
    """Line quantity by size."""
    return {row.size.name: row.pk for row in LineQuantity.objects.filter(line__order=order)}


def everything(order: Order) -> dict[int, int]:
    return {row.pk: row.quantity for row in LineQuantity.objects.filter(line__order=order)}


def gathered(order: Order) -> Batch:
    batch = gathering.create_batch(None, TODAY)
    assert not gathering.fill_batch(batch, everything(order)).problems
    return batch


# ---- gathering ----


def test_batches_are_numbered_without_gaps() -> None:
    assert [gathering.create_batch(None, TODAY).number for _ in range(3)] == ["B-0001", "B-0002", "B-0003"]


def test_a_batch_takes_part_of_a_line_and_the_earliest_day(order: Order) -> None:
    batch = gathering.create_batch(None, TODAY)
    filled = gathering.fill_batch(batch, {boxes(order)["M"]: 2})
    batch.refresh_from_db()
    assert (filled.garments, filled.problems, batch.due_on) == (2, (), order.due_on)
    assert [(item.size.name, item.quantity) for item in batch.items.all()] == [("M", 2)]


def test_never_more_than_was_ordered_is_batched_over_several_batches(order: Order) -> None:
    first, second = gathering.create_batch(None, TODAY), gathering.create_batch(None, TODAY)
    gathering.fill_batch(first, {boxes(order)["M"]: 2})
    refused = gathering.fill_batch(second, {boxes(order)["M"]: 2, boxes(order)["S"]: 1})
    assert [(p.asked, p.left, p.text) for p in refused.problems] == [(2, 1, "only 1 left to batch")]
    assert not BatchItem.objects.filter(batch=second).exists()
    # Its own garments do not count against a batch that is filled again.
    assert gathering.fill_batch(first, {boxes(order)["M"]: 3}).garments == 3
    none_left = gathering.fill_batch(second, {boxes(order)["M"]: 1}).problems
    assert none_left[0].text == "all of these are in a batch already"


def test_a_cancelled_batch_gives_its_garments_back(order: Order) -> None:
    first, second = gathered(order), gathering.create_batch(None, TODAY)
    assert gathering.fill_batch(second, {boxes(order)["M"]: 1}).problems
    assert gathering.cancel_batch(first, None, NOON)
    assert gathering.fill_batch(second, {boxes(order)["M"]: 1}).garments == 1


def test_orders_that_are_not_open_cannot_be_batched(order: Order) -> None:
    Order.objects.update(state=Order.State.CANCELLED)
    assert gathering.fill_batch(gathering.create_batch(None, TODAY), everything(order)).problems


def test_a_planned_batch_is_not_refilled(order: Order) -> None:
    batch = make_planned_batch(order)
    with pytest.raises(gathering.NotGathering):
        gathering.fill_batch(batch, {})


# ---- planning ----


def test_planning_writes_lays_needs_bundles_and_operations(order: Order) -> None:
    batch = gathered(order)
    planned = planning.plan_batch(batch, NOON)
    batch.refresh_from_db()
    assert not planned.problems
    assert (batch.state, batch.planned_at, batch.lays.count()) == (Batch.State.PLANNED, NOON, planned.lays)
    assert {marker.state for marker in Marker.objects.all()} == {Marker.State.WAITING}
    # What waits shows its pieces in plain rows already.
    assert all(marker.placements and marker.length_mm for marker in Marker.objects.all())
    assert sum(bundle.quantity for bundle in batch.bundles.all()) == 5
    assert all(bundle.lays.exists() and len(bundle.token) >= 16 for bundle in batch.bundles.all())
    assert batch.needs.filter(fabric_colour__isnull=False, is_estimate=True).count() == 2
    assert batch.operations.exists()
    assert batch.snapshots.count() == 1


def test_nothing_to_make_and_planned_twice_are_said(order: Order) -> None:
    empty = gathering.create_batch(None, TODAY)
    assert "nothing in this batch" in planning.plan_batch(empty, NOON).problems[0]
    assert "planned already" in planning.plan_batch(make_planned_batch(order), NOON).problems[0]


def test_a_missing_outline_and_a_piece_wider_than_the_cloth_are_named_and_nothing_is_changed(
    order: Order,
) -> None:
    fabric = Fabric.objects.get(name="jersey")
    batch = gathered(order)
    Fabric.objects.filter(pk=fabric.pk).update(full_width_mm=300)
    problems = planning.plan_batch(batch, NOON).problems
    assert any("wide" in text for text in problems), problems
    fabric.save()
    PieceOutline.objects.filter(size__name="M", piece__name="front").delete()
    problems = planning.plan_batch(batch, NOON).problems
    batch.refresh_from_db()
    assert any("front" in text and "M" in text for text in problems)
    assert (batch.state, batch.lays.count(), Marker.objects.count()) == (Batch.State.GATHERING, 0, 0)


def test_a_style_changed_later_leaves_the_batch_as_it_was_planned(order: Order) -> None:
    batch = make_planned_batch(order)
    before = planned_batch(batch)
    PieceOutline.objects.filter(piece__name="front").delete()
    order.lines.get().style.operations.all().update(name="something else")
    after = planned_batch(batch)
    assert after.needs == before.needs
    assert not batch.operations.filter(name="something else").exists()


def test_a_plan_is_taken_back_until_something_is_cut(order: Order) -> None:
    batch = make_planned_batch(order)
    assert planning.take_plan_back(batch, None, NOON)
    batch.refresh_from_db()
    assert (batch.state, batch.lays.count(), batch.bundles.count(), batch.needs.count()) == (
        "gathering",
        0,
        0,
        0,
    )
    planning.plan_batch(batch, NOON)
    nest_all(batch)
    cut_first(batch)
    assert not planning.take_plan_back(Batch.objects.get(), None, NOON)
    assert not gathering.cancel_batch(Batch.objects.get(), None, NOON)


def test_the_same_question_is_not_nested_twice(order: Order) -> None:
    make_planned_batch(order)
    again = make_order([(order.lines.get().style, {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])
    planning.plan_batch(gathered(again), NOON)
    newest = Marker.objects.filter(lays__batch__number="B-0002")
    assert {(marker.state, marker.message) for marker in newest} == {("ready", LAID_BEFORE)}
    for marker in newest:
        # Numbered like a nested one, so that a cutter finds the sizes together in its list.
        laid = read_marker(marker)
        assert laid is not None
        sizes = [one.size for one in laid.placements]
        assert sorted(sizes, key="SM".index) == sizes
        asked = [(item.piece, item.size, item.garment_no) for item in job_from_json(marker.job).items]
        assert sorted((one.piece, one.size, one.garment_no) for one in laid.placements) == sorted(asked)


def test_bundles_hold_one_order_line_each_where_the_workroom_wants_it() -> None:
    style = make_style()
    orders = [make_order([(style, {"neck": "rib band"}, "ink", {"M": n})]) for n in (3, 2)]
    batch = make_planned_batch(*orders, bundle_size=0)
    found = sorted((bundle.line.order.number, bundle.quantity) for bundle in batch.bundles.all())
    assert found == sorted((order.number, n) for order, n in zip(orders, (3, 2), strict=True))
    assert [bundle.number for bundle in batch.bundles.all()] == ["B-0001-01", "B-0001-02"]


def test_bundles_are_no_larger_than_the_workroom_says() -> None:
    order = make_order([(make_style(), {"neck": "rib band"}, "ink", {"M": 7})])
    batch = make_planned_batch(order, bundle_size=3)
    quantities = [bundle.quantity for bundle in batch.bundles.all()]
    assert sum(quantities) == 7
    assert max(quantities) == 3


def test_an_earlier_batch_keeps_what_it_needs(order: Order) -> None:
    ink = FabricColour.objects.get(fabric__name="jersey", name="ink")
    stock(ink, Decimal(100))
    first = make_planned_batch(order)
    need = first.needs.get(fabric_colour=ink).need
    other = make_order([(order.lines.get().style, {"neck": "rib band"}, "ink", {"M": 1})])
    second = make_planned_batch(other)
    free = {n.cloth.fabric: n.in_stock_m for n in planned_batch(second).needs.cloths}
    on_hand = FabricColour.objects.with_stock().get(pk=ink.pk).on_hand_m
    assert free["jersey"] == pytest.approx(float(on_hand - need))
    assert not claims(first).spoken_for


def test_what_to_buy_sums_the_batches(order: Order) -> None:
    other = make_order([(order.lines.get().style, {"neck": "rib band"}, "ink", {"M": 1})])
    batches = [make_planned_batch(order), make_planned_batch(other)]
    buying = what_to_buy()
    for need in buying.needs.cloths:
        each = [
            b.needs.get(
                fabric_colour__fabric__name=need.cloth.fabric, fabric_colour__name=need.cloth.colour
            ).need
            for b in batches
        ]
        assert need.need_m == pytest.approx(float(sum(each)))
        assert buying.waiting[need.cloth][0] == ("B-0001", "B-0002")
        assert need.to_buy_m + need.in_stock_m >= need.need_m


def test_the_plan_from_the_rows_meets_the_demand(order: Order) -> None:
    plan = plan_of(planned_batch(make_planned_batch(order)))
    assert sum(bundle.quantity for bundle in plan.bundles) == 5
    assert {row.garment.size: row.quantity for row in plan.demand} == {"S": 2, "M": 3}
    assert batch_demand(Batch.objects.get()).garments == 5


# ---- nesting ----


@once
def waiting_lays(order: Order) -> Batch:
    batch = gathered(order)
    planning.plan_batch(batch, NOON, seconds=2)
    Marker.objects.update(seconds=1)
    return batch


def waiting_marker(order: Order) -> Marker:
    waiting_lays(order)
    return Marker.objects.order_by("-pk").first()


@pytest.mark.usefixtures("nested_soon")
def test_a_marker_is_nested_by_one_worker_only_never_longer_than_its_rows_and_the_needs_follow(
    order: Order,
) -> None:
    marker = waiting_marker(order)
    rows_mm = marker.length_mm
    assert nesting.nest_one(marker.pk) == "ready"
    assert nesting.nest_one(marker.pk) == "not waiting"
    marker.refresh_from_db()
    assert marker.length_mm <= rows_mm
    found = marker_from_json(marker.placements)
    assert len(found.placements) == len(job_from_json(marker.job).items)
    batch = Batch.objects.get()
    assert batch.needs.filter(fabric_colour__isnull=False, is_estimate=True).exists()
    for one in Marker.objects.exclude(pk=marker.pk):
        nesting.nest_one(one.pk)
    assert not batch.needs.filter(fabric_colour__isnull=False, is_estimate=True).exists()
    assert marker.lays.get().batch == batch


def test_stopping_keeps_the_best(order: Order) -> None:
    marker = waiting_marker(order)
    assert not nesting.stop_and_keep(marker)
    Marker.objects.filter(pk=marker.pk).update(seconds=30)
    stopped = nesting._Desk(marker.pk)
    Marker.objects.filter(pk=marker.pk).update(state=Marker.State.NESTING)
    assert nesting.stop_and_keep(marker)
    assert stopped.should_stop()


def test_what_was_cut_off_waits_again_with_its_best(order: Order) -> None:
    marker = waiting_marker(order)
    Marker.objects.filter(pk=marker.pk).update(state=Marker.State.NESTING, heartbeat_at=NOON)
    assert cut_off.take_up_again(NOON + timedelta(seconds=5)) == Marker.objects.count() - 1
    assert cut_off.take_up_again(NOON + timedelta(minutes=5)) == Marker.objects.count()
    marker.refresh_from_db()
    assert (marker.state, marker.placements is not None) == (Marker.State.WAITING, True)


@pytest.mark.usefixtures("nested_soon")
def test_running_longer_starts_from_the_best_and_stops_at_the_table(order: Order) -> None:
    batch = make_planned_batch(order)
    marker = batch.lays.first().marker
    before = marker.length_mm
    assert nesting.run_longer(marker, 1.0)
    assert not nesting.run_longer(marker, 1.0)
    nesting.nest_one(marker.pk)
    marker.refresh_from_db()
    assert marker.length_mm <= before
    cut_first(batch)
    assert not nesting.run_longer(batch.lays.first().marker, 1.0)


def test_a_lay_longer_than_the_table_is_divided(order: Order) -> None:
    batch = make_planned_batch(order)
    lay = max(batch.lays.all(), key=lambda one: one.marker.length_mm)
    Workroom.the()
    Workroom.objects.update(table_length_mm=Decimal(str(lay.marker.length_mm * 0.8)))
    before = batch.lays.count()
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    assert settling.settle(batch.pk) == "planned again"
    assert batch.lays.count() > before
    assert [one.number for one in batch.lays.all()] == list(range(1, batch.lays.count() + 1))
    assert sum(bundle.quantity for bundle in batch.bundles.all()) == 5


# ---- at the table ----


def cut_first(batch: Batch, used_m: str = "2.50") -> table.LayTold:
    lay = batch.lays.first()
    return tell_all_of(lay, used_m)


def test_a_cut_lay_leaves_the_stock_once_and_gives_its_cloth_back_where_it_is_not_cut_after_all(
    order: Order,
) -> None:
    batch = make_planned_batch(order)
    assert cut_first(batch).used_m == Decimal("2.50")
    assert "as cut before" in cut_first(batch).problem
    lay = batch.lays.first()
    colour = lay.cloths.get().fabric_colour
    moves = StockMove.objects.filter(fabric_colour=colour, reason=StockMove.Reason.CUT)
    assert [move.quantity for move in moves] == [Decimal("-2.50")]
    assert batch.needs.get(fabric_colour=colour).taken == Decimal("2.500")
    batch.refresh_from_db()
    assert batch.state == Batch.State.CUTTING
    assert table.take_cut_back(lay, None, NOON)
    assert not table.take_cut_back(lay, None, NOON)
    assert sum(move.quantity for move in StockMove.objects.filter(note__contains="lay 1")) == 0
    assert batch.needs.get(fabric_colour=colour).taken == 0
    batch.refresh_from_db()
    assert batch.state == Batch.State.PLANNED
    for rest in batch.lays.filter(cut_at__isnull=True):
        tell_all_of(rest, "1")
    batch.refresh_from_db()
    assert batch.state == Batch.State.SEWING
    assert all(bundle.is_cut for bundle in Bundle.objects.with_cut())


def test_notions_are_taken_out_once_and_for_a_plan_that_is_dropped_they_are_in_the_stock_again(
    order: Order,
) -> None:
    """Else they would be taken out, and bought, a second time for the next. Counted cones go and come with them."""
    batch = make_planned_batch(order)
    kinds = batch.needs.filter(notion_colour__isnull=False).count()
    need = batch.needs.filter(notion_colour__notion__kind="thread").first()
    assert need
    thread = NotionColour.objects.filter(pk=need.notion_colour_id)
    StockMove.objects.create(notion_colour=thread.get(), quantity=round(need.need, 2), moved_at=NOON)
    there = notions_on_hand()
    thread.update(cones=4)
    assert take_notions_out(batch, None, NOON) == kinds > 0
    assert thread.get().cones == 0, "all its metres are taken"
    assert take_notions_out(batch, None, NOON) == 0
    assert StockMove.objects.filter(reason=StockMove.Reason.USED).count() == kinds
    # Of what it needs more by now only that much leaves the stock.
    batch.needs.filter(pk=need.pk).update(need=F("need") + 1)
    assert take_notions_out(batch, None, NOON) == 1
    assert StockMove.objects.latest("pk").quantity == -1
    assert planning.take_plan_back(batch, None, NOON) == planning.PlanDropped(kinds)
    assert notions_on_hand() == there
    assert thread.get().cones == 1, "no fewer than hold it"
    assert not planning.plan_batch(batch, NOON).problems
    assert take_notions_out(batch, None, NOON) == kinds
    assert gathering.cancel_batch(batch, None, NOON) == planning.PlanDropped(kinds)
    assert notions_on_hand() == there


def notions_on_hand() -> dict[int, Decimal]:
    """What the moves of each notion come to, where that is not nothing."""
    moves = StockMove.objects.filter(notion_colour__isnull=False).order_by()
    return dict(moves.values_list("notion_colour").annotate(there=Sum("quantity")).exclude(there=0))
