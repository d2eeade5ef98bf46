"""What a batch has cut or taken counts as there, and what batches speak for counts once."""

from __future__ import annotations

from decimal import Decimal

import pytest

from planner.core.needs import ClothNeed
from planner.cutting.actions import planning, table
from planner.cutting.actions.notions_out import take_notions_out
from planner.cutting.actions.settling import settle
from planner.cutting.buying import what_to_buy
from planner.cutting.claims import claims
from planner.cutting.models import Batch, Lay, StyleSnapshot
from planner.cutting.stored import planned_batch
from planner.materials.models import FabricColour, StockMove, Workroom
from planner.styles.models import StyleNotion
from tests.cutting.once import make_planned_batch
from tests.cutting.table_makers import tell_all_of
from tests.factories import NOON, make_order, stock
from tests.sewing.makers import nest_all, the_style

pytestmark = pytest.mark.django_db


def new_batch() -> Batch:
    return make_planned_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})]))


def jersey(batch: Batch) -> ClothNeed:
    return next(need for need in planned_batch(batch).needs.cloths if need.cloth.fabric == "jersey")


def jersey_lay(batch: Batch) -> Lay:
    return batch.lays.get(cloths__fabric_colour__fabric__name="jersey")


def cut(lay: Lay, used_m: str) -> None:
    tell_all_of(lay, used_m)


def test_cloth_that_is_cut_is_not_bought_once_more() -> None:
    batch = new_batch()
    need = batch.needs.get(fabric_colour__fabric__name="jersey").need
    stock(FabricColour.objects.get(fabric__name="jersey", name="ink"), need)
    assert jersey(batch).to_buy_m == 0
    cut(jersey_lay(batch), str(round(need, 2)))
    assert jersey(batch).to_buy_m == 0
    assert not any(key.fabric == "jersey" for key in what_to_buy().waiting if hasattr(key, "fabric"))


def test_a_cut_cloth_is_settled_whether_less_or_more_was_used_and_needed_again_where_it_is_taken_back() -> (
    None
):
    batch = new_batch()
    for used_m in ("1.00", "9.00"):
        cut(jersey_lay(batch), used_m)
        assert jersey(batch).to_buy_m == 0, used_m
        assert {need.cloth.fabric for need in what_to_buy().needs.cloths} == {"rib"}
        table.take_cut_back(jersey_lay(batch), None, NOON)
        assert jersey(batch).to_buy_m > 0
        assert {need.cloth.fabric for need in what_to_buy().needs.cloths} == {"jersey", "rib"}


def test_more_used_by_one_batch_takes_nothing_from_the_needs_of_another() -> None:
    first, second = new_batch(), new_batch()
    need = second.needs.get(fabric_colour__fabric__name="jersey").need
    cut(jersey_lay(first), "50.00")
    spoken = {getattr(key, "fabric", ""): amount for key, amount in claims(None).spoken_for.items()}
    assert spoken["jersey"] == pytest.approx(need)


def test_notions_taken_out_are_not_bought_once_more() -> None:
    batch = new_batch()
    assert any(need.to_buy_packs for need in planned_batch(batch).needs.notions)
    take_notions_out(batch, None, NOON)
    # Not even the cones that must be on the machines at once: they are out of the stock, but there.
    assert not any(need.to_buy_packs for need in planned_batch(batch).needs.notions)
    assert not what_to_buy().needs.notions


def test_as_much_of_a_notion_is_put_back_as_was_taken_out_in_parts() -> None:
    """The books are kept to the hundredth, needs to the thousandth: of parts each would be rounded by itself."""
    batch = new_batch()
    thread = batch.needs.filter(notion_colour__notion__unit="m").first()
    assert thread is not None
    for need in ("1.004", "2.008", "2.009"):
        batch.needs.filter(pk=thread.pk).update(need=Decimal(need))
        take_notions_out(batch, None, NOON)
    moves = StockMove.objects.filter(notion_colour=thread.notion_colour)
    assert sum(move.quantity for move in moves) == Decimal("-2.01")
    assert all(move.quantity for move in moves), "nothing at all is no move"
    assert planning.take_plan_back(batch, None, NOON)
    assert sum(move.quantity for move in moves.all()) == 0


def test_a_notion_that_is_needed_no_more_is_put_back_too() -> None:
    """Its garments were taken out of the batch after it had been taken off the shelf."""
    batch = new_batch()
    label = next(
        need.notion_colour
        for need in batch.needs.filter(notion_colour__isnull=False).select_related("notion_colour__notion")
        if need.notion_colour.notion.name == "size label"
    )
    taken = batch.needs.get(notion_colour=label).need
    take_notions_out(batch, None, NOON)
    StyleNotion.objects.filter(notion_colour=label).delete()
    StyleSnapshot.objects.all().delete()
    planning.refresh_needs(batch)
    assert not any(need.key.notion == "size label" for need in planned_batch(batch).needs.notions)
    assert not any(key.notion == "size label" for key in what_to_buy().waiting if hasattr(key, "notion"))
    assert not any(need.key.notion == "size label" for need in what_to_buy().needs.notions)
    assert planning.take_plan_back(batch, None, NOON)
    moves = StockMove.objects.filter(notion_colour=label)
    assert [move.quantity for move in moves.order_by("pk")] == [-taken, taken]


def test_notions_of_a_batch_being_sewn_are_spoken_for_until_they_are_taken() -> None:
    first = new_batch()
    for lay in first.lays.all():
        cut(lay, "1.00")
    first.refresh_from_db()
    assert first.state == Batch.State.SEWING
    labels = first.needs.get(notion_colour__notion__name="size label")
    stock(labels.notion_colour, labels.need)
    second = new_batch()
    free = {need.key.notion: need.in_stock for need in planned_batch(second).needs.notions}
    assert free["size label"] == 0
    # The first batch still finds them, and what it takes is then its own.
    assert {n.key.notion: n.in_stock for n in planned_batch(first).needs.notions}["size label"] == labels.need
    take_notions_out(first, None, NOON)
    assert {n.key.notion: n.in_stock for n in planned_batch(first).needs.notions}["size label"] == labels.need


def test_a_done_batch_buys_nothing() -> None:
    batch = new_batch()
    for lay in batch.lays.all():
        cut(lay, "1.00")
    Batch.objects.update(state=Batch.State.DONE)
    batch.refresh_from_db()
    read = planned_batch(batch)
    assert not any(need.to_buy_m for need in read.needs.cloths)
    assert not any(need.to_buy_packs for need in read.needs.notions)


def test_a_batch_taken_back_speaks_for_nothing() -> None:
    from planner.cutting.actions.planning import take_plan_back

    batch = new_batch()
    assert claims(None).spoken_for
    take_plan_back(batch, None, NOON)
    assert not claims(None).spoken_for
    assert not what_to_buy().waiting


def test_cones_for_the_machines_are_bought_once_for_all_batches() -> None:
    batches = [new_batch(), new_batch()]
    thread = next(need for need in what_to_buy().needs.notions if need.key.notion == "overlock thread")
    each = [b.needs.get(notion_colour__notion__name="overlock thread") for b in batches]
    # A few hundred metres are far less than one cone of 5,000 m, yet an overlock is threaded from three.
    assert thread.need == pytest.approx(float(sum(row.need for row in each)))
    assert thread.need < 5000
    assert {row.least_packs for row in each} == {thread.to_buy_packs} == {3}


def test_what_one_lay_really_used_changes_nothing_for_the_next() -> None:
    """Two lays of one cloth: after the first is cut, the length of the second is still needed, whole."""
    batch = new_batch()
    marker = jersey_lay(batch).marker
    Workroom.objects.update(table_length_mm=Decimal(str(marker.length_mm * 0.8)))
    batch.cut_plans.update(state="nesting")
    assert settle(batch.pk) == "planned again"
    nest_all(batch)
    first, second = batch.lays.filter(cloths__fabric_colour__fabric__name="jersey")
    whole = {need.cloth.fabric: need.need_m for need in what_to_buy().needs.cloths}["jersey"]
    lengths = [lay.marker.length_mm + 2 * lay.end_allowance_mm for lay in (first, second)]
    spreads = [lay.cloths.get().spreads for lay in (first, second)]
    table_mm = [length * n for length, n in zip(lengths, spreads, strict=True)]
    for used_m in ("0.50", "9.00"):
        cut(first, used_m)
        rest = {need.cloth.fabric: need.need_m for need in what_to_buy().needs.cloths}["jersey"]
        assert rest == pytest.approx(whole * table_mm[1] / sum(table_mm), abs=0.002), used_m
        # Nothing is in stock, so just that is bought, rounded up to the tenth of a metre it is sold in.
        assert rest - 0.001 <= jersey(batch).to_buy_m < rest + 0.101, used_m
        if used_m == "0.50":
            table.take_cut_back(first, None, NOON)
    cut(second, "1.00")
    assert jersey(batch).to_buy_m == 0
