"""Other rolls for the lays not begun of a batch that is being cut, by one button; what is cut keeps what it has."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import other_rolls, table
from planner.cutting.actions.booking import Told
from planner.cutting.bundling import write_bundles
from planner.cutting.demand import batch_demand
from planner.cutting.lots import bundles_apart
from planner.cutting.models import Batch, CutPlan, Lay, LayRoll
from planner.cutting.portions import spread_m
from planner.cutting.roll_rows import Taken, write_taken
from planner.cutting.stored import shop_of, stored_lay
from planner.materials.models import FabricColour, Roll, StockMove, Workroom
from planner.materials.promised import over_promised
from tests.cutting.once import once, plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, stock
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db
BUTTON = "Give the uncut lays other rolls"


@once
def being_cut(count: int, **room: int) -> Batch:
    """A batch whose rib is cut and whose jersey is not begun."""
    Workroom.the()
    Workroom.objects.update(**room)
    batch = plies_batch(count)
    nest_all(batch)
    CutPlan.objects.filter(batch=batch).update(state=CutPlan.State.SETTLED)
    stock(FabricColour.objects.get(fabric__name="rib", name="ink"), 50)
    for lay in batch.lays.exclude(pk=jersey_lay(batch).pk):
        told = [Told(cloth.pk, cloth.spreads, Decimal(1)) for cloth in lay.cloths.all()]
        assert not table.tell_lay(lay, told, None, NOON).problem
    return Batch.objects.get(pk=batch.pk)


def roll(batch: Batch, number: str, spreads: float, lot: str = "") -> Roll:
    """A roll that gives so many spreads of the jersey."""
    lay = jersey_lay(batch)
    metres = str(round(spread_m(lay) * Decimal(str(spreads)) + Decimal("0.03"), 2))
    return roll_of(lay.cloths.first(), number, metres, shade_lot=lot)


def use_up(one: Roll) -> None:
    left = Roll.objects.with_left().get(pk=one.pk).left_m
    StockMove.objects.create(
        fabric_colour_id=one.fabric_colour_id, roll=one, quantity=-left, moved_at=NOON,
        reason=StockMove.Reason.COUNTED,
    )  # fmt: skip


def plan_from(batch: Batch, *taken: Taken) -> None:
    """Plans the jersey from these rolls and bundles it by their lots."""
    cloth = only_cloth(jersey_lay(batch))
    LayRoll.objects.filter(lay_cloth=cloth).delete()
    write_taken([cloth], taken)
    demand = batch_demand(batch)
    stored = [stored_lay(row) for row in batch.lays.with_everything()]
    lays = [one.row for one in stored]
    write_bundles(batch, demand, shop_of(batch, demand), [one.planned for one in stored], lays)


def of_jersey(batch: Batch) -> list[tuple[str | None, int]]:
    rows = LayRoll.objects.filter(lay_cloth__lay=jersey_lay(batch)).order_by("lay_cloth", "position")
    return list(rows.values_list("roll__number", "spreads"))


def press(client: Client, batch: Batch) -> str:
    answer = client.post(reverse("batch-rolls", args=[batch.number]), follow=True)
    return answer.content.decode()


def test_a_lay_whose_roll_is_used_up_gets_another(maker_client: Client) -> None:
    batch = being_cut(3)
    old = roll(batch, "R9", 3, "A")
    plan_from(batch, Taken(old.pk, 3, "A"))
    ticket = {"lay": str(jersey_lay(batch).number)}
    maker_client.post(reverse("print-paper", args=[batch.number, "cut-tickets"]), ticket)
    use_up(old)
    roll(batch, "R10", 3.5, "B")
    cut = list(LayRoll.objects.exclude(lay_cloth__lay=jersey_lay(batch)).values_list())
    page = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert page.count(f'<button class="second">{BUTTON}</button>') == 1
    assert "Give the uncut lays other rolls, or choose another roll" in page
    number = jersey_lay(batch).number
    said = press(maker_client, batch)
    assert f"Lay {number} has changed since its ticket was printed" in said
    assert f"Lay {number} has another roll now. Every ply of the uncut lays has its roll." in said
    assert "counted-on" not in said
    assert of_jersey(batch) == [("R10", 3)]
    assert list(LayRoll.objects.exclude(lay_cloth__lay=jersey_lay(batch)).values_list()) == cut
    assert {bundle.shade_lot for bundle in batch.bundles.all()} == {"B"}
    assert not over_promised({one.pk for one in Roll.objects.all()})


def test_what_is_short_is_said_and_what_there_is_of_a_lot_is_kept(maker_client: Client) -> None:
    batch = being_cut(3)
    old = roll(batch, "R9", 3, "A")
    plan_from(batch, Taken(old.pk, 3, "A"))
    use_up(old)
    roll(batch, "R10", 2, "B")
    lay = jersey_lay(batch)
    said = press(maker_client, batch)
    assert f"3 plies of lay {lay.number} fit on nothing in stock and are to be bought." in said
    assert of_jersey(batch) == [(None, 3), ("R10", 2)]
    assert "has another roll now" not in said
    assert "No other roll in stock helps. 3 plies" in said
    assert "keep what they have" not in said
    again = press(maker_client, batch)
    assert "No other roll in stock helps; the lays keep what they have." in again


def test_lays_whose_rolls_have_enough_keep_them(maker_client: Client) -> None:
    batch = being_cut(3)
    plan_from(batch, Taken(roll(batch, "R9", 3, "A").pk, 3, "A"))
    # Shorter, so that it would be the better choice were all chosen anew.
    roll(batch, "R8", 3, "B")
    before = list(LayRoll.objects.order_by("pk").values_list())
    assert "Nothing was changed: what the uncut lays count on is all there." in press(maker_client, batch)
    assert list(LayRoll.objects.order_by("pk").values_list()) == before


def test_a_roll_of_another_cloth_with_the_same_number_is_another_roll() -> None:
    """Numbers are kept apart within a cloth only."""
    batch = being_cut(3)
    old = roll(batch, "R9", 3, "A")
    plan_from(batch, Taken(old.pk, 3, "A"))
    rib = batch.lays.exclude(pk=jersey_lay(batch).pk).get()
    assert table.take_cut_back(rib, None, NOON)
    cloth = only_cloth(rib)
    LayRoll.objects.filter(lay_cloth=cloth).delete()
    write_taken([cloth], [Taken(roll_of(cloth, "R9", "20", "K").pk, cloth.spreads, "K")])
    # Shorter, so that it would be the better choice were all chosen anew.
    roll_of(cloth, "R8", str(round(spread_m(rib) * cloth.spreads + Decimal("0.03"), 2)), "K")
    Batch.objects.filter(pk=batch.pk).update(state=Batch.State.CUTTING)
    use_up(old)
    roll(batch, "R10", 3.5, "B")
    assert not other_rolls.give_other_rolls(Batch.objects.get(pk=batch.pk)).problem
    assert of_jersey(batch) == [("R10", 3)]
    assert LayRoll.objects.get(lay_cloth=cloth).roll.number == "R9"


def test_plies_of_one_lot_stay_of_one_and_others_keep_theirs() -> None:
    batch = being_cut(5)
    gone, stays = roll(batch, "R1", 3, "A"), roll(batch, "R2", 2, "B")
    plan_from(batch, Taken(gone.pk, 3, "A"), Taken(stays.pk, 2, "B"))
    use_up(gone)
    # Each gives two of the three: together they are not one lot.
    roll(batch, "R3", 2, "C")
    roll(batch, "R4", 2, "D")
    assert other_rolls.give_other_rolls(batch).short
    assert of_jersey(batch)[0] == (None, 3)
    assert ("R2", 2) in of_jersey(batch)
    roll(batch, "R5", 3, "E")
    assert not other_rolls.give_other_rolls(batch).short
    assert of_jersey(batch) == [("R5", 3), ("R2", 2)]
    assert sorted(bundle.shade_lot for bundle in batch.bundles.all()) == ["B", "E"]


def test_no_bundle_is_given_two_lots_where_two_of_its_lay_become_one() -> None:
    """Bundles of 2, 1 and 2: with a lot for both of 2 and another for that of 1 the last would have plies of both, for
    bundles take their plies in turn.
    """
    batch = being_cut(5, bundle_size=0)
    rolls = [roll(batch, f"R{lot}", count, lot) for lot, count in (("X", 2), ("Y", 1), ("Z", 2))]
    plan_from(batch, Taken(rolls[0].pk, 2, "X"), Taken(rolls[1].pk, 1, "Y"), Taken(rolls[2].pk, 2, "Z"))
    assert [bundle.quantity for bundle in batch.bundles.order_by("pk")] == [2, 1, 2]
    for one in rolls:
        use_up(one)
    roll(batch, "RP", 4, "P")
    roll(batch, "RQ", 1, "Q")
    done = other_rolls.give_other_rolls(batch)
    number = jersey_lay(batch).number
    assert (done.lays, done.lost, done.short) == ((), (number,), ((number, 5, "open"),))
    assert sum(spreads for name, spreads in of_jersey(batch) if name is None) == 5
    assert {name for name, _ in of_jersey(batch)} == {None, "RP"}
    roll(batch, "RS", 5, "S")
    done = other_rolls.give_other_rolls(batch)
    assert (done.lays, done.short) == ((number,), ())
    assert not bundles_apart(jersey_lay(batch))
    assert {bundle.shade_lot for bundle in batch.bundles.all()} == {"S"}


def test_a_batch_of_which_nothing_or_all_is_cut_has_no_uncut_lays_to_give_rolls(
    helper_client: Client, maker_client: Client
) -> None:
    batch = being_cut(3)
    address = reverse("batch-rolls", args=[batch.number])
    assert helper_client.post(address).status_code == 403
    Batch.objects.filter(pk=batch.pk).update(state=Batch.State.PLANNED)
    done = other_rolls.give_other_rolls(Batch.objects.get(pk=batch.pk))
    assert "Nothing of this batch is being cut" in done.problem
    assert BUTTON not in maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    Batch.objects.filter(pk=batch.pk).update(state=Batch.State.CUTTING)
    lay = jersey_lay(batch)
    told = Told(only_cloth(lay).pk, 1, spread_m(lay))
    assert not table.tell_lay(lay, [told], None, NOON).problem
    assert "No lay is left" in press(maker_client, batch)
    assert BUTTON not in maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()


def test_what_is_told_meanwhile_stays(beside: pytest.MonkeyPatch) -> None:
    batch = being_cut(3)
    old = roll(batch, "R9", 3, "A")
    plan_from(batch, Taken(old.pk, 3, "A"))
    use_up(old)
    new = roll(batch, "R10", 3.5, "B")
    lay, real = Lay.objects.get(pk=jersey_lay(batch).pk), other_rolls.lock

    def lock(one: Batch) -> Batch:
        told = Told(only_cloth(lay).pk, 1, spread_m(lay), new.pk)
        assert not table.tell_lay(lay, [told], None, NOON).problem
        return real(one)

    beside.setattr(other_rolls, "lock", lock)
    assert "No lay is left" in other_rolls.give_other_rolls(batch).problem
    assert of_jersey(batch) == [("R9", 3)]
