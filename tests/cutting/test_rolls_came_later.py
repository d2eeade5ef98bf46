"""A roll that comes in for plies on printed tickets: numbers given stay, and the page says what is out of date."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import arrived, rolling
from planner.cutting.bundle_papers import ticket_data
from planner.cutting.came_later import came_later
from planner.cutting.models import Batch, CutPlan, Lay, LayRoll
from planner.cutting.portions import spread_m
from planner.cutting.roll_rows import Taken, write_taken
from planner.cutting.setting import batch_setting
from planner.cutting.stored import plan_of, planned_batch
from planner.materials.models import StockMove, Workroom
from tests.cutting.once import once, plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import TODAY
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db


@once
def five_bundles() -> Batch:
    """Five bundles of one: two plies of lot A, two of lot B, one to be bought."""
    Workroom.the()
    Workroom.objects.update(bundle_size=1)
    batch = plies_batch(5)
    nest_all(batch)
    CutPlan.objects.filter(batch=batch).update(state=CutPlan.State.SETTLED)
    cloth = only_cloth(jersey_lay(batch))
    metres = str(round(2 * spread_m(jersey_lay(batch)) + Decimal("0.02"), 2))
    rolls = {lot: roll_of(cloth, f"R{lot}", metres, shade_lot=lot).pk for lot in "AB"}
    LayRoll.objects.filter(lay_cloth=cloth).delete()
    write_taken([cloth], [Taken(rolls["A"], 2, "A"), Taken(rolls["B"], 2, "B"), Taken(None, 1)])
    return Batch.objects.get(pk=batch.pk)


@pytest.fixture
def batch() -> Batch:
    return five_bundles()


def plies_of_tickets(batch: Batch) -> list[str]:
    read = planned_batch(Batch.objects.get(pk=batch.pk))
    tickets = ticket_data(plan_of(read), read.shop, batch_setting(Workroom.the(), read.batch, TODAY))
    number = jersey_lay(batch).number
    return [words for one in tickets for _, lay, words in one.plies if lay == number]


def mid_air(batch: Batch) -> list[tuple[str, str]]:
    return list(batch.bundles.order_by("pk").values_list("number", "token"))


def test_plies_named_on_tickets_stay_when_a_roll_of_a_lot_that_is_there_comes_in(batch: Batch) -> None:
    """Formerly the third bundle went over to ply 5 and the fifth to ply 4, for lot A then had three plies."""
    printed, tokens = plies_of_tickets(batch), mid_air(batch)
    assert printed == ["ply 1", "ply 2", "ply 3", "ply 4", "ply 5"]
    roll_of(only_cloth_to_buy(batch), "R9", shade_lot="A")
    assert arrived.cloth_came_in(batch.pk) == "1 spreads have their roll now"
    assert plies_of_tickets(batch) == printed
    assert mid_air(batch) == tokens
    assert [bundle.shade_lot for bundle in batch.bundles.order_by("pk")] == ["A", "A", "B", "B", "A"]


def only_cloth_to_buy(batch: Batch):  # type: ignore[no-untyped-def]
    return jersey_lay(batch).cloths.get(rolls__roll=None)


def test_the_page_of_the_lay_says_that_a_ticket_from_before_is_out_of_date(
    batch: Batch, helper_client: Client
) -> None:
    lay = jersey_lay(batch)
    page = reverse("lay-detail", args=[batch.number, lay.number])
    assert "printed-before" not in helper_client.get(page).content.decode()
    roll_of(only_cloth_to_buy(batch), "R9", shade_lot="A")
    arrived.cloth_came_in(batch.pk)
    shown = helper_client.get(page).content.decode()
    assert 'id="printed-before"' in shown
    assert "Ply 5, ink: roll R9, lot A, came in" in shown
    # It lay there before: another batch let go of it, so what is newer than the roll may still say "to be bought".
    StockMove.objects.filter(roll__number="R9").update(moved_at=batch.planned_at - timedelta(days=9))
    assert "Ply 5, ink: roll R9, lot A." in helper_client.get(page).content.decode()
    assert not came_later(Lay.objects.with_rolls().get(pk=batch.lays.exclude(pk=lay.pk).get().pk))


def test_rolls_that_are_all_chosen_anew_have_none_that_came_later(batch: Batch) -> None:
    roll_of(only_cloth_to_buy(batch), "R9", "30", shade_lot="A")
    arrived.cloth_came_in(batch.pk)
    assert came_later(Lay.objects.with_rolls().get(pk=jersey_lay(batch).pk))
    assert not rolling.assign_rolls(batch).problem
    assert not came_later(Lay.objects.with_rolls().get(pk=jersey_lay(batch).pk))


def test_where_no_more_fits_all_rolls_stay_as_they_are(batch: Batch) -> None:
    before = list(LayRoll.objects.order_by("pk").values_list("pk", "roll", "spreads"))
    roll_of(only_cloth_to_buy(batch), "R9", "0.30", shade_lot="A")
    assert "rolls stay as they are" in arrived.cloth_came_in(batch.pk)
    assert list(LayRoll.objects.order_by("pk").values_list("pk", "roll", "spreads")) == before
