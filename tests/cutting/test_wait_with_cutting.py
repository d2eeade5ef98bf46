"""A lay of a plan that does not stand yet: nowhere told as to be cut, and cut only by who says that it is so."""

from __future__ import annotations

import re
from decimal import Decimal
from itertools import product

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import given_back, nesting, settling, table
from planner.cutting.actions.arrived import cloth_came_in
from planner.cutting.actions.booking import Told
from planner.cutting.models import Batch, CutPlan, Lay, LayCloth, LayFact, LayRoll, Marker
from planner.materials.models import Roll, StockMove
from tests.cutting.once import make_planned_batch, once, plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.cutting.test_table_views import HTMX, address, as_filled_in, text
from tests.factories import NOON, stock
from tests.papers.words import all_words

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    """Two lays, one of jersey and one of rib; both nested, their plans settled."""
    return make_planned_batch()


def next_step(client: Client) -> str:
    page = client.get(reverse("batch-list")).content.decode()
    return page.split('data-label="Next">')[1].split("</td>")[0]


# ---- the list of batches ----


def test_what_is_laid_is_counted_as_a_marker_tells_it(batch: Batch) -> None:
    marker = batch.lays.first().marker
    for how in product(Marker.State.values, (Marker.FIRST_SEED, Marker.POLISH_SEED), (None, 900.0)):
        marker.state, marker.seed, marker.length_mm = how
        marker.save()
        assert Batch.objects.with_counts().get().lays_not_laid == (0 if marker.is_laid else 1), how


def test_the_list_says_what_can_be_cut(helper_client: Client, batch: Batch) -> None:
    assert next_step(helper_client) == "cut 2 lays"
    rib = batch.cut_plans.filter(fabric__name="rib")
    rib.update(state=CutPlan.State.NESTING)
    assert next_step(helper_client) == "its lays are still being planned: wait with cutting"
    rib.update(state=CutPlan.State.SETTLED)
    first, second = LayCloth.objects.filter(lay__batch=batch)
    LayRoll.objects.create(lay_cloth=first, roll=None, spreads=1)
    assert next_step(helper_client) == "cut 1 lay; 1 waits for cloth"
    LayRoll.objects.create(lay_cloth=second, roll=None, spreads=1)
    assert next_step(helper_client) == "2 lays wait for cloth"
    # While it is being cut lays that are still being nested are told too.
    LayRoll.objects.all().delete()
    begun, other = batch.lays.order_by("number")
    Lay.objects.filter(pk=begun.pk).update(cut_at=NOON)
    Batch.objects.filter(pk=batch.pk).update(state=Batch.State.CUTTING)
    assert next_step(helper_client) == "cut 1 more of 2 lays"
    Marker.objects.filter(lays=other).update(state=Marker.State.NESTING)
    assert next_step(helper_client) == "1 lay is not nested yet"


# ---- the page of a lay ----

WAIT = "Not settled yet:"
EARLY = "The plan of this batch is not settled yet, so its lays may still change."


@pytest.fixture
def moving(batch: Batch) -> Lay:
    """The lay of jersey, while the plan of rib does not stand."""
    batch.cut_plans.filter(fabric__name="rib").update(state=CutPlan.State.NESTING)
    return jersey_lay(batch)


def page_of(client: Client, lay: Lay, **headers: object) -> str:
    return text(client.get(address(lay, "lay-detail"), **headers))


def test_its_page_says_to_wait_and_prints_nothing(helper_client: Client, moving: Lay) -> None:
    page = page_of(helper_client, moving)
    assert WAIT in page
    assert "Wait with cutting." in page
    assert "Print its cut ticket" not in page
    assert "can be printed once the plan is settled" in page
    assert '<button class="second">It is cut</button>' in page
    # It follows by itself, and leaves what is typed alone.
    assert 'hx-select="#lay-now"' in page
    CutPlan.objects.update(state=CutPlan.State.SETTLED)
    page = page_of(helper_client, moving)
    assert WAIT not in page
    assert "Print its cut ticket" in page
    assert "<button>It is cut</button>" in page
    assert "hx-get" not in page[page.index('id="lay-region"') :]
    # A ticket printed before may no longer hold.
    printing = reverse("print-paper", args=[moving.batch.number, "cut-tickets"])
    assert helper_client.post(printing, {"lay": moving.number}).status_code == 302
    CutPlan.objects.update(state=CutPlan.State.NESTING)
    assert re.search(r"The one printed .+ may no longer hold\.", page_of(helper_client, moving))


def test_a_page_that_follows_a_lay_that_goes_leads_to_its_batch(helper_client: Client, moving: Lay) -> None:
    batch = moving.batch
    moving.delete()
    answer = helper_client.get(address(moving, "lay-detail"), headers=HTMX)
    assert answer["HX-Redirect"] == reverse("batch-detail", args=[batch.number])
    assert helper_client.get(address(moving, "lay-detail")).status_code == 404


def test_no_ticket_is_offered_while_another_lay_of_a_batch_being_cut_is_nested(
    helper_client: Client, batch: Batch
) -> None:
    lay, other = jersey_lay(batch), batch.lays.exclude(pk=jersey_lay(batch).pk).get()
    Marker.objects.filter(lays=other).update(state=Marker.State.NESTING)
    page = page_of(helper_client, lay)
    assert "Print its cut ticket" not in page
    assert "can be printed once every lay of the batch is nested" in page
    assert WAIT not in page


def test_it_is_told_as_cut_only_by_who_says_that_it_is_so(helper_client: Client, moving: Lay) -> None:
    sent = as_filled_in(page_of(helper_client, moving)) | {f"note-{only_cloth(moving).pk}-0": "cut at dawn"}
    assert "early" not in sent
    for headers in ({}, HTMX):
        answer = helper_client.post(address(moving), sent, headers=headers)
        page = text(answer)
        assert answer.status_code == 422
        assert EARLY in page
        assert 'value="cut at dawn"' in page
        assert 'name="early"' in page
    assert not LayFact.objects.exists()
    answer = helper_client.post(address(moving), {**sent, "early": "on"}, headers=HTMX)
    assert answer.status_code == 200
    assert "The lays of B-0001 stay as they are now. Their rolls are being chosen." in text(answer)
    moving.refresh_from_db()
    assert moving.cut_at is not None


def test_a_flaw_alone_is_noted_without_asking(helper_client: Client, moving: Lay) -> None:
    key, roll = f"{only_cloth(moving).pk}-0", roll_of(only_cloth(moving))
    flaw = {f"spreads-{key}": "0", f"roll-{key}": f"{roll.pk}", f"from-{key}": "1", f"to-{key}": "1.1"}
    assert helper_client.post(address(moving), flaw).status_code == 302
    assert roll.flaws.count() == 1


def test_of_a_settled_plan_nobody_is_asked(
    helper_client: Client, batch: Batch, beside: pytest.MonkeyPatch
) -> None:
    """Neither who tells it, nor the worker to let it stand."""
    asked: list[int] = []
    beside.setattr(table, "queue_settling", asked.append)
    lay = jersey_lay(batch)
    sent = as_filled_in(page_of(helper_client, lay))
    assert helper_client.post(address(lay), sent).status_code == 302
    assert asked == []


# ---- what becomes of the others ----


def tell(lay: Lay, spreads: int) -> None:
    told = table.tell_lay(lay, [Told(only_cloth(lay).pk, spreads, Decimal(1))], None, NOON)
    assert not told.problem


def test_who_cuts_before_the_plan_stands_has_the_worker_let_it_stand(
    moving: Lay, beside: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []
    beside.setattr(table, "queue_settling", asked.append)
    tell(moving, 1)
    assert asked == [moving.batch_id]


@once
def open_plies() -> Batch:
    """Five plies of jersey in a lay and their rib in another, nested, no plan settled yet."""
    batch = plies_batch(5)
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    assert not LayRoll.objects.exists()
    return Batch.objects.get(pk=batch.pk)


@pytest.fixture
def plies() -> Batch:
    return open_plies()


def rib_lay(batch: Batch) -> Lay:
    return batch.lays.get(cloths__fabric_colour__fabric__name="rib")


def go_on(batch: Batch, beside: pytest.MonkeyPatch) -> list[int]:
    """What the worker does then; the batches that were asked to be given rolls."""
    asked: list[int] = []
    beside.setattr(settling, "queue_arrived", asked.append)
    assert settling.settle(batch.pk) == "cut, so it stays"
    for pk in asked:
        cloth_came_in(pk)
    return asked


def promised(lay: Lay) -> list[tuple[str, int]]:
    rows = LayRoll.objects.filter(lay_cloth__lay=lay).order_by("lay_cloth", "position")
    return [(row.roll.number if row.roll else "to buy", row.spreads) for row in rows.select_related("roll")]


def test_lays_not_begun_get_rolls_or_wait_for_cloth_once_one_is_cut_early(
    plies: Batch, helper_client: Client, beside: pytest.MonkeyPatch
) -> None:
    other = rib_lay(plies)
    spreads = only_cloth(other).spreads
    tell(jersey_lay(plies), 5)
    assert go_on(plies, beside) == [plies.pk]
    assert promised(other) == [("to buy", spreads)]
    assert not plies.cut_plans.exclude(state=CutPlan.State.SETTLED).exists()
    assert "Waits for cloth:" in page_of(helper_client, other)
    assert go_on(plies, beside) == [], "once is enough"
    roll_of(only_cloth(other), "R8")
    cloth_came_in(plies.pk)
    assert promised(other) == [("R8", spreads)]
    assert "Print its cut ticket" in page_of(helper_client, other)


def test_plies_left_of_a_lay_begun_early_get_a_roll_too(
    plies: Batch, helper_client: Client, beside: pytest.MonkeyPatch
) -> None:
    lay = jersey_lay(plies)
    roll = roll_of(only_cloth(lay), "R9")
    tell(lay, 2)
    go_on(plies, beside)
    assert sorted(lay.cloths.values_list("spreads", "cut_spreads")) == [(2, 2), (3, None)]
    assert promised(lay) == [("R9", 3)]
    left = lay.cloths.get(cut_spreads=None)
    sent = as_filled_in(page_of(helper_client, lay))
    assert (sent[f"spreads-{left.pk}-0"], sent[f"roll-{left.pk}-0"]) == ("3", f"{roll.pk}")
    assert helper_client.post(address(lay), sent).status_code == 302
    lay.refresh_from_db()
    assert lay.cut_at is not None


# ---- what is taken back ----


def take_back(lay: Lay, beside: pytest.MonkeyPatch) -> list[int]:
    """Takes back that a lay was cut; the batches that are asked to be given rolls."""
    asked: list[int] = []
    beside.setattr(given_back, "queue_arrived", asked.append)
    assert table.take_cut_back(lay, None, NOON)
    return asked


def tell_from(lay: Lay, spreads: int, roll: Roll | None) -> None:
    row = Told(only_cloth(lay).pk, spreads, Decimal("5.10"), roll.pk if roll else None)
    assert not table.tell_lay(lay, [row], None, NOON).problem


def test_a_lay_cut_early_that_is_not_cut_after_all_has_its_roll_again(
    plies: Batch, helper_client: Client, beside: pytest.MonkeyPatch
) -> None:
    """Formerly it had none until somebody had the rolls assigned again."""
    lay = jersey_lay(plies)
    roll, _ = roll_of(only_cloth(lay), "R9"), roll_of(only_cloth(lay), "R8")
    tell_from(lay, 5, roll)
    # As long as the plan is open nothing is dealt out.
    assert take_back(lay, beside) == []
    assert promised(lay) == []
    assert not Batch.objects.get(pk=plies.pk).lays.begun().exists()
    tell_from(lay, 5, roll)
    go_on(plies, beside)
    assert promised(lay) == []
    others: list[set[int]] = []
    beside.setattr(given_back, "ask_others_again", lambda _batch, rolls, _shop: others.append(set(rolls)))
    assert take_back(lay, beside) == []
    assert promised(lay) == [("R9", 5)]
    assert others == [{roll.pk}], "a later batch that it was promised to meanwhile is asked again"
    page = page_of(helper_client, lay)
    assert "Waits for cloth" not in page
    assert as_filled_in(page)[f"roll-{only_cloth(lay).pk}-0"] == f"{roll.pk}"


def test_where_its_roll_is_not_free_any_more_it_waits_and_says_so(
    plies: Batch, helper_client: Client, beside: pytest.MonkeyPatch
) -> None:
    lay = jersey_lay(plies)
    roll = roll_of(only_cloth(lay), "R9")
    tell_from(lay, 5, roll)
    go_on(plies, beside)
    StockMove.objects.create(
        fabric_colour=roll.fabric_colour, roll=roll, quantity=-19, reason="counted", moved_at=NOON
    )
    assert take_back(lay, beside) == [plies.pk], "the worker looks for another"
    assert promised(lay) == [("to buy", 5)]
    page = page_of(helper_client, lay)
    assert "Waits for cloth:" in page
    assert "5 plies of ink" in page
    roll_of(only_cloth(lay), "R7")
    cloth_came_in(plies.pk)
    assert promised(lay) == [("R7", 5)]
    assert "Waits for cloth" not in page_of(helper_client, lay)


def test_of_a_lay_begun_early_what_is_taken_back_has_its_roll_again(
    plies: Batch, beside: pytest.MonkeyPatch
) -> None:
    lay = jersey_lay(plies)
    roll = roll_of(only_cloth(lay), "R9")
    tell_from(lay, 2, roll)
    go_on(plies, beside)
    assert promised(lay) == [("R9", 3)]
    assert not table.take_fact_back(LayFact.objects.get(), None, NOON).problem
    assert sorted(promised(lay)) == [("R9", 2), ("R9", 3)]


def test_a_lay_from_cloth_that_no_roll_is_noted_of_stays_as_it_was(
    plies: Batch, beside: pytest.MonkeyPatch
) -> None:
    lay = jersey_lay(plies)
    stock(only_cloth(lay).fabric_colour, "20")
    tell_from(lay, 5, None)
    go_on(plies, beside)
    assert take_back(lay, beside) == []
    assert promised(lay) == []


def test_lays_still_being_nested_get_theirs_once_they_are(plies: Batch, beside: pytest.MonkeyPatch) -> None:
    other = rib_lay(plies)
    roll_of(only_cloth(other), "R7")
    Marker.objects.filter(pk=other.marker_id).update(state=Marker.State.NESTING)
    tell(jersey_lay(plies), 5)
    go_on(plies, beside)
    assert promised(other) == [("to buy", only_cloth(other).spreads)]
    asked: list[int] = []
    beside.setattr(nesting, "queue_arrived", asked.append)
    Marker.objects.filter(pk=other.marker_id).update(state=Marker.State.READY)
    nesting.after_nesting(other.marker_id)
    assert asked == [plies.pk]
    cloth_came_in(plies.pk)
    assert promised(other) == [("R7", only_cloth(other).spreads)]


def test_rolls_given_before_the_plan_was_opened_again_stay(plies: Batch, beside: pytest.MonkeyPatch) -> None:
    other = rib_lay(plies)
    first, _ = roll_of(only_cloth(other), "R7"), roll_of(only_cloth(other), "R6")
    LayRoll.objects.create(lay_cloth=only_cloth(other), roll=first, spreads=only_cloth(other).spreads)
    tell(jersey_lay(plies), 5)
    go_on(plies, beside)
    assert promised(other) == [("R7", only_cloth(other).spreads)]


# ---- what is taken along ----


TAKEN = ("marker-tiles", "marker-wide")


def test_what_is_taken_along_before_the_plan_stands_says_so(helper_client: Client, moving: Lay) -> None:
    page = page_of(helper_client, moving)
    assert page.index('id="take-not-settled"') < page.index("Take it along")
    assert "Wait with cutting" in page[page.index('id="take-not-settled"') :].partition("</p>")[0]
    where = [moving.batch.number, moving.number]
    for name in ("lay-marker", "lay-projector"):
        other = text(helper_client.get(reverse(name, args=where)))
        assert "Not settled yet:" in other, name
        assert (
            "This lay may become another one, and its rolls are chosen afterwards. Wait with cutting."
            in other
        )
    for name in TAKEN:
        words = all_words(helper_client.get(reverse(name, args=where)).content)
        assert "Not settled yet: this lay may become another one. Wait with cutting" in words, name


def test_of_a_settled_plan_all_is_taken_along_without_a_word(helper_client: Client, batch: Batch) -> None:
    lay = jersey_lay(batch)
    assert "ot settled yet" not in page_of(helper_client, lay)
    for name in ("lay-marker", "lay-projector"):
        assert "ot settled yet" not in text(helper_client.get(reverse(name, args=[batch.number, lay.number])))
    for name in TAKEN[1:]:
        paper = helper_client.get(reverse(name, args=[batch.number, lay.number])).content
        assert "ot settled yet" not in all_words(paper), name
