"""Rolls onto lays: shade lots in bundles, what earlier batches are promised, what must be bought."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.test import Client
from django.urls import reverse
from django_tasks.base import Task

from planner.core.lays.model import Plies
from planner.core.rolls import PliesShort, RollThere
from planner.core.spec import ClothKey, Garment
from planner.cutting import rolls_there
from planner.cutting.actions import rolling, table
from planner.cutting.actions.booking import Told
from planner.cutting.bundling import TO_BUY, runs_of
from planner.cutting.buying import what_to_buy
from planner.cutting.demand import batch_demand
from planner.cutting.models import Batch, LayRoll
from planner.cutting.reckoning import cloth_figures
from planner.cutting.short_cloth import in_words
from planner.cutting.stored import StoredLay, planned_batch, shop_of
from planner.cutting.tasks import cloth_for_batch
from planner.materials import roll_actions
from planner.materials.models import FabricColour, Roll, RollFlaw, StockMove, Workroom
from planner.materials.promised import StillPromised
from planner.materials.specs import cloths
from tests.cutting import once
from tests.cutting.settling_makers import settled, waiting_batch
from tests.factories import NOON, TODAY, make_order, stock
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}


@pytest.fixture
def batch() -> Batch:
    """Twelve of one size, more than one spread holds; there is rib enough."""
    the_style()
    stock(FabricColour.objects.get(fabric__name="rib", name="ink"), 50)
    return once.settled(once.waiting_batch(make_order([(the_style(), RIB, "ink", {"M": 12})])))


def ink() -> FabricColour:
    the_style()
    return FabricColour.objects.get(fabric__name="jersey", name="ink")


def spread_m(batch: Batch) -> Decimal:
    lay = batch.lays.filter(cloths__fabric_colour=ink()).first()
    return Decimal(str(lay.marker.length_mm + 2 * lay.end_allowance_mm)) / 1000


def promised_mm(batch: Batch) -> dict[int, float]:
    """What batches before this one are still to take of each roll."""
    found: dict[int, float] = defaultdict(float)
    for due in rolls_there.dues_before(batch, StillPromised()):
        if due.roll is not None:
            found[due.roll] += due.length_mm
    return dict(found)


def rolls_of(batch: Batch) -> list[tuple[str, int]]:
    rows = LayRoll.objects.filter(lay_cloth__lay__batch=batch, lay_cloth__fabric_colour=ink())
    return [(str(row.roll) if row.roll else "buy", row.spreads) for row in rows.order_by("pk")]


def test_without_stock_every_ply_is_to_be_bought(batch: Batch) -> None:
    assert {name for name, _ in rolls_of(batch)} == {"buy"}
    spreads = sum(c.spreads for lay in batch.lays.all() for c in lay.cloths.filter(fabric_colour=ink()))
    assert sum(count for _, count in rolls_of(batch)) == spreads


def test_ends_too_short_for_a_ply_are_told_and_more_is_bought(maker_client: Client, batch: Batch) -> None:
    spread = spread_m(batch)
    before = next(n for n in planned_batch(batch).needs.cloths if n.cloth == ClothKey("jersey", "ink"))
    # Metres enough for all, but on ends of which none holds a whole ply.
    for number in range(20):
        stock(ink(), round(spread * Decimal("0.7"), 2), roll=f"E-{number}")
    done = rolling.assign_rolls(batch)
    assert not done.problem
    assert done.short > 0
    need = next(n for n in planned_batch(batch).needs.cloths if n.cloth == before.cloth)
    assert need.in_stock_m > need.need_m
    assert need.to_buy_m >= before.lay_m - 0.11
    assert "not fit on what is free in stock" in need.how
    assert "\N{THIN SPACE}m " in need.how
    check_buy_list_of_all(maker_client, batch)
    Workroom.objects.update(display=Workroom.Display.IMPERIAL)
    need = next(n for n in planned_batch(batch).needs.cloths if n.cloth == before.cloth)
    assert "\N{THIN SPACE}in do" in need.how
    assert "\N{THIN SPACE}m " not in need.how


def check_buy_list_of_all(maker_client: Client, batch: Batch) -> None:
    """The list of all batches asks for it too."""
    need = next(n for n in what_to_buy().needs.cloths if n.cloth == ClothKey("jersey", "ink"))
    assert need.in_stock_m > need.need_m
    assert need.to_buy_m >= need.lay_m - 0.11
    for name in ("batch-buy-list", "batch-needs", "batch-detail"):
        assert maker_client.get(reverse(name, args=[batch.number])).status_code == 200
    page = maker_client.get(reverse("buy-page")).content.decode()
    assert page.count("not fit on what is free in stock") == 2, "in what is short, and in all that is needed"
    batch.cut_plans.update(state="nesting")
    page = maker_client.get(reverse("buy-page")).content.decode()
    assert re.search(r"Wait with buying and cutting it\. \d+ (ply|plies) of", page)
    figures = cloth_figures(need, cloths()[need.cloth])
    assert "no roll or end there holds plies for" in figures.words
    assert figures.bought > 0


def test_a_bundle_never_mixes_shade_lots(batch: Batch) -> None:
    spread = spread_m(batch)
    count = sum(spreads for _, spreads in rolls_of(batch))
    assert count > 1
    stock(ink(), round(spread * Decimal("1.1"), 2), roll="R-1", shade_lot="A")
    for number in range(2, count + 1):
        stock(ink(), round(spread * Decimal("1.1"), 2), roll=f"R-{number}", shade_lot="B")
    assert rolling.assign_rolls(batch).short == 0
    lots = {row.pk: row.shade_lot for row in Roll.objects.all()}
    of_plies: dict[int, set[str]] = defaultdict(set)
    for row in LayRoll.objects.filter(lay_cloth__lay__batch=batch, lay_cloth__fabric_colour=ink()):
        of_plies[row.lay_cloth_id].add(lots[row.roll_id])
    assert all(len(found) == 1 for found in of_plies.values())
    by_lot: dict[str, int] = defaultdict(int)
    for bundle in batch.bundles.all():
        by_lot[bundle.shade_lot] += bundle.quantity
    assert sum(by_lot.values()) == 12
    assert len(by_lot) == 2
    assert set(by_lot) == {lot for found in of_plies.values() for lot in found}
    tokens = set(batch.bundles.values_list("token", flat=True))
    again = rolling.assign_rolls(batch)
    assert not again.bundles_changed
    assert set(batch.bundles.values_list("token", flat=True)) == tokens, "printed tickets stay valid"


def test_what_an_earlier_batch_is_promised_is_not_given_twice(batch: Batch) -> None:
    total = sum(
        spread_m(batch) * c.spreads
        for lay in batch.lays.all()
        for c in lay.cloths.filter(fabric_colour=ink())
    )
    stock(ink(), round(total * Decimal("1.05"), 2), roll="R-1", shade_lot="A")
    assert rolling.assign_rolls(batch).short == 0
    later = settled(waiting_batch(make_order([(the_style(), RIB, "ink", {"M": 4})])))
    assert {name for name, _ in rolls_of(later)} == {"buy"}
    assert set(promised_mm(later)) == {Roll.objects.get().pk}
    assert not promised_mm(batch)


def test_flaws_and_cloth_on_no_roll(batch: Batch) -> None:
    spread = float(spread_m(batch))
    stock(ink(), round(spread * 1.2, 2), roll="R-1")
    roll = Roll.objects.get()
    middle = round(Decimal(str(spread * 0.6)), 2)
    RollFlaw.objects.create(roll=roll, from_m=middle, to_m=middle + Decimal("0.05"))
    assert "R-1" not in dict(rolls_of_again(batch)), "no ply lies across a flaw"
    StockMove.objects.create(
        fabric_colour=ink(), quantity=Decimal("50"), reason="bought", moved_at=batch.planned_at
    )
    assert rolling.assign_rolls(batch).short == 0
    assert "buy" not in dict(rolls_of(batch)), "it is there, on no roll that is noted"


def rolls_of_again(batch: Batch) -> list[tuple[str, int]]:
    rolling.assign_rolls(batch)
    return rolls_of(batch)


def test_rolls_are_assigned_again_by_a_button_until_something_is_cut(
    maker_client: Client, batch: Batch
) -> None:
    address = reverse("batch-rolls", args=[batch.number])
    stock(ink(), 60, roll="R-1", shade_lot="A")
    answer = maker_client.post(address, follow=True)
    assert "Every ply has its roll." in answer.content.decode()
    assert set(batch.bundles.values_list("shade_lot", flat=True)) == {"A"}
    batch.lays.update(cut_at=batch.planned_at)
    refused = maker_client.post(address, follow=True)
    assert "Part of it is cut" in refused.content.decode()


def test_cloth_that_comes_in_is_given_to_lays_that_wait_for_it(
    batch: Batch, beside: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Callable
) -> None:
    asked: list[tuple[str, int]] = []
    beside.setattr(Task, "enqueue", lambda task, pk: asked.append((task.name, pk)))
    with django_capture_on_commit_callbacks(execute=True):
        stock(ink(), 60, roll="R-1", shade_lot="A")
    assert asked == [(cloth_for_batch.name, batch.pk)]
    asked.clear()
    total = sum(count for _, count in rolls_of(batch))
    assert cloth_for_batch.func(batch.pk) == f"{total} spreads have their roll now"
    assert {name for name, _ in rolls_of(batch)} == {"R-1"}
    with django_capture_on_commit_callbacks(execute=True):
        stock(ink(), 5, roll="R-2")
    assert not asked, "nothing is short any more"


def test_an_end_cut_off_a_roll_is_used_before_a_roll_nobody_began(batch: Batch) -> None:
    total = sum(count for _, count in rolls_of(batch)) * spread_m(batch)
    whole = stock(ink(), round(total * 3, 2), roll="R-1").roll
    end = roll_actions.part_roll(
        whole, round(total * Decimal("1.5"), 2), number="R-1b", person=None, at=NOON
    ).end
    there = {one.key: one for one in jersey_there(batch)}
    assert there[f"{end.pk}"].is_end
    assert not there[f"{whole.pk}"].is_end


def jersey_there(batch: Batch):  # type: ignore[no-untyped-def]
    key = ClothKey("jersey", "ink")
    return rolls_there.rolls_there(batch, {key}, shop_of(batch, batch_demand(batch)))[key]


def test_of_a_lay_begun_only_what_is_still_to_be_cut_is_promised(batch: Batch) -> None:
    stock(ink(), 60, roll="R-1")
    assert rolling.assign_rolls(batch).short == 0
    later = Batch.objects.create(number="B-9000", made_on=TODAY, due_on=TODAY)
    roll = Roll.objects.get()
    before = promised_mm(later)[roll.pk]
    lay = batch.lays.filter(cloths__fabric_colour=ink()).first()
    cloth = lay.cloths.filter(fabric_colour=ink()).first()
    if cloth.spreads < 2:
        cloth.spreads = 2
        cloth.save()
        LayRoll.objects.filter(lay_cloth=cloth).update(spreads=2)
        before = promised_mm(later)[roll.pk]
    each_mm = lay.marker.length_mm + 2 * lay.end_allowance_mm
    told = table.tell_lay(lay, [Told(cloth.pk, 1, Decimal("1.00"), roll.pk)], None, NOON)
    assert not told.problem
    assert promised_mm(later)[roll.pk] == pytest.approx(before - each_mm)
    # Cut from cloth of no roll, it stands for what was planned first.
    told = table.tell_lay(lay, [Told(cloth.pk, cloth.spreads - 1, Decimal("1.00"))], None, NOON)
    left = promised_mm(later).get(roll.pk, 0.0)
    assert left == pytest.approx(before - cloth.spreads * each_mm)


# ---- face to face, without rows ----


def face_to_face(spreads: int) -> StoredLay:
    """A lay of pairs of plies, each ply 2,000 mm with its ends."""
    lay = SimpleNamespace(mode="face_to_face", spreads_of=lambda _: spreads)
    marker = SimpleNamespace(length_mm=1960.0)
    row = SimpleNamespace(pk=1, marker=marker, end_allowance_mm=20.0, lay_width_mm=1400.0)
    return StoredLay(row, lay, None)  # type: ignore[arg-type]


def taken(spreads: int, *rolls: RollThere) -> list[tuple[int | None, int]]:
    key = ClothKey("jersey", "ink")
    found = rolling._of_colour([face_to_face(spreads)], key, rolls, 500.0, {})
    return [(one.roll, one.spreads) for one in found[1, key]]


def test_a_flaw_may_lie_between_the_two_plies_of_a_spread() -> None:
    flawed = RollThere("7", 4200.0, flaws=((2050.0, 2100.0),))
    assert taken(1, flawed) == [(7, 1)]
    assert taken(1, RollThere("7", 4200.0, flaws=((1900.0, 1950.0),))) == [(None, 1)]


def test_no_spread_is_divided_between_two_rolls_or_two_shade_lots() -> None:
    assert taken(1, RollThere("7", 2100.0, "A"), RollThere("8", 2100.0, "B")) == [(None, 1)]
    assert taken(1, RollThere("7", 2100.0), RollThere("8", 2100.0)) == [(None, 1)]
    assert sorted(taken(3, RollThere("7", 6300.0), RollThere("8", 10300.0)), key=str) == [(7, 1), (8, 2)]


# ---- bundles by lots, without rows ----


def test_garments_of_a_lay_are_told_apart_by_the_lots_of_their_plies() -> None:
    garment = Garment("110", (), "ink", "M")
    key = ClothKey("jersey", "ink")

    class Lay:
        section = 1
        plies = (Plies(key, 2, (garment, garment)), Plies(key, 1, (garment, garment)))

    assert runs_of(Lay, key, ["A", TO_BUY]) == {garment: [(1, "A", 4), (1, TO_BUY, 2)]}  # type: ignore[arg-type]
    assert runs_of(Lay, key, []) == {garment: [(1, "", 6)]}  # type: ignore[arg-type]


def test_short_plies_in_words() -> None:
    short = [PliesShort("lay 1", 3, 2410.0), PliesShort("lay 2", 1, 1100.0)]
    told = in_words(short, "metric").replace("\N{THIN SPACE}", " ")
    assert told == "3 plies of 2.41 m and 1 ply of 1.10 m do not fit on what is free in stock"
    assert in_words(short[1:], "metric").endswith("1.10\N{THIN SPACE}m does not fit on what is free in stock")
    # As on tickets: 2.41 m are 94.88 in, up to the sixteenth 94 15/16; 1.1 m are 43.31 in, so 43 5/16.
    assert " ".join(in_words(short, "imperial").split()) == (
        "3 plies of 94 15/16 in and 1 ply of 43 5/16 in do not fit on what is free in stock"
    )
    assert in_words([PliesShort("lay 3", 1, 1950.4)], "metric").startswith("1 ply of 1.96\N{THIN SPACE}m")
