"""What a plan says of itself outside its page: on the cut sheet, and beside what was really used; and what is said
where the solver is missing or the planning breaks down."""

from __future__ import annotations

import logging
import re
import sys
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.cutting.actions import gathering, planning, table
from planner.cutting.actions.booking import Told
from planner.cutting.cut_plans import facts_of
from planner.cutting.fact_beside_plan import fact_table
from planner.cutting.models import Batch, Lay, LayCloth, LayFact, Marker
from planner.cutting.setting import batch_setting
from planner.cutting.why import plan_sentences
from planner.materials.models import RollFlaw, Workroom
from planner.orders.models import LineQuantity
from tests.cutting import once
from tests.cutting.once import plies_batch
from tests.cutting.settling_makers import settled, waiting_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, TODAY, make_order
from tests.papers.words import all_words
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}


def order(**sizes: int):  # type: ignore[no-untyped-def]
    return make_order([(the_style(), RIB, "ink", sizes)])


def test_the_cut_sheet_says_how_its_plan_was_judged_and_nothing_of_money(
    maker_client: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    batch = once.settled(once.waiting_batch(order(S=2, M=3)))
    room = Workroom.the()
    again = Batch.objects.get(pk=batch.pk)
    # Bundles, suppliers of fabrics and of notions, rolls, plans, days.
    with django_assert_num_queries(6):
        setting = batch_setting(room, again, TODAY)
    told = {plan.fabric.name: facts_of(plan) for plan in batch.cut_plans.select_related("fabric")}
    assert set(told) == {"jersey", "rib"}
    for fabric, facts in told.items():
        assert facts is not None
        sentences = plan_sentences(facts, room.display, follows=True)
        assert {f"{fabric}: {text}" for text in sentences} <= set(setting.judged)
    # By one rule with the page: what it saves is told once the single sizes are nested too.
    assert any("what it saves is told once those are nested too" in text for text in setting.judged)
    assert room.currency not in " ".join(setting.judged)
    answer = maker_client.get(reverse("cut-sheet", args=[batch.number]))
    words = all_words(answer.content)
    # Fabric by fabric behind the order of cutting, which is what is looked for at the table.
    words = words[words.index("Order of cutting") : words.index("Cutting counts")]
    words = words[words.index("Why these lays") :]
    for fabric in told:
        own = [text.removeprefix(f"{fabric}: ") for text in setting.judged if text.startswith(f"{fabric}: ")]
        assert f"{fabric} {' '.join(' '.join(own).split())}" in words


def test_the_page_of_a_batch_sets_plan_against_fact_once_something_is_cut(
    helper_client: Client, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    batch = plies_batch(5)
    page = reverse("batch-detail", args=[batch.number])
    assert "Plan and fact" not in helper_client.get(page).content.decode()
    lay = jersey_lay(batch)
    told = table.tell_lay(lay, [Told(only_cloth(lay).pk, 3, Decimal("2.50"))], None, NOON)
    assert not told.problem
    with django_assert_max_num_queries(15):
        shown = helper_client.get(page).content.decode()
    assert shown.count("Plan and fact") == 1
    assert "3 of 5" in shown
    assert "css/table.css" in shown


def test_what_is_lost_at_a_flaw_is_no_difference_from_the_plan(helper_client: Client) -> None:
    """One ply of 1.003 m lies before the flaw, the next begins at 2 m: of 3.01 m used 1.00 m are lost, 2.01 planned."""
    batch = plies_batch(5)
    lay = jersey_lay(batch)
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=1003 - 2 * lay.end_allowance_mm)
    lay, cloth = jersey_lay(batch), only_cloth(lay)
    roll = roll_of(cloth, "R1")
    RollFlaw.objects.create(roll=roll, from_m="1.50", to_m="2.00")
    told_now = [Told(cloth.pk, 2, Decimal("3.01"), roll.pk)]
    assert not table.tell_lay(lay, told_now, None, NOON).problem
    assert LayFact.objects.get().lost_m == Decimal("1.00")
    at_table = reverse("lay-detail", args=[batch.number, lay.number])
    for page in (at_table, reverse("batch-detail", args=[batch.number])):
        shown = helper_client.get(page).content.decode()
        rows = re.sub(r"<[^>]+>|\s+", " ", shown[shown.index("Plan and fact") :]).replace(
            "\N{THIN SPACE}", " "
        )
        assert "1.0 m of it lost at flaws" in rows
        assert "as planned" in rows
    table.take_fact_back(LayFact.objects.get(), None, NOON)
    assert "lost at flaws" not in helper_client.get(at_table).content.decode()


def test_rows_of_one_colour_told_as_filled_in_are_as_planned() -> None:
    """Two plies that are marked differently are two rows of 1.01 m each, though together they take but 2.006 m."""
    batch = plies_batch(1)
    lay = jersey_lay(batch)
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=1003 - 2 * lay.end_allowance_mm)
    LayCloth.objects.create(lay=lay, fabric_colour=only_cloth(lay).fabric_colour, spreads=1)
    lay = jersey_lay(batch)
    told = [Told(cloth.pk, 1, Decimal("1.01")) for cloth in lay.cloths.all()]
    assert not table.tell_lay(lay, told, None, NOON).problem
    (row,) = fact_table([Lay.objects.for_page().get(pk=lay.pk)]).rows
    assert (row.cut_spreads, row.planned_m, row.more_m) == (2, Decimal("2.02"), 0)


def test_without_the_solver_a_batch_is_planned_and_settled_and_says_so(
    helper_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "highspy", None)
    batch = settled(waiting_batch(order(S=3, M=4, L=5)))
    assert batch.state == Batch.State.PLANNED
    assert {plan.state for plan in batch.cut_plans.all()} == {"settled"}
    assert "without_solver" in {plan.method for plan in batch.cut_plans.all()}
    shown = helper_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert "This is a simple plan" in shown
    assert "the solver that finds better ones is missing on this computer or did not run" in shown
    cut = sum(
        cloth.spreads * held.per_marker
        for lay in batch.lays.filter(cloths__fabric_colour__fabric__name="jersey")
        for cloth in lay.cloths.all()
        for held in cloth.garments.all()
    )
    assert cut == 12


def test_planning_that_breaks_down_changes_nothing_and_says_so_plainly(
    maker_client: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    order(S=2)
    batch = gathering.create_batch(None, TODAY)
    gathering.fill_batch(batch, {row.pk: row.quantity for row in LineQuantity.objects.all()})

    def break_down(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a fault of our own")

    monkeypatch.setattr("planner.core.lays.cut_plans.plan_fabrics", break_down)
    with caplog.at_level(logging.ERROR):
        answer = maker_client.post(reverse("batch-plan", args=[batch.number]))
    assert answer.status_code == 422
    shown = answer.content.decode()
    assert planning.BROKE_DOWN in shown
    assert "Nothing was changed" in shown
    assert "ZeroDivisionError" not in shown
    assert "a fault of our own" in caplog.text
    batch.refresh_from_db()
    assert (batch.state, batch.lays.count(), batch.bundles.count()) == (Batch.State.GATHERING, 0, 0)
