"""Pattern files of a style and its pieces, downloaded and read back: by our own reader and by ezdxf and svgelements."""

from __future__ import annotations

import io
from collections import Counter
from itertools import pairwise
from math import dist

import ezdxf
import pytest
import svgelements
from django.http import Http404
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries
from shapely.geometry import LineString, Polygon
from shapely.ops import polygonize, unary_union

from planner.common.downloads import LONGEST_NAME, file_name, known_drawing
from planner.core.outline import Edge, Outline, make_outline, outline_from_json, path_length_mm
from planner.core.pattern_files.model import Marks, Notch, ReadPattern
from planner.core.pattern_files.read import read_pattern
from planner.core.seam_lines import allowances_for, seam_lines
from planner.styles.exports import INTERPOLATED, NO_SEWING_LINE, pieces_of, sewing_line, style_to_write
from planner.styles.models import Option, Piece, PieceOutline, Style
from tests.factories import band_outline, make_built_on, make_style

pytestmark = pytest.mark.django_db

SAME_MM = 0.1
KINDS = ["dxf", "svg"]
MARKS = Marks(
    notches=(Notch(300.0, 250.0, "V", 5.0), Notch(300.0, -250.0, "T", 6.0)),
    lines=(((100.0, -50.0), (100.0, 50.0)),),
)


def style_address(number: str, kind: str) -> str:
    return reverse("style-file", args=[number, kind])


def piece_address(piece: Piece, kind: str, number: str = "110") -> str:
    return reverse("piece-file", args=[number, piece.pk, kind])


def kept_name(answer) -> str:
    """The name under which a browser keeps it."""
    disposition = answer["Content-Disposition"]
    assert disposition.startswith("attachment; ")
    return disposition.partition("filename")[2]


def read_back(answer) -> ReadPattern:
    assert answer.status_code == 200
    return read_pattern(answer.content, name="back")


def stored(name: str, size: str) -> Outline:
    return outline_from_json(PieceOutline.objects.get(piece__name=name, size__name=size).shape)


def assert_same(read: Outline, kept: Outline) -> None:
    """Area within 0.1 mm all round, every edge by its name within 0.1 mm, the shapes on each other."""
    assert read.area_mm2 == pytest.approx(kept.area_mm2, abs=SAME_MM * kept.perimeter_mm)
    assert read.edge_lengths_mm() == pytest.approx(kept.edge_lengths_mm(), abs=SAME_MM)
    assert Counter(edge.name for edge in read.edges) == Counter(edge.name for edge in kept.edges)
    apart = read.at_origin().polygon.symmetric_difference(kept.at_origin().polygon)
    assert apart.area <= SAME_MM * kept.perimeter_mm


# --- what is in the files ---------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_a_style_comes_back_whole(maker_client: Client, kind: str):
    make_style(sizes="S M L")
    read = read_back(maker_client.get(style_address("110", kind)))
    assert read.sizes == ("S", "M", "L")
    assert (read.style_name, read.sample_size, read.units) == ("110 box top", "M", "METRIC")
    assert read.piece_names() == ("front", "back", "self neck band", "rib neck band")
    assert len(read.pieces) == 12
    for piece in read.pieces:
        assert_same(piece.outline, stored(piece.name, piece.size))
    assert {p.name: p.role_guess for p in read.pieces}["rib neck band"] == "rib"


@pytest.mark.parametrize("kind", KINDS)
def test_count_pair_and_marks_come_back(maker_client: Client, kind: str):
    make_style()
    Piece.objects.filter(name="front").update(count=2, pair=True)
    PieceOutline.objects.filter(piece__name="front", size__name="XS").update(marks=MARKS.as_json())
    front = Piece.objects.get(name="front")
    (piece,) = read_back(maker_client.get(piece_address(front, kind), {"size": "XS"})).pieces
    assert (piece.count, piece.pair, piece.role_guess) == (2, True, "body")
    # Readers shift a piece so that it begins at the origin; lengths and distances stay.
    (line,) = piece.marks.lines
    assert path_length_mm(line) == pytest.approx(100.0, abs=SAME_MM)
    one, other = piece.marks.notches
    assert {one.kind, other.kind} == {"V", "T"}
    assert dist((one.x, one.y), (other.x, other.y)) == pytest.approx(500.0, abs=SAME_MM)


@pytest.mark.parametrize("kind", KINDS)
def test_the_sewing_line_comes_from_the_allowances(maker_client: Client, kind: str):
    make_style()
    Piece.objects.filter(name="front").update(seam_allowance_mm=10, edge_allowances={"hem": 25})
    front = Piece.objects.get(name="front")
    (piece,) = read_back(maker_client.get(piece_address(front, kind), {"size": "M"})).pieces
    kept = stored("front", "M")
    inner = Polygon(
        [at for path in seam_lines(kept, allowances_for(kept, 10.0, {"hem": 25.0})) for at in path]
    )
    (line,) = piece.marks.sew_lines
    assert Polygon(line).area == pytest.approx(inner.area, abs=SAME_MM * inner.length)
    assert piece.allowance_mm is not None
    assert piece.allowance_mm["hem"] == pytest.approx(25.0, abs=SAME_MM)
    assert piece.allowance_mm["left side"] == pytest.approx(10.0, abs=SAME_MM)


def test_a_sewing_line_from_a_file_is_kept_as_it_is():
    style = make_style(sizes="M")
    drawn = Marks(sew_lines=(((10.0, -200.0), (10.0, 200.0)),))
    PieceOutline.objects.filter(piece__name="front").update(marks=drawn.as_json())
    written = {piece.name: piece for piece in style_to_write(style, pieces_of(style)).pieces}
    assert written["front"].marks.sew_lines == drawn.sew_lines
    assert written["back"].marks.sew_lines[0] != drawn.sew_lines[0]


def test_no_allowance_gives_no_sewing_line_and_too_much_is_said():
    style = make_style(sizes="M")
    Piece.objects.filter(name="front").update(seam_allowance_mm=0)
    Piece.objects.filter(name="back").update(seam_allowance_mm=400)
    written = {piece.name: piece for piece in style_to_write(style, pieces_of(style)).pieces}
    assert (written["front"].marks.sew_lines, written["front"].note) == ((), "")
    assert (written["back"].marks.sew_lines, written["back"].note) == ((), NO_SEWING_LINE)


def test_a_sewing_line_goes_on_past_an_edge_that_is_swallowed():
    """100 by 40 mm with a corner of 2 mm cut off: inset by 10 mm the corner is gone and 80 by 20 mm are left."""
    points = [(0, 0), (100, 0), (100, 38), (98, 40), (0, 40)]
    outline = make_outline(points, [Edge(name, i) for i, name in enumerate("abcde")])
    line = sewing_line(outline, Piece(seam_allowance_mm=10, edge_allowances={"c": 0}))
    assert line[0] == line[-1]
    assert Polygon(line).area == pytest.approx(80 * 20)


@pytest.mark.parametrize("kind", KINDS)
def test_a_size_made_from_its_neighbours_says_so(maker_client: Client, kind: str):
    make_style(sizes="S M L")
    PieceOutline.objects.filter(piece__name="front", size__name="M").update(is_interpolated=True)
    front = Piece.objects.get(name="front")
    assert INTERPOLATED in maker_client.get(piece_address(front, kind), {"size": "M"}).content.decode()
    assert INTERPOLATED not in maker_client.get(piece_address(front, kind), {"size": "S"}).content.decode()


def test_pieces_of_two_options_that_share_a_name_are_told_apart(maker_client: Client):
    base = make_style(sizes="M")
    own = make_built_on(base)
    neck_band = Piece.objects.get(name="self neck band")
    twin = Piece.objects.create(
        style=own, name="self neck band", role=neck_band.role, option=Option.objects.get(name="rib band")
    )
    shape = band_outline(300)
    PieceOutline.objects.create(
        piece=twin, size=base.base_size, shape=shape.as_json(), area_mm2=shape.area_mm2
    )
    for kind in KINDS:
        names = read_back(maker_client.get(style_address("111", kind))).piece_names()
        assert {"self neck band (neck: self band)", "self neck band (neck: rib band)"} <= set(names)
        assert len(names) == 5


@pytest.mark.parametrize("kind", KINDS)
def test_a_style_built_on_another_has_its_pieces_too(maker_client: Client, kind: str):
    base = make_style(sizes="S M")
    own = make_built_on(base)
    front = Piece.objects.create(style=own, name="front", role=base.roles.get(name="body"))
    shape = band_outline(300)
    PieceOutline.objects.create(piece=front, size=base.base_size, shape=shape.as_json(), area_mm2=1.0)
    read = read_back(maker_client.get(style_address("111", kind)))
    # Its own front takes the place of the base's.
    assert read.piece_names() == ("front", "back", "self neck band", "rib neck band")
    assert [piece.size for piece in read.pieces if piece.name == "front"] == ["M"]
    back = Piece.objects.get(name="back")
    answer = maker_client.get(piece_address(back, kind, "111"))
    assert kept_name(answer) == f'="111-back.{kind}"'
    assert read_back(answer).sizes == ("S", "M")
    replaced = Piece.objects.get(name="front", style=base)
    assert maker_client.get(piece_address(replaced, kind, "111")).status_code == 404


def test_a_dxf_as_ezdxf_reads_it(maker_client: Client):
    """Layer 1 closes to the area that is stored, layer 14 lies within; ezdxf is the independent reader."""
    make_style(sizes="S M")
    answer = maker_client.get(style_address("110", "dxf"))
    doc = ezdxf.read(io.StringIO(answer.content.decode("ascii")))
    blocks = [block for block in doc.blocks if not block.name.startswith("*")]
    assert {block.name for block in blocks} >= {"front_S", "front_M", "rib neck band_M"}
    for block in blocks:
        name, _, size = block.name.rpartition("_")
        kept = stored(name, size)
        paths = [
            [tuple(v.dxf.location)[:2] for v in line.vertices] for line in block.query('POLYLINE[layer=="1"]')
        ]
        wanted = sorted(path_length_mm(kept.edge_path(i)) for i in range(len(kept.edges)))
        assert sorted(map(path_length_mm, paths)) == pytest.approx(wanted, abs=SAME_MM)
        (ring,) = polygonize(unary_union([LineString(path) for path in paths]))
        assert ring.area == pytest.approx(kept.area_mm2, abs=SAME_MM * kept.perimeter_mm)
        (sewn,) = block.query('POLYLINE[layer=="14"]')
        assert sewn.is_closed
        inside = Polygon([tuple(v.dxf.location)[:2] for v in sewn.vertices])
        assert ring.covers(inside)
        assert 0 < inside.area < ring.area


def test_an_svg_as_an_independent_library_reads_it(maker_client: Client):
    """svgelements at 25.4 px an inch counts in mm, as CSS defines the two units."""
    make_style(sizes="M")
    front = Piece.objects.get(name="front")
    content = maker_client.get(piece_address(front, "svg"), {"size": "M"}).content
    sheet = svgelements.SVG.parse(io.BytesIO(content), ppi=25.4)
    paths = [element for element in sheet.elements() if isinstance(element, svgelements.Path)]
    kept = stored("front", "M")
    lengths = [
        sum(abs(a - b) for a, b in pairwise([path.first_point, *(segment.end for segment in path[1:])]))
        for path in paths
        if "data-edge" in path.values
    ]
    wanted = sorted(path_length_mm(kept.edge_path(i)) for i in range(len(kept.edges)))
    assert sorted(lengths) == pytest.approx(wanted, abs=SAME_MM)
    (whole,) = [path for path in paths if path.values.get("data-part") == "outline"]
    area = Polygon([(segment.end.x, segment.end.y) for segment in whole if segment.end is not None]).area
    assert area == pytest.approx(kept.area_mm2, abs=SAME_MM * kept.perimeter_mm)


# --- names, kinds, access ---------------------------------------------------------------------------------


def test_names_that_a_person_understands(maker_client: Client):
    make_style("110", "Plover tee")
    front, band = Piece.objects.get(name="front"), Piece.objects.get(name="rib neck band")
    names = [
        maker_client.get(style_address("110", "dxf")),
        maker_client.get(piece_address(front, "svg"), {"size": "M"}),
        maker_client.get(piece_address(band, "dxf")),
    ]
    wanted = ['="110-plover-tee.dxf"', '="110-front-M.svg"', '="110-rib-neck-band.dxf"']
    assert [kept_name(answer) for answer in names] == wanted
    assert [answer["Content-Type"] for answer in names] == [
        "image/vnd.dxf",
        "image/svg+xml",
        "image/vnd.dxf",
    ]
    assert all(answer["X-Content-Type-Options"] == "nosniff" for answer in names)


def test_a_name_beyond_ascii_is_sent_as_utf_8(maker_client: Client):
    """RFC 6266 and RFC 8187 (from memory): filename*=utf-8'' and the bytes of the name in per cent."""
    make_style("110", "Blúza Ą")
    assert kept_name(maker_client.get(style_address("110", "svg"))) == "*=utf-8''110-bl%C3%BAza-%C4%85.svg"
    (read,) = {read_back(maker_client.get(style_address("110", kind))).style_name for kind in KINDS}
    assert read == "110 Blúza Ą"


@pytest.mark.parametrize(
    ("parts", "name"),
    [
        (("110", "plover tee"), "110-plover-tee"),
        (("110", "front", ""), "110-front"),
        (("110", 'a/b\\c:"*?<>|d\n\r;e'), "110-a-b-c-d-e"),
        (("..", "../../etc"), "etc"),
        (("कुर्ता", "S"), "कुर्ता-S"),
        (("///",), "file"),
    ],
)
def test_names_hold_nothing_a_system_stumbles_over(parts: tuple[str, ...], name: str):
    assert file_name(*parts) == name


def test_a_long_name_is_cut():
    assert file_name("110", "x" * 500) == f"110-{'x' * (LONGEST_NAME - 4)}"


def test_other_kinds_and_unknown_sizes_are_not_found(maker_client: Client):
    make_style()
    front = Piece.objects.get(name="front")
    assert maker_client.get(style_address("110", "pdf")).status_code == 404
    assert maker_client.get(style_address("999", "dxf")).status_code == 404
    assert maker_client.get(piece_address(front, "svg"), {"size": "4XL"}).status_code == 404
    make_style("120")
    assert maker_client.get(piece_address(front, "svg", "120")).status_code == 404
    with pytest.raises(Http404):
        known_drawing("exe")


def test_patterns_are_for_makers_and_change_nothing(helper_client: Client, maker_client: Client):
    make_style()
    front = Piece.objects.get(name="front")
    for address in (style_address("110", "dxf"), piece_address(front, "svg")):
        assert helper_client.get(address).status_code == 403
        assert maker_client.post(address).status_code == 405
    assert style_address("110", "dxf") not in helper_client.get("/styles/110/").content.decode()


# --- nothing to write yet ---------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_a_style_without_outlines_says_so(maker_client: Client, kind: str):
    make_style(with_outlines=False)
    answer = maker_client.get(style_address("110", kind), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("style-detail", args=["110"]) + "#section-outlines"
    assert "110 box top has no outlines yet" in answer.content.decode()


def test_a_size_without_an_outline_says_so(maker_client: Client):
    make_style(sizes="S M L")
    front = Piece.objects.get(name="front")
    front.outlines.filter(size__name="M").delete()
    answer = maker_client.get(piece_address(front, "dxf"), {"size": "M"}, follow=True)
    assert "front has no outline in M yet" in answer.content.decode()
    assert read_back(maker_client.get(piece_address(front, "dxf"))).sizes == ("S", "L")
    front.outlines.all().delete()
    answer = maker_client.get(piece_address(front, "dxf"), follow=True)
    assert "front has no outline in any size yet" in answer.content.decode()


# --- where the links stand, and queries -------------------------------------------------------------------


def test_links_stand_at_the_style_and_its_outlines(maker_client: Client):
    style = make_style()
    front = style.pieces.get(name="front")
    page = maker_client.get(reverse("style-detail", args=["110"])).content.decode()
    outline = maker_client.get(
        reverse("outline-edit", args=["110", front.pk]), {"size": "M"}
    ).content.decode()
    for kind in KINDS:
        assert f'href="{style_address("110", kind)}"' in page
        assert f'href="{piece_address(front, kind)}"' in page
        assert f'href="{piece_address(front, kind)}?size=M"' in outline
    front.outlines.filter(size__name="M").delete()
    lacking = maker_client.get(reverse("outline-edit", args=["110", front.pk]), {"size": "M"})
    assert "Take it along" not in lacking.content.decode()


def test_links_of_a_style_built_on_another_lead_to_its_own_files(maker_client: Client):
    make_built_on(make_style())
    page = maker_client.get(reverse("style-detail", args=["111"])).content.decode()
    assert f'href="{piece_address(Piece.objects.get(name="front"), "dxf", "111")}"' in page


@pytest.mark.parametrize("sizes", ["M", "XS S M L XL XXL"])
def test_queries_do_not_grow(
    maker_client: Client, django_assert_num_queries: DjangoAssertNumQueries, sizes: str
):
    """Who asks (two), the style, its pieces, its options, its sizes, the outlines."""
    style: Style = make_style(sizes=sizes)
    make_built_on(style)
    for number in ("110", "111"):
        with django_assert_num_queries(7):
            maker_client.get(style_address(number, "svg"))
        front = Piece.objects.get(name="front")
        with django_assert_num_queries(7):
            maker_client.get(piece_address(front, "dxf", number), {"size": "M"})
