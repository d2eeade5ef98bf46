"""Our reader against files that somebody else's writer wrote, from shapes whose area and length are known.

The writers are those of ezdxf: its own small Release 12 writer, its documents, and its add-on that exports documents
as ASTM D6673 asks for them. Areas and lengths are those of geometry: Archimedes for the circle and the ellipse, the
quadrature of the parabola for a Bézier curve of degree two.
"""

from __future__ import annotations

import importlib
import io
import math
import pkgutil
from pathlib import Path
from typing import Any

import ezdxf
import ezdxf.addons
import pytest
from ezdxf.addons import r12writer
from ezdxf.document import Drawing
from ezdxf.layouts import BlockLayout
from ezdxf.math import BSpline

from planner.core.outline import path_length_mm
from planner.core.pattern_files.model import ReadPattern, ReadPiece
from planner.core.pattern_files.read import read_pattern
from tests.core.pattern_makers import rules_file

#: What the job asks for: areas and lengths of curves within a thousandth.
THOUSANDTH = 1e-3


def d6673_content(doc: Drawing) -> bytes:
    """The document as the add-on for ASTM D6673 exports it."""
    (name,) = [m.name for m in pkgutil.iter_modules(ezdxf.addons.__path__) if m.name.endswith("_D6673")]
    add_on = importlib.import_module(f"ezdxf.addons.{name}")
    stream = io.StringIO()
    add_on.export_stream(doc, stream)
    return stream.getvalue().encode("ascii")


def document_content(doc: Drawing) -> bytes:
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue().encode("utf-8")


def only(content: bytes, **options: Any) -> ReadPiece:
    pattern = read_pattern(content, name="outside.dxf", **options)
    (piece,) = pattern.pieces
    return piece


def lengths(piece: ReadPiece) -> list[float]:
    outline = piece.outline
    return sorted(path_length_mm(outline.edge_path(i)) for i in range(len(outline.edges)))


def test_circle_arcs_and_bulges_of_the_release_12_writer(tmp_path: Path) -> None:
    path = tmp_path / "r12.dxf"
    with r12writer(str(path)) as dxf:
        dxf.add_circle((500, 500), radius=40, layer="patch")
        dxf.add_arc((0, 0), radius=120, start=0, end=90, layer="quarter")
        dxf.add_line((0, 120), (0, 0), layer="quarter")
        dxf.add_line((120, 0), (0, 0), layer="quarter")
        # format "xyb": a bulge of 1 is a half circle, tan(90 deg / 4) a quarter circle.
        quarter = math.tan(math.pi / 8)
        dxf.add_polyline_2d(
            [(0, 0, 0), (200, 0, quarter), (300, 100, 0), (300, 200, 1), (0, 200, 0)],
            format="xyb",
            closed=True,
            layer="bulged",
        )
    pieces = read_pattern(path.read_bytes(), name="r12.dxf", units="mm").of
    circle = pieces("patch")[""].outline
    assert circle.area_mm2 == pytest.approx(math.pi * 40**2, rel=THOUSANDTH)
    assert circle.perimeter_mm == pytest.approx(math.tau * 40, rel=THOUSANDTH)
    sector = pieces("quarter")[""]
    assert sector.outline.area_mm2 == pytest.approx(math.pi * 120**2 / 4, rel=THOUSANDTH)
    assert lengths(sector) == [120, 120, pytest.approx(math.pi * 60, rel=THOUSANDTH)]
    bulged = pieces("bulged")[""].outline
    # The rectangle 300 x 200 less the corner that the quarter circle cuts off, and a half circle on top.
    corner = 100**2 - math.pi * 100**2 / 4
    assert bulged.area_mm2 == pytest.approx(60_000 - corner + math.pi * 150**2 / 2, rel=THOUSANDTH)


def test_quarter_ellipses_and_splines_of_a_document() -> None:
    doc = ezdxf.new("R2010")
    space = doc.modelspace()
    space.add_ellipse(
        (0, 0),
        major_axis=(150, 0),
        ratio=0.4,
        start_param=0,
        end_param=math.pi / 2,
        dxfattribs={"layer": "a"},
    )
    space.add_line((0, 0), (150, 0), dxfattribs={"layer": "a"})
    space.add_line((0, 60), (0, 0), dxfattribs={"layer": "a"})
    space.add_ellipse((0, 0), major_axis=(0, 80), ratio=0.5, dxfattribs={"layer": "whole"})
    # A B-spline of degree two on three control points is a Bézier curve: an arc of the parabola.
    space.add_open_spline([(0, 0), (100, 120), (200, 0)], degree=2, dxfattribs={"layer": "b"})
    space.add_line((0, 0), (200, 0), dxfattribs={"layer": "b"})
    # A rational spline draws a circle exactly.
    arc = BSpline.from_arc(ezdxf.math.ConstructionArc((0, 0), 70, 0, 270))
    space.add_spline(dxfattribs={"layer": "c"}).apply_construction_tool(arc)
    space.add_lwpolyline([(0, -70), (0, 0), (70, 0)], dxfattribs={"layer": "c"})
    pieces = read_pattern(document_content(doc), name="doc.dxf", units="mm").of
    assert pieces("a")[""].outline.area_mm2 == pytest.approx(math.pi * 150 * 60 / 4, rel=THOUSANDTH)
    assert pieces("whole")[""].outline.area_mm2 == pytest.approx(math.pi * 80 * 40, rel=THOUSANDTH)
    # Archimedes, quadrature of the parabola: two thirds of chord times height (60 here, half the control point's).
    assert pieces("b")[""].outline.area_mm2 == pytest.approx(2 / 3 * 200 * 60, rel=THOUSANDTH)
    # Length of a parabola's arc with half chord a and height h, from integral tables.
    a, h = 100.0, 60.0
    root = math.sqrt(a * a + 4 * h * h)
    assert lengths(pieces("b")[""])[1] == pytest.approx(
        root + a * a / (2 * h) * math.asinh(2 * h / a), rel=THOUSANDTH
    )
    assert pieces("c")[""].outline.area_mm2 == pytest.approx(math.pi * 70**2 * 0.75, rel=THOUSANDTH)
    assert lengths(pieces("c")[""])[-1] == pytest.approx(1.5 * math.pi * 70, rel=THOUSANDTH)


def piece_block(doc: Drawing, name: str, size: str, width: float) -> BlockLayout:
    """A half front, its armhole a quarter ellipse, its neckline a quarter circle, on the layers of ASTM D6673."""
    block = doc.blocks.new(f"{name}_{size}")
    block.add_polyline2d([(600, 0), (0, 0), (0, width)], dxfattribs={"layer": "1"})
    block.add_polyline2d([(0, width), (400, width)], dxfattribs={"layer": "1"})
    scye = [(400 + 150 * math.sin(t), width - 60 * (1 - math.cos(t))) for t in _quarter(200)]
    block.add_polyline2d(scye[::-1], dxfattribs={"layer": "1"})
    block.add_polyline2d([scye[-1], (600, 80)], dxfattribs={"layer": "1"})
    neck = [(600 - 80 * math.sin(t), 80 * math.cos(t)) for t in _quarter(200)]
    block.add_polyline2d(neck, dxfattribs={"layer": "1"})
    block.add_line((0, 0), (600, 0), dxfattribs={"layer": "6"})
    block.add_line((100, 50), (300, 50), dxfattribs={"layer": "7"})
    for text in (f"Piece Name: {name}", f"Size: {size}", "Quantity: 1"):
        block.add_text(text, dxfattribs={"layer": "1"})
    doc.modelspace().add_blockref(block.name, (0, 0))
    return block


def _quarter(steps: int) -> list[float]:
    return [math.pi / 2 * i / steps for i in range(steps + 1)]


def graded_document(sizes: dict[str, float]) -> Drawing:
    doc = ezdxf.new("R12")
    for size, width in sizes.items():
        piece_block(doc, "FRONT", size, width)
    for text in ("Style Name: OUTSIDE", "Units: METRIC", "Sample Size: M"):
        doc.modelspace().add_text(text)
    return doc


def half_area(width: float) -> float:
    """By hand: hem to scye a rectangle; under the scye a quarter ellipse added to a rectangle; shoulder a trapezium
    down to the neck; less the quarter circle of the neck."""
    under_scye = 150 * (width - 60) + math.pi * 150 * 60 / 4
    shoulder = 50 * (width - 60 + 80) / 2
    return 400 * width + under_scye + shoulder - math.pi * 80**2 / 4


def nest(pattern: ReadPattern) -> dict[str, float]:
    return {piece.size: piece.outline.area_mm2 for piece in pattern.pieces}


@pytest.mark.parametrize("writer", [d6673_content, document_content])
def test_a_graded_nest_written_by_the_d6673_add_on_and_as_a_document(writer: Any) -> None:
    # Plane geometry of the drawing; ezdxf wrote both files. Two halves on the fold are 500 mm wide.
    sizes = {"M": 260.0, "S": 250.0, "2XL": 300.0}
    pattern = read_pattern(writer(graded_document(sizes)), name="nest.dxf")
    assert (pattern.format, pattern.units, pattern.sizes) == ("graded DXF", "METRIC", ("M", "S", "2XL"))
    assert nest(pattern) == {
        size: pytest.approx(2 * half_area(width), rel=THOUSANDTH) for size, width in sizes.items()
    }
    piece = pattern.of("FRONT")["S"]
    assert piece.unfolded
    assert piece.count == 1
    quarter_circle = math.pi * 80 / 2
    assert any(length == pytest.approx(2 * quarter_circle, rel=THOUSANDTH) for length in lengths(piece))
    assert piece.outline.width_mm == pytest.approx(500)


def test_a_rule_table_against_one_worked_out_by_hand() -> None:
    doc = ezdxf.new("R12")
    block = doc.blocks.new("BAND_M")
    corners = [(0, 0), (500, 0), (500, 60), (0, 60)]
    block.add_polyline2d(corners, close=True, dxfattribs={"layer": "1"})
    for n, corner in enumerate(corners, 1):
        block.add_text(f"# {n}", dxfattribs={"layer": "1", "insert": corner})
        block.add_point(corner, dxfattribs={"layer": "2"})
    for text in ("Piece Name: BAND", "Size: M", "Quantity: 1"):
        block.add_text(text, dxfattribs={"layer": "1"})
    doc.modelspace().add_text("Units: METRIC")
    table = rules_file(
        {
            1: [(0, 0), (0, 0), (0, 0), (0, 0)],
            2: [(-40, 0), (0, 0), (40, 0), (90, 0)],
            3: [(-40, -2.5), (0, 0), (40, 2.5), (90, 5)],
            4: [(0, -2.5), (0, 0), (0, 2.5), (0, 5)],
        },
        sizes="S M L XL",
    )
    pattern = read_pattern(d6673_content(doc), name="band.dxf", rules=table, rules_name="band.rul")
    # Worked out by hand: length + move of point 2, height + move of point 4.
    by_hand = {"S": 460 * 57.5, "M": 500 * 60.0, "L": 540 * 62.5, "XL": 590 * 65.0}
    assert nest(pattern) == {size: pytest.approx(area) for size, area in by_hand.items()}
    assert lengths(pattern.of("BAND")["XL"]) == pytest.approx([65, 65, 590, 590])


def test_inches_are_exactly_25_4_millimetres() -> None:
    """International yard and pound agreement of 1959: one inch is 25.4 mm."""
    doc = ezdxf.new("R12")
    doc.modelspace().add_polyline2d([(0, 0), (10, 0), (10, 4), (0, 4)], close=True)
    doc.modelspace().add_text("Units: ENGLISH")
    piece = only(d6673_content(doc))
    assert (piece.outline.length_mm, piece.outline.width_mm) == (pytest.approx(254), pytest.approx(101.6))
