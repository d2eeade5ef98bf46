"""A roll that gives only some plies of a lay in a batch being cut: what is missing of its lot is said."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.rolls import MoreOfLot, PliesShort, PliesWanted
from planner.core.spec import Cloth
from planner.core.units import Display
from planner.cutting.actions import arrived
from planner.cutting.buying import what_to_buy
from planner.cutting.models import Batch, CutPlan, LayRoll
from planner.cutting.roll_rows import Taken, write_taken
from planner.cutting.screens_lay import spread_m
from planner.cutting.short_lots import lot_in_words
from planner.cutting.stored import planned_batch
from planner.materials.models import FabricColour, Workroom
from tests.core.makers import make_cloth
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import stock
from tests.sewing.makers import nest_all

TWO = PliesWanted("7", 2993.561, 2)
ONE_THERE = MoreOfLot("7", "B03", 1, PliesShort("7", 1, 2993.561))


def words(cloth: Cloth, display: Display = "metric", *, in_pairs: bool = False) -> str:
    """With plain spaces before the units."""
    told = lot_in_words(ONE_THERE, TWO, cloth, display, in_pairs=in_pairs)
    return told.replace("\u202f", " ").replace("\u2009", " ")


def test_what_is_missing_of_a_lot_in_words() -> None:
    cloth = make_cloth(sold_by="metre", pack_quantity=Decimal("0.1"))
    assert words(cloth) == (
        "its 2 plies of 2.99 m must be of one shade lot, and lot B03 in stock gives 1; "
        "3.0 m more of lot B03 would do, of another lot 6.0 m"
    )
    assert "2 pairs of plies, 2.99 m a pair, must" in words(cloth, in_pairs=True)


def test_a_workroom_that_measures_in_yards_reads_yards() -> None:
    # A yard is 914.4 mm: 2993.561 mm are 3.274 yd, to the eighth 3 1/4; 3.0 m are 3.281 yd, 6.0 m are 6.562 yd.
    cloth = make_cloth(sold_by="metre", pack_quantity=Decimal("0.1"))
    assert words(cloth, "imperial") == (
        "its 2 plies of 3 ¼ yd must be of one shade lot, and lot B03 in stock gives 1; "
        "3 ¼ yd more of lot B03 would do, of another lot 6 ½ yd"
    )


def test_where_a_roll_is_bought_either_way_it_is_not_said_twice() -> None:
    cloth = make_cloth(sold_by="roll", pack_quantity=Decimal(10))
    assert words(cloth).endswith("10.0 m more of lot B03 would do")
    assert not words(make_cloth(sold_by="roll", pack_quantity=Decimal(2)))


@pytest.fixture
def batch(db: None) -> Batch:
    """Two plies, both to be bought, in a batch of which something is cut."""
    batch = plies_batch(2)
    nest_all(batch)
    CutPlan.objects.filter(batch=batch).update(state=CutPlan.State.SETTLED)
    cloth = only_cloth(jersey_lay(batch))
    LayRoll.objects.filter(lay_cloth=cloth).delete()
    write_taken([cloth], [Taken(None, 2)])
    Batch.objects.filter(pk=batch.pk).update(state=Batch.State.CUTTING)
    return Batch.objects.get(pk=batch.pk)


def said(batch: Batch) -> list[str]:
    """How the jersey is reckoned, on the batch's own page and on that of all batches."""
    both = (planned_batch(batch).needs, what_to_buy().needs)
    return [next(one.how for one in needs.cloths if one.cloth.fabric == "jersey") for needs in both]


def come_in(batch: Batch, number: str, share: float, lot: str) -> None:
    lay = jersey_lay(batch)
    roll_of(only_cloth(lay), number, str(round(spread_m(lay) * Decimal(str(share)), 2)), shade_lot=lot)
    arrived.cloth_came_in(batch.pk)


def short_now(batch: Batch) -> int:
    return LayRoll.objects.filter(lay_cloth=only_cloth(jersey_lay(batch)), roll=None).count()


def test_the_lot_that_came_in_for_one_ply_is_named_until_the_other_is_there(
    batch: Batch, helper_client: Client
) -> None:
    assert not any("would do" in how for how in said(batch))
    come_in(batch, "R12", 1.2, "B03")
    assert short_now(batch) == 1, "both plies are to be of one lot, so none has its roll"
    for how in said(batch):
        assert "must be of one shade lot, and lot B03 in stock gives 1; " in how
        assert " more of lot B03 would do, of another lot " in how
    for address in (reverse("batch-needs", args=[batch.number]), reverse("buy-page")):
        assert "more of lot B03 would do" in helper_client.get(address).content.decode()
    Workroom.objects.update(display=Workroom.Display.IMPERIAL)
    for address in (reverse("batch-needs", args=[batch.number]), reverse("buy-page")):
        page = helper_client.get(address).content.decode()
        assert "\N{THIN SPACE}yd more of lot B03 would do" in page
        assert "\N{THIN SPACE}m more of lot" not in page
    come_in(batch, "R13", 1.1, "B03")
    assert not short_now(batch)
    assert not any("would do" in how for how in said(batch))


def test_a_batch_of_which_nothing_is_cut_is_given_what_there_is(batch: Batch) -> None:
    Batch.objects.update(state=Batch.State.PLANNED)
    stock(FabricColour.objects.get(fabric__name="rib", name="ink"), 50)
    batch.refresh_from_db()
    come_in(batch, "R12", 1.2, "B03")
    rows = LayRoll.objects.filter(lay_cloth__in=jersey_lay(batch).cloths.all())
    assert sorted(rows.values_list("roll__number", "spreads"), key=str) == [("R12", 1), (None, 1)]
    assert not any("would do" in how for how in said(batch))
