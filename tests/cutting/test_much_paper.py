"""Papers of very many lays: how long they take is said beforehand, and a part of them may be asked for."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from planner.cutting import lay_screens, much_paper
from planner.cutting.actions.printing import note_printed
from planner.cutting.models import Batch, CutPlan, Lay
from planner.cutting.printed import SHEET
from tests.cutting.once import once
from tests.cutting.table_makers import only_cloth
from tests.cutting.test_many_garments import gathered, written
from tests.papers.test_papers import pages
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db
LAY = re.compile(r"Lay (\d+) · ")


@once
def of_some_lays() -> Batch:
    batch = gathered(16)
    with pytest.MonkeyPatch.context() as patch:
        written(batch, patch)
    nest_all(batch)
    CutPlan.objects.filter(batch=batch).update(state=CutPlan.State.SETTLED)
    assert batch.lays.count() > 6
    return batch


@pytest.fixture
def batch(monkeypatch: pytest.MonkeyPatch) -> Batch:
    """A batch of more than five lays, of which five come on a page, and whose papers count as slow."""
    batch = of_some_lays()
    monkeypatch.setattr(lay_screens, "MOST_DRAWN", 5)
    monkeypatch.setattr(much_paper, "LONG", 0.0)
    return batch


def page_of(client: Client, batch: Batch) -> str:
    return client.get(reverse("batch-detail", args=[batch.number])).content.decode()


def parts_of(html: str) -> list[tuple[str, str]]:
    """The numbers that are sent for each part, and what its button says."""
    form = r'<input type="hidden" name="lay" value="([\d,]+)">\s*<button class="second">Cut tickets of ([^<]+)</button>'
    return re.findall(form, html)


def test_it_is_said_how_much_there_is_and_how_long_it_takes(
    helper_client: Client, batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(much_paper, "LONG", 20.0)
    html = page_of(helper_client, batch)
    assert 'id="much-paper"' not in html, "nothing is said of papers that are made at once"
    assert parts_of(html) == []
    count = batch.lays.count()
    for seconds, words in ((25.0, "about half a minute"), (121.0, "about 2 minutes")):
        monkeypatch.setattr(much_paper, "SHEET_SECONDS", seconds / count)
        html = page_of(helper_client, batch)
        assert (
            f"{count} lays and {batch.bundles.count()} bundles take a while: the cut sheet {words}." in html
        )
        assert "The new tab stays empty until then." in html
        assert "the cut tickets about" not in html


def test_the_lays_that_are_shown_and_those_still_to_be_cut_are_parts(
    helper_client: Client, batch: Batch
) -> None:
    assert parts_of(page_of(helper_client, batch)) == [("1,2,3,4,5", "lays 1, 2, 3, 4 and 5")]
    Lay.objects.filter(batch=batch, number__lte=2).update(cut_at=timezone.now())
    rest = list(batch.lays.filter(number__gt=2).order_by("number").values_list("number", flat=True))
    uncut = (",".join(map(str, rest)), f"the {len(rest)} lays still to be cut")
    assert uncut in parts_of(page_of(helper_client, batch))


def test_a_cut_sheet_with_some_lays_says_so_and_holds_no_others(helper_client: Client, batch: Batch) -> None:
    count = batch.lays.count()
    answer = helper_client.post(reverse("print-paper", args=[batch.number, "cut-sheet"]), {"lay": "2,4,99,x"})
    assert answer.url == reverse("cut-sheet", args=[batch.number]) + "?lay=2%2C4"
    words = " ".join(pages(helper_client.get(answer.url).content))
    assert LAY.findall(words) == ["2", "4"]
    assert f"With lays 2 and 4 only, of {count}; all else is of the whole batch." in words
    whole = " ".join(pages(helper_client.get(reverse("cut-sheet", args=[batch.number])).content))
    assert sorted(map(int, LAY.findall(whole))) == list(range(1, count + 1))
    assert "only, of" not in whole
    every = ",".join(map(str, range(1, count + 1)))
    named = helper_client.get(reverse("cut-sheet", args=[batch.number]), {"lay": every}).content
    assert "only, of" not in " ".join(pages(named)), "all lays are no part"
    for nothing, status in (("99", 404), ("1;2", 404), ("2,99", 200)):
        asked = helper_client.get(reverse("cut-sheet", args=[batch.number]), {"lay": nothing})
        assert asked.status_code == status, nothing


def test_tickets_of_a_part_are_asked_for_by_one_field(helper_client: Client, batch: Batch) -> None:
    answer = helper_client.post(
        reverse("print-paper", args=[batch.number, "cut-tickets"]), {"lay": ["1,3", "3", "2"]}
    )
    assert answer.url == reverse("cut-tickets", args=[batch.number]) + "?lay=1%2C3%2C2"
    assert Batch.objects.get(pk=batch.pk).printed.keys() == {"1", "2", "3"}
    assert len(pages(helper_client.get(answer.url).content)) >= 3


def test_a_part_of_the_sheet_does_not_stand_for_an_old_one(helper_client: Client, batch: Batch) -> None:
    """Where the sheet printed before is another, its other pages are still on the table: it stays noted, and old."""
    part = {"lay": "1,2"}
    helper_client.post(reverse("print-paper", args=[batch.number, "cut-sheet"]), part)
    first = Batch.objects.get(pk=batch.pk).printed[SHEET]
    assert "was printed" not in page_of(helper_client, batch)
    note_printed(batch, [SHEET], timezone.now())
    cloth = only_cloth(batch.lays.get(number=3))
    type(cloth).objects.filter(pk=cloth.pk).update(spreads=cloth.spreads + 1)
    assert "The cut sheet was printed" in page_of(helper_client, batch)
    helper_client.post(reverse("print-paper", args=[batch.number, "cut-sheet"]), part)
    assert Batch.objects.get(pk=batch.pk).printed[SHEET][0] == first[0]
    assert "The cut sheet was printed" in page_of(helper_client, batch)
    helper_client.post(reverse("print-paper", args=[batch.number, "cut-sheet"]))
    assert Batch.objects.get(pk=batch.pk).printed[SHEET][0] != first[0]
    assert "The cut sheet was printed" not in page_of(helper_client, batch)
