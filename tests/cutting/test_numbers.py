"""Numbers of pieces on a cut ticket: the same marker has the same ones, and they are behind the ticket's mark."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.stored import job_from_json
from planner.cutting.exports import lay_paper_of
from planner.cutting.marker_store import answer_from_store, marker_fields
from planner.cutting.models import Lay, Marker
from planner.cutting.printed import fingerprints
from planner.cutting.reading import bundles_of, lays_of
from planner.papers.data import DrawnPiece
from tests.cutting.once import make_planned_batch

pytestmark = pytest.mark.django_db


@pytest.fixture
def lay() -> Lay:
    """Three size M and two size L of a box top, each a front and a back."""
    lay = make_planned_batch().lays.get(number=1)
    assert len(pieces_of(lay)) > 3
    return lay


def pieces_of(lay: Lay) -> tuple[DrawnPiece, ...]:
    return lay_paper_of(Lay.objects.with_everything().get(pk=lay.pk)).pieces


def mark_behind(lay: Lay) -> str:
    lays = lays_of(lay.batch)
    return fingerprints(lays, bundles_of(lay.batch, lays))[str(lay.number)]


def stored(lay: Lay) -> list[dict[str, Any]]:
    row = Marker.objects.get(pk=lay.marker_id)
    assert row.placements is not None
    found: list[dict[str, Any]] = row.placements["placements"]
    return found


def store(lay: Lay, placements: list[dict[str, Any]]) -> None:
    row = Marker.objects.get(pk=lay.marker_id)
    assert row.placements is not None
    Marker.objects.filter(pk=row.pk).update(placements={**row.placements, "placements": placements})


def numbers_on_the_page(client: Client, lay: Lay) -> str:
    page = client.get(reverse("lay-detail", args=[lay.batch.number, lay.number])).content.decode()
    start = page.index("<svg", page.index('class="lay'))
    return page[start : page.index("</svg>", start)]


def test_a_marker_that_comes_in_another_order_has_the_same_numbers_and_the_same_mark(
    helper_client: Client, lay: Lay
) -> None:
    pieces, mark, page = pieces_of(lay), mark_behind(lay), numbers_on_the_page(helper_client, lay)
    store(lay, stored(lay)[::-1])
    assert pieces_of(lay) == pieces
    assert mark_behind(lay) == mark
    assert numbers_on_the_page(helper_client, lay) == page


def test_the_answer_to_a_question_asked_again_has_the_numbers_it_had(lay: Lay) -> None:
    # A marker nested just now comes kind by kind, one from the store garment by garment.
    store(lay, sorted(stored(lay), key=lambda one: (one["size"], one["piece"])))
    before = pieces_of(lay)
    row = Marker.objects.get(pk=lay.marker_id)
    known = answer_from_store(row.key, job_from_json(row.job))
    assert known is not None
    Marker.objects.filter(pk=row.pk).update(**marker_fields(known.marker))
    after = pieces_of(lay)
    for one, was in zip(after, before, strict=True):
        assert (one.number, one.name, one.size, one.mirrored) == (
            was.number, was.name, was.size, was.mirrored
        )  # fmt: skip
        assert one.outline[0] == pytest.approx(was.outline[0], abs=0.01)


def test_the_numbers_of_one_kind_of_piece_are_in_a_row(lay: Lay) -> None:
    kinds = [(one.size, one.name) for one in pieces_of(lay)]
    assert len(dict.fromkeys(kinds)) == 1 + sum(a != b for a, b in itertools.pairwise(kinds))


def test_a_number_that_names_a_piece_of_another_garment_changes_the_mark_of_the_ticket(lay: Lay) -> None:
    """Nothing but the letters beside two numbers tells the papers apart."""
    mark, before = mark_behind(lay), pieces_of(lay)
    places = stored(lay)
    first = next(one for one in places if one["piece"] == "front")
    second = next(
        one
        for one in places
        if (one["piece"], one["size"]) == ("front", first["size"])
        and one["garment_no"] != first["garment_no"]
    )
    first["garment_no"], second["garment_no"] = second["garment_no"], first["garment_no"]
    store(lay, places)
    after = pieces_of(lay)
    assert [(one.number, one.outline, one.name) for one in after] == [
        (one.number, one.outline, one.name) for one in before
    ]
    assert [one.garment for one in after] != [one.garment for one in before]
    assert mark_behind(lay) != mark
