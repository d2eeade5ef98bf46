"""The papers of a batch of which something is cut: no lay looks as if it were still to be spread."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import rest, table
from planner.cutting.actions.booking import Told
from planner.cutting.models import Batch, Lay
from planner.cutting.setting import facts_by_fabric, judged
from planner.cutting.why import plans_in_words
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth
from tests.factories import NOON
from tests.papers.words import all_words
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    return plies_batch(5)


def tell(lay: Lay, spreads: int) -> None:
    assert not table.tell_lay(lay, [Told(only_cloth(lay).pk, spreads, Decimal(5))], None, NOON).problem


def words_of(client: Client, name: str, batch: Batch, lay: int | None = None) -> str:
    address = reverse(name, args=[batch.number]) + (f"?lay={lay}" if lay else "")
    answer = client.get(address)
    assert answer["Content-Type"] == "application/pdf"
    return all_words(answer.content)


def test_a_lay_that_is_cut_says_so_on_cut_sheet_and_ticket(helper_client: Client, batch: Batch) -> None:
    lay = jersey_lay(batch)
    assert "CUT on" not in words_of(helper_client, "cut-sheet", batch)
    tell(lay, 5)
    lay.refresh_from_db()
    told = f"CUT on {NOON.day} {NOON:%b %Y}"
    # In the order of cutting and on the lay itself; the other lay is still to be cut.
    assert words_of(helper_client, "cut-sheet", batch).count(told) == 2
    assert told in words_of(helper_client, "cut-tickets", batch, lay.number)
    other = batch.lays.exclude(pk=lay.pk).get()
    assert "CUT" not in words_of(helper_client, "cut-tickets", batch, other.number)
    # All lays are printed unless one is asked for.
    assert words_of(helper_client, "cut-tickets", batch).count("plies really spread") == 1


def test_a_lay_that_is_begun_says_how_far_it_is(helper_client: Client, batch: Batch) -> None:
    lay = jersey_lay(batch)
    tell(lay, 2)
    words = words_of(helper_client, "cut-tickets", batch, lay.number)
    assert (
        f"BEGUN. Cut: 2 of 5 plies of ink on {NOON.day} {NOON:%b %Y}. Still to cut: 3 plies of ink" in words
    )
    assert "plies really spread" in words


def test_a_lay_cut_in_part_names_the_lay_of_its_rest(helper_client: Client, batch: Batch) -> None:
    lay = jersey_lay(batch)
    tell(lay, 3)
    planned = rest.replan_rest(lay, None, NOON)
    assert not planned.problem
    nest_all(batch)
    (number,) = (one.number for one in planned.lays)
    told = f"CUT in part: 3 of 5 plies of ink on {NOON.day} {NOON:%b %Y}. The other 2 are to be cut as lay {number}"
    assert told in words_of(helper_client, "cut-tickets", batch, lay.number)
    sheet = words_of(helper_client, "cut-sheet", batch)
    assert told in sheet
    # How good the plan was says nothing of the lays there are now.
    planned_first = plans_in_words(facts_by_fabric(batch), "metric")
    of_jersey = [words for words in planned_first if words.startswith("jersey:")]
    assert of_jersey
    assert not any(" ".join(words.split()).replace("jersey: ", "jersey ", 1) in sheet for words in of_jersey)
    # The two garments left share one marker now.
    now, *others = judged(Batch.objects.get(pk=batch.pk), "metric")
    in_part = "1 lay cut in part, the rest in lays of its own (5.0 m used)"
    assert " ".join(now.split()).startswith(f"jersey: {in_part}; still to cut 1 spread of 1 lay, ")
    assert " ".join(now.split()).replace("jersey: ", "jersey ", 1) in sheet
    assert others == [words for words in planned_first if words not in of_jersey]


def test_a_bundle_names_the_lay_it_still_waits_for(helper_client: Client, batch: Batch) -> None:
    lay = jersey_lay(batch)
    other = batch.lays.exclude(pk=lay.pk).get()
    bundle = batch.bundles.get()
    assert set(bundle.lays.all()) == {lay, other}
    address = reverse("batch-detail", args=[batch.number])
    first = min(lay, other, key=lambda one: one.number)
    both = f"lay {first.number}; {'rib' if first.pk == lay.pk else 'jersey'}: lay {max(lay.number, other.number)}"
    assert f"{both} · not cut yet" in helper_client.get(address).content.decode()
    for cut, waits in ((lay, other), (other, None)):
        Lay.objects.filter(pk=cut.pk).update(cut_at=NOON)
        page = helper_client.get(address).content.decode()
        assert f"lay {cut.number} not cut yet" not in page
        assert ("not cut yet" in page) is (waits is not None)
        assert waits is None or f" · lay {waits.number} not cut yet" in page
