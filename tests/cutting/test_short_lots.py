"""A roll that gives only some plies of a lay in a batch being cut: what is missing of its lot is said."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.rolls import PliesShort, PliesWanted
from planner.core.spec import Cloth
from planner.core.units import Display
from planner.cutting.bundling import TO_BUY, lots_of
from planner.cutting.buying import what_to_buy
from planner.cutting.lots import give_lots
from planner.cutting.models import Batch, Lay, LayRoll
from planner.cutting.portions import spread_m
from planner.cutting.printed import fingerprints
from planner.cutting.reading import bundles_of
from planner.cutting.rolls_there import dues_before
from planner.cutting.screens_lay import lay_table
from planner.cutting.short_lots import MoreOfLot, lot_in_words
from planner.cutting.stored import planned_batch
from planner.materials.models import FabricColour, Roll, Workroom
from planner.materials.promised import StillPromised
from tests.core.makers import make_cloth
from tests.cutting.lot_makers import come_in, two_plies_to_buy
from tests.cutting.table_makers import jersey_lay, only_cloth
from tests.factories import stock

TWO = PliesWanted("7", 2993.561, 2)
TWO_PAIRS = PliesWanted("7", 2993.561 / 2, 4, plies_per_spread=2)
ONE_THERE = MoreOfLot("B03", 1, PliesShort("7", 1, 2993.561), ("R12",))


def words(cloth: Cloth, display: Display = "metric", wanted: PliesWanted = TWO) -> str:
    """With plain spaces before the units."""
    told = lot_in_words(ONE_THERE, wanted, cloth, display)
    return told.replace("\u202f", " ").replace("\u2009", " ")


def test_what_is_missing_of_a_lot_in_words() -> None:
    cloth = make_cloth(sold_by="metre", pack_quantity=Decimal("0.1"))
    assert words(cloth) == (
        "its 2 plies of 3.00 m must be of one shade lot, and R12 of lot B03, kept for them, gives 1; "
        "3.0 m more of lot B03 would do, of another lot 6.0 m"
    )
    assert "2 pairs of plies, 3.00 m a pair, must" in words(cloth, wanted=TWO_PAIRS)


def test_a_workroom_that_measures_in_yards_reads_yards() -> None:
    # An inch is 25.4 mm: 2993.561 mm are 117.857 in, to spread 117 7/8. A yard is 914.4 mm: 3.0 m are 3.281 yd, 6.0 m
    # are 6.562 yd, and up to the eighth, so that it suffices, 3 3/8 and 6 5/8.
    cloth = make_cloth(sold_by="metre", pack_quantity=Decimal("0.1"))
    assert words(cloth, "imperial") == (
        "its 2 plies of 117\N{NO-BREAK SPACE}7/8 in must be of one shade lot, and R12 of lot B03, kept for them, "
        "gives 1; "
        "3 ⅜ yd more of lot B03 would do, of another lot 6 ⅝ yd"
    )


def test_where_a_roll_is_bought_either_way_it_is_not_said_twice() -> None:
    cloth = make_cloth(sold_by="roll", pack_quantity=Decimal(10))
    assert words(cloth).endswith("10.0 m more of lot B03 would do")
    assert not words(make_cloth(sold_by="roll", pack_quantity=Decimal(2)))


@pytest.fixture
def batch(db: None) -> Batch:
    return two_plies_to_buy()


def said(batch: Batch) -> list[str]:
    """How the jersey is reckoned, on the batch's own page and on that of all batches."""
    both = (planned_batch(batch).needs, what_to_buy().needs)
    return [next(one.how for one in needs.cloths if one.cloth.fabric == "jersey") for needs in both]


def short_now(batch: Batch) -> int:
    return LayRoll.objects.filter(lay_cloth=only_cloth(jersey_lay(batch)), roll=None).count()


def promised(batch: Batch) -> list[tuple[str, int]]:
    rows = LayRoll.objects.filter(lay_cloth__lay=jersey_lay(batch), roll__isnull=False)
    return sorted(rows.values_list("roll__number", "spreads"))


def test_the_lot_that_came_in_for_one_ply_is_named_until_the_other_is_there(
    batch: Batch, helper_client: Client
) -> None:
    assert not any("would do" in how for how in said(batch))
    come_in(batch, "R12", 1.2, "B03")
    assert short_now(batch) == 1, "both plies are to be of one lot, so none has its roll"
    for how in said(batch):
        assert "must be of one shade lot, and R12 of lot B03, kept for them, gives 1; " in how
        assert " more of lot B03 would do, of another lot " in how
    for address in (reverse("batch-needs", args=[batch.number]), reverse("buy-page")):
        assert "more of lot B03 would do" in helper_client.get(address).content.decode()
    Workroom.objects.update(display=Workroom.Display.IMPERIAL)
    for address in (reverse("batch-needs", args=[batch.number]), reverse("buy-page")):
        page = helper_client.get(address).content.decode()
        assert "\N{THIN SPACE}yd more of lot B03 would do" in page
        assert "\N{THIN SPACE}m more of lot" not in page
    assert promised(batch) == [("R12", 1)]
    come_in(batch, "R13", 1.1, "B03")
    assert not short_now(batch)
    assert promised(batch) == [("R12", 1), ("R13", 1)]
    assert not any("would do" in how for how in said(batch))


def fingerprint(batch: Batch) -> str:
    lay = jersey_lay(batch)
    read = list(batch.lays.with_rolls())
    return fingerprints(read, bundles_of(batch, read))[str(lay.number)]


def bought_m(batch: Batch) -> list[float]:
    both = (planned_batch(batch).needs, what_to_buy().needs)
    return [next(one.to_buy_m for one in needs.cloths if one.cloth.fabric == "jersey") for needs in both]


def test_the_part_is_kept_for_it_and_promised_to_nobody_else(batch: Batch, maker_client: Client) -> None:
    before, to_buy = fingerprint(batch), bought_m(batch)
    come_in(batch, "R12", 1.2, "B03")
    roll = Roll.objects.get(number="R12")
    each_mm = float(spread_m(jersey_lay(batch))) * 1000
    # What other batches are left of it: 1.2 spreads less the one kept.
    others = dues_before(another_batch(batch), StillPromised())
    assert sum(due.length_mm for due in others if due.roll == roll.pk) == pytest.approx(each_mm)
    ((promise,),) = StillPromised().promises.values()
    assert (promise.batch, promise.lay, promise.spreads) == (batch.number, jersey_lay(batch).number, 1)
    # Both plies are still to be bought, for the part alone cannot be cut; neither the ticket nor its bundles change.
    assert bought_m(batch) == to_buy
    assert fingerprint(batch) == before
    lay = Lay.objects.with_rolls().get(pk=jersey_lay(batch).pk)
    (portion,) = lay_table(lay, "metric").portions
    assert (portion.spreads, portion.roll) == (2, None)
    page = maker_client.get(reverse("lay-detail", args=[batch.number, lay.number])).content.decode()
    assert "R12 of lot B03 is kept for 1 of its 2 plies of ink." in page


def another_batch(batch: Batch) -> Batch:
    other = Batch.objects.get(pk=batch.pk)
    other.pk, other.number, other.state = None, "B-0099", Batch.State.CUTTING
    other.save()
    return other


def test_what_was_kept_is_free_once_another_lot_gives_all(batch: Batch) -> None:
    come_in(batch, "R12", 1.2, "B03")
    come_in(batch, "R13", 2.2, "C01")
    assert promised(batch) == [("R13", 2)]
    assert not any("would do" in how for how in said(batch))


def test_a_part_on_a_roll_of_no_noted_lot_is_not_kept(batch: Batch) -> None:
    """More of such a lot cannot be asked for."""
    come_in(batch, "R12", 1.2, "")
    assert promised(batch) == []


def test_bundles_get_no_lot_from_what_is_kept(batch: Batch) -> None:
    come_in(batch, "R12", 1.2, "B03")
    lay = jersey_lay(batch)
    assert set(lots_of(batch, [lay])[lay.number]) == {TO_BUY}
    give_lots(lay)
    assert {bundle.shade_lot for bundle in batch.bundles.all()} == {""}


def test_a_batch_of_which_nothing_is_cut_is_given_what_there_is(batch: Batch) -> None:
    Batch.objects.update(state=Batch.State.PLANNED)
    stock(FabricColour.objects.get(fabric__name="rib", name="ink"), 50)
    batch.refresh_from_db()
    come_in(batch, "R12", 1.2, "B03")
    rows = LayRoll.objects.filter(lay_cloth__in=jersey_lay(batch).cloths.all())
    assert sorted(rows.values_list("roll__number", "spreads"), key=str) == [("R12", 1), (None, 1)]
    assert not any("would do" in how for how in said(batch))
