"""Papers on the table: a mark on the paper and on the page, and the page says what has changed since it was printed."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from planner.cutting.actions.printing import note_printed
from planner.cutting.models import Batch, CutPlan, Lay, LayRoll
from planner.cutting.printed import SHEET, fingerprints, mark_of, papers_now
from planner.cutting.reading import bundles_of, lays_of
from planner.cutting.roll_rows import Taken, write_taken
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import TODAY
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    batch = plies_batch(3)
    nest_all(batch)
    CutPlan.objects.filter(batch=batch).update(state=CutPlan.State.SETTLED)
    return Batch.objects.get(pk=batch.pk)


def prints_now(batch: Batch) -> dict[str, str]:
    lays = lays_of(batch)
    return fingerprints(lays, bundles_of(batch, lays))


def other_roll(batch: Batch) -> Lay:
    """The plies of the jersey come from another roll now."""
    lay = jersey_lay(batch)
    cloth = only_cloth(lay)
    LayRoll.objects.filter(lay_cloth=cloth).delete()
    write_taken([cloth], [Taken(roll_of(cloth, "R77", "30", shade_lot="Z").pk, cloth.spreads, "Z")])
    return lay


def page(client: Client, name: str, *args: object) -> str:
    return " ".join(client.get(reverse(name, args=args)).content.decode().split())


def words_of(client: Client, batch: Batch, name: str) -> str:
    answer = client.get(reverse(name, args=[batch.number]))
    assert answer["Content-Type"] == "application/pdf"
    return " ".join(
        " ".join(one.extract_text() for one in PdfReader(io.BytesIO(answer.content)).pages).split()
    )


def test_a_ticket_bears_the_mark_of_its_page_its_turn_and_when_it_was_printed(
    helper_client: Client, batch: Batch
) -> None:
    now = prints_now(batch)
    tickets, sheet = (
        words_of(helper_client, batch, "cut-tickets"),
        words_of(helper_client, batch, "cut-sheet"),
    )
    whole = page(helper_client, "batch-detail", batch.number)
    for number in (1, 2):
        mark = mark_of(now[str(number)])
        assert f"mark {mark}" in tickets
        assert f'ticket mark <b class="mark">{mark}</b>' in whole
        assert f'mark <b class="mark">{mark}</b>' in page(helper_client, "lay-detail", batch.number, number)
    assert "1st of 2 to cut" in tickets
    assert "2nd of 2 to cut" in tickets
    assert f"Cut sheet · mark {mark_of(now[SHEET])}" in sheet
    printed = timezone.localtime()
    hours = {f"{printed - timedelta(minutes=n):%Y, %H:%M}" for n in (0, 1)}
    assert any(hour in tickets and hour in sheet for hour in hours)
    assert not Batch.objects.get(pk=batch.pk).printed, "a paper that is fetched notes nothing"


def test_what_is_asked_for_is_noted_and_the_page_says_what_has_changed_since(
    helper_client: Client, batch: Batch
) -> None:
    asked = helper_client.post(reverse("print-paper", args=[batch.number, "cut-tickets"]))
    assert asked.url == reverse("cut-tickets", args=[batch.number])
    helper_client.post(reverse("print-paper", args=[batch.number, "cut-sheet"]))
    assert "no longer hold" not in page(helper_client, "batch-detail", batch.number)

    lay = other_roll(batch)
    whole = page(helper_client, "batch-detail", batch.number)
    assert f"Lay {lay.number} has changed since its ticket was printed at " in whole
    assert "The cut sheet was printed at " in whole
    others = [one for one in batch.lays.all() if one.pk != lay.pk]
    assert all(f"Lay {one.number} has changed" not in whole for one in others)
    own = page(helper_client, "lay-detail", batch.number, lay.number)
    assert "Changed since its ticket was printed at " in own
    assert "Changed since" not in page(helper_client, "lay-detail", batch.number, others[0].number)

    again = helper_client.post(
        reverse("print-paper", args=[batch.number, "cut-tickets"]), {"lay": str(lay.number)}
    )
    assert again.url == reverse("cut-tickets", args=[batch.number]) + f"?lay={lay.number}"
    assert helper_client.get(again.url).status_code == 200
    assert "Changed since" not in page(helper_client, "lay-detail", batch.number, lay.number)
    assert "has changed since its ticket" not in page(helper_client, "batch-detail", batch.number)


def test_a_lay_and_all_lays_of_a_batch_give_the_same_fingerprint(batch: Batch) -> None:
    now = prints_now(batch)
    for lay in Lay.objects.with_rolls().filter(batch=batch):
        assert fingerprints([lay], bundles_of(batch, [lay]))[str(lay.number)] == now[str(lay.number)]


def test_what_was_cut_changes_no_paper_but_bundles_that_were_divided_do(batch: Batch) -> None:
    before = prints_now(batch)
    cloth = only_cloth(jersey_lay(batch))
    cloth.cut_spreads = 1
    cloth.save()
    assert prints_now(batch) == before
    bundle = batch.bundles.get()
    bundle.quantity = 2
    bundle.save()
    after = prints_now(batch)
    assert all(after[key] != before[key] for key in before)


def test_a_ticket_of_a_lay_that_is_no_more_is_to_be_thrown_away_until_all_are_printed(batch: Batch) -> None:
    note_printed(batch, ["1", "2", "7", SHEET], timezone.now())
    batch.refresh_from_db()
    assert batch.printed.keys() == {"1", "2", SHEET}, "there is no lay 7"
    batch.printed = {**batch.printed, "7": ["0" * 16, "2026-03-02T14:05:00+00:00"]}
    batch.save()
    lays = lays_of(batch)
    papers = papers_now(batch, lays, bundles_of(batch, lays), TODAY)
    assert [(one.lay, one.printed[:12]) for one in papers.gone] == [("7", "on 2 Mar at ")]
    assert papers.any_old
    assert not papers.old_tickets
    assert not papers.sheet.is_old
    note_printed(batch, ["1", "2"], timezone.now())
    batch.refresh_from_db()
    assert batch.printed.keys() == {"1", "2", SHEET}


def test_a_paper_that_is_none_or_not_ready_is_not_noted(helper_client: Client, batch: Batch) -> None:
    assert helper_client.get(reverse("print-paper", args=[batch.number, "cut-sheet"])).status_code == 405
    assert helper_client.post(reverse("print-paper", args=[batch.number, "nothing"])).status_code == 404
    assert helper_client.get(reverse("cut-tickets", args=[batch.number]), {"lay": "1,"}).status_code == 404
    CutPlan.objects.filter(batch=batch).update(state=CutPlan.State.NESTING)
    answer = helper_client.post(reverse("print-paper", args=[batch.number, "cut-sheet"]))
    assert answer.url == reverse("batch-detail", args=[batch.number])
    batch.refresh_from_db()
    assert batch.printed == {}


def test_marks_are_short_and_tell_what_differs_apart() -> None:
    found = {mark_of(f"{n:016x}") for n in range(2268)}
    assert len(found) == 2268
    assert all(len(mark) == 3 for mark in found)
