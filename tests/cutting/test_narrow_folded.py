"""Folded, a lay takes twice its own width: no roll that folds to less is given to it, and none such counts as stock."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.model import PlannedLay
from planner.core.lays.nested_lay import NestedLay
from planner.core.lays.rows import first_marker
from planner.core.rolls import RollThere
from planner.core.spec import ClothKey
from planner.cutting import unsaved
from planner.cutting.actions import rolling, weighing
from planner.cutting.demand import batch_demand
from planner.cutting.lot_units import LotUnit
from planner.cutting.models import Batch, Lay, LayCloth, LayRoll, Marker
from planner.cutting.plies_dealt import deal_spreads
from planner.cutting.stored import shop_of, stored_lay, stored_lays
from planner.materials.models import Fabric, Roll
from tests.cutting import once
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.cutting.test_table_views import as_filled_in, text
from tests.factories import make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
KEY = ClothKey("jersey", "ink")


@pytest.fixture
def batch() -> Batch:
    """One lay of jersey, 1,470 mm between its selvedges, that lies folded: 735 mm wide."""
    the_style()
    Fabric.objects.filter(name="jersey").update(lay_open=False, lay_folded=True)
    order = make_order([(the_style(), {"neck": "rib band"}, "ink", {"M": 2})])
    return once.settled(once.waiting_batch(order))


@pytest.fixture
def lay(batch: Batch) -> Lay:
    found = jersey_lay(batch)
    assert (found.mode, found.lay_width_mm) == ("folded", 735.0)
    return found


@pytest.fixture
def roll(lay: Lay) -> Roll:
    """Long enough, and 1,000 mm wide from edge to edge: wider than the lay, but only some 485 mm folded."""
    found = roll_of(only_cloth(lay), "E-1", "20")
    Roll.objects.filter(pk=found.pk).update(full_width_mm=1000)
    return found


def planned(lay: Lay) -> PlannedLay:
    return stored_lay(Lay.objects.with_everything().get(pk=lay.pk)).planned


def there(usable_mm: float) -> tuple[RollThere, ...]:
    return (RollThere("R-9", 20_000.0, usable_width_mm=usable_mm),)


def test_a_folded_lay_gets_no_roll_that_is_too_narrow_folded(batch: Batch, lay: Lay, roll: Roll) -> None:
    rolling.assign_rolls(batch)
    assert LayRoll.objects.get(lay_cloth__lay=lay).roll is None, "to be bought"
    # 1,500 mm from edge to edge are the 1,470 mm it takes.
    Roll.objects.filter(pk=roll.pk).update(full_width_mm=1500)
    rolling.assign_rolls(batch)
    assert LayRoll.objects.get(lay_cloth__lay=lay).roll == roll


def test_the_roll_it_gets_is_one_that_the_table_takes(
    helper_client: Client, batch: Batch, lay: Lay, roll: Roll
) -> None:
    wide = roll_of(only_cloth(lay), "E-2", "20")
    rolling.assign_rolls(batch)
    assert LayRoll.objects.get(lay_cloth__lay=lay).roll == wide
    page = text(helper_client.get(reverse("lay-detail", args=[batch.number, lay.number])))
    answer = helper_client.post(reverse("lay-cut", args=[batch.number, lay.number]), as_filled_in(page))
    assert answer.status_code == 302


@pytest.mark.parametrize(("usable_mm", "spreads"), [(1469.0, 0), (1470.0, 1)])
def test_spreads_are_dealt_to_rolls_that_are_wide_enough_folded(
    batch: Batch, lay: Lay, usable_mm: float, spreads: int
) -> None:
    (stored,) = [one for one in stored_lays(batch.lays.with_everything()) if one.row == lay]
    dealt = deal_spreads([rolling._wanted(stored, KEY)], there(usable_mm), 500.0, {})
    assert sum(dealt.on_rolls.values()) == spreads


def test_a_plan_kept_nowhere_counts_no_roll_that_is_too_narrow_folded(lay: Lay) -> None:
    found = planned(lay)
    wanted = unsaved._wanted(NestedLay(found, first_marker(found.job)), KEY)
    assert deal_spreads([wanted], there(1469.0), 500.0, {}).short
    assert not deal_spreads([wanted], there(1470.0), 500.0, {}).short


def test_plies_of_one_lot_want_the_whole_width() -> None:
    lay = Lay(
        pk=1,
        number=1,
        mode="folded",
        lay_width_mm=735.0,
        end_allowance_mm=0.0,
        marker=Marker(length_mm=900.0),
    )
    unit = LotUnit(lay, KEY, (LayCloth(pk=1, lay=lay, spreads=1),), was_to_buy=True, is_alone=True)
    assert unit.wanted.cloth_width_mm == 1470.0
    lay.mode = "face_to_face"
    assert unit.wanted.cloth_width_mm == 735.0


def test_the_rest_of_a_folded_lay_does_not_count_a_narrow_roll_either(
    batch: Batch, lay: Lay, roll: Roll
) -> None:
    kept = planned(lay)
    assert KEY in weighing.fits_nowhere([kept], {KEY: there(1469.0)})
    assert not weighing.fits_nowhere([kept], {KEY: there(1470.0)})
    # The only piece wide enough is too short.
    shop = shop_of(batch, batch_demand(batch))
    assert weighing.unusable(lay, kept, shop) is None, "all is to be bought anyhow"
    roll_of(only_cloth(lay), "E-2", "0.4")
    told = weighing.unusable(lay, kept, shop)
    assert told is not None
    assert told.most_mm == pytest.approx(400, abs=1)
