"""Markers out at true scale from the pages: sheets to join, one length, notches, and what is typed wrongly."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader
from pytest_django import DjangoAssertNumQueries
from shapely.geometry import LineString, Point

from planner.core.outline import outline_from_json
from planner.core.pattern_files.model import Marks, Notch
from planner.cutting import exports
from planner.cutting.exports import lay_paper_of, lay_to_write, pages_to_join
from planner.cutting.marker_store import read_marker
from planner.cutting.models import Batch, LayRoll, Marker
from planner.cutting.spread_rows import rolls_of
from planner.materials.models import Roll, Workroom
from planner.papers import marker_tiles
from planner.papers.marker_tiles import pages_of_tiles, tiles_of
from planner.papers.marker_words import piece_words
from planner.styles.models import PieceOutline, Style
from planner.styles.specs import workshop
from tests.cutting.once import make_planned_batch
from tests.factories import make_order, make_style
from tests.papers import samples
from tests.papers.words import all_words

pytestmark = pytest.mark.django_db
#: Notches and outlines are stored to 0.001 mm, and laid pieces again.
SAME_MM = 0.01


@pytest.fixture
def style() -> Style:
    """A front with a notch in the middle of its first edge and a hole beside it, in every size."""
    style = make_style()
    for row in PieceOutline.objects.filter(piece__name="front"):
        (ax, ay), (bx, by) = outline_from_json(row.shape).points[:2]
        middle = ((ax + bx) / 2, (ay + by) / 2)
        marks = Marks(notches=(Notch(*middle),), holes=((middle[0], middle[1] + 40),))
        PieceOutline.objects.filter(pk=row.pk).update(marks=marks.as_json())
    return style


@pytest.fixture
def batch(style: Style) -> Batch:
    return make_planned_batch(make_order([(style, {"neck": "rib band"}, "ink", {"S": 1, "M": 1})]))


def address(name: str, batch: Batch, number: int = 1) -> str:
    return reverse(name, args=[batch.number, number])


def test_notches_lie_on_the_edges_of_their_pieces(batch: Batch):
    row = batch.lays.for_page().get(number=1)
    fronts = [piece for piece in lay_paper_of(row).pieces if piece.name == "front"]
    assert fronts
    for piece in fronts:
        ring = LineString([*piece.outline, piece.outline[0]])
        (notch,), (hole,) = piece.marks.notches, piece.marks.holes
        assert ring.distance(Point(notch.x, notch.y)) <= SAME_MM
        assert Point(hole).distance(Point(notch.x, notch.y)) == pytest.approx(40, abs=SAME_MM)
    assert not any(piece.marks.notches for piece in lay_paper_of(row).pieces if piece.name != "front")
    written = lay_to_write(row)
    assert sum(len(marks.notches) for marks in written.marks) == len(fronts)
    assert all(words.startswith("bundle") for words in written.bundles)
    # It keeps those it was planned with.
    PieceOutline.objects.update(marks={})
    row = batch.lays.for_page().get(number=1)
    assert any(piece.marks.notches for piece in lay_paper_of(row).pieces)


def test_whoever_only_reckons_reads_no_marks(style: Style):
    workshop([style.number])  # the workroom's settings are read once a request
    with CaptureQueriesContext(connection) as seen:
        shop = workshop([style.number], sizes=["M"])
    assert not any('"marks"' in query["sql"] for query in seen.captured_queries)
    assert not any(piece.marks for piece in shop.styles[style.number].pieces)
    with CaptureQueriesContext(connection) as with_marks:
        shop = workshop([style.number], marks=True)
    assert len(with_marks) == len(seen)
    front = next(piece for piece in shop.styles[style.number].pieces if piece.name == "front")
    assert set(front.marks) == set(front.outlines)


@pytest.mark.parametrize(
    ("paper", "wanted"), [("A4", {"paper": "A4"}), ("Letter", {}), ("Letter", {"paper": "A0"})]
)
def test_sheets_to_join_are_as_many_as_the_pages_tell_and_of_the_workrooms_paper_where_nothing_else_is_asked(
    helper_client: Client, batch: Batch, paper: str, wanted: dict[str, str]
):
    lay = lay_paper_of(batch.lays.for_page().get(number=1))
    found, _ = tiles_of(lay, paper)  # type: ignore[arg-type]
    assert len(found.tiles) > 1
    told = pages_of_tiles(found, paper)  # type: ignore[arg-type]
    assert told.startswith(f"{len(found.tiles) + 1} pages of {paper}: a first page with the map, then ")
    assert f"{found.rows} across the cloth and {found.columns} along it" in told
    Workroom.objects.update(paper=paper)
    assert f"Sheets to join: {told}." in helper_client.get(address("lay-detail", batch)).content.decode()
    answer = helper_client.get(address("marker-tiles", batch), wanted)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert answer["Content-Disposition"] == f'inline; filename="{batch.number}-lay-1-marker-{paper}.pdf"'
    pages = PdfReader(io.BytesIO(answer.content)).pages
    assert len(pages) == len(found.tiles) + 1
    words = all_words(answer.content)
    assert "Print at 100 %" in words
    assert all(bundle in words for piece in lay.pieces for bundle in piece.bundles)
    for piece in lay.pieces:
        named, of, bundles, *_ = piece_words(piece)
        assert named == f"{piece.number} · {piece.name} {piece.size}"
        assert all(told in words for told in (named, of, bundles))
    width = float(pages[0].mediabox.width)
    assert width == pytest.approx(595.28 if paper == "A4" else 612.0, abs=0.01)


def test_in_one_length(helper_client: Client, batch: Batch):
    row = batch.lays.for_page().get(number=1)
    for wanted, width_mm in (
        ({}, row.lay_width_mm + 38),
        ({"roll": ""}, row.lay_width_mm + 38),
        ({"roll": "90 in"}, 2286),
    ):
        answer = helper_client.get(address("marker-wide", batch), wanted)
        assert answer["Content-Type"] == "application/pdf"
        (page,) = PdfReader(io.BytesIO(answer.content)).pages
        assert float(page.mediabox.width) / 72 * 25.4 == pytest.approx(width_mm, abs=1)
    parted = helper_client.get(address("marker-wide", batch), {"roll": "914 mm"})
    assert len(PdfReader(io.BytesIO(parted.content)).pages) == 2


def test_a_bad_width_comes_back_with_what_was_typed(
    helper_client: Client, batch: Batch, subtests: pytest.Subtests
):
    for typed, said in (
        ("10 cm", "at least 25"),
        ("60 m", "at most 508"),
        ("-914 mm", ""),
        ("9" * 400, "too long"),
    ):
        with subtests.test(typed=typed[:9]):
            answer = helper_client.get(address("marker-wide", batch), {"roll": typed})
            assert answer.status_code == 422
            page = answer.content.decode()
            assert f'value="{typed}"' in page
            assert "errorlist" in page
            assert said in page


def test_the_page_tells_how_many_sheets_before_they_are_printed(helper_client: Client, batch: Batch):
    page = helper_client.get(address("lay-marker", batch)).content.decode()
    lay = lay_paper_of(batch.lays.for_page().get(number=1))
    for paper in ("A4", "Letter"):
        found, _ = tiles_of(lay, paper)  # type: ignore[arg-type]
        assert f"a first page with the map, then {len(found.tiles)} sheets to join" in page
        assert pages_of_tiles(found, paper) in page  # type: ignore[arg-type]
    assert page.index("On A4") < page.index("On Letter")
    assert "One page, 1" in page
    assert "Local law" in page


def test_only_once_nested_only_what_is_there_and_only_to_look_at(
    helper_client: Client, client: Client, batch: Batch
):
    names = ("lay-marker", "marker-tiles", "marker-wide")
    page = helper_client.get(address("lay-detail", batch)).content.decode()
    for name in names:
        assert f'href="{address(name, batch)}"' in page
        assert helper_client.get(address(name, batch, 9)).status_code == 404, name
        assert helper_client.post(address(name, batch)).status_code == 405, name
        assert client.get(address(name, batch)).status_code == 302, name
    Marker.objects.update(state=Marker.State.NESTING)
    for name in names:
        answer = helper_client.get(address(name, batch), follow=True)
        assert answer.redirect_chain[-1][0] == address("lay-detail", batch)
        assert "This lay can be taken along once it is nested." in answer.content.decode()


def test_queries_do_not_grow_with_lays_and_bundles(helper_client: Client, style: Style):
    # Where another batch wants the same cloth, there is one question more what rolls are promised to it.
    make_planned_batch(make_order([(style, {"neck": "rib band"}, "ink", {"S": 1})]))
    counts = []
    for sizes in ({"S": 1}, {"S": 2, "M": 4}):
        batch = make_planned_batch(make_order([(style, {"neck": "rib band"}, "ink", sizes)]), bundle_size=2)
        helper_client.get(address("marker-wide", batch))
        with CaptureQueriesContext(connection) as seen:
            helper_client.get(address("marker-wide", batch))
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_rolls_stand_on_ticket_and_sheet_in_their_order(helper_client: Client, batch: Batch):
    lay = batch.lays.get(number=1)
    cloth = lay.cloths.first()
    cloth.spreads = 3
    cloth.save()
    batch.bundles.update(quantity=3)
    LayRoll.objects.all().delete()
    kept = Roll.objects.create(fabric_colour=cloth.fabric_colour, number="R-12", shade_lot="4471")
    LayRoll.objects.create(lay_cloth=cloth, roll=None, spreads=1, position=2)
    LayRoll.objects.create(lay_cloth=cloth, roll=kept, spreads=2, position=1)
    with CaptureQueriesContext(connection) as seen:
        parts = rolls_of(batch)[1][0]
    assert len(seen) == 1
    assert [(part.roll, part.shade_lot, part.spreads) for part in parts] == [("R-12", "4471", 2), ("", "", 1)]
    ticket = all_words(helper_client.get(reverse("cut-tickets", args=[batch.number]), {"lay": "1"}).content)
    assert "ink · roll R-12, shade lot 4471" in ticket
    assert "ink · cloth to be bought" in ticket
    assert "1–2" in ticket
    sheet = all_words(helper_client.get(reverse("cut-sheet", args=[batch.number])).content)
    assert "ink: roll R-12, shade lot 4471, 2 plies" in sheet
    assert sheet.index("R-12") < sheet.index("cloth to be bought")


def test_bundle_ticket_and_card_name_the_lay_of_each_cloth(helper_client: Client, batch: Batch):
    """A top of jersey with a neck band of rib."""
    lays = {lay.cloths.first().fabric_colour.fabric.name: lay.number for lay in batch.lays.all()}
    assert lays.keys() == {"jersey", "rib"}
    told = {fabric: f"{fabric}: lay {number}" for fabric, number in lays.items()}
    batch.bundles.update(shade_lot="4471")
    for size in ("A4", "label"):
        answer = helper_client.get(reverse("bundle-tickets", args=[batch.number]), {"paper": size})
        words = all_words(answer.content)
        count = batch.bundles.count()
        assert words.count("4471") >= count
        assert words.count(f"From {told['jersey']}, ply 1 · {told['rib']}, ply ") == count
    page = helper_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    both = "; ".join(told[fabric] for fabric in sorted(lays, key=lambda name: lays[name]))
    assert page.count(f"{both} · not cut yet") == batch.bundles.count()


def test_the_page_counts_the_sheets_that_a_number_beside_a_piece_takes(
    batch: Batch, monkeypatch: pytest.MonkeyPatch
):
    """A strip 2 mm wide on sheets of which each shows 16 mm: its number finds no room on the one sheet of the strip.
    Formerly the page told of that one sheet, and the PDF had three."""
    monkeypatch.setattr(marker_tiles, "SIDE_MM", 97.0)
    empty, _ = marker_tiles.tiles_for([], 530.0, 240.0, "A4")
    middle = sum(empty.seams[0][20:22]) / 2
    narrow = ((middle - 1, 40.0), (middle + 1, 40.0), (middle + 1, 200.0), (middle - 1, 200.0))
    row = batch.lays.for_page().get(number=1)
    real = lay_paper_of(row)
    strip = replace(real.pieces[0], number=1071, outline=narrow)
    alone = replace(real, pieces=(strip,), marker_length_mm=530.0, lay_width_mm=240.0)
    marker = read_marker(row.marker)
    assert marker is not None
    placed = replace(marker.placements[0], outline=narrow)
    laid = replace(marker, length_mm=530.0, lay_width_mm=240.0, placements=(placed,))
    monkeypatch.setattr(exports, "read_marker", lambda _: laid)
    monkeypatch.setattr(exports, "lay_paper_of", lambda _: alone)
    sheets = len(PdfReader(io.BytesIO(marker_tiles.marker_tiles(samples.HEADING, alone))).pages)
    assert sheets > 2
    assert pages_to_join(row, "A4").startswith(f"{sheets} pages of A4: a first page with the map")


def test_where_every_piece_has_room_for_its_number_the_page_asks_nothing_more(
    batch: Batch, django_assert_num_queries: DjangoAssertNumQueries
):
    row = batch.lays.for_page().get(number=1)
    with django_assert_num_queries(0):
        told = pages_to_join(row, "A4")
    assert told == pages_of_tiles(tiles_of(lay_paper_of(row), "A4")[0], "A4")
