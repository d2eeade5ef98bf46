"""The SVG reader by hand-checkable drawings."""

import math

import pytest

from planner.core.pattern_files import svg_draw, svg_xml
from planner.core.pattern_files.assembling import Remarks
from planner.core.pattern_files.model import PatternFileError, ReadPattern, ReadPiece
from planner.core.pattern_files.svg import read_svg
from planner.core.pattern_files.svg_pieces import name_and_size

MM = 'width="1000mm" height="1000mm" viewBox="0 0 1000 1000"'
#: 300 wide and 400 high, its lower right corner cut off: it looks different in a mirror.
FRONT = '<path d="M0 0H300V300L200 400H0Z"/>'


def drawing(body: str, head: str = MM) -> bytes:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'xmlns:draw="http://example.org/draw" {head}>{body}</svg>'
    ).encode()


def read(body: str, head: str = MM, *, mend: bool = False) -> ReadPattern:
    return read_svg(drawing(body, head), name="tank.svg", mend=mend)


def only(pattern: ReadPattern) -> ReadPiece:
    (piece,) = pattern.pieces
    return piece


def kinds(pattern: ReadPattern) -> set[str]:
    return {finding.kind for finding in pattern.findings}


def refused(content: bytes) -> str:
    with pytest.raises(PatternFileError) as caught:
        read_svg(content, name="tank.svg")
    text = str(caught.value)
    assert text.startswith("tank.svg: ")
    assert "\n" not in text
    return text


# --- where things stand -----------------------------------------------------------------------------------------


def test_upright_piece_is_turned_to_its_grain_and_not_mirrored():
    piece = only(read(f'<g id="front">{FRONT}</g>'))
    # Up the sheet is x, to the left of it is y: the cut corner, below on the right, is at x = 0, y = 0.
    assert set(piece.outline.points) == {
        (400.0, 300.0),
        (400.0, 0.0),
        (100.0, 0.0),
        (0.0, 100.0),
        (0.0, 300.0),
    }
    assert piece.outline.area_mm2 == pytest.approx(300 * 400 - 100 * 100 / 2)
    assert piece.grain_deg == 90.0


def test_assumed_grain_is_said():
    pattern = read(f'<g id="front">{FRONT}</g>')
    assert [(f.level, f.piece) for f in pattern.findings if f.kind == "no grain"] == [("assumed", "front")]


def test_grain_line_turns_the_piece_and_is_no_finding():
    pattern = read(f'<g id="front">{FRONT}<line id="grainline" x1="50" y1="200" x2="250" y2="200"/></g>')
    piece = only(pattern)
    assert piece.grain_deg == 0.0
    assert (piece.outline.length_mm, piece.outline.width_mm) == (300.0, 400.0)
    # The cut corner is at the right below; y is up now.
    assert {(0.0, 0.0), (200.0, 0.0), (300.0, 100.0), (300.0, 400.0), (0.0, 400.0)} == set(
        piece.outline.points
    )
    assert "no grain" not in kinds(pattern)


def test_grain_as_a_drawn_arrow_in_a_layer_of_its_own():
    arrow = '<path d="M100 300L110 290L102 290L102 110L110 110L100 100L90 110L98 110L98 290L90 290Z"/>'
    piece = only(read(f'<g id="front">{FRONT}<g draw:label="Grain">{arrow}</g></g>'))
    assert piece.grain_deg == 90.0


def test_bias_grain():
    piece = only(
        read(
            '<g id="tie"><rect width="200" height="200"/><line id="grain" x1="20" y1="180" x2="180" y2="20"/></g>'
        )
    )
    assert piece.grain_deg == 45.0
    assert piece.outline.length_mm == pytest.approx(200 * 2**0.5)


# --- scale ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "side_mm", "units"),
    [
        ('width="200mm" height="200mm" viewBox="0 0 200 200"', 100.0, "METRIC"),
        ('width="20cm" height="20cm" viewBox="0 0 200 200"', 100.0, "METRIC"),
        ('width="2in" height="2in" viewBox="0 0 2000 2000"', 2.54, "ENGLISH"),
        ('width="144pt" height="144pt" viewBox="0 0 200 200"', 25.4, "METRIC"),
        ('width="200mm" height="400mm" viewBox="0 0 200 200"', 100.0, "METRIC"),
        ('width="200mm" viewBox="0 0 100 100"', 200.0, "METRIC"),
    ],
)
def test_scale_from_width_height_and_view_box(head: str, side_mm: float, units: str):
    pattern = read('<rect id="patch" width="100" height="100"/>', head)
    assert only(pattern).outline.length_mm == pytest.approx(side_mm)
    assert pattern.units == units
    assert "no units" not in kinds(pattern)


def test_uneven_scale_only_where_asked_for():
    head = 'width="200mm" height="400mm" viewBox="0 0 200 200" preserveAspectRatio="none"'
    piece = only(read('<rect id="patch" width="100" height="100"/>', head))
    assert (piece.outline.width_mm, piece.outline.length_mm) == pytest.approx((100.0, 200.0))


@pytest.mark.parametrize(
    "head",
    [
        "",
        'width="960" height="960"',
        'width="960px" height="960px" viewBox="0 0 960 960"',
        'width="100%"',
        'viewBox="0 0 9 9"',
    ],
)
def test_without_a_unit_96_to_the_inch_are_assumed_and_said(head: str):
    pattern = read('<rect id="patch" width="96" height="192"/>', head)
    assert only(pattern).outline.length_mm == pytest.approx(50.8)
    assert [f.level for f in pattern.findings if f.kind == "no units"] == ["assumed"]
    assert not pattern.asks_units


def test_the_makers_own_unit_wins_and_is_said():
    content = drawing('<rect id="patch" width="10" height="20"/>')
    pattern = read_svg(content, name="a.svg", units="in")
    assert only(pattern).outline.length_mm == pytest.approx(508.0)
    assert pattern.units == "asked"
    assert "units" in kinds(pattern)
    assert only(read_svg(content, name="a.svg", units="mm")).outline.length_mm == pytest.approx(20.0)


def test_transforms_nest_and_units_inside_are_pixels():
    body = (
        '<g transform="translate(500 500) scale(2)"><g transform="rotate(90)">'
        '<g id="front" transform="matrix(1 0 0 1 3 4)"><rect width="10" height="30"/></g></g></g>'
    )
    piece = only(read(body))
    assert (piece.outline.length_mm, piece.outline.width_mm) == pytest.approx((20.0, 60.0))
    inch = only(read('<rect id="patch" width="1in" height="2in"/>', ""))
    assert inch.outline.length_mm == pytest.approx(50.8)


def test_inner_drawing_with_its_own_view_box():
    head = 'id="front" x="10" y="10" width="200" height="200" viewBox="0 0 100 100"'
    body = f'<svg {head}><rect width="50" height="25"/></svg>'
    piece = only(read(body))
    assert (piece.outline.width_mm, piece.outline.length_mm) == pytest.approx((100.0, 50.0))


# --- names and sizes --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("labels", "expected"),
    [
        (["front_M"], ("front", "M")),
        (["front-38"], ("front", "38")),
        (["front 2XL"], ("front", "2XL")),
        (["centre front_xs"], ("centre front", "XS")),
        (["front size 12"], ("front", "12")),
        (["front", "M"], ("front", "M")),
        (["M", "front"], ("front", "M")),
        (["size 38", "back yoke"], ("back yoke", "38")),
        (["front", "front_M"], ("front", "M")),
        (["8", "sleeve"], ("sleeve", "8")),
        (["front 2"], ("front 2", "")),
        (["front_left"], ("front_left", "")),
        (["rib"], ("rib", "")),
        ([], ("", "")),
    ],
)
def test_name_and_size(labels: list[str], expected: tuple[str, str]):
    assert name_and_size(labels) == expected


def test_size_in_the_name_is_said_to_be_assumed():
    pattern = read(f'<g id="front_M">{FRONT}</g>')
    assert (only(pattern).name, only(pattern).size) == ("front", "M")
    assert [f.level for f in pattern.findings if f.kind == "sizes"] == ["assumed"]


def test_layers_by_label_sizes_inside():
    body = (
        '<g draw:label="front" id="g1">'
        '<g draw:label="S" id="g2"><rect width="100" height="200"/></g>'
        '<g draw:label="M" id="g3"><rect width="110" height="220"/></g></g>'
        '<g draw:label="back" id="g4"><g draw:label="S" id="g5"><rect x="300" width="90" height="210"/></g></g>'
    )
    pattern = read(body)
    assert [(p.name, p.size, p.outline.width_mm) for p in pattern.pieces] == [
        ("front", "S", 100.0),
        ("front", "M", 110.0),
        ("back", "S", 90.0),
    ]
    assert pattern.sizes == ("S", "M")


def test_escaped_ids():
    assert only(read(f'<g id="front_x20_yoke_x5F_M">{FRONT}</g>')).name == "front yoke"


def test_shapes_outside_named_groups_are_pieces_of_their_own():
    body = (
        '<g id="layer1"><rect id="front" width="100" height="200"/><rect id="back" x="200" width="90" height="200"/>'
        '<rect id="rect33" x="400" width="50" height="60"/></g>'
    )
    assert [p.name for p in read(body).pieces] == ["front", "back", "piece 3"]


def test_graded_nest_drawn_one_in_the_other():
    body = "".join(
        f'<rect id="front_{size}" x="{-w / 2}" y="{-w}" width="{w}" height="{2 * w}"/>'
        for size, w in (("S", 100), ("M", 110), ("L", 120))
    )
    # Lines that end where they began are as closed as any, and keep their names.
    drawn_round = "".join(
        f'<path id="front_{size}" d="M{-w / 2} {-w}h{w}v{2 * w}h{-w}L{-w / 2} {-w}"/>'
        for size, w in (("S", 100), ("M", 110), ("L", 120))
    )
    for around in (body, f'<g id="front">{body}</g>', drawn_round):
        pieces = read(around).pieces
        assert [(p.name, p.size, p.outline.width_mm) for p in pieces] == [
            ("front", "S", 100.0),
            ("front", "M", 110.0),
            ("front", "L", 120.0),
        ]


def test_two_outlines_in_one_group_are_told_apart_and_said():
    pattern = read('<g id="cuff"><rect width="50" height="60"/><rect x="100" width="50" height="60"/></g>')
    assert [p.name for p in pattern.pieces] == ["cuff 1", "cuff 2"]
    assert "two outlines" in kinds(pattern)


def test_the_left_sleeve_of_a_left_and_a_right_one_is_no_large_one():
    rects = [f'<rect id="{{}}" x="{90 * i}" width="50" height="{60 + i}"/>' for i in range(3)]
    for names, expected in (
        (("sleeve_L", "sleeve_R", "back"), [("sleeve_L", ""), ("sleeve_R", ""), ("back", "")]),
        (("sleeve L", "sleeve M", "sleeve R"), [("sleeve", "L"), ("sleeve", "M"), ("sleeve R", "")]),
    ):
        body = "".join(rect.format(name) for rect, name in zip(rects, names, strict=True))
        assert [(p.name, p.size) for p in read(body).pieces] == expected


def test_the_same_piece_twice_in_one_size():
    one, other = '<rect width="50" height="60"/>', '<rect x="99" width="50" height="61"/>'
    pattern = read(f'<g id="cuff_M">{one}</g><g id="cuff_M">{one}</g>')
    assert only(pattern).name == "cuff"
    assert [(f.level, f.piece, f.size) for f in pattern.findings if f.kind == "duplicate"] == [
        ("ignored", "cuff", "M")
    ]
    assert "keep the right one in the file and bring it in again" in refused(
        drawing(f'<g id="cuff_M">{one}</g><g id="cuff_M">{other}</g>')
    )


# --- outlines ---------------------------------------------------------------------------------------------------


def test_edges_at_corners_begin_at_the_same_corner_in_every_size():
    body = '<g id="front_S"><path d="M0 0H100V200H0Z"/></g><g id="front_M"><path d="M410 0V220H300V0Z"/></g>'
    small, medium = read(body).pieces
    assert list(small.outline.edge_lengths_mm()) == ["edge 1", "edge 2", "edge 3", "edge 4"]
    assert [
        medium.outline.edge_lengths_mm()[e] / small.outline.edge_lengths_mm()[e]
        for e in ("edge 1", "edge 2", "edge 3", "edge 4")
    ] == pytest.approx([1.1] * 4)


def test_open_lines_are_chained_whichever_way_they_run():
    body = (
        '<g id="front"><path d="M0 0C50 20 100 20 150 0"/><line x1="0" y1="300" x2="0" y2="0.2"/>'
        '<polyline points="150,300 150,150 150,0"/><path d="M150 300H0"/></g>'
    )
    piece = only(read(body))
    assert len(piece.outline.edges) == 4
    # The curve hangs y = 60·t·(1 − t) into the piece while x = 150·t: 60 · 150 / 6 mm² less.
    assert piece.outline.area_mm2 == pytest.approx(150 * 300 - 1500, abs=5)
    assert piece.mends == ()


def test_line_closed_only_by_its_last_point():
    assert (
        only(read('<g id="front"><path d="M0 0L100 0L100 200L0 200L0 0"/></g>')).outline.area_mm2 == 20000.0
    )


def test_gap_is_asked_and_closed_when_confirmed():
    body = '<g id="front_M"><path d="M5 0H100V200H0V0"/></g>'
    asked = read(body)
    assert asked.pieces == ()
    (finding,) = [f for f in asked.findings if f.kind == "gap"]
    assert finding.level == "ask"
    assert (finding.piece, finding.size) == ("front", "M")
    assert "5.0 mm" in finding.text
    piece = only(read(body, mend=True))
    assert piece.outline.area_mm2 == pytest.approx(20000.0)
    assert piece.mends[0].kind == "gap"
    # The corner at the upper left of the sheet: far along the grain, far across.
    assert piece.mends[0].at == pytest.approx((200.0, 97.5))


def test_wide_gap_is_refused_by_name():
    text = refused(drawing('<g id="front_M"><path d="M50 0H100V200H0V0"/></g>'))
    assert "front, size M" in text
    assert "50.0 mm" in text


def test_crossing_is_asked_and_mended_when_confirmed():
    body = '<g id="front"><path d="M0 0H100V100H300V90H90V200H0Z"/></g>'
    asked = read(body)
    assert [(f.level, f.piece) for f in asked.findings if f.kind == "crossing"] == [("ask", "front")]
    piece = only(read(body, mend=True))
    assert piece.mends[0].kind == "crossing"
    assert piece.outline.polygon.is_valid


def test_half_piece_is_unfolded_on_its_fold_line():
    body = (
        '<g id="front"><path d="M0 0H100V300L80 400H0Z"/><line id="fold" x1="0" y1="0" x2="0" y2="400"/>'
        '<circle id="notch-1" cx="100" cy="200" r="2"/></g>'
    )
    piece = only(read(body))
    assert piece.unfolded
    assert piece.outline.area_mm2 == pytest.approx(2 * (100 * 400 - 20 * 100 / 2))
    assert (piece.outline.length_mm, piece.outline.width_mm) == pytest.approx((400.0, 200.0))
    assert {round(n.y) for n in piece.marks.notches} == {0, 200}


def test_half_piece_drawn_without_its_fold_edge():
    body = '<g id="front"><path d="M0 0H100V400H0"/><line id="mirror" x1="0" y1="-5" x2="0" y2="405"/></g>'
    piece = only(read(body))
    assert piece.outline.area_mm2 == pytest.approx(2 * 100 * 400)
    assert sorted(piece.outline.edge_lengths_mm().values()) == pytest.approx([200, 200, 800])


def test_fold_line_away_from_the_outline_is_refused():
    assert "front" in refused(
        drawing(f'<g id="front">{FRONT}<line id="fold" x1="150" y1="0" x2="150" y2="400"/></g>')
    )


def test_marks_by_their_names():
    body = (
        f'<g id="front">{FRONT}<path id="sew-line" d="M10 10H290"/><path id="internal pleat" d="M50 50V90"/>'
        '<path id="notch" d="M0 100H5"/><path id="path9" d="M100 100H140"/></g>'
    )
    pattern = read(body)
    marks = only(pattern).marks
    assert marks.sew_lines == (((390.0, 290.0), (390.0, 10.0)),)
    assert ((350.0, 250.0), (310.0, 250.0)) in marks.lines
    (notch,) = marks.notches
    # At the left edge of the sheet, pointing right: across the grain, inwards.
    assert (notch.x, notch.y, notch.depth_mm, notch.angle_deg) == pytest.approx((300.0, 300.0, 5.0, 270.0))
    assert len(marks.lines) == 2
    assert "inner lines" in kinds(pattern)


def test_unnamed_closed_line_inside_is_drawn_not_cut():
    pattern = read(f'<g id="front">{FRONT}<rect x="50" y="50" width="80" height="90"/></g>')
    assert only(pattern).marks.lines[0][0] == only(pattern).marks.lines[0][-1]
    assert only(pattern).outline.area_mm2 == pytest.approx(115000.0)


# --- what is shown, hidden, referred to ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "hide", ['display="none"', 'style="fill:red; display : none"', 'visibility="hidden"']
)
def test_hidden_layers_are_left_out_and_said(hide: str):
    pattern = read(f'<g id="front">{FRONT}</g><g id="old" {hide}><rect width="90" height="90"/></g>')
    assert only(pattern).name == "front"
    assert "hidden" in kinds(pattern)


def test_symbols_stand_where_they_are_used():
    body = (
        '<defs><symbol id="half" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol>'
        '<path id="strip" d="M0 0H40V400H0Z"/></defs>'
        '<use id="cuff" href="#half" width="50" height="50"/><use id="binding" xlink:href="#strip" x="100"/>'
    )
    assert {p.name: p.outline.area_mm2 for p in read(body).pieces} == pytest.approx(
        {"cuff": 2500.0, "binding": 16000.0}
    )


def test_definitions_alone_draw_nothing():
    assert "no closed outline" in refused(drawing(f'<defs>{FRONT}</defs><clipPath id="c">{FRONT}</clipPath>'))


@pytest.mark.parametrize(
    ("extra", "kind"),
    [
        ('<image href="http://example.org/a.png" width="5" height="5"/>', "image"),
        ('<image href="data:image/svg+xml;base64,PHN2Zy8+" width="5" height="5"/>', "image"),
        ("<script>alert(1)</script>", "script"),
        ('<g onload="alert(1)"/>', "script"),
        ("<style>path{display:none}</style>", "style"),
        ("<text>Front</text>", "text"),
        ("<foreignObject><div/></foreignObject>", "foreignObject"),
        ('<use href="other.svg#front"/>', "reference"),
        ('<use href="#nowhere"/>', "reference"),
    ],
)
def test_what_is_ignored_is_said(extra: str, kind: str):
    pattern = read(f'<g id="front">{FRONT}</g>{extra}')
    assert only(pattern).name == "front"
    assert [f.level for f in pattern.findings if f.kind == kind] == ["ignored"]


def test_elements_of_other_programs_are_not_drawn():
    assert only(read(f'<g id="front">{FRONT}</g><draw:rect width="9" height="9"/>')).name == "front"
    head = 'xmlns:s="http://www.w3.org/2000/svg" width="1in" viewBox="0 0 1 1"'
    prefixed = f'<s:svg {head}><s:rect width="1" height="1"/></s:svg>'
    assert only(read_svg(prefixed.encode(), name="a.svg")).outline.length_mm == pytest.approx(25.4)


# --- refused ----------------------------------------------------------------------------------------------------

ENTITY = '<!DOCTYPE svg [<!ENTITY a "x">]><svg><text>&a;</text></svg>'


@pytest.mark.parametrize(
    "content",
    [
        ENTITY.encode(),
        ('<?xml version="1.0" encoding="UTF-16"?>' + ENTITY).encode("utf-16"),
        b'<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]><svg><path d="&x;"/></svg>',
        b'<!DOCTYPE svg [<!ENTITY % x SYSTEM "http://example.org/x.dtd"> %x;]><svg/>',
        b'<!DOCTYPE svg [<!ATTLIST svg a CDATA "b">]><svg/>',
        b'<!DOCTYPE svg SYSTEM "http://example.org/x.dtd"><svg><text>&x;</text></svg>',
    ],
)
def test_entities_are_refused_in_every_encoding(content: bytes):
    assert "entities" in refused(content)


def test_plain_document_type_of_svg_is_taken():
    head = (
        b'<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    )
    assert only(read_svg(head + drawing(f'<g id="front">{FRONT}</g>'), name="a.svg")).name == "front"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"  \n ", "empty"),
        (b"\x1f\x8b\x08\x00junk", "unpack it first"),
        (b"PK\x03\x04", "unpack it first"),
        (b"\x00\x01\x02\x03", "not a complete SVG"),
        (b"0\nSECTION\n2\nENTITIES\n0\nEOF\n", "not a complete SVG"),
        (b"<svg><path d='M0 0", "not a complete SVG"),
        (b"<html/>", "not an SVG drawing"),
        (b"<?xml version='1.0' encoding='klingon'?><svg/>", "SVG|encoding"),
        (b"<?xml version='1.0' encoding='hex'?><svg/>", "SVG|encoding"),
        (b"<svg/>", "no closed outline"),
        (b"<svg width='1furlong' viewBox='0 0 1 1'><rect width='1' height='1'/></svg>", "furlong"),
        (b"<svg><rect id='a' width='1e300' height='5'/></svg>", "too large"),
        (b"<svg><path d='M0 0LNaN 1L2 2Z'/></svg>", "damaged"),
        (b"<svg><path d='M0 0Linf 1L2 2Z'/></svg>", "damaged"),
        (b"<svg><path d='L5 5'/></svg>", "begin with a move"),
        (b"<svg><g transform='scale(1e9)'><rect width='9' height='9'/></g></svg>", "further away"),
        (b"<svg><rect width='90' height='90' transform='rotate(1 2)'/></svg>", "transform"),
        (b"<svg><rect width='90000' height='90000'/></svg>", "20 m"),
    ],
)
def test_what_is_no_drawing_is_refused_in_one_line(content: bytes, words: str):
    text = refused(content)
    assert any(word in text for word in words.split("|")), text


def test_limits_are_named(monkeypatch: pytest.MonkeyPatch):
    assert "8 MB" in refused(b"<svg>" + b" " * 8_000_001 + b"</svg>")
    assert "60 deep" in refused(b"<svg>" + b"<g>" * 100 + b"</g>" * 100 + b"</svg>")
    curve = "M0 0" + "l1 1" * 30_000
    assert "20,000 points" in refused(f"<svg><path d='{curve}'/></svg>".encode())
    lines = b"<path d='M0 0H9V9Z'/>"
    monkeypatch.setattr(svg_xml, "MOST_ELEMENTS", 50)
    assert "more than 50 elements" in refused(b"<svg>" + lines * 60 + b"</svg>")
    monkeypatch.setattr(svg_draw, "MOST_SHAPES", 20)
    assert "more than 20 lines" in refused(b"<svg>" + lines * 30 + b"</svg>")
    monkeypatch.setattr(svg_draw, "MOST_POINTS", 10)
    assert "more than 10 points" in refused(b"<svg>" + lines * 9 + b"</svg>")


def test_scribbles_and_crowds_are_refused_in_time():
    """Each of these would take minutes or gigabytes if everything were held against everything."""
    remarks = Remarks()
    for number in [*range(30_000)] * 2:
        remarks.add("no sew line", "ask", "no sew line", piece=f"{number}")
    assert len(remarks.findings) == 30_000
    star = " ".join(f"{400 * math.cos(i * 2.399):.2f},{400 * math.sin(i * 2.399):.2f}" for i in range(6_000))
    assert "crosses itself" in refused(drawing(f'<g id="front"><path d="M{star}Z"/></g>'))
    dots = "".join(f'<path d="M{i % 100 * 9} {i // 100 * 9}h3v3h-3z"/>' for i in range(3_000))
    assert "closed lines" in refused(drawing(dots))
    dashes = "".join(f'<path d="M{i % 100 * 9} {i // 100 * 9}h3"/>' for i in range(3_000))
    assert "no outline" in refused(drawing(f'<g id="front">{dashes}</g>'))
    nest = "".join(f'<g id="s{i}a"><rect width="{900 + i / 9}" height="900"/></g>' for i in range(600))
    notches = '<path id="notch" d="M5 100h4"/>' * 300
    assert "places" in refused(drawing(f'<g id="front">{nest}{notches}</g>'))


def test_symbols_that_multiply_are_refused():
    doubling = "".join(
        f'<g id="s{i}"><use href="#s{i - 1}"/><use href="#s{i - 1}"/></g>' for i in range(1, 11)
    )
    text = refused(drawing(f'<defs><g id="s0">{"<g/>" * 2000}</g>{doubling}</defs><use href="#s10"/>'))
    assert "symbols too often" in text
    text = refused(drawing('<g id="a"><use href="#a"/></g>'))
    assert "too deeply" in text


def test_a_damaged_line_does_not_take_the_others_with_it():
    pattern = read(f'<g id="front">{FRONT}</g><g id="back"><path d="M0 0L5"/></g>')
    assert only(pattern).name == "front"
    assert [f.level for f in pattern.findings if "back" in f.text] == ["refused"]


def test_a_piece_called_almost_like_a_mark_is_read_or_told():
    named = "".join(
        f'<g id="{name}"><rect x="{400 * i}" y="10" width="50" height="60"/></g>'
        for i, name in enumerate(("front", "notched collar", "sew-on pocket", "inner pocket, internal"))
    )
    pattern = read(named)
    assert [piece.name for piece in pattern.pieces] == [
        "front", "notched collar", "sew-on pocket", "inner pocket, internal"
    ]  # fmt: skip
    (told,) = [finding for finding in pattern.findings if finding.kind == "called as a line"]
    assert told.level == "assumed"
    assert "inner pocket, internal" in told.text
    assert "own" in told.text
    sizes = '<g id="internal facing"><g id="M">{}</g><g id="L">{}</g></g>'
    facing = read(sizes.format('<rect width="90" height="9"/>', '<path d="M200 0h95v9h-95L200 0"/>'))
    assert [(p.name, p.size, p.outline.area_mm2) for p in facing.pieces] == [
        ("internal facing", "M", 810.0), ("internal facing", "L", 855.0)
    ]  # fmt: skip
    # Within a piece it is a line of that, which is said where it may have been laid there by chance.
    over = read(
        '<rect id="front" width="90" height="90"/><rect id="internal tab" x="9" y="9" width="9" height="9"/>'
    )
    assert len(only(over).marks.lines) == 1
    assert "called as a line" in kinds(over)
    assert "give it another" in refused(drawing('<g id="internal lines"><rect width="9" height="9"/></g>'))
    # Beside the only piece of its group it is no line of that piece, and no second one of its name.
    group = '<g id="front"><rect width="90" height="90"/><rect id="internal tab" x="200" width="9" height="9"/></g>'
    assert (only(read(group)).name, "stray mark" in kinds(read(group))) == ("front", True)
    # Beside the only piece it is no line of that piece; within it, it is.
    alone = '<g id="front"><rect width="90" height="90"/></g><g id="internal"><rect x="{}" width="9" height="9"/></g>'
    assert only(read(alone.format(500))).marks.lines == ()
    assert len(only(read(alone.format(50))).marks.lines) == 1


def test_sizes_that_are_drawn_side_by_side_are_stacked_on_their_lower_end_and_their_middle():
    shapes = [(10, 200, 120), (300, 220, 128), (600, 240, 136)]
    groups = "".join(
        f'<g id="yoke_{size}"><rect x="{x}" y="10" width="{width}" height="{height}"/></g>'
        for size, (x, width, height) in zip("SML", shapes, strict=True)
    )
    boxes = {piece.size: piece.outline.bounds_mm for piece in read(groups).pieces}
    assert boxes == {
        "S": pytest.approx((0.0, 20.0, 120.0, 220.0)),
        "M": pytest.approx((0.0, 10.0, 128.0, 230.0)),
        "L": pytest.approx((0.0, 0.0, 136.0, 240.0)),
    }
