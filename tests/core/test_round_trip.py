"""Whatever is written is read back the same, by our own readers and by independent ones."""

import io
from collections import Counter
from itertools import pairwise

import ezdxf
import pytest
import svgelements
from hypothesis import HealthCheck, given, settings
from shapely.geometry import LineString, Polygon
from shapely.ops import polygonize, unary_union

from planner.core.outline import Outline, path_length_mm
from planner.core.pattern_files.dxf import read_dxf
from planner.core.pattern_files.model import Notch, ReadPattern, ReadPiece
from planner.core.pattern_files.svg import read_svg
from planner.core.pattern_files.to_write import LayToWrite, PieceToWrite, StyleToWrite
from planner.core.pattern_files.write_dxf import lay_as_dxf, style_as_dxf
from planner.core.pattern_files.write_svg import lay_as_svg, style_as_svg
from tests.core.written import LAY, MARKS, PIECE, STYLE, pieces, style_of

SAME_MM = 0.1


def read_both(dxf: bytes, svg: bytes) -> list[ReadPattern]:
    return [read_dxf(dxf, name="out.dxf"), read_svg(svg, name="out.svg")]


def assert_same(read: Outline, written: Outline) -> None:
    """Area, extents, and every edge by name, also how many of it there are; the shapes lie on each other."""
    assert read.area_mm2 == pytest.approx(written.area_mm2, abs=SAME_MM * written.perimeter_mm)
    assert read.edge_lengths_mm() == pytest.approx(written.edge_lengths_mm(), abs=SAME_MM)
    assert Counter(e.name for e in read.edges) == Counter(e.name for e in written.edges)
    apart = read.at_origin().polygon.symmetric_difference(written.at_origin().polygon)
    assert apart.area <= SAME_MM * written.perimeter_mm


def assert_same_piece(read: ReadPiece, written: PieceToWrite) -> None:
    assert (read.name, read.size, read.count) == (written.name, written.size, written.count)
    assert bool(read.pair) == written.pair
    assert read.role_guess == written.role
    assert not read.unfolded
    assert not read.mends
    assert_same(read.outline, written.outline)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(pieces())
def test_any_piece(piece: PieceToWrite):
    for pattern in read_both(style_as_dxf(style_of(piece)), style_as_svg(style_of(piece))):
        (read,) = pattern.pieces
        assert_same_piece(read, piece)
        assert pattern.units == "METRIC"
        assert not pattern.asks_units


def test_style_in_all_sizes():
    for pattern in read_both(style_as_dxf(STYLE), style_as_svg(STYLE)):
        assert (pattern.style_name, pattern.sample_size, pattern.sizes) == ("Tank 110", "M", ("M", "L"))
        for read, written in zip(pattern.pieces, STYLE.pieces, strict=True):
            assert_same_piece(read, written)


def test_lay():
    for pattern in read_both(lay_as_dxf(LAY), lay_as_svg(LAY)):
        assert pattern.piece_names() == ("1 front", "2 front")
        for read, placed in zip(pattern.pieces, LAY.placements, strict=True):
            whole = Outline(placed.outline, read.outline.edges[:1])
            assert read.outline.area_mm2 == pytest.approx(whole.area_mm2, abs=SAME_MM * whole.perimeter_mm)
            assert read.outline.edge_lengths_mm() == pytest.approx(
                {"outline": whole.perimeter_mm}, abs=SAME_MM
            )
            apart = read.outline.at_origin().polygon.symmetric_difference(whole.at_origin().polygon)
            assert apart.area <= SAME_MM * whole.perimeter_mm


def test_an_empty_lay_is_written_too():
    empty = LayToWrite("lay 2", 100.0, 50.0, ())
    assert b"EOF" in lay_as_dxf(empty)
    assert b"</svg>" in lay_as_svg(empty)


def test_marks():
    def points(paths):
        return [pytest.approx(point, abs=SAME_MM) for path in paths for point in path]

    for pattern in read_both(style_as_dxf(style_of(PIECE)), style_as_svg(style_of(PIECE))):
        marks = pattern.pieces[0].marks
        assert [p for path in marks.lines for p in path] == points(MARKS.lines)
        assert [p for path in marks.sew_lines for p in path] == points(MARKS.sew_lines)
        assert [p for path in marks.stripe_lines for p in path] == points(MARKS.stripe_lines)
        assert list(marks.holes) == points([MARKS.holes])
        assert Polygon(marks.cutouts[0]).area == pytest.approx(Polygon(MARKS.cutouts[0]).area)

        def facts(notch: Notch) -> tuple[str, tuple[float, ...]]:
            return notch.kind, (
                round(notch.x, 3),
                round(notch.y, 3),
                round(notch.depth_mm, 3),
                round(notch.angle_deg or 0) % 360,
            )

        assert sorted(map(facts, marks.notches)) == sorted(map(facts, MARKS.notches))


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(pieces())
def test_any_piece_as_independent_readers_see_it(piece: PieceToWrite):
    """ezdxf and svgelements instead of our own readers: area and the length of each edge."""
    wanted = sorted(path_length_mm(piece.outline.edge_path(i)) for i in range(len(piece.outline.edges)))
    doc = ezdxf.read(io.StringIO(style_as_dxf(style_of(piece)).decode("ascii")))
    (block,) = [block for block in doc.blocks if not block.name.startswith("*")]
    drawn = [
        [tuple(v.dxf.location)[:2] for v in line.vertices] for line in block.query('POLYLINE[layer=="1"]')
    ]
    assert sorted(map(path_length_mm, drawn)) == pytest.approx(wanted, abs=SAME_MM)
    (ring,) = polygonize(unary_union([LineString(path) for path in drawn]))
    assert ring.area == pytest.approx(piece.outline.area_mm2, abs=SAME_MM * piece.outline.perimeter_mm)

    sheet = svgelements.SVG.parse(io.BytesIO(style_as_svg(style_of(piece))), ppi=25.4)
    paths = [path for path in sheet.elements() if isinstance(path, svgelements.Path)]
    edges = [
        sum(abs(a - b) for a, b in pairwise([path.first_point, *(segment.end for segment in path[1:])]))
        for path in paths
        if "data-edge" in path.values
    ]
    assert sorted(edges) == pytest.approx(wanted, abs=SAME_MM)
    (whole,) = [path for path in paths if path.values.get("data-part") == "outline"]
    area = Polygon([(segment.end.x, segment.end.y) for segment in whole if segment.end is not None]).area
    assert area == pytest.approx(piece.outline.area_mm2, abs=SAME_MM * piece.outline.perimeter_mm)


def test_an_asymmetric_piece_keeps_its_right_side_up():
    """The same points in the same places, so that nothing was mirrored on the way out or in."""
    piece = PieceToWrite("twist front", "M", PIECE.outline)
    for pattern in read_both(style_as_dxf(style_of(piece)), style_as_svg(style_of(piece))):
        read = {(round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in pattern.pieces[0].outline.points}
        assert read == {(round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in PIECE.outline.points}


def test_style_of_many_sizes_comes_back_in_its_order():
    sizes = ("XS", "M", "S", "2XL", "26")
    style = StyleToWrite(
        "s", tuple(PieceToWrite("front", s, PIECE.outline.scaled(1, 1 + i / 20)) for i, s in enumerate(sizes))
    )
    for pattern in read_both(style_as_dxf(style), style_as_svg(style)):
        assert pattern.sizes == sizes
