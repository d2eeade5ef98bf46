"""What the SVG writer writes, as a plain XML reader and the independent library svgelements see it."""

import io
from xml.etree import ElementTree as ET

import pytest
import svgelements

from planner.core.outline import rectangle
from planner.core.pattern_files.model import Marks
from planner.core.pattern_files.to_write import PieceToWrite, StyleToWrite
from planner.core.pattern_files.write_svg import lay_as_svg, style_as_svg
from tests.core.written import FRONT, LAY, PIECE, STYLE, style_of

NS = "{http://www.w3.org/2000/svg}"


def groups(content: bytes) -> dict[str, ET.Element]:
    return {group.get("id", ""): group for group in ET.fromstring(content).iter(f"{NS}g")}


def parts(group: ET.Element) -> list[str]:
    return [path.get("data-part", "") for path in group if path.get("data-part")]


def test_a_group_for_each_piece_and_size():
    found = groups(style_as_svg(STYLE))
    assert list(found) == ["front_M", "front_L", "neck-band_M", "neck-band_L"]
    assert (
        found["front_M"].attrib.items()
        >= {
            "data-piece": "front",
            "data-size": "M",
            "data-count": "2",
            "data-pair": "yes",
            "data-role": "body",
        }.items()
    )


def test_true_scale():
    root = ET.fromstring(style_as_svg(style_of(PIECE)))
    assert (root.get("width"), root.get("height")) == ("330mm", "660mm")
    assert root.get("viewBox", "").split()[2:] == ["330", "660"]


def test_parts_of_a_piece_and_their_lines():
    (group,) = groups(style_as_svg(style_of(PIECE))).values()
    count = {part: parts(group).count(part) for part in parts(group)}
    assert count == {
        "outline": 1,
        "edge": 5,
        "grain": 1,
        "arrow": 2,
        "notch": 3,
        "cutout": 1,
        "internal": 1,
        "sew": 1,
        "stripe": 1,
        "hole": 2,
    }
    dashed = {path.get("data-part") for path in group if path.get("stroke-dasharray")}
    assert dashed == {"edge", "cutout", "internal", "stripe"}
    assert [path.get("data-edge") for path in group if path.get("data-edge")] == [
        edge.name for edge in FRONT.edges
    ]


def test_upright_and_not_mirrored():
    (group,) = groups(style_as_svg(style_of(PIECE))).values()
    outline = next(path for path in group if path.get("data-part") == "outline")
    # x along the grain goes up the sheet, y across it to the left.
    assert outline.get("d") == "M0 0L0 -500L-40 -520L-60 -640L-250 -600L-300 -350L-310 0Z"


def test_names_are_escaped_and_ids_never_clash():
    twins = (PieceToWrite('a<b>&"', "M", rectangle(10, 10)), PieceToWrite("a b   ", "M", rectangle(10, 10)))
    found = groups(style_as_svg(StyleToWrite("<&>\x01", twins)))
    assert len(found) == 2
    assert [group.get("data-piece") for group in found.values()] == ['a<b>&"', "a b   "]


def test_an_independent_reader_sees_the_same_sheet():
    sheet = svgelements.SVG.parse(io.BytesIO(style_as_svg(STYLE)), ppi=25.4)
    boxes = [
        path.bbox()
        for path in sheet.elements()
        if isinstance(path, svgelements.Path) and path.values.get("data-part") == "outline"
    ]
    sizes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in boxes]
    expected = [(piece.outline.width_mm, piece.outline.length_mm) for piece in STYLE.pieces]
    assert [x for size in sizes for x in size] == pytest.approx(
        [x for size in expected for x in size], abs=1e-3
    )
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            assert a[2] < b[0] or b[2] < a[0] or a[3] < b[1] or b[3] < a[1]


def test_a_lay_lies_on_its_cloth():
    content = lay_as_svg(LAY)
    found = groups(content)
    assert [group.get("data-piece") for group in found.values()] == ["1 front", "2 front"]
    cloth = next(e for e in ET.fromstring(content) if e.get("data-part") == "cloth")
    assert cloth.get("d") == "M0 0L1400 0L1400 700L0 700Z"
    first = next(p for p in next(iter(found.values())) if p.get("data-part") == "outline")
    # Lay coordinates have y up: the corner at (0, 0) stands at the foot of the sheet.
    assert (first.get("d") or "").startswith("M0 700L500 700")


def test_a_piece_twice_in_one_size_is_a_mistake():
    with pytest.raises(ValueError, match="twice"):
        style_as_svg(StyleToWrite("s", (PIECE, PIECE)))


def test_the_same_pieces_give_the_same_bytes():
    assert style_as_svg(STYLE) == style_as_svg(STYLE)


def test_what_is_written_on_a_piece_stands_right_of_its_grain_and_clear_of_the_sewing_line():
    sewn = ((7.0, 7.0), (37.0, 7.0), (37.0, 413.0), (7.0, 413.0), (7.0, 7.0))
    piece = PieceToWrite(
        "band", "M", rectangle(44, 420), Marks(sew_lines=(sewn,)), count=1, role="rib", note="two words"
    )
    (group,) = groups(style_as_svg(style_of(piece))).values()
    words = [element for element in group if element.tag == f"{NS}text"]
    assert [element.text for element in words] == ["band M, cut 1, rib", "two words"]
    for element in words:
        height = float(element.get("font-size", ""))
        # Upright, the sheet's y is the piece's −x: the sewing line runs at −37 and −7.
        assert float(element.get("y", "")) - height > -37
        assert float(element.get("y", "")) < -7
        assert -210 < float(element.get("x", "")) < -7
        assert height >= 2
