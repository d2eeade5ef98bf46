"""Metres lost at flaws noted on rolls are needed too, in place of what is kept for flaws: reckoned by hand."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from planner.core.needs import ClothNeed
from planner.core.spec import ClothKey
from planner.cutting.actions import rolling, table
from planner.cutting.actions.booking import Told
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.bill import BillSetting, make_bill
from planner.cutting.buying import what_to_buy
from planner.cutting.claims import claims
from planner.cutting.models import Batch, LayRoll, Marker
from planner.cutting.stock import free_workshop
from planner.cutting.stored import planned_batch
from planner.materials.models import Fabric, FabricColour, Roll, RollFlaw, StockMove
from planner.materials.rolls import on_shelf
from tests.cutting.once import once, plies_batch, settled, waiting_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, make_order, stock
from tests.papers.words import all_words
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
JERSEY = ClothKey("jersey", "ink")


@once
def past_a_flaw() -> Batch:
    """Five plies of jersey from R9, each a marker of 2.36 m and 2 × 2 cm at its ends: 5 × 2.4 = 12 m.

    2 % are kept for flaws, 0.24 m. R9 has 20 m and a flaw from 3 to 4 m: the second ply begins behind it, the 1.6 m
    from 2.4 m on are cut off, and 13.6 m come off the roll.
    """
    made = plies_batch(5)
    lay = jersey_lay(made)
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=2360)
    made.lays.filter(pk=lay.pk).update(end_allowance_mm=20)
    roll = roll_of(only_cloth(lay), metres="20")
    RollFlaw.objects.create(roll=roll, from_m=3, to_m=4)
    LayRoll.objects.filter(lay_cloth=only_cloth(lay)).delete()
    LayRoll.objects.create(lay_cloth=only_cloth(lay), roll=roll, spreads=5)
    keep_for_flaws(made, 2)
    return made


@pytest.fixture
def batch() -> Batch:
    return past_a_flaw()


def keep_for_flaws(batch: Batch, percent: int) -> None:
    Fabric.objects.update(damage_percent=percent, pack_quantity=Decimal("0.01"))
    refresh_needs(batch)


def jersey(batch: Batch) -> ClothNeed:
    return next(need for need in planned_batch(batch).needs.cloths if need.cloth == JERSEY)


def of_all() -> ClothNeed:
    return next(need for need in what_to_buy().needs.cloths if need.cloth == JERSEY)


def free_m() -> float:
    return free_workshop(None).cloths[JERSEY].in_stock_m


def tell(batch: Batch, spreads: int, used_m: str) -> None:
    cloth, roll = only_cloth(jersey_lay(batch)), Roll.objects.get(number="R9")
    told = table.tell_lay(jersey_lay(batch), [Told(cloth.pk, spreads, Decimal(used_m), roll.pk)], None, NOON)
    assert not told.problem


def test_the_larger_of_what_is_lost_and_what_is_kept_for_flaws_is_needed(batch: Batch) -> None:
    for percent, needed, lost in (
        (0, 13.6, 1.6),  # 12 laid + 1.6 lost
        (2, 13.6, 1.6),  # the same: the flaw is one of those that 0.24 m are kept for
        (15, 13.8, 0.0),  # 12 × 1.15: more is kept than is lost
    ):
        keep_for_flaws(batch, percent)
        own, of_both = jersey(batch), of_all()
        assert (own.need_m, own.lost_m) == (pytest.approx(needed), lost), percent
        assert (of_both.need_m, of_both.lost_m) == (pytest.approx(needed), lost), percent
        # Others find what is left on the roll: what is kept for flaws that nobody noted is bought, not kept from them.
        assert free_m() == pytest.approx(20 - 13.6)
        assert own.to_buy_m == of_both.to_buy_m == 0


def test_the_page_of_the_roll_its_lay_and_the_needs_agree(batch: Batch, maker_client: Client) -> None:
    (shelf,) = on_shelf(Roll.objects.with_left().filter(number="R9"))
    assert float(shelf.free_m) == pytest.approx(free_m()) == pytest.approx(6.4)
    address = reverse("lay-detail", args=[batch.number, jersey_lay(batch).number])
    assert "13.6\u2009m of cloth as planned" in maker_client.get(address).content.decode()


def test_washed_first_what_is_lost_is_as_it_lies_on_the_roll(batch: Batch) -> None:
    """Of 2.5 m washing leaves 2.4 m, a ply: the first lies from 0 to 2.5 m, so 1.5 m are lost; 12 ÷ 0.96 = 12.5 m."""
    Fabric.objects.update(shrinkage_handling="wash_first", shrinkage_length_percent=4)
    refresh_needs(batch)
    assert jersey(batch).need_m == pytest.approx(14)
    assert free_m() == pytest.approx(6, abs=0.002)


def test_once_it_is_passed_it_is_among_the_metres_used_and_not_counted_again(batch: Batch) -> None:
    tell(batch, 1, "2.40")
    # 2.4 used; 4 × 2.4 = 9.6 still to cut and the 1.6 lost.
    assert (jersey(batch).need_m, jersey(batch).lost_m) == (pytest.approx(13.6), 1.6)
    assert free_m() == pytest.approx(20 - 2.4 - 11.2)
    tell(batch, 1, "4.00")
    # 6.4 used with what was lost, 3 × 2.4 = 7.2 still to cut, and 2 % of these.
    assert (jersey(batch).need_m, jersey(batch).lost_m) == (pytest.approx(6.4 + 7.2 * 1.02), 0)
    assert claims(batch).lost_m == {}
    tell(batch, 3, "7.20")
    assert jersey(batch).need_m == pytest.approx(13.6)


def test_noted_later_or_found_to_be_none_it_counts_as_it_stands(batch: Batch) -> None:
    RollFlaw.objects.all().delete()
    assert jersey(batch).need_m == pytest.approx(12.24)
    # From 5 to 5.5 m: two plies before it, to 4.8 m, and three behind; 0.7 m are lost.
    RollFlaw.objects.create(roll=Roll.objects.get(number="R9"), from_m=5, to_m="5.5")
    assert jersey(batch).need_m == pytest.approx(12.7)
    # What no ply begins behind costs nothing.
    RollFlaw.objects.update(from_m=13, to_m=15)
    assert (jersey(batch).need_m, free_m()) == (pytest.approx(12.24), pytest.approx(8))


def test_a_ply_that_finds_no_room_behind_it_is_bought_and_what_is_left_over_is_right(batch: Batch) -> None:
    """Of 14.6 m with the flaw from 10 to 12 m, four plies lie before it to 9.6 m, and the last behind: 0.2 m are left.
    With 14.3 m it does not: 4 × 2.4 m are cut there and 2.4 × 1.02 = 2.448 m bought."""
    RollFlaw.objects.update(from_m=10, to_m=12)
    StockMove.objects.filter(roll__number="R9").update(quantity="14.6")
    assert (jersey(batch).need_m, jersey(batch).to_buy_m) == (pytest.approx(14.4), 0)
    StockMove.objects.filter(roll__number="R9").update(quantity="14.3")
    LayRoll.objects.filter(roll__number="R9").update(spreads=4)
    LayRoll.objects.create(lay_cloth=only_cloth(jersey_lay(batch)), roll=None, spreads=1, position=1)
    # What lies behind the flaw is not touched by plies before it: nothing is lost.
    assert jersey(batch).lost_m == 0
    assert jersey(batch).to_buy_m == pytest.approx(2.45)
    # 14.3 m are more than the 12.24 needed: it is said why it is bought all the same.
    assert "12.24 needed, 14.30 there, but no roll or end there holds plies for 2.45\u2009m." in of_bill(
        batch
    )


def test_the_next_batch_is_told_the_free_metres_its_plies_are_dealt_out_from(batch: Batch) -> None:
    stock(FabricColour.objects.get(fabric__name="rib", name="ink"), 50)
    later = settled(waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"M": 4})])))
    (need,) = (one for one in planned_batch(later).needs.cloths if one.cloth == JERSEY)
    assert need.in_stock_m == pytest.approx(6.4, abs=0.002)
    mm = sum(
        (lay.marker.length_mm + 2 * lay.end_allowance_mm) * cloth.spreads
        for lay in later.lays.all()
        for cloth in lay.cloths.filter(fabric_colour__fabric__name="jersey")
    )
    # With just so much of R9 behind the first batch every ply has its place, with 10 cm less not.
    for spare_m, is_short in ((Decimal("0.01"), False), (Decimal("-0.1"), True)):
        left_m = Decimal("13.6") + round(Decimal(mm) / 1000, 2) + spare_m
        StockMove.objects.filter(roll__number="R9").update(quantity=left_m)
        assert bool(rolling.assign_rolls(later).short) is is_short
        need = next(one for one in planned_batch(later).needs.cloths if one.cloth == JERSEY)
        assert need.in_stock_m == pytest.approx(float(left_m) - 13.6, abs=0.002)
        assert bool(need.short_m) is is_short


def of_bill(batch: Batch) -> str:
    bill = make_bill(planned_batch(batch), BillSetting("metric", "EUR", open={"all"}))
    return " ".join(next(line for line in bill.lines if line.what == "jersey").steps)


def test_it_is_told_beside_the_need_on_pages_and_papers(batch: Batch, maker_client: Client) -> None:
    """As its marker is drawn, 63 cm: four of five plies of 0.67 m lie before the flaw: 4 − 2.68 = 1.32 m are lost."""
    Marker.objects.filter(pk=jersey_lay(batch).marker_id).update(length_mm=630)
    refresh_needs(batch)
    told = "3.35 m to spread, from the nested lays; 1.32 m lost at flaws of its rolls"
    page = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert told in page.replace("\u2009", " ")
    assert "3.35 m laid + 1.32 lost at flaws of its rolls = 4.67\u2009m, rounded up." in of_bill(batch)
    sheet = all_words(maker_client.get(reverse("cut-sheet", args=[batch.number])).content)
    assert "5 plies × (630 + 2 × 20) mm = 3.35 m" in sheet
    assert "Laid 3.35 + 1.32 lost at flaws of its rolls = 4.67 m; there for it 20, nothing short" in sheet
    tell(batch, 1, "0.67")
    assert "0.67 used for what is cut + 4 still to cut with 1.32 lost at flaws = 4.67" in of_bill(batch)


def test_the_list_of_what_to_buy_tells_it(batch: Batch, maker_client: Client) -> None:
    StockMove.objects.filter(roll__number="R9").update(quantity="13")
    page = maker_client.get(reverse("buy-page")).content.decode().replace("\u2009", " ")
    assert "0.6 m" in page
    listed = maker_client.get(reverse("buy-list") + "?as=csv").content.decode().replace("\u2009", " ")
    assert ",m,,1,13.6,13,0,0.6," in listed
    assert "+ 1.6 lost at flaws of its rolls = 13.60 m; − 13 in stock = 0.60 m short" in listed


def test_where_no_roll_has_a_flaw_nothing_more_is_asked(batch: Batch) -> None:
    RollFlaw.objects.all().delete()
    with CaptureQueriesContext(connection) as asked:
        claims(batch)
    assert len(asked) == 1
