"""What is told at the table: in parts, from rolls, taken back; and what the stock and the needs make of it."""

from __future__ import annotations

from decimal import Decimal

import pytest

from planner.cutting.actions import nesting, planning, since_seen, table
from planner.cutting.actions.booking import Told
from planner.cutting.actions.gathering import cancel_batch
from planner.cutting.claims import claims
from planner.cutting.models import Batch, Lay, LayFact
from planner.cutting.owed import Owed
from planner.cutting.screens_lay import told_in_words
from planner.materials.models import RollFlaw, StockMove
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, make_fabric_colour, stock

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    return plies_batch(5)


@pytest.fixture
def lay(batch: Batch) -> Lay:
    return jersey_lay(batch)


def tell(lay: Lay, spreads: int, used_m: str, **more: object) -> table.LayTold:
    told = Told(only_cloth(lay).pk, spreads, Decimal(used_m), **more)  # type: ignore[arg-type]
    return table.tell_lay(lay, [told], None, NOON)


def spoken_for(fabric: str = "jersey") -> Decimal:
    return sum(
        (amount for key, amount in claims(None).spoken_for.items() if getattr(key, "fabric", "") == fabric),
        Decimal(0),
    )


def test_a_lay_is_told_in_parts_and_cut_with_its_last_ply(lay: Lay) -> None:
    first = tell(lay, 2, "1.70")
    lay.refresh_from_db()
    assert (first.left, first.problem, lay.cut_at) == (3, "", None)
    assert lay.batch.state == Batch.State.CUTTING
    cloth = only_cloth(lay)
    assert (cloth.cut_spreads, cloth.used_m, cloth.spreads) == (2, Decimal("1.70"), 5)
    assert tell(lay, 3, "2.60").left == 0
    lay.refresh_from_db()
    cloth = only_cloth(lay)
    assert (lay.cut_at, cloth.cut_spreads, cloth.used_m) == (NOON, 5, Decimal("4.30"))
    assert [fact.spreads for fact in LayFact.objects.all()] == [2, 3]
    moves = StockMove.objects.filter(reason=StockMove.Reason.CUT)
    assert sorted(move.quantity for move in moves) == [Decimal("-2.60"), Decimal("-1.70")]


def test_what_is_still_to_cut_is_spoken_for_and_no_more(lay: Lay) -> None:
    whole = spoken_for()
    tell(lay, 2, "9.00")
    assert spoken_for() == pytest.approx(whole * 3 / 5, abs=Decimal("0.002"))
    tell(lay, 3, "0.50")
    assert spoken_for() == 0


def test_what_was_told_is_taken_back_by_a_move_and_stays_to_be_read(lay: Lay) -> None:
    roll = roll_of(only_cloth(lay))
    whole = spoken_for()
    tell(lay, 5, "4.25", roll=roll.pk, note="a hole in the last ply")
    fact = LayFact.objects.get()
    assert table.take_fact_back(fact, None, NOON).used_m == Decimal("4.25")
    again = table.take_fact_back(fact, None, NOON)
    assert "before" in again.problem
    lay.refresh_from_db()
    fact.refresh_from_db()
    cloth = only_cloth(lay)
    assert (lay.cut_at, cloth.cut_spreads, cloth.used_m) == (None, None, None)
    assert (fact.taken_back_at, fact.spreads) == (NOON, 5)
    assert [move.quantity for move in roll.moves.order_by("pk")] == [
        Decimal("20"),
        Decimal("-4.25"),
        Decimal("4.25"),
    ]
    assert lay.batch.needs.get(fabric_colour=cloth.fabric_colour).taken == 0
    assert spoken_for() == whole
    assert Batch.objects.get().state == Batch.State.PLANNED


def test_the_roll_loses_what_was_cut_of_it(lay: Lay) -> None:
    roll = roll_of(only_cloth(lay), metres="3")
    told = tell(lay, 5, "4.25", roll=roll.pk)
    assert told.short_rolls == ("R9",)
    assert sum(move.quantity for move in roll.moves.all()) == Decimal("-1.25")


def test_a_roll_that_several_rows_share_may_have_less_than_they_used_together(lay: Lay) -> None:
    cloth, roll = only_cloth(lay), roll_of(only_cloth(lay), metres="4.5")
    rows = [Told(cloth.pk, spreads, Decimal("2.70"), roll.pk) for spreads in (2, 3)]
    assert table.tell_lay(lay, rows, None, NOON).short_rolls == ("R9",)
    assert sum(move.quantity for move in roll.moves.all()) == Decimal("-0.90")


def test_what_was_cut_from_no_roll_is_owed_where_the_books_know_rolls(lay: Lay) -> None:
    cloth = only_cloth(lay)
    of_none = [Told(cloth.pk, 1, Decimal("0.90"))]
    assert table.tell_lay(lay, of_none, None, NOON).owed == (), "no roll is known of, so no books are kept"
    roll = roll_of(cloth, metres="3")
    (owed,) = table.tell_lay(lay, of_none, None, NOON).owed
    assert owed == Owed(str(cloth.fabric_colour), Decimal("1.80"))
    assert owed.told_in("metric").startswith("1.80\u2009m of jersey, ink were cut from no roll")
    assert table.tell_lay(lay, [Told(cloth.pk, 1, Decimal("0.90"), roll.pk)], None, NOON).owed == ()
    # Summed in binary what is left of 1.90 is a hair below nothing.
    stock(cloth.fabric_colour, "1.90")
    assert table.tell_lay(lay, [Told(cloth.pk, 1, Decimal("0.10"))], None, NOON).owed == ()


def test_a_roll_used_to_its_end_by_several_rows_had_as_much(lay: Lay) -> None:
    cloth, roll = only_cloth(lay), roll_of(only_cloth(lay), metres="5.4")
    rows = [Told(cloth.pk, spreads, Decimal("2.70"), roll.pk) for spreads in (2, 3)]
    assert table.tell_lay(lay, rows, None, NOON).short_rolls == ()


def test_centimetres_that_lays_are_told_upwards_are_not_missing_of_a_roll(lay: Lay) -> None:
    """Bought as told and cut as planned, each row told to the next centimetre: the roll is empty, and no less."""
    cloth, roll = only_cloth(lay), roll_of(only_cloth(lay), metres="5.38")
    rows = [Told(cloth.pk, spreads, Decimal("2.70"), roll.pk) for spreads in (2, 3)]
    told = table.tell_lay(lay, rows, None, NOON)
    assert (told.short_rolls, told.used_m, told.booked_m) == ((), Decimal("5.40"), Decimal("5.38"))
    assert sum(move.quantity for move in roll.moves.all()) == 0
    assert "5.38\u2009m (all that the books had; 5.40\u2009m on the table)" in told_in_words(told, "metric")
    for fact in LayFact.objects.all():
        table.take_fact_back(fact, None, NOON)
    assert sum(move.quantity for move in roll.moves.all()) == Decimal("5.38")


def test_a_flaw_moves_outwards_as_the_roll_is_cut_and_back_again(lay: Lay) -> None:
    roll = roll_of(only_cloth(lay))
    RollFlaw.objects.create(roll=roll, from_m=Decimal("1.00"), to_m=Decimal("1.20"), note="a slub")
    RollFlaw.objects.create(roll=roll, from_m=Decimal("6.00"), to_m=Decimal("6.50"))
    tell(lay, 2, "2.00", roll=roll.pk, note="hole", flaws=((Decimal("0.50"), Decimal("0.60")),))
    ahead = RollFlaw.objects.filter(to_m__gt=0).order_by("from_m")
    assert [(f.from_m, f.to_m, f.note) for f in ahead] == [
        (Decimal("0.50"), Decimal("0.60"), "hole"),
        (Decimal("4.00"), Decimal("4.50"), ""),
    ]
    table.take_fact_back(LayFact.objects.get(), None, NOON)
    assert [f.from_m for f in RollFlaw.objects.order_by("from_m")] == [
        Decimal("1.00"),
        Decimal("2.50"),
        Decimal("6.00"),
    ]


def test_flaws_alone_are_noted_without_a_fact(lay: Lay) -> None:
    roll = roll_of(only_cloth(lay))
    told = tell(lay, 0, "0", roll=roll.pk, flaws=((Decimal("3"), Decimal("3.2")),))
    assert (told.problem, told.flaws, LayFact.objects.count(), roll.flaws.count()) == ("", 1, 0, 1)
    assert Batch.objects.get().state == Batch.State.PLANNED


def test_cloth_spoilt_leaves_the_stock_and_cuts_nothing(lay: Lay) -> None:
    told = tell(lay, 0, "0.85", note="slipped")
    cloth = only_cloth(lay)
    assert (told.left, cloth.cut_spreads, cloth.used_m) == (5, 0, Decimal("0.85"))
    assert spoken_for() > 0


def test_more_plies_than_planned_another_colour_and_a_flaw_nowhere_change_nothing(lay: Lay) -> None:
    moss = stock(make_fabric_colour("jersey", "moss"), "9", roll="M1").roll
    before = StockMove.objects.count()
    assert "Only 5" in tell(lay, 6, "5").problem
    assert "is not jersey, ink" in tell(lay, 1, "1", roll=moss.pk).problem
    assert "say which" in tell(lay, 1, "1", flaws=((Decimal(1), Decimal(2)),)).problem
    assert "less than nothing" in tell(lay, -1, "1").problem
    two = [Told(only_cloth(lay).pk, 3, Decimal(2)), Told(only_cloth(lay).pk, 3, Decimal(2))]
    assert "Only 5" in table.tell_lay(lay, two, None, NOON).problem
    assert StockMove.objects.count() == before
    assert not LayFact.objects.exists()


def test_of_two_people_at_once_the_second_is_told(lay: Lay) -> None:
    seen = since_seen.told_so_far(lay)
    told = [Told(only_cloth(lay).pk, 2, Decimal("1.70"))]
    assert not table.tell_lay(lay, told, None, NOON, so_far=seen).problem
    second = table.tell_lay(lay, told, None, NOON, so_far=seen)
    assert second.meanwhile
    assert "meanwhile" in second.problem
    assert only_cloth(lay).cut_spreads == 2
    # Something taken back since is something changed, too.
    seen = since_seen.told_so_far(lay)
    table.take_fact_back(LayFact.objects.get(), None, NOON)
    assert table.tell_lay(lay, told, None, NOON, so_far=seen).meanwhile


def test_a_lay_that_is_begun_holds_its_batch_and_its_marker(lay: Lay) -> None:
    tell(lay, 1, "0.85")
    assert not nesting.run_longer(lay.marker, 1.0)
    assert not cancel_batch(lay.batch, None, NOON)
    assert not planning.take_plan_back(lay.batch, None, NOON)


def test_a_cut_taken_back_takes_back_all_that_was_told(lay: Lay) -> None:
    roll = roll_of(only_cloth(lay))
    tell(lay, 2, "1.70", roll=roll.pk)
    tell(lay, 3, "2.60")
    assert table.take_cut_back(lay, None, NOON)
    assert not LayFact.objects.filter(taken_back_at=None).exists()
    assert sum(move.quantity for move in StockMove.objects.filter(note__contains=f"lay {lay.number}")) == 0
    assert sum(move.quantity for move in roll.moves.all()) == 20
    assert only_cloth(lay).used_m is None


def test_a_lay_cut_before_anything_was_told_in_parts_gives_its_metres_back(lay: Lay) -> None:
    cloth = only_cloth(lay)
    cloth.used_m = Decimal("4.00")
    cloth.save()
    Lay.objects.filter(pk=lay.pk).update(cut_at=NOON)
    assert table.take_cut_back(lay, None, NOON)
    assert [move.quantity for move in StockMove.objects.filter(reason="counted")] == [Decimal("4.00")]
    assert only_cloth(lay).used_m is None
