"""A roll is counted to less than lays are to take of it: whoever counts is told, and what to do about each batch."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting import counted_on
from planner.cutting.buying import what_to_buy
from planner.cutting.models import Batch, LayRoll
from planner.cutting.portions import spread_m
from planner.cutting.roll_rows import Taken
from planner.materials.models import Roll
from planner.materials.specs import cloth_key
from tests.cutting.table_makers import jersey_lay, only_cloth
from tests.cutting.test_other_rolls import BUTTON, being_cut, of_jersey, plan_from, press, roll

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    """Being cut; its jersey, three plies not begun, is to come from R9."""
    batch = being_cut(3)
    plan_from(batch, Taken(roll(batch, "R9", 3, "A").pk, 3, "A"))
    return batch


def count(client: Client, metres: str, how: str = "roll-count") -> str:
    pk = Roll.objects.get(number="R9").pk
    answer = client.post(reverse(how, args=[pk]), {"metres": metres, "reason": "damaged"}, follow=True)
    return answer.content.decode().replace("\N{THIN SPACE}", " ")


def to_buy(batch: Batch) -> tuple[float, str]:
    key = cloth_key(only_cloth(jersey_lay(batch)).fabric_colour)
    buying = what_to_buy()
    need = next(one for one in buying.needs.cloths if one.cloth == key)
    return need.to_buy_m, buying.remarks.get(key, "").replace("\N{THIN SPACE}", " ")


def test_where_another_roll_would_do_it_is_told_at_once_with_one_button(
    maker_client: Client, batch: Batch
) -> None:
    roll(batch, "R10", 3, "B")
    said = count(maker_client, "0.46")
    lay = jersey_lay(batch).number
    counts_on = f"R9 has 0.46 m left, but lay {lay} of {batch.number} counts on"
    assert counts_on in said
    assert f"Open {batch.number} and give the uncut lays other rolls: there is a button for it." in said
    # The page of the colour and that of the roll lead there, the batch has the button.
    assert f'Not enough for them. Open <a href="{reverse("batch-detail", args=[batch.number])}#h-lays' in said
    assert (
        f"lay {lay} counts on"
        in maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    )
    # Beside what is to be bought, if anything, it is said too.
    metres, remark = to_buy(batch)
    assert metres == 0
    assert remark.startswith(counts_on)
    press(maker_client, batch)
    assert of_jersey(batch) == [("R10", 3)]
    assert "counts on" not in to_buy(batch)[1]


def test_where_nothing_else_is_there_its_lays_wait_and_all_they_take_is_to_be_bought(
    maker_client: Client, batch: Batch
) -> None:
    assert to_buy(batch) == (0.0, "")
    said = count(maker_client, "0.46")
    lay = jersey_lay(batch).number
    assert f"R9 has 0.46 m left, but lay {lay} of {batch.number} counts on" in said
    waits = f"Nothing else in stock is long enough: lay {lay} of {batch.number} waits for cloth now"
    assert waits in said
    assert "there is a button for it" not in said
    # No piece of 46 cm gives a ply, so all three are to be bought: more than metres lack.
    assert of_jersey(batch) == [(None, 3)]
    metres, remark = to_buy(batch)
    assert metres >= 3 * spread_m(jersey_lay(batch))
    assert "counts on" not in remark
    assert BUTTON in maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()


def test_a_batch_of_which_nothing_is_cut_gets_its_rolls_again_by_itself(
    helper_client: Client, batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []
    monkeypatch.setattr(counted_on, "queue_rolls", asked.append)
    Batch.objects.update(state=Batch.State.PLANNED)
    said = count(helper_client, "1", "roll-take-out")
    assert f"The rolls of {batch.number} are assigned again now; look there at what is short." in said
    assert asked == [batch.pk]


def test_a_roll_that_has_enough_yet_asks_and_tells_nobody(
    helper_client: Client, batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []
    monkeypatch.setattr(counted_on, "queue_rolls", asked.append)
    LayRoll.objects.filter(lay_cloth=only_cloth(jersey_lay(batch))).update(spreads=1)
    assert "counts on" not in count(helper_client, str(Decimal(2)))
    assert asked == []
