"""Papers on the table: a mark on the paper and on the page, and the page says what has changed since it was printed."""

from __future__ import annotations

import re
from decimal import Decimal
from unittest.mock import patch

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from planner.cutting.actions import rest, table
from planner.cutting.actions.booking import Told
from planner.cutting.actions.printing import note_printed
from planner.cutting.models import Batch, CutPlan, Lay, LayRoll
from planner.cutting.printed import BUNDLES, MADE_OF, SHEET, PapersNow, fingerprints, mark_of, papers_now
from planner.cutting.reading import bundles_of, lays_of
from planner.cutting.roll_rows import Taken, write_taken
from tests.cutting.once import once, plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.factories import NOON, TODAY
from tests.papers.words import all_words, texts_of
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db


@once
def three_plies() -> Batch:
    batch = plies_batch(3)
    nest_all(batch)
    CutPlan.objects.filter(batch=batch).update(state=CutPlan.State.SETTLED)
    return Batch.objects.get(pk=batch.pk)


@pytest.fixture
def batch() -> Batch:
    return three_plies()


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


def papers_of(batch: Batch) -> PapersNow:
    batch = Batch.objects.get(pk=batch.pk)
    lays = lays_of(batch)
    return papers_now(batch, lays, bundles_of(batch, lays), TODAY)


def renumber(lay: Lay, number: int) -> None:
    """The lay is planned anew, alike in all but its number."""
    Lay.objects.filter(pk=lay.pk).update(number=number)


def cut_one_and_plan_the_rest(batch: Batch) -> tuple[int, int]:
    """One ply of the jersey is cut, the other two are a lay of their own: the numbers of both lays."""
    lay = jersey_lay(batch)
    assert not table.tell_lay(lay, [Told(only_cloth(lay).pk, 1, Decimal(2), None)], None, NOON).problem
    planned = rest.replan_rest(lay, None, NOON)
    assert not planned.problem
    nest_all(batch)
    (other,) = planned.lays
    return lay.number, other.number


def page(client: Client, name: str, *args: object) -> str:
    return " ".join(client.get(reverse(name, args=args)).content.decode().split())


def words_of(client: Client, batch: Batch, name: str) -> str:
    answer = client.get(reverse(name, args=[batch.number]))
    assert answer["Content-Type"] == "application/pdf"
    return all_words(answer.content)


def test_a_ticket_bears_the_mark_of_its_page_its_turn_and_when_it_was_printed(
    helper_client: Client, batch: Batch
) -> None:
    now = prints_now(batch)
    # Seen from the last second of a minute: however long the papers take, both are of that one.
    at = timezone.now().replace(second=59)
    with patch.object(timezone, "now", return_value=at):
        tickets, sheet = (
            words_of(helper_client, batch, "cut-tickets"),
            words_of(helper_client, batch, "cut-sheet"),
        )
    whole = page(helper_client, "batch-detail", batch.number)
    for number in (1, 2):
        mark = mark_of(now[str(number)], str(number))
        assert f"mark {mark}" in tickets
        assert f'ticket mark <b class="mark">{mark}</b>' in whole
        assert f'mark <b class="mark">{mark}</b>' in page(helper_client, "lay-detail", batch.number, number)
    assert "1st of 2 to cut" in tickets
    assert "2nd of 2 to cut" in tickets
    assert f"Cut sheet · mark {mark_of(now[SHEET])}" in sheet
    printed = f"{timezone.localtime(at):%Y, %H:%M}"
    assert printed in tickets
    assert printed in sheet
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


def test_what_an_earlier_version_printed_is_not_said_to_have_changed(
    helper_client: Client, batch: Batch
) -> None:
    note_printed(batch, [SHEET, BUNDLES, *prints_now(batch).keys()], NOON)
    lay = jersey_lay(batch)
    printed = Batch.objects.get(pk=batch.pk).printed
    # As it was noted then: other fingerprints, and not what these are made of.
    Batch.objects.filter(pk=batch.pk).update(
        printed={key: ["0123456789abcdef", moment] for key, (_, moment, *_) in printed.items()}
    )
    whole = page(helper_client, "batch-detail", batch.number)
    earlier = "by an earlier version of Notchbook, so nobody can tell whether"
    assert whole.count(earlier) == 2 + batch.lays.count()
    assert f"The ticket of lay {lay.number} was printed on " in whole
    assert "changed since" not in whole
    own = page(helper_client, "lay-detail", batch.number, lay.number)
    assert "comes from an earlier version of Notchbook: print it again once" in own
    # Noted alike by a version that did not say what they are made of, they hold.
    Batch.objects.filter(pk=batch.pk).update(printed={key: one[:2] for key, one in printed.items()})
    assert not papers_of(batch).any_old


def test_what_changes_a_mark_and_what_does_not(batch: Batch) -> None:
    before = prints_now(batch)
    for lay in Lay.objects.with_rolls().filter(batch=batch):
        assert fingerprints([lay], bundles_of(batch, [lay]))[str(lay.number)] == before[str(lay.number)]
    # What was cut changes no paper, but bundles that were divided do.
    cloth = only_cloth(jersey_lay(batch))
    cloth.cut_spreads = 1
    cloth.save()
    assert prints_now(batch) == before
    bundle = batch.bundles.get()
    bundle.quantity -= 1
    bundle.save()
    after = prints_now(batch)
    assert all(after[key] != before[key] for key in before)
    bundle.quantity += 1
    bundle.save()
    # A lay with another number has another mark.
    renumber(batch.lays.get(number=2), 5)
    after = prints_now(batch)
    assert after["1"] == before["1"]
    assert after["5"] != before["2"]
    assert mark_of(after["5"], "5") != mark_of(before["2"], "2")


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


def test_a_new_lay_has_no_ticket_yet_and_its_print_replaces_the_gone_one(
    helper_client: Client, batch: Batch
) -> None:
    assert not papers_of(batch).missing, "no ticket was printed at all"
    note_printed(batch, [SHEET], timezone.now())
    assert not papers_of(batch).missing, "a cut sheet is no ticket"
    note_printed(batch, ["1", "2"], timezone.now())
    assert not papers_of(batch).missing
    renumber(batch.lays.get(number=2), 7)
    now = papers_of(batch)
    assert (now.old_tickets, now.missing, now.to_print) == ((), (7,), (7,))
    assert [one.lay for one in now.gone] == ["2"]
    whole = page(helper_client, "batch-detail", batch.number)
    assert "Lay 7 has no cut ticket yet." in whole
    assert "Lay 2 is no more: throw its ticket away" in whole
    assert '<input type="hidden" name="lay" value="7">' in whole
    assert "Print the cut ticket that is missing<" in whole

    note_printed(batch, ["1"], timezone.now())
    assert [one.lay for one in papers_of(batch).gone] == ["2"], "one of those that hold replaces nothing"
    helper_client.post(reverse("print-paper", args=[batch.number, "cut-tickets"]), {"lay": ["7"]})
    now = papers_of(batch)
    assert (now.to_print, now.gone) == ((), ())


def test_gone_tickets_are_told_until_all_that_are_missing_or_changed_are_printed(
    helper_client: Client, batch: Batch
) -> None:
    note_printed(batch, ["1", "2"], timezone.now())
    jersey = other_roll(batch)
    other = batch.lays.exclude(pk=jersey.pk).get()
    gone = str(other.number)
    renumber(other, 7)
    now = papers_of(batch)
    assert (now.old_tickets, now.missing) == ((jersey.number,), (7,))
    whole = page(helper_client, "batch-detail", batch.number)
    assert "Papers on the table that no longer hold, and cut tickets that are missing" in whole
    assert "Print the 2 cut tickets that are missing or old" in whole
    note_printed(batch, [str(jersey.number)], timezone.now())
    now = papers_of(batch)
    assert (now.to_print, [one.lay for one in now.gone]) == ((7,), [gone])
    note_printed(batch, ["7"], timezone.now())
    assert not papers_of(batch).gone


def test_where_one_ticket_was_printed_the_others_are_missing_but_nothing_is_old(
    helper_client: Client, batch: Batch
) -> None:
    note_printed(batch, ["1"], timezone.now())
    now = papers_of(batch)
    assert now.missing == (2,)
    assert not now.any_old
    whole = page(helper_client, "batch-detail", batch.number)
    assert "<h3>Cut tickets that are missing</h3>" in whole
    assert "no longer hold" not in whole
    Lay.objects.filter(batch=batch, number=2).update(cut_at=NOON)
    assert not papers_of(batch).missing, "what is cut needs no ticket"


def test_the_ticket_of_a_lay_cut_in_part_is_old_once_its_rest_is_planned_anew(
    helper_client: Client, batch: Batch
) -> None:
    note_printed(batch, ["1", "2"], timezone.now())
    number, rest_number = cut_one_and_plan_the_rest(batch)
    now = papers_of(batch)
    # The other lay holds the bundle that was divided.
    assert (now.old_tickets, now.missing) == ((1, 2), (rest_number,))
    whole = page(helper_client, "batch-detail", batch.number)
    assert f"Lay {number} was cut in part, and its other plies are lays of their own now." in whole
    assert f"print it again, mark {now.tickets[number].mark}." in whole
    assert f"Lay {rest_number} has no cut ticket yet." in whole
    assert "Print the 3 cut tickets that are missing or old" in whole
    assert f"mark {now.tickets[number].mark}" in words_of(
        helper_client, Batch.objects.get(pk=batch.pk), "cut-tickets"
    )

    on_lay = page(helper_client, "lay-detail", batch.number, number)
    assert "is old</h3><p>It still says to cut the plies that are lays of their own now." in on_lay
    assert f'the new one bears the mark <b class="mark">{now.tickets[number].mark}</b>' in on_lay

    note_printed(batch, ["1", "2", str(rest_number)], timezone.now())
    assert not papers_of(batch).to_print
    assert 'id="printed-before"' not in page(helper_client, "lay-detail", batch.number, number)
    Batch.objects.filter(pk=batch.pk).update(printed={str(number): ["0" * 16, NOON.isoformat()]})
    assert papers_of(batch).old_tickets == (number,)
    batch.lays.filter(cut_at=None).update(cut_at=NOON)
    assert not papers_of(batch).to_print, "nothing is left to cut"


def test_a_lay_cut_in_part_says_how_many_plies_are_its_own_even_where_its_bundles_stay(batch: Batch) -> None:
    lay = jersey_lay(batch)
    before = prints_now(batch)[str(lay.number)]
    cloth = only_cloth(lay)
    cloth.cut_spreads = cloth.spreads
    cloth.save()
    Lay.objects.filter(pk=lay.pk).update(cut_at=NOON)
    assert prints_now(batch)[str(lay.number)] == before, "cut as its ticket said"
    cloth.cut_spreads = 1
    cloth.save()
    assert prints_now(batch)[str(lay.number)] != before


def test_a_pdf_opened_by_its_address_notes_nothing_and_says_so_until_it_is_printed(
    helper_client: Client, batch: Batch
) -> None:
    said, papers = "not noted as printed", ("cut-sheet", "bundle-tickets", "cut-tickets")
    assert all(said in words_of(helper_client, batch, paper) for paper in papers)
    assert not Batch.objects.get(pk=batch.pk).printed, "a paper that is fetched notes nothing"
    for paper, still in zip(papers, (papers[1:], papers[2:], ()), strict=True):
        asked = helper_client.post(reverse("print-paper", args=[batch.number, paper]))
        now = all_words(helper_client.get(asked.url).content)
        assert said not in now, "what it says now is noted"
        assert all(said in words_of(helper_client, batch, one) for one in still[:1]), "another one was noted"
    noted = Batch.objects.get(pk=batch.pk).printed
    other_roll(batch)
    for paper in papers:
        assert said in words_of(helper_client, batch, paper), "what it said then was noted"
    assert Batch.objects.get(pk=batch.pk).printed == noted


def test_bundle_tickets_bear_their_mark_and_the_page_tells_when_they_are_old(
    helper_client: Client, batch: Batch
) -> None:
    mark = mark_of(prints_now(batch)[BUNDLES])
    helper_client.post(reverse("print-paper", args=[batch.number, "bundle-tickets"]), {"paper": "label"})
    assert Batch.objects.get(pk=batch.pk).printed.keys() == {BUNDLES}
    for size in ("A4", "label"):
        answer = helper_client.get(reverse("bundle-tickets", args=[batch.number]), {"paper": size})
        assert all(f"mark {mark}" in " ".join(words.split()) for words in texts_of(answer.content))
    whole = page(helper_client, "batch-detail", batch.number)
    assert f'The bundle tickets bear the mark <b class="mark">{mark}</b> (printed at ' in whole
    assert not papers_of(batch).bundles.is_old

    other_roll(batch)  # of another lot: other plies may be theirs
    now = papers_of(batch).bundles
    assert now.is_old
    assert now.mark != mark
    whole = page(helper_client, "batch-detail", batch.number)
    assert f"print them again, mark {now.mark}" in whole
    assert "Bundles may have changed since their tickets were printed at " in whole
    assert f" with the mark {mark}: print them again, mark {now.mark}." in whole


def test_the_page_never_gives_a_printed_paper_the_mark_it_would_bear_now(
    helper_client: Client, batch: Batch
) -> None:
    old = prints_now(batch)
    for paper in ("cut-sheet", "bundle-tickets", "cut-tickets"):
        helper_client.post(reverse("print-paper", args=[batch.number, paper]))
    lay = other_roll(batch)
    now = prints_now(batch)
    # At whatever minute they were printed.
    whole = re.sub(r" at \d\d:\d\d", " at HH:MM", page(helper_client, "batch-detail", batch.number))
    for key, bears in (
        (SHEET, "cut sheet printed at HH:MM bears"),
        (BUNDLES, "bundle tickets printed at HH:MM bear"),
    ):
        was, would = mark_of(old[key]), mark_of(now[key])
        assert was != would
        assert f'The {bears} the mark <b class="mark">{was}</b>; printed now ' in whole
        assert f'would bear <b class="mark">{would}</b>.' in whole
        assert f"{would}</b> (printed" not in whole
    assert f"The cut sheet was printed at HH:MM with the mark {mark_of(old[SHEET])}, and lays" in whole
    was = mark_of(old[str(lay.number)], str(lay.number))
    assert f"its ticket was printed at HH:MM with the mark {was}: throw it away" in whole

    helper_client.post(reverse("print-paper", args=[batch.number, "cut-sheet"]))
    whole = page(helper_client, "batch-detail", batch.number)
    assert f'The cut sheet bears the mark <b class="mark">{mark_of(now[SHEET])}</b> (printed ' in whole


def test_cloth_that_came_in_for_plies_changes_none_of_whose_they_are(batch: Batch) -> None:
    lay = jersey_lay(batch)
    cloth = only_cloth(lay)
    LayRoll.objects.filter(lay_cloth=cloth).delete()
    write_taken([cloth], [Taken(None, cloth.spreads)])
    before = prints_now(batch)[BUNDLES]
    roll = roll_of(cloth, "R77", "30", shade_lot="Z")
    LayRoll.objects.filter(lay_cloth=cloth).update(roll=roll, came_later=True)
    assert prints_now(batch)[BUNDLES] == before


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


def test_tickets_of_one_batch_differ_though_their_fingerprints_begin_alike() -> None:
    """Only the first signs of two fingerprints can be the same by chance; the lays never are."""
    marks = [mark_of("00000000000000aa", f"{number}") for number in range(1, 19)]
    assert len(set(marks)) == 18
    assert all(len(mark) == 4 for mark in marks)


def test_a_ticket_that_was_printed_keeps_the_mark_it_bears(helper_client: Client, batch: Batch) -> None:
    """Printed when all marks had three signs, it is still that very paper; printed anew after a change it has four."""
    now = prints_now(batch)
    at = timezone.now().isoformat()
    Batch.objects.filter(pk=batch.pk).update(
        printed={"1": [now["1"], at, MADE_OF], "2": [now["2"], at, MADE_OF]}
    )
    whole = page(helper_client, "batch-detail", batch.number)
    tickets = words_of(helper_client, batch, "cut-tickets")
    for key in ("1", "2"):
        assert f'ticket mark <b class="mark">{mark_of(now[key])}</b>' in whole
        assert re.search(rf"mark {mark_of(now[key])}\b", tickets)
    batch.refresh_from_db()
    lay = other_roll(batch)
    key = str(lay.number)
    assert papers_of(batch).tickets[lay.number].printed_mark == mark_of(now[key])
    note_printed(batch, [key], timezone.now())
    batch.refresh_from_db()
    assert papers_of(batch).tickets[lay.number].mark == mark_of(prints_now(batch)[key], key)
    assert batch.printed[key][3] == mark_of(prints_now(batch)[key], key)
