"""A lay to take along, downloaded and read back: by our own reader, by ezdxf and as plain XML."""

from __future__ import annotations

import io
import re
from xml.etree import ElementTree as ET

import ezdxf
import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries
from shapely.affinity import translate
from shapely.geometry import LineString, Polygon
from shapely.ops import polygonize, unary_union

from planner.core.outline import make_outline, outline_from_json
from planner.core.pattern_files.read import read_pattern
from planner.core.pattern_files.to_write import placed_pieces
from planner.cutting.exports import lay_to_write
from planner.cutting.marker_store import read_marker
from planner.cutting.models import Batch, Marker
from planner.styles.models import PieceOutline
from tests.cutting.once import make_planned_batch
from tests.factories import make_order, make_style

pytestmark = pytest.mark.django_db

SAME_MM = 0.1
KINDS = ["dxf", "svg"]
SIDES = ("left", "right")


@pytest.fixture
def batch() -> Batch:
    return make_planned_batch(make_order([(make_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})]))


def address(batch: Batch, kind: str, number: int = 1) -> str:
    return reverse("lay-file", args=[batch.number, number, kind])


@pytest.mark.parametrize("kind", KINDS)
def test_a_lay_comes_back_piece_by_piece(helper_client: Client, batch: Batch, kind: str):
    answer = helper_client.get(address(batch, kind))
    assert answer.status_code == 200
    marker = read_marker(batch.lays.get(number=1).marker)
    assert marker is not None
    assert len(marker.placements) > 4
    read = read_pattern(answer.content, name="lay")
    assert read.units == "METRIC"
    for number, (piece, placed) in enumerate(zip(read.pieces, marker.placements, strict=True), 1):
        kept = make_outline(placed.outline)
        names = {edge.name for edge in piece.outline.edges}
        if placed.piece in {"front", "back"}:
            assert names == {"hem", "neckline", *(f"{s} {e}" for s in SIDES for e in ("side", "shoulder"))}
            front = outline_from_json(
                PieceOutline.objects.get(piece__name=placed.piece, size__name=placed.size).shape
            )
            assert piece.outline.edge_lengths_mm() == pytest.approx(front.edge_lengths_mm(), abs=SAME_MM)
        assert (piece.name, piece.size) == (f"{number} {placed.piece}", placed.size)
        assert piece.outline.area_mm2 == pytest.approx(kept.area_mm2, abs=SAME_MM * kept.perimeter_mm)
        assert piece.outline.perimeter_mm == pytest.approx(kept.perimeter_mm, abs=SAME_MM)
        apart = piece.outline.at_origin().polygon.symmetric_difference(kept.at_origin().polygon)
        assert apart.area <= SAME_MM * kept.perimeter_mm


def test_in_a_dxf_each_piece_lies_where_it_was_nested(helper_client: Client, batch: Batch):
    """As ezdxf sees it: each INSERT moves its block to the place of the piece on the cloth."""
    marker = read_marker(batch.lays.get(number=1).marker)
    assert marker is not None
    doc = ezdxf.read(io.StringIO(helper_client.get(address(batch, "dxf")).content.decode("ascii")))
    inserts = list(doc.modelspace().query("INSERT"))
    for insert, placed in zip(inserts, marker.placements, strict=True):
        lines = doc.blocks[insert.dxf.name].query('POLYLINE[layer=="1"]')
        paths = [LineString([tuple(v.dxf.location)[:2] for v in line.vertices]) for line in lines]
        (ring,) = polygonize(unary_union(paths))
        there = translate(ring, insert.dxf.insert.x, insert.dxf.insert.y)
        kept = Polygon(placed.outline)
        assert there.symmetric_difference(kept).area <= SAME_MM * kept.length
    (cloth,) = doc.modelspace().query('POLYLINE[layer=="cloth"]')
    corners = [tuple(v.dxf.location)[:2] for v in cloth.vertices]
    assert max(corners) == pytest.approx((marker.length_mm, marker.lay_width_mm), abs=SAME_MM)


def test_an_svg_shows_the_cloth_as_a_line_at_true_scale(helper_client: Client, batch: Batch):
    root = ET.fromstring(helper_client.get(address(batch, "svg")).content)
    marker = read_marker(batch.lays.get(number=1).marker)
    assert marker is not None
    assert root.get("width", "").endswith("mm")
    assert float(root.get("width", "").removesuffix("mm")) == pytest.approx(marker.length_mm + 20, abs=0.01)
    (cloth,) = [path for path in root.iter() if path.get("data-part") == "cloth"]
    assert (cloth.get("fill"), cloth.get("stroke")) == ("none", "#1c1a17")
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", cloth.get("d", ""))]
    assert max(numbers[::2]) == pytest.approx(marker.length_mm, abs=0.01)
    title = next(element.text for element in root if element.tag.endswith("title"))
    assert title == "B-0001 lay 1: jersey, open, face up"


def test_named_after_batch_and_lay(helper_client: Client, batch: Batch):
    assert batch.lays.count() == 2
    answer = helper_client.get(address(batch, "dxf", 2))
    assert answer["Content-Disposition"] == 'attachment; filename="B-0001-lay-2.dxf"'
    assert answer["Content-Type"] == "image/vnd.dxf"
    assert helper_client.get(address(batch, "svg"))["Content-Type"] == "image/svg+xml"


def test_edges_are_left_out_where_the_piece_is_another(batch: Batch):
    """Rather one edge all round than edges at the wrong points."""
    row = batch.lays.for_page().get(number=1)
    assert all(lay_to_write(row).edges)
    points = row.marker.job["items"][0]["outline"]["points"]
    points[0][0] -= 5
    row.marker.save(update_fields=["job"])
    written = lay_to_write(row)
    assert [bool(edges) for edges in written.edges].count(False) == 1
    assert len(placed_pieces(written)) == len(written.placements)


def test_the_page_of_a_lay_leads_there_and_one_not_nested_yet_says_so(helper_client: Client, batch: Batch):
    page = reverse("lay-detail", args=[batch.number, 1])
    shown = helper_client.get(page).content.decode()
    for kind in KINDS:
        assert f'href="{address(batch, kind)}"' in shown
    for state in (Marker.State.WAITING, Marker.State.NESTING, Marker.State.FAILED):
        Marker.objects.update(state=state)
        with pytest.raises(ValueError, match="not nested"):
            lay_to_write(batch.lays.for_page().get(number=1))
    assert "Take it along" not in helper_client.get(page).content.decode()
    answer = helper_client.get(address(batch, "dxf"), follow=True)
    assert answer.redirect_chain[-1][0] == page
    assert "This lay can be taken along once it is nested." in answer.content.decode()


def test_only_what_is_there_and_only_to_look_at(helper_client: Client, client: Client, batch: Batch):
    assert helper_client.get(address(batch, "pdf")).status_code == 404
    assert helper_client.get(address(batch, "dxf", 9)).status_code == 404
    assert helper_client.post(address(batch, "dxf")).status_code == 405
    assert client.get(address(batch, "dxf")).status_code == 302


@pytest.mark.parametrize("kind", KINDS)
def test_queries_are_few(
    helper_client: Client, batch: Batch, django_assert_max_num_queries: DjangoAssertNumQueries, kind: str
):
    """The whole batch is read, for the bundles that a piece goes into follow from all of its lays."""
    with django_assert_max_num_queries(26):
        helper_client.get(address(batch, kind))
