"""Bundles of cloth that is still to be bought: their shade lot comes with the roll, or is told at the table."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from types import ModuleType

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django_tasks.base import Task

from planner.core.bundle_lots import LotPlies
from planner.core.spec import ClothKey
from planner.cutting import plies_dealt
from planner.cutting.actions import arrived, rest, table
from planner.cutting.actions.booking import Told
from planner.cutting.bundle_papers import ticket_data
from planner.cutting.lots import give_lots
from planner.cutting.models import Batch, Bundle, CutPlan, Lay, LayCloth, LayGarment, LayRoll
from planner.cutting.setting import batch_setting
from planner.cutting.stored import plan_of, planned_batch
from planner.cutting.tasks import cloth_for_batch, roll_batch
from planner.cutting.wording import lots_apart_in_words
from planner.materials.models import Workroom
from planner.papers.data import BundleTicket
from tests.cutting.once import once, plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, TODAY
from tests.papers.words import all_words
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db


@once
def all_to_buy() -> Batch:
    """Five plies of one size in bundles of two, two and one, all of the jersey to be bought."""
    Workroom.the()
    Workroom.objects.update(bundle_size=2)
    batch = plies_batch(5)
    to_buy(only_cloth(jersey_lay(batch)))
    return batch


@pytest.fixture
def batch() -> Batch:
    return all_to_buy()


def to_buy(cloth: LayCloth) -> None:
    LayRoll.objects.filter(lay_cloth=cloth).delete()
    LayRoll.objects.create(lay_cloth=cloth, roll=None, spreads=cloth.spreads)


def tell(lay: Lay, spreads: int, roll: object = None) -> None:
    told = Told(only_cloth(lay).pk, spreads, Decimal("1.50"), roll and roll.pk)  # type: ignore[attr-defined]
    assert not table.tell_lay(lay, [told], None, NOON).problem


def lots(batch: Batch, lay: Lay) -> list[str]:
    return [bundle.shade_lot for bundle in batch.bundles.filter(lay=lay).order_by("pk")]


def test_a_roll_told_at_the_table_gives_its_lot_to_bundles_all_of_whose_plies_are_told(batch: Batch) -> None:
    lay = jersey_lay(batch)
    assert lots(batch, lay) == ["", "", ""]
    roll = roll_of(only_cloth(lay), shade_lot="B")
    tell(lay, 1, roll)
    assert lots(batch, lay) == ["", "", ""], "one ply of the first bundle's two"
    tell(lay, 3, roll)
    assert lots(batch, lay) == ["B", "B", ""]
    tell(lay, 1, roll)
    assert lots(batch, lay) == ["B", "B", "B"]


def test_a_lot_that_was_told_goes_when_that_is_taken_back(batch: Batch) -> None:
    lay = jersey_lay(batch)
    tell(lay, 2, roll_of(only_cloth(lay), "R1", shade_lot="A"))
    tell(lay, 3, roll_of(only_cloth(lay), "R2", shade_lot="B"))
    assert lots(batch, lay) == ["A", "B", "B"]
    fact = only_cloth(lay).facts.get(spreads=3)
    assert not table.take_fact_back(fact, None, NOON).problem
    assert lots(batch, lay) == ["A", "", ""]
    lay.refresh_from_db()
    tell(lay, 3)
    assert lots(batch, lay) == ["A", "", ""], "no roll was named"
    assert table.take_cut_back(lay, None, NOON)
    assert lots(batch, lay) == ["", "", ""]


def test_a_bundle_of_two_lots_at_the_table_gets_neither(batch: Batch) -> None:
    lay = jersey_lay(batch)
    Bundle.objects.filter(batch=batch, quantity=1).delete()
    Bundle.objects.filter(batch=batch).update(quantity=3)
    tell(lay, 3, roll_of(only_cloth(lay), "R1", shade_lot="A"))
    tell(lay, 2, roll_of(only_cloth(lay), "R2", shade_lot="B"))
    assert lots(batch, lay) == ["A", "B"], "only two garments are there for the second, both of B"
    Bundle.objects.filter(batch=batch).update(quantity=4)
    give_lots(lay)
    assert lots(batch, lay) == ["", "B"]


def test_what_is_told_stands_before_the_lot_that_was_planned(batch: Batch) -> None:
    """Formerly the planned lot stayed, so that a ticket named a lot its bundle was not cut from."""
    lay = jersey_lay(batch)
    cloth = only_cloth(lay)
    planned, other = roll_of(cloth, "R1", shade_lot="A"), roll_of(cloth, "R2", shade_lot="B")
    LayRoll.objects.filter(lay_cloth=cloth).update(roll=planned)
    give_lots(lay)
    assert lots(batch, lay) == ["A", "A", "A"]
    tell(lay, 3, other)
    assert lots(batch, lay) == ["B", "", "A"], "ply 3 is of B, ply 4 is to be of A"
    tell(lay, 2, planned)
    assert lots(batch, lay) == ["B", "", "A"]
    assert not table.take_fact_back(cloth.facts.get(spreads=3), None, NOON).problem
    assert lots(batch, lay) == ["A", "A", "A"]


def test_another_cloth_of_the_garment_in_the_same_lay_does_not_name_the_bundle(batch: Batch) -> None:
    """Bands lie on top of the bodies: a bundle bears the lot of its bodies, whatever its bands are of."""
    lay = jersey_lay(batch)
    bodies, held = only_cloth(lay), only_cloth(lay).garments.get()
    rib = batch.lays.exclude(pk=lay.pk).get().cloths.get().fabric_colour
    bands = LayCloth.objects.create(lay=lay, fabric_colour=rib, spreads=5)
    LayGarment.objects.create(
        lay_cloth=bands, style=held.style, colourway=held.colourway, size=held.size, per_marker=1
    ).options.set(held.options.all())
    of_bodies = Told(bodies.pk, 5, Decimal(5), roll_of(bodies, "R1", shade_lot="A").pk)
    of_bands = Told(bands.pk, 5, Decimal(5), roll_of(bands, "R2", shade_lot="K").pk)
    assert not table.tell_lay(lay, [of_bands, of_bodies], None, NOON).problem
    assert lots(batch, lay) == ["A", "A", "A"]


def test_plies_of_no_known_lot_are_told_beside_those_to_keep_apart() -> None:
    ink = ClothKey("jersey", "ink")
    plies = {"B": ((1, 1),), "C": ((2, 4),), "": ((5, 5),)}
    parts = [LotPlies(ink, lot, {1: stretches}) for lot, stretches in plies.items()]
    assert lots_apart_in_words(parts) == (
        "jersey, ink: lot B is lay 1, ply 1; lot C is lay 1, plies 2 to 4; a lot not known yet is lay 1, ply 5"
    )


def of_tickets(batch: Batch) -> tuple[BundleTicket, ...]:
    read = planned_batch(Batch.objects.get(pk=batch.pk))
    return ticket_data(plan_of(read), read.shop, batch_setting(Workroom.the(), read.batch, TODAY))


def test_the_ticket_has_room_for_a_lot_and_page_and_ticket_say_which_plies_of_a_bundle_to_keep_apart(
    batch: Batch, maker_client: Client
) -> None:
    settle(batch)
    lay = jersey_lay(batch)
    page = reverse("lay-detail", args=[batch.number, lay.number])
    address = reverse("bundle-tickets", args=[batch.number])
    assert [one.lot_to_come for one in of_tickets(batch)] == [True, True, True]
    assert "write it in" in all_words(maker_client.get(address).content)
    tell(lay, 1, roll_of(only_cloth(lay), "R1", shade_lot="B"))
    assert "Shade lots differ" not in maker_client.get(page).content.decode()
    tell(lay, 4, roll_of(only_cloth(lay), "R2", shade_lot="C"))
    first, second, _ = batch.bundles.order_by("pk").values_list("number", flat=True)
    words = f"jersey, ink: lot B is lay {lay.number}, ply 1; lot C is lay {lay.number}, ply 2"
    with CaptureQueriesContext(connection) as asked:
        shown = maker_client.get(page).content.decode()
    assert len(asked) <= 24  # bundles are read for the ticket's mark, and again with their lots
    assert f"<b>{first}</b> {words}." in shown
    assert f"<b>{second}</b>" not in shown
    tickets = of_tickets(batch)
    assert [one.lots_apart for one in tickets] == [words, "", ""]
    assert [(one.shade_lot, one.lot_to_come) for one in tickets] == [("", False), ("C", False), ("C", False)]
    paper = all_words(maker_client.get(address).content)
    assert "write it in" not in paper
    assert paper.count("Shade lots differ") == 1
    assert "no garment may be of two" in " ".join(paper.split())


def test_a_lay_nothing_is_bundled_from_asks_for_no_garments(batch: Batch) -> None:
    lay = jersey_lay(batch)
    batch.bundles.all().delete()
    with CaptureQueriesContext(connection) as asked:
        give_lots(lay)
    assert len(asked) == 1


def test_lots_are_given_with_the_same_queries_for_one_bundle_and_for_many(batch: Batch) -> None:
    lay = jersey_lay(batch)
    LayRoll.objects.filter(lay_cloth__lay=lay).update(roll=roll_of(only_cloth(lay), shade_lot="A"))
    _, *others = lay.main_bundles.values_list("pk", flat=True)

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            give_lots(lay)
        return len(asked)

    many = queries()
    assert lots(batch, lay) == ["A", "A", "A"]
    Bundle.objects.filter(pk__in=others).delete()
    assert queries() == many <= 12


def settle(batch: Batch) -> None:
    nest_all(batch)
    CutPlan.objects.filter(batch=batch).update(state=CutPlan.State.SETTLED)


def test_a_roll_that_comes_in_gives_its_lot_to_a_lay_that_waited_while_another_is_cut(
    batch: Batch, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: object
) -> None:
    settle(batch)
    lay = jersey_lay(batch)
    tell_rib(batch)
    assert Batch.objects.get().state == Batch.State.CUTTING
    asked: list[int] = []
    monkeypatch.setattr(Task, "enqueue", lambda task, pk: asked.append(pk))
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        roll = roll_of(only_cloth(lay), shade_lot="C")
    assert asked == [batch.pk]
    tokens = list(batch.bundles.order_by("pk").values_list("number", "token"))
    assert cloth_for_batch.func(batch.pk) == "5 spreads have their roll now; no rest to go on with"
    assert lots(batch, lay) == ["C", "C", "C"]
    assert {(one.roll, one.spreads) for one in only_cloth(lay).rolls.all()} == {(roll, 5)}
    assert list(batch.bundles.order_by("pk").values_list("number", "token")) == tokens
    assert cloth_for_batch.func(batch.pk) == "no rest to go on with", "nothing is short any more"


def tell_rib(batch: Batch) -> None:
    rib = batch.lays.get(cloths__fabric_colour__fabric__name="rib")
    assert not table.tell_lay(
        rib, [Told(only_cloth(rib).pk, only_cloth(rib).spreads, Decimal(1))], None, NOON
    ).problem


def test_plies_that_were_short_together_wait_until_one_lot_has_cloth_for_all() -> None:
    batch = rib_cut()
    lay = jersey_lay(batch)
    ply_m = Decimal(str(lay.marker.length_mm + 2 * lay.end_allowance_mm)) / 1000
    for number, lot in enumerate("AB"):
        roll_of(only_cloth(lay), f"R{number}", str(round(ply_m * 3 + Decimal("0.02"), 2)), shade_lot=lot)
    assert cloth_for_batch.func(batch.pk) == "no rest to go on with"
    assert lots(batch, lay) == ["", "", ""]
    # A part of them is kept of one lot, and all are still to be bought.
    planned, kept = only_cloth(lay).rolls.all()
    assert (planned.roll, planned.spreads) == (None, 5)
    assert (kept.roll.number, kept.spreads) in {("R0", 3), ("R1", 3)}


@once
def rib_cut() -> Batch:
    batch = all_to_buy()
    settle(batch)
    tell_rib(batch)
    return batch


@pytest.fixture
def waiting() -> Batch:
    """The jersey lay waits for its cloth while the rib is cut."""
    return Batch.objects.get(pk=rib_cut().pk)


def another_lay(lay: Lay) -> LayCloth:
    """The plies of one more lay of the batch like this one, with nothing bundled from it."""
    cloth = only_cloth(lay)
    copy = Lay.objects.get(pk=lay.pk)
    copy.pk, copy.number = None, 9
    copy.save()
    return LayCloth.objects.create(lay=copy, fabric_colour_id=cloth.fabric_colour_id, spreads=cloth.spreads)


def at_the_lock(monkeypatch: pytest.MonkeyPatch, do: Callable[[], object]) -> None:
    """Does something just before the batch is locked, as another worker might."""
    real = arrived.lock

    def lock(batch: Batch) -> Batch:
        do()
        return real(batch)

    monkeypatch.setattr(arrived, "lock", lock)


def counting(monkeypatch: pytest.MonkeyPatch, name: str, of: ModuleType = arrived) -> list[object]:
    """One for each time the action calls this."""
    real, calls = getattr(of, name), []

    def called(*args: object, **options: object) -> object:
        calls.append(args)
        return real(*args, **options)

    monkeypatch.setattr(of, name, called)
    return calls


def test_a_roll_that_another_worker_promises_meanwhile_is_not_promised_twice(
    waiting: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    lay = jersey_lay(waiting)
    other = another_lay(lay)
    ply_m = Decimal(str(lay.marker.length_mm + 2 * lay.end_allowance_mm)) / 1000
    roll = roll_of(
        only_cloth(lay), metres=str(round(ply_m * 7, 2)), shade_lot="C"
    )  # for one of the lays, not for both
    at_the_lock(monkeypatch, lambda: LayRoll.objects.create(lay_cloth=other, roll=roll, spreads=5))
    asked = counting(monkeypatch, "assign_plies", plies_dealt)
    assert arrived.give_arrived(waiting) == 0
    assert len(asked) == 2, "asked again, for the rolls were not the same any more"
    planned, kept = only_cloth(lay).rolls.all()
    # Of seven plies the other lay has five; what is left is kept, for it is of one lot.
    assert (planned.roll, planned.spreads) == (None, 5)
    assert (kept.roll, kept.spreads) == (roll, 2)
    assert lots(waiting, lay) == ["", "", ""]


def test_a_roll_that_comes_in_meanwhile_is_seen(waiting: Batch, monkeypatch: pytest.MonkeyPatch) -> None:
    lay = jersey_lay(waiting)
    at_the_lock(monkeypatch, lambda: roll_of(only_cloth(lay), shade_lot="C"))
    assert arrived.give_arrived(waiting) == 5
    assert lots(waiting, lay) == ["C", "C", "C"]


def test_for_several_lays_the_rolls_are_chosen_and_the_workshop_is_made_once(
    waiting: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    lay = jersey_lay(waiting)
    to_buy(another_lay(lay))
    roll_of(only_cloth(lay), metres="60", shade_lot="C")
    asked, made = counting(monkeypatch, "assign_plies", plies_dealt), counting(monkeypatch, "shop_of")
    monkeypatch.setattr("planner.cutting.lots.shop_of", lambda *_: pytest.fail("made again for a lay"))
    assert arrived.give_arrived(waiting) == 10
    assert (len(asked), len(made)) == (1, 1)
    assert lots(waiting, lay) == ["C", "C", "C"]


def test_the_rest_of_a_lay_gets_its_lot_when_its_roll_comes_in_and_another_at_the_table(batch: Batch) -> None:
    lay = jersey_lay(batch)
    tell(lay, 2)
    planned = rest.replan_rest(lay, None, NOON)
    settle(batch)
    assert roll_batch.func(batch.pk) != "0 spreads short"
    of_rest = batch.bundles.filter(lay__in=planned.lays)
    assert {bundle.shade_lot for bundle in of_rest} == {""}
    roll_of(only_cloth(lay), shade_lot="D")
    assert roll_batch.func(batch.pk) == "0 spreads short"
    assert {bundle.shade_lot for bundle in of_rest.all()} == {"D"}
    roll = roll_of(only_cloth(lay), "R5", shade_lot="E")
    for one in planned.lays:
        tell(one, only_cloth(one).spreads, roll)
    assert {bundle.shade_lot for bundle in of_rest.all()} == {"E"}
