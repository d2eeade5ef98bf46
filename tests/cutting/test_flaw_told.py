"""A flaw is told at the table: what is to be bought, which lay waits and what a rest is go by the pieces it leaves."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from planner.cutting.actions import arrived, letting_go, rest
from planner.cutting.actions.booking import Told
from planner.cutting.actions.table import take_fact_back, tell_lay
from planner.cutting.flaws_ahead import ahead_in_words, flaws_ahead
from planner.cutting.models import Batch, Lay, LayFact, LayRoll, Marker
from planner.cutting.portions import spread_m, up_to_cm
from planner.cutting.printed import fingerprints
from planner.cutting.reading import bundles_of, lays_of
from planner.cutting.roll_rows import Taken
from planner.cutting.stored import planned_batch
from planner.materials.models import Fabric, Roll, RollFlaw
from planner.materials.promised import over_promised
from tests.cutting.once import once
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.cutting.test_other_rolls import being_cut, of_jersey, plan_from, roll
from tests.cutting.test_table_views import as_filled_in
from tests.factories import NOON
from tests.papers.words import all_words

pytestmark = pytest.mark.django_db


def plain(text: str) -> str:
    return text.replace("\N{THIN SPACE}", " ")


@once
def from_one_roll() -> Batch:
    """Being cut; its three plies of jersey, not begun, have a roll of just four times their length."""
    batch = being_cut(3)
    plan_from(batch, Taken(roll(batch, "R9", 4).pk, 3))
    Fabric.objects.filter(name="jersey").update(pack_quantity=Decimal("0.01"))
    return batch


@pytest.fixture
def batch() -> Batch:
    return from_one_roll()


def page(client: Client, batch: Batch) -> str:
    return plain(client.get(reverse("batch-detail", args=[batch.number])).content.decode())


def of_need(batch: Batch) -> tuple[float, str]:
    need = next(one for one in planned_batch(batch).needs.cloths if one.cloth.fabric == "jersey")
    return need.to_buy_m, plain(need.how)


def tell_flaw(batch: Batch, low: Decimal, high: Decimal, *, spreads: int = 0) -> letting_go.LayTold:
    """So many plies are cut from R9, and behind them lies a flaw, from so many plies' lengths to so many."""
    lay = jersey_lay(batch)
    each = spread_m(lay)
    flaw = (round(each * low, 2), round(each * high, 2))
    told = Told(
        only_cloth(lay).pk, spreads, up_to_cm(each * spreads), Roll.objects.get(number="R9").pk, flaws=(flaw,)
    )
    done = letting_go.let_go_after(tell_lay(lay, [told], None, NOON))
    assert not done.problem
    return done


def buy(batch: Batch, number: str = "R10") -> None:
    """Just what is told to be bought comes in as one roll."""
    metres, _ = of_need(batch)
    roll_of(jersey_lay(batch).cloths.first(), number, str(round(metres, 2)))
    arrived.cloth_came_in(batch.pk)


def waits(batch: Batch) -> bool:
    return batch.lays.with_turn().get(pk=jersey_lay(batch).pk).waits


def test_nothing_to_spread_is_nothing_and_not_less() -> None:
    assert f"{up_to_cm(Decimal(0))}" == "0.00"
    assert up_to_cm(Decimal("1.2301")) == Decimal("1.24")


def test_plies_that_fit_no_piece_are_bought_and_bought_so_they_suffice(
    maker_client: Client, batch: Batch
) -> None:
    lay, each = jersey_lay(batch), spread_m(jersey_lay(batch))
    assert of_need(batch)[0] == 0
    # Metres for all three plies are left, in two pieces none of which is as long as one.
    cloth, one = only_cloth(lay), Roll.objects.get(number="R9")
    key = f"{cloth.pk}-0"
    typed = {
        f"spreads-{key}": "0", f"used-{key}": "0.5 m", f"roll-{key}": f"{one.pk}", f"note-{key}": "a stain",
        f"from-{key}": f"{each * Decimal('0.8'):.2f} m", f"to-{key}": f"{each * Decimal('2.7'):.2f} m",
    }  # fmt: skip
    said = plain(
        maker_client.post(
            reverse("lay-cut", args=[batch.number, lay.number]), typed, follow=True
        ).content.decode()
    )
    assert "R9 has" in said
    assert "for its flaw from" in said
    assert f"Nothing else in stock is long enough: lay {lay.number} waits for cloth now" in said
    assert "Choose another roll there" not in said
    # The lay's page says which flaw is the reason, and does not press anybody to cut it.
    assert 'id="waits-for"' in said
    assert "no piece of it is longer than" in said
    assert '<button class="second">It is cut</button>' in said
    metres, how = of_need(batch)
    assert "3 plies of" in how
    assert "not fit on what is free in stock" in how
    assert metres >= float(3 * each)
    assert waits(batch)
    assert "can be cut now" not in page(maker_client, batch)
    # Bought exactly so, every ply has its roll.
    buy(batch)
    assert of_jersey(batch) == [("R10", 3)]
    assert of_need(batch)[0] == 0
    assert not waits(batch)
    assert not over_promised(None)


def test_of_a_begun_lay_only_what_fits_nowhere_is_bought(batch: Batch) -> None:
    """One ply is cut; of the two left one fits behind the flaw, the other on nothing."""
    done = tell_flaw(batch, Decimal("0.5"), Decimal("1.5"), spreads=1)
    lay = jersey_lay(batch)
    assert done.waiting == {batch.number: (lay.number,)}
    assert of_jersey(batch) == [("R9", 2), (None, 1)]
    assert "1 ply of" in of_need(batch)[1]
    assert waits(batch)
    buy(batch)
    assert ("R10", 1) in of_jersey(batch)
    assert not waits(batch)
    assert not over_promised(None)
    # Garments are neither lost nor made by it.
    assert sum(cloth.spreads for cloth in lay.cloths.all()) == 3


def test_a_flaw_told_wrongly_and_taken_back_gives_the_plies_their_roll_again(batch: Batch) -> None:
    lay = jersey_lay(batch)
    told = Told(
        only_cloth(lay).pk,
        0,
        Decimal("0.10"),
        Roll.objects.get(number="R9").pk,
        flaws=((Decimal("0.2"), Decimal(4)),),
    )
    letting_go.let_go_after(tell_lay(lay, [told], None, NOON))
    assert of_jersey(batch) == [(None, 3)]
    take_fact_back(LayFact.objects.get(lay_cloth__lay=lay), None, NOON)
    RollFlaw.objects.all().delete()
    arrived.cloth_came_in(batch.pk)
    assert of_jersey(batch) == [("R9", 3)]


def test_where_another_roll_would_do_the_ticket_stands_and_it_is_named(batch: Batch) -> None:
    roll(batch, "R8", 3)
    before = list(LayRoll.objects.order_by("pk").values_list())
    done = tell_flaw(batch, Decimal("0.5"), Decimal("3.5"))
    assert done.counted_on
    assert done.waiting == {}
    assert list(LayRoll.objects.order_by("pk").values_list()) == before


def test_a_flaw_noted_on_the_page_of_a_roll_is_told_alike(maker_client: Client, batch: Batch) -> None:
    one = Roll.objects.get(number="R9")
    flaw = {"from_m": "0.3", "to_m": f"{float(spread_m(jersey_lay(batch))) * 3.5:.2f}"}
    answer = maker_client.post(reverse("flaw-new", args=[one.pk]), flaw, follow=True)
    lay = jersey_lay(batch).number
    assert f"lay {lay} of {batch.number} waits for cloth now" in plain(answer.content.decode())
    assert of_jersey(batch) == [(None, 3)]


def test_a_rest_that_fits_on_no_piece_says_what_must_be_bought(maker_client: Client, batch: Batch) -> None:
    """Nothing shorter than one garment can be laid, and no piece is as long as that."""
    tell_flaw(batch, Decimal("0.6"), Decimal("2.5"), spreads=1)
    lay = jersey_lay(batch)
    assert of_jersey(batch).count((None, 2)) == 1
    stays = plain(rest.replan_rest(lay, None, NOON, if_better=True).stays)
    assert f"Lay {lay.number} stays as it is, so nothing was changed: the 2 plies left cannot be cut" in stays
    assert "no cloth for it in stock is longer than" in stays
    assert "jersey ink must be bought, see What to buy." in stays
    assert f"{of_need(batch)[0]:g} m jersey ink" in stays
    # Ended all the same, its rest says it too.
    address = reverse("lay-rest", args=[batch.number, lay.number])
    said = plain(maker_client.post(address, {"anyway": "yes"}, follow=True).content.decode())
    assert "For it " in said
    assert "jersey ink must be bought, see What to buy." in said


@pytest.mark.slow
@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 2), st.integers(0, 30), st.integers(1, 40))
@example(0, 0, 11)  # The last ply ends 4 cm behind the roll's end, as much as a tape may be out.
def test_whatever_flaw_is_told_what_is_bought_suffices(
    batch: Batch, spreads: int, at: int, wide: int
) -> None:
    """At any place and of any width, with no ply, one or two of three cut before."""
    with transaction.atomic():
        tell_flaw(batch, Decimal(at) / 10, Decimal(at + wide) / 10, spreads=spreads)
        metres, _ = of_need(batch)
        assert bool(metres) == waits(batch)
        if metres:
            buy(batch)
        assert of_need(batch)[0] == 0
        assert not waits(batch)
        assert not over_promised(None)
        assert sum(cloth.spreads for cloth in jersey_lay(batch).cloths.all()) == 3
        transaction.set_rollback(True)


def at_table(client: Client, lay: Lay) -> str:
    return plain(client.get(reverse("lay-detail", args=[lay.batch.number, lay.number])).content.decode())


def ticket(client: Client, lay: Lay) -> str:
    address = reverse("cut-tickets", args=[lay.batch.number])
    return all_words(client.get(f"{address}?lay={lay.number}").content)


def cut(client: Client, lay: Lay, **typed: str) -> tuple[int, str]:
    """Tells one row of a lay as it is filled in, but for what is typed otherwise."""
    address = reverse("lay-detail", args=[lay.batch.number, lay.number])
    form = client.get(address).context["form"]
    (row,) = form.rows()
    data = {name: bound.value() for name, bound in form.fields.items() for bound in [form[name]]}
    data |= {f"{name}-{row.portion.key}": value for name, value in typed.items()}
    answer = client.post(
        reverse("lay-cut", args=[lay.batch.number, lay.number]),
        {name: value for name, value in data.items() if value not in (None, False)},
        follow=True,
    )
    return answer.status_code, plain(answer.content.decode())


def metres(value: Decimal) -> str:
    return f"{value:.2f}".removesuffix("0") + " m"


def test_where_a_ply_begins_stands_on_page_ticket_and_sheet_and_is_taken_off_the_roll(
    maker_client: Client, batch: Batch
) -> None:
    """One ply is cut, and 0.4 to 0.7 m behind it lies a flaw: the first 0.7 m go with the next."""
    lay, one = jersey_lay(batch), Roll.objects.get(number="R9")
    each = spread_m(lay)
    assert "R9: flaw" not in ticket(maker_client, lay)
    told = Told(only_cloth(lay).pk, 1, up_to_cm(each), one.pk, flaws=((Decimal("0.4"), Decimal("0.7")),))
    assert not tell_lay(lay, [told], None, NOON).problem
    takes = up_to_cm(2 * each) + Decimal("0.7")
    words = (
        f"R9: flaw 0.4–0.7 m from its end; begin the 1st ply still to come at 0.7 m, so that {metres(takes)} come"
        " off the roll"
    )
    page = at_table(maker_client, lay)
    assert words in page
    assert f"{metres(takes)} of cloth as planned with what is cut off at a flaw" in at_table(
        maker_client, lay
    )
    assert words in ticket(maker_client, lay)
    sheet = all_words(maker_client.get(reverse("cut-sheet", args=[batch.number])).content)
    assert sheet.count(words) == 2
    # As filled in it is taken for right, and the books agree with the cloth.
    left = Roll.objects.with_left().get(pk=one.pk).left_m
    assert cut(maker_client, lay)[0] == 200
    assert Roll.objects.with_left().get(pk=one.pk).left_m == left - takes
    assert LayFact.objects.latest("pk").used_m == takes


def test_metres_filled_in_with_what_is_lost_at_a_flaw_follow_a_lay_that_became_shorter(
    maker_client: Client, batch: Batch
) -> None:
    """The third ply begins behind the flaw, wherever the second ends: shorter plies lose more before it."""
    lay, one = jersey_lay(batch), Roll.objects.get(number="R9")
    each = spread_m(lay)
    ends_m = (2 * each + Decimal("0.6")).quantize(Decimal("0.01"))
    RollFlaw.objects.create(roll=one, from_m=ends_m - Decimal("0.1"), to_m=ends_m)
    key, address = only_cloth(lay).pk, reverse("lay-cut", args=[lay.batch.number, lay.number])
    seen = as_filled_in(
        maker_client.get(reverse("lay-detail", args=[lay.batch.number, lay.number])).content.decode()
    )
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=lay.marker.length_mm - 50)
    answer = maker_client.post(address, seen)
    assert answer.status_code == 409
    again = as_filled_in(answer.content.decode())
    told = Decimal(seen[f"used-{key}-0"].split()[0]) - Decimal(again[f"used-{key}-0"].split()[0])
    assert told == pytest.approx(Decimal("0.05"), abs=Decimal("0.011"))


def test_a_flaw_within_what_was_cut_is_asked_about_before_it_is_dropped(
    maker_client: Client, batch: Batch
) -> None:
    lay, one = jersey_lay(batch), Roll.objects.get(number="R9")
    each = spread_m(lay)
    RollFlaw.objects.create(roll=one, from_m="0.30", to_m="0.40")
    typed = {"spreads": "1", "used": f"{up_to_cm(each)} m"}
    status, said = cut(maker_client, lay, **typed)
    assert status == 422
    assert "By the books this roll has a flaw 0.3–0.4 m from its end, within what was cut." in said
    assert f"Begun behind it, 1 ply takes {metres(up_to_cm(each) + Decimal('0.4'))}. Is it right?" in said
    facts = LayFact.objects.filter(lay_cloth__lay=lay)
    assert not facts.exists()
    # Metres enough to begin behind it need no answer; less of them do, and are then taken as they are.
    assert cut(maker_client, lay, **typed, across="on")[0] == 200
    assert facts.get().used_m == up_to_cm(each)
    RollFlaw.objects.create(roll=one, from_m="0.30", to_m="0.40")
    assert cut(maker_client, lay, spreads="1", used=f"{up_to_cm(each) + Decimal('0.4')} m")[0] == 200


def test_plies_before_a_flaw_are_unaffected_an_old_ticket_is_told_and_lays_that_come_before(
    batch: Batch,
) -> None:
    lay, one = jersey_lay(batch), Roll.objects.get(number="R9")
    each = spread_m(lay)

    def told() -> tuple[str, ...]:
        (row,) = Lay.objects.with_rolls().filter(pk=lay.pk)
        return tuple(
            plain(ahead_in_words(told, row, "metric")) for told in flaws_ahead([row]).of_lay.get(row.pk, ())
        )

    def mark() -> str:
        read = lays_of(batch)
        return fingerprints(read, bundles_of(batch, read))[f"{lay.number}"]

    before = mark()
    flaw = RollFlaw.objects.create(
        roll=one, from_m=round(3 * each, 2) + Decimal("0.05"), to_m=round(4 * each, 2)
    )
    assert told() == ()
    assert mark() == before
    RollFlaw.objects.filter(pk=flaw.pk).update(from_m=each + Decimal("0.1"), to_m=each + Decimal("0.2"))
    (words,) = told()
    assert "begin the 2nd ply at" in words
    assert mark() != before
    # With a lay cut from the roll before, its flaw is that much nearer when this one's turn comes.
    second, cloth = Lay.objects.get(pk=lay.pk), only_cloth(lay)
    second.pk, second.number = None, 9
    second.save()
    cloth.pk, cloth.lay, cloth.spreads = None, second, 1
    cloth.save()
    LayRoll.objects.create(lay_cloth=cloth, roll=one, spreads=1)
    one.moves.update(quantity=20)
    RollFlaw.objects.filter(pk=flaw.pk).update(
        from_m=3 * each + Decimal("0.1"), to_m=3 * each + Decimal("0.2")
    )
    assert told() == ()
    (row,) = Lay.objects.with_rolls().filter(pk=second.pk)
    ((ahead,),) = flaws_ahead([row]).of_lay.values()
    assert plain(ahead_in_words(ahead, row, "metric")) == (
        f"R9: once lay {lay.number} is cut from it, flaw 0.1–0.2 m from its end; begin the ply at 0.2 m, so that"
        f" {metres(up_to_cm(each) + Decimal('0.2'))} come off the roll"
    )
