"""What the DXF writer writes, as ezdxf reads it."""

import io
import math

import ezdxf
import pytest
from ezdxf.document import Drawing
from shapely.geometry import Point

from planner.core.outline import make_outline, rectangle
from planner.core.pattern_files.to_write import PieceToWrite, StyleToWrite
from planner.core.pattern_files.write_dxf import lay_as_dxf, style_as_dxf
from tests.core.written import FRONT, LAY, PIECE, STYLE, style_of


def opened(content: bytes) -> Drawing:
    doc = ezdxf.read(io.StringIO(content.decode("ascii")))
    assert not doc.audit().errors
    return doc


def by_layer(doc: Drawing, block: str) -> dict[str, list]:
    layers: dict[str, list] = {}
    for entity in doc.blocks.get(block):
        layers.setdefault(entity.dxf.layer, []).append(entity)
    return layers


def test_a_block_and_an_insert_for_each_piece_and_size():
    doc = opened(style_as_dxf(STYLE))
    assert doc.dxfversion == "AC1009"
    names = [block.name for block in doc.blocks if not block.name.startswith("*")]
    assert names == ["front_M", "front_L", "neck band_M", "neck band_L"]
    assert [insert.dxf.name for insert in doc.modelspace().query("INSERT")] == names


def test_style_texts_stand_outside_the_blocks():
    texts = [text.dxf.text for text in opened(style_as_dxf(STYLE)).modelspace().query("TEXT")]
    assert {"Style Name: Tank 110", "Sample Size: M", "Units: METRIC"} <= set(texts)


def test_layers_of_a_piece():
    layers = by_layer(opened(style_as_dxf(style_of(PIECE))), "front_M")
    texts = [e.dxf.text for e in layers["1"] if e.dxftype() == "TEXT"]
    assert texts == [
        "Piece Name: front",
        "Size: M",
        "Quantity: 1,1",
        "Material: body",
        "Annotation: cut on one layer",
    ]
    boundary = [e for e in layers["1"] if e.dxftype() == "POLYLINE"]
    assert not any(line.is_closed for line in boundary)
    lengths = [
        sum(
            a.dxf.location.distance(b.dxf.location)
            for a, b in zip(line.vertices, line.vertices[1:], strict=False)
        )
        for line in boundary
    ]
    named = dict(zip([e.dxf.text for e in layers["15"]], lengths, strict=True))
    assert named == pytest.approx({f"Edge: {name}": mm for name, mm in FRONT.edge_lengths_mm().items()})
    assert {e.dxftype() for e in layers["7"]} == {"LINE"}
    assert len(layers["2"]) + len(layers["3"]) == len(FRONT.points)
    assert [(e.dxf.location.z, e.dxf.get("angle", 0.0)) for e in layers["4"]] == [(5.0, 90.0), (4.0, 0.0)]
    assert [e.dxf.thickness > 0 for e in layers["4"]] == [True, False]
    assert len(layers["80"]) == 1
    assert layers["11"][0].is_closed
    assert not layers["8"][0].is_closed
    assert len(layers["13"]) == 2
    assert len(layers["14"]) == 1
    assert len(layers["9"]) == 1


def test_grain_line_runs_along_x_inside_the_piece():
    (line,) = by_layer(opened(style_as_dxf(style_of(PIECE))), "front_M")["7"]
    (x0, y0, _), (x1, y1, _) = line.dxf.start, line.dxf.end
    assert y0 == y1
    assert x1 - x0 > 100
    for share in (0.0, 0.5, 1.0):
        assert FRONT.polygon.contains(Point(x0 + share * (x1 - x0), y0))


def test_inserts_spread_the_pieces_out():
    doc = opened(style_as_dxf(STYLE))
    boxes = []
    for piece, insert in zip(STYLE.pieces, doc.modelspace().query("INSERT"), strict=True):
        x0, y0, x1, y1 = piece.outline.bounds_mm
        dx, dy, _ = insert.dxf.insert
        boxes.append((x0 + dx, y0 + dy, x1 + dx, y1 + dy))
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            assert a[2] < b[0] or b[2] < a[0] or a[3] < b[1] or b[3] < a[1]


def test_a_lay_stands_as_it_lies_on_the_cloth():
    doc = opened(lay_as_dxf(LAY))
    inserts = list(doc.modelspace().query("INSERT"))
    assert [insert.dxf.name for insert in inserts] == ["1 front_M", "2 front_M"]
    for insert, placed in zip(inserts, LAY.placements, strict=True):
        dx, dy, _ = insert.dxf.insert
        drawn = {
            (round(v.dxf.location.x + dx, 6), round(v.dxf.location.y + dy, 6))
            for line in doc.blocks.get(insert.dxf.name).query("POLYLINE")
            for v in line.vertices
        }
        assert drawn == {(round(x, 6), round(y, 6)) for x, y in placed.outline}
    (cloth,) = doc.modelspace().query("POLYLINE")
    assert [tuple(v.dxf.location)[:2] for v in cloth.vertices] == [(0, 0), (1400, 0), (1400, 700), (0, 700)]


def test_block_names_are_plain_and_never_clash():
    twins = (
        PieceToWrite("a/b", "M", rectangle(10, 10)),
        PieceToWrite("a:b", "M", rectangle(10, 10)),
        PieceToWrite("A-B", "M", rectangle(10, 10)),
        PieceToWrite("Ärmel", "M", rectangle(10, 10)),
        PieceToWrite("袖", "", rectangle(10, 10)),
    )
    doc = opened(style_as_dxf(StyleToWrite("s", twins)))
    names = [block.name for block in doc.blocks if not block.name.startswith("*")]
    assert names == ["a-b_M", "a-b_M~2", "A-B_M~3", "Armel_M", "-"]


def test_a_line_break_in_a_name_tears_nothing():
    doc = opened(style_as_dxf(style_of(PieceToWrite("a\n0\nEOF\r", "M", rectangle(10, 10)))))
    (block,) = [block for block in doc.blocks if not block.name.startswith("*")]
    assert "Piece Name: a 0 EOF" in [text.dxf.text for text in block.query("TEXT")]


def test_the_same_pieces_give_the_same_bytes():
    assert style_as_dxf(STYLE) == style_as_dxf(STYLE)


def test_a_piece_twice_in_one_size_is_a_mistake():
    with pytest.raises(ValueError, match="twice"):
        style_as_dxf(StyleToWrite("s", (PIECE, PIECE)))


def test_curves_are_written_as_curve_points():
    circle = [(100 * math.cos(math.tau * i / 90), 100 * math.sin(math.tau * i / 90)) for i in range(90)]
    layers = by_layer(opened(style_as_dxf(style_of(PieceToWrite("yoke", "", make_outline(circle))))), "yoke")
    assert (len(layers["2"]), len(layers["3"])) == (1, 89)
