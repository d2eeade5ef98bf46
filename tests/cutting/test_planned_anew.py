"""Lays that nobody has begun are planned anew for the cloth there is, while others of their batch are being cut."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import anew, arrived, table
from planner.cutting.actions.booking import Told
from planner.cutting.models import Batch, Lay, LayRoll
from planner.cutting.portions import spread_m
from planner.cutting.roll_rows import write_to_buy
from planner.cutting.stored import planned_batch
from planner.materials.models import RollFlaw, Workroom
from tests.cutting import once
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, make_order
from tests.sewing.makers import nest_all, the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}
BUTTON = 'Plan the rest anew<span class="visually-hidden">: jersey</span>'


@once.once
def rib_cut() -> Batch:
    """Its rib is cut; its jersey, two plies of one marker with several garments, is not begun and waits for cloth."""
    Workroom.the()
    Workroom.objects.update(most_plies=2)
    order = make_order([(the_style(), RIB, "ink", {"S": 2, "M": 4, "L": 4})])
    made = once.settled(once.waiting_batch(order))
    rib = made.lays.get(cloths__fabric_colour__fabric__name="rib")
    told = [Told(cloth.pk, cloth.spreads, Decimal(1)) for cloth in rib.cloths.all()]
    assert not table.tell_lay(rib, told, None, NOON).problem
    lay = jersey_lay(made)
    assert (only_cloth(lay).spreads, only_cloth(lay).garments.count()) == (2, 3), "not the plan expected"
    LayRoll.objects.filter(lay_cloth__lay=lay).delete()
    write_to_buy(list(lay.cloths.all()))
    return Batch.objects.get(pk=made.pk)


@pytest.fixture
def batch() -> Batch:
    return rib_cut()


def with_a_flaw(batch: Batch) -> None:
    """A roll of metres enough for both plies comes in, a flaw in the middle of each of them."""
    each = spread_m(jersey_lay(batch))
    roll = roll_of(only_cloth(jersey_lay(batch)), "R1", f"{each * 2:.2f}")
    for at in (Decimal("0.62"), Decimal("1.3")):
        RollFlaw.objects.create(
            roll=roll, from_m=round(each * at, 2), to_m=round(each * at + Decimal("0.02"), 2)
        )


def plan_of(batch: Batch) -> int:
    return batch.cut_plans.get(fabric__name="jersey").pk


def cut_from_jersey(batch: Batch) -> Counter[str]:
    found: Counter[str] = Counter()
    for lay in batch.lays.filter(cloths__fabric_colour__fabric__name="jersey").distinct():
        for cloth in lay.cloths.all():
            for held in cloth.garments.all():
                found[held.size.name] += cloth.spreads * held.per_marker
    return found


def to_buy(batch: Batch) -> float:
    needs = planned_batch(batch).needs.cloths
    return next(one for one in needs if one.cloth.fabric == "jersey").to_buy_m


def test_what_waits_for_cloth_is_planned_anew_for_the_pieces_there_are(
    maker_client: Client, helper_client: Client, batch: Batch
) -> None:
    with_a_flaw(batch)
    old, bought, sizes = jersey_lay(batch), to_buy(batch), cut_from_jersey(batch)
    last = max(batch.lays.values_list("number", flat=True))
    tokens = dict(batch.bundles.values_list("number", "token"))
    quantity = sum(one.quantity for one in batch.bundles.all())
    page = reverse("batch-detail", args=[batch.number])
    assert BUTTON in maker_client.get(page).content.decode()
    assert BUTTON not in helper_client.get(page).content.decode()
    address = reverse("plan-anew", args=[batch.number, plan_of(batch)])
    assert helper_client.post(address).status_code == 403
    said = maker_client.post(address, follow=True).content.decode()
    new = list(batch.lays.filter(number__gt=last).order_by("number"))
    assert new, said
    assert f"Lay {old.number}, of which nothing was cut, is planned anew as " in said
    assert not Lay.objects.filter(pk=old.pk).exists()
    assert cut_from_jersey(batch) == sizes
    # Every ticket that is printed stays good, and its pieces come from the new lays.
    after = dict(batch.bundles.values_list("number", "token"))
    assert tokens.items() <= after.items()
    assert sum(one.quantity for one in batch.bundles.all()) == quantity
    assert {one.lay_id for one in batch.bundles.all()} <= {lay.pk for lay in new}
    # Nested, they have their rolls, and less is to be bought.
    nest_all(batch)
    arrived.cloth_came_in(batch.pk)
    assert LayRoll.objects.filter(lay_cloth__lay__in=new, roll__number="R1").exists()
    assert to_buy(batch) < bought
    assert Batch.objects.get(pk=batch.pk).state == Batch.State.CUTTING


def test_lays_whose_cloth_is_there_stay_and_it_is_said_why(batch: Batch) -> None:
    roll_of(only_cloth(jersey_lay(batch)), "R1", "40")
    before = list(batch.lays.order_by("pk").values_list("pk", "number"))
    done = anew.plan_uncut_anew(batch, plan_of(batch))
    assert (
        "stay as they are: planned anew with the cloth there is now they would not come cheaper."
        in done.stays
    )
    assert list(batch.lays.order_by("pk").values_list("pk", "number")) == before


def test_what_is_told_meanwhile_stays(beside: pytest.MonkeyPatch, batch: Batch) -> None:
    with_a_flaw(batch)
    lay, real = jersey_lay(batch), anew.lock

    def lock(one: Batch) -> Batch:
        assert not table.tell_lay(lay, [Told(only_cloth(lay).pk, 1, Decimal(2))], None, NOON).problem
        return real(one)

    beside.setattr(anew, "lock", lock)
    assert "told or changed meanwhile" in anew.plan_uncut_anew(batch, plan_of(batch)).problem
    assert only_cloth(jersey_lay(batch)).cut_spreads == 1
    # What is begun has its own button.
    assert "No lay of this fabric is left" in anew.plan_uncut_anew(batch, plan_of(batch)).problem


def test_of_a_batch_of_which_nothing_is_cut_the_plan_is_changed_otherwise(batch: Batch) -> None:
    Batch.objects.filter(pk=batch.pk).update(state=Batch.State.PLANNED)
    done = anew.plan_uncut_anew(Batch.objects.get(pk=batch.pk), plan_of(batch))
    assert "Nothing of this batch is being cut" in done.problem
