"""A roll that other lays count on is used up at the table: said at once, on the lay that is short, on the batch."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from planner.cutting import counted_on
from planner.cutting.models import Batch, Lay, LayFact, LayRoll, Marker
from planner.materials import actions, roll_actions
from planner.materials.models import Roll, RollFlaw
from planner.materials.promised import over_promised
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}
SAYS = "R12 has 0.46 m left, but lay {lay}{of} counts on 3.0 m of it."


def text(answer: object) -> str:
    return answer.content.decode().replace("\N{THIN SPACE}", " ")  # type: ignore[attr-defined]


def on_page(lay: Lay) -> str:
    return reverse("lay-detail", args=[lay.batch.number, lay.number])


def of_one_metre(lay: Lay) -> Lay:
    """A spread of the lay takes 1 m: a marker of its own of 0.94 m, and 3 cm at either end."""
    own = Marker.objects.get(pk=lay.marker_id)
    own.pk, own.length_mm = None, 940.0
    own.save()
    lay.marker, lay.end_allowance_mm = own, 30.0
    lay.save()
    return lay


def promise(lay: Lay, roll: Roll, spreads: int) -> None:
    LayRoll.objects.filter(lay_cloth__lay=lay).delete()
    LayRoll.objects.create(lay_cloth=only_cloth(lay), roll=roll, spreads=spreads)


@pytest.fixture
def first() -> Lay:
    """A lay of 3 plies planned from R9."""
    lay = of_one_metre(jersey_lay(plies_batch(3)))
    promise(lay, roll_of(only_cloth(lay), "R9", metres="6"), 3)
    return lay


@pytest.fixture
def r12(first: Lay) -> Roll:
    """A roll of 3.5 m."""
    return roll_of(only_cloth(first), "R12", metres="3.50")


def tell_from(client: Client, lay: Lay, roll: Roll, used: str, **headers: str) -> str:
    key = f"{only_cloth(lay).pk}-0"
    typed = {f"spreads-{key}": "3", f"used-{key}": used, f"roll-{key}": str(roll.pk)}
    answer = client.post(
        reverse("lay-cut", args=[lay.batch.number, lay.number]), typed, headers=headers, follow=True
    )
    return text(answer)


def second_of(first: Lay, batch: Batch | None = None) -> Lay:
    """Another lay of 3 plies of the same cloth, in the same batch or in another."""
    cloth, garment = only_cloth(first), only_cloth(first).garments.get()
    lay = Lay.objects.get(pk=first.pk)
    lay.pk, lay.batch, lay.number = None, batch or first.batch, 9
    lay.save()
    cloth.pk, cloth.lay = None, lay
    cloth.save()
    garment.pk, garment.lay_cloth = None, cloth
    garment.save()
    return Lay.objects.get(pk=lay.pk)


def test_a_roll_promised_to_another_lay_and_used_up_is_told_at_once(
    helper_client: Client, first: Lay, r12: Roll
) -> None:
    second = second_of(first)
    promise(second, r12, 3)
    batch_page = reverse("batch-detail", args=[first.batch.number])
    says = SAYS.format(lay=9, of="")
    for page in (on_page(first), on_page(second), batch_page):
        assert "counts on" not in text(helper_client.get(page))
    # 3.50 m less 3.04 m used are 0.46 m; lay 9 is to take 3 plies of 1 m.
    said = tell_from(helper_client, first, r12, "3.04 m")
    assert f"{says} Choose another roll there." in said
    assert LayFact.objects.get().used_m == Decimal("3.04")
    assert says in text(helper_client.get(on_page(second)))
    assert says in text(helper_client.get(batch_page))
    # The lay that is cut has nothing more to choose.
    assert "counts on" not in text(helper_client.get(on_page(first)))
    # Once lay 9 is cut from another roll, nobody counts on R12.
    tell_from(helper_client, second, Roll.objects.get(number="R9"), "3 m")
    assert "counts on" not in text(helper_client.get(batch_page))


def test_a_roll_that_has_enough_for_all_or_is_a_hair_short_is_not_spoken_of_and_nobody_is_asked_again(
    helper_client: Client, first: Lay, r12: Roll, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []
    monkeypatch.setattr(counted_on, "queue_rolls", asked.append)
    promise(second_of(first), roll_of(only_cloth(first), "R13", metres="6.00"), 3)
    r13 = Roll.objects.get(number="R13")
    # 6.00 m less 3.04 m leave 2.96 m of the 3 m: within what a tape may be out.
    assert "counts on" not in tell_from(helper_client, first, r13, "3.04 m")
    assert over_promised([r13.pk, r12.pk]) == ()
    assert over_promised([]) == ()
    assert asked == []


def test_another_batch_not_begun_is_named_and_gets_its_rolls_again(
    helper_client: Client, first: Lay, r12: Roll, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []
    monkeypatch.setattr(counted_on, "queue_rolls", asked.append)
    later = Batch.objects.get(pk=first.batch_id)
    later.pk, later.number, later.state = None, "B-0042", Batch.State.PLANNED
    later.save()
    promise(second_of(first, later), r12, 3)
    said = tell_from(helper_client, first, r12, "3.04 m", **HTMX)
    says = SAYS.format(lay=9, of=" of B-0042")
    # With HTMX, whose answer is a part of the page.
    assert f"{says} The rolls of B-0042 are assigned again now.<" in said
    assert asked == [later.pk]


def test_it_costs_one_query_and_none_where_no_roll_is_promised(first: Lay, r12: Roll) -> None:
    counts = []
    for rolls in ((), (r12,)):
        LayRoll.objects.all().delete()
        for roll in rolls:
            promise(first, roll, 3)
        lays = list(Lay.objects.with_rolls())
        with CaptureQueriesContext(connection) as queries:
            counted_on.counted_on_by(first.batch, lays)
        counts.append(len(queries))
    assert counts == [0, 1]


def test_a_piece_longer_than_a_ply_that_others_are_cut_from_is_not_called_too_short(first: Lay) -> None:
    """Three plies of 1 m, and behind the flaw 2.9 m: two of them. Behind another flaw there is none for any."""
    roll = roll_of(only_cloth(first), "R12", metres="3.50")
    promise(first, roll, 3)
    flaw = RollFlaw.objects.create(roll=roll, from_m=Decimal("0.2"), to_m=Decimal("0.6"))
    (short,) = over_promised({roll.pk})
    said = counted_on.counted_on_in_words(short, first.batch.number, "metric").replace("\N{THIN SPACE}", " ")
    assert said == (
        "R12 has 3.5 m left, but for its flaw from 0.2 m to 0.6 m beside its other plies it has no piece for"
        f" 1 ply of 1.00 m of lay {first.number}."
    )
    flaw.from_m, flaw.to_m = Decimal("0.9"), Decimal("2.6")
    flaw.save()
    (short,) = over_promised({roll.pk})
    said = counted_on.counted_on_in_words(short, first.batch.number, "metric").replace("\N{THIN SPACE}", " ")
    assert "no piece of it is longer than 0.9 m: there is none for 3 plies of 1.00 m" in said


@pytest.mark.parametrize("how", [actions.take_out_cloth, roll_actions.part_roll])
def test_what_is_cut_off_a_roll_is_asked_about_with_its_flaws_where_they_lie_then(
    first: Lay, monkeypatch: pytest.MonkeyPatch, how: Callable[..., object]
) -> None:
    """5 m off 8 m leave 3 m for three plies of 1 m, and a flaw that lay beyond them lies among them."""
    asked: list[int] = []
    monkeypatch.setattr(counted_on, "queue_rolls", asked.append)
    roll = roll_of(only_cloth(first), "R12", metres="8.00")
    RollFlaw.objects.create(roll=roll, from_m=Decimal("5.2"), to_m=Decimal("5.4"))
    promise(first, roll, 3)
    how(roll, Decimal(5), person=None, at=NOON)
    assert asked == [first.batch_id]
