"""Pattern files written by hand, whose right answer is known from geometry, held against the readers.

Source: the ASTM D6673 layer list as summarised (layers, texts, units). Areas within 0.1 %, lengths within 0.1 mm.
"""

from __future__ import annotations

import itertools
import json
import math
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from planner.core.pattern_files.model import PatternFileError
from planner.core.pattern_files.read import read_pattern
from tests.outside.pattern_checks import (
    CLOSED,
    FRONT,
    FRONT_AREA,
    FRONT_EDGES,
    HOLLOW_AREA,
    HOLLOW_EDGES,
    SHUFFLED,
    SIDES,
    assert_piece,
    one,
    only,
    piece,
    report,
    said,
)
from tests.outside.pattern_writer import (
    Point,
    Tags,
    arc,
    block,
    drawing,
    ellipse,
    insert,
    length,
    line,
    lwpolyline,
    point,
    polyline,
    rotated,
    shoelace,
    style_texts,
    text,
    to_bytes,
)

#: Half a front on the fold y = 0: hem 250, side 400, armhole, shoulder, a quarter circle of 100 mm for the neck.
NECK = ellipse((600, 0), 100, 100, 90, 180)
HALF_SIDES: list[list[Point]] = [
    [(0, 0), (0, 250)],
    [(0, 250), (400, 250)],
    [(400, 250), (480, 180)],
    [(480, 180), (600, 100)],
    NECK,
]
HALF_CORNERS: list[Point] = [(0, 0), (600, 0), (600, 100), (480, 180), (400, 250), (0, 250)]
HALF_AREA = shoelace(HALF_CORNERS) - math.pi * 100**2 / 4
WHOLE_PERIMETER = 2 * sum(length(side) for side in HALF_SIDES[:4]) + math.pi * 100
FOLD: list[Point] = [(0, 0), (500, 0)]


# The boundary on layer 1 (ASTM D6673 layer list as summarised).


@pytest.mark.parametrize(
    "drawn",
    [
        [CLOSED],
        [polyline([*FRONT, FRONT[0]])],
        [polyline([*FRONT, FRONT[0]], closed=True)],
        [polyline(FRONT[::-1], closed=True)],
        [polyline([p for corner in [*FRONT, FRONT[0]] for p in (corner, corner, corner)])],
        [polyline(side) for side in SHUFFLED],
        [*(polyline(side) for side in SHUFFLED), polyline([(600, 0), (600, 0)]), polyline([(0, 320)])],
        [line(side[0], side[1]) for side in SHUFFLED],
        [lwpolyline(FRONT, closed=True)],
        [*(polyline(side) for side in SHUFFLED), CLOSED],
    ],
    ids=[
        *("closed", "no flag", "flag and repeat", "clockwise", "repeats", "five open lines", "no length"),
        *("LINE", "LWPOLYLINE", "drawn both ways"),
    ],
)
def test_a_boundary_is_the_same_piece_however_it_is_drawn(drawn: list[Tags]) -> None:
    assert_piece(only(one(*drawn)), area=FRONT_AREA, along=600, across=320, edges=FRONT_EDGES)


def test_ends_meet_within_the_tolerance_of_the_file() -> None:
    # ASTM D6673 as summarised: a file names its tolerance; ends of lines meet within it (common practice in files of
    # the trade).
    shaken = [[(x + 0.02 * (k % 2), y - 0.02 * (k % 3)) for x, y in side] for k, side in enumerate(SHUFFLED)]
    assert_piece(only(one(*map(polyline, shaken))), area=FRONT_AREA, along=600, across=320, edges=FRONT_EDGES)


@pytest.mark.parametrize(
    "drawn",
    [
        # A bulge is the tangent of a quarter of the arc's angle (DXF reference, group code 42); a quarter circle here.
        [polyline(FRONT, closed=True, bulges={2: -math.tan(math.pi / 8)})],
        [lwpolyline(FRONT, closed=True, bulges={2: -math.tan(math.pi / 8)})],
        [arc((600, 320), 150, 180, 270), *(line(*SIDES[k]) for k in (3, 0, 4, 1))],
        [
            polyline(ellipse((600, 320), 150, 150, 270, 180)),
            *(polyline(SIDES[k][::-1]) for k in (3, 0, 4, 1)),
        ],
        # Seen from behind: an arc whose plane points down has its x the other way round (DXF reference, OCS).
        [
            [*arc((-600, 320), 150, 270, 0), (210, 0.0), (220, 0.0), (230, -1.0)],
            *(line(*SIDES[k]) for k in (3, 0, 4, 1)),
        ],
    ],
    ids=["bulge", "LWPOLYLINE bulge", "ARC", "points", "ARC from behind"],
)
def test_a_quarter_circle_keeps_its_area_and_length(drawn: list[Tags]) -> None:
    assert_piece(only(one(*drawn)), area=HOLLOW_AREA, along=600, across=320, edges=HOLLOW_EDGES)


def test_turn_points_cut_a_closed_line_into_its_edges() -> None:
    # Layer 2 holds turn points: one on the straight hem, none at the corner (600, 170).
    turns = [point(p, "2") for p in (FRONT[0], (250, 0), FRONT[1], FRONT[3], FRONT[4])]
    through = [FRONT[0], (250.0, 0.0), *FRONT[1:]]
    edges = [250, 350, 170 + 150 * math.sqrt(2), 450, 320]
    assert_piece(only(one(polyline(through, closed=True), *turns)), area=FRONT_AREA, edges=edges)


@pytest.mark.parametrize("degrees", [0, 90, 45, 180])
def test_a_piece_lies_along_its_grain_turned_and_never_mirrored(degrees: float) -> None:
    place = lambda points: rotated(points, degrees, (30, -40))  # noqa: E731
    notches = place([(300, 0), (600, 80), (0, 100)])
    found = only(
        one(
            polyline(place(FRONT), closed=True),
            *(point(at, "4", z=3) for at in notches),
            grain=place([(100, 100), (400, 100)]),
        )
    )
    # A grain line has no head, so 180 is 0.
    assert found["grain_deg"] == pytest.approx(degrees % 180, abs=0.01)
    assert_piece(found, area=FRONT_AREA, along=600, across=320, edges=FRONT_EDGES)
    ring = [*found["outline"], found["outline"][0]]
    for x, y, *_ in found["marks"]["notches"]:
        # On a side: the two distances to its ends make up its length.
        slack = min(
            math.dist(a, (x, y)) + math.dist((x, y), b) - math.dist(a, b) for a, b in itertools.pairwise(ring)
        )
        assert slack < 0.01


def test_no_grain_line_is_said() -> None:
    # Layer 7 holds the grain line (layer list); a piece without one can lie anyhow.
    bare = to_bytes(drawing([block("FRONT_M", text("Piece Name: FRONT"), CLOSED)], style_texts()))
    assert "grain" in said(report(bare), "FRONT")


# The mirror line on layer 6.


@pytest.mark.parametrize("degrees", [0, 30, 90, 270])
@pytest.mark.parametrize("drawn", ["fold drawn", "fold left out", "one closed line"])
def test_half_a_piece_is_unfolded_once(degrees: float, drawn: str) -> None:
    place = lambda points: rotated(points, degrees, (70, -20))  # noqa: E731
    lines = [polyline(place(HALF_SIDES[k][:: -1 if k % 2 else 1])) for k in (1, 0, 4, 2, 3)]
    if drawn == "fold drawn":
        lines.append(polyline(place(FOLD)))
    if drawn == "one closed line":
        around = [(0.0, 0.0), (0.0, 250.0), (400.0, 250.0), (480.0, 180.0), *NECK]
        lines = [polyline(place(around), closed=True)]
    mirror = place(FOLD)
    found = only(
        one(*lines, line(mirror[0], mirror[1], "6"), grain=place([(100, 50), (400, 50)])),
    )
    assert found["unfolded"] is True
    assert found["count"] == 1
    assert_piece(found, area=2 * HALF_AREA, along=600, across=500)
    # The fold is no edge of the whole piece.
    assert sum(edge["length_mm"] for edge in found["edges"]) == pytest.approx(WHOLE_PERIMETER, rel=1e-3)


def test_marks_of_half_a_piece_stand_on_both_sides_but_once_on_the_fold() -> None:
    # Layer 6 is the mirror line of half a piece, 4 notches, 13 drill holes (layer list); the rest is plane geometry.
    found = only(
        one(
            *map(polyline, HALF_SIDES),
            line((0, 0), (500, 0), "6"),
            point((200, 250), "4", z=3),
            point((0, 0), "4", z=3),
            point((300, 100), "13"),
        )
    )
    assert len(found["marks"]["notches"]) == 3
    assert len(found["marks"]["holes"][0]) == 2


def test_a_mirror_line_beside_the_boundary_is_refused_by_piece_and_size() -> None:
    # Half a piece is unfolded on its mirror line (layer 6), so that lies on the boundary.
    with pytest.raises(PatternFileError, match=r"facts\.dxf: FRONT, size M: .*mirror line"):
        read_pattern(one(CLOSED, line((0, -30), (600, -30), "6")), name="facts.dxf")


# Other layers, texts and units.


def test_other_layers_leave_the_outline_alone() -> None:
    marks = [
        point((300, 0), "4", z=3),
        *(point((600, 20.0 * k), layer, z=3) for k, layer in enumerate(("80", "81", "82", "83"), 1)),
        line((150, 0), (150, 5), "4"),
        polyline([(50, 50), (90, 50), (90, 90)], "8"),
        polyline([(200, 200), (220, 200), (220, 220)], "11", closed=True),
        point((300, 150), "13"),
        polyline([(10, 10), (590, 10), (590, 170)], "14"),
        polyline([(590, 170), (450, 310), (10, 310), (10, 10)], "14"),
        polyline(FRONT, "84", closed=True),
    ]
    answer = report(one(CLOSED, *marks))
    (found,) = answer["pieces"]
    assert_piece(found, area=FRONT_AREA, edges=FRONT_EDGES)
    assert len(found["marks"]["notches"]) == 6
    assert len(found["marks"]["sew_lines"]) == 2
    assert "seam allowance" not in said(answer)
    # The sew line runs 10 mm inside, along the cut corner 10 mm along either axis, so 10/√2 across.
    assert sorted(found["allowance_mm"].values()) == pytest.approx(
        [10 / math.sqrt(2), 10, 10, 10, 10], abs=0.05
    )


def test_without_a_sew_line_the_seam_allowance_is_asked() -> None:
    # Layer 14 holds the sew line where the boundary includes the allowance; without it the file does not say.
    asked = [f for f in report(one(CLOSED))["findings"] if f["level"] == "ask"]
    assert [(f["piece"], "seam allowance" in f["text"]) for f in asked] == [("FRONT", True)]


def test_english_units_are_inches_and_the_header_is_not_believed() -> None:
    # Texts of a style: METRIC is mm, ENGLISH inches. Headers of such files often say otherwise (common practice).
    small = [(x / 25.4, y / 25.4) for x, y in FRONT]
    tags = drawing(
        [piece(polyline(small, closed=True))], style_texts("ENGLISH"), header=[(9, "$INSUNITS"), (70, 4)]
    )
    answer = report(to_bytes(tags))
    assert answer["units"] == "ENGLISH"
    assert_piece(answer["pieces"][0], area=FRONT_AREA, along=600, across=320, edges=FRONT_EDGES)


def test_units_that_are_not_said_are_asked_and_the_answer_is_used() -> None:
    # The text Units says them; where it is left out nothing else does. 1 in = 25.4 mm.
    content = one(CLOSED, units=None)
    assert read_pattern(content, name="facts.dxf").asks_units
    answer = report(content, units="in")
    assert answer["units"] == "asked"
    assert_piece(answer["pieces"][0], area=FRONT_AREA * 25.4**2)


@pytest.mark.parametrize(
    ("texts", "block_name", "expected"),
    [
        (["PIECE NAME:FRONT", "sIZE:2XL", "quantity:  2 "], "B", ("FRONT", "2XL", 2, None)),
        (
            ["Piece Name: SIDE_1.A / B", "Size Name: 26", "Quantity: 1,1"],
            "X",
            ("SIDE_1.A / B", "26", 2, None),
        ),
        (["Piece Name: FRONT", "Sample Size: M"], "FRONT", ("FRONT", "M", None, None)),
        (["Size: XL"], "FRONT_TOP.1/2_XL", ("FRONT_TOP.1/2", "XL", None, None)),
        (["Piece Name: FRONT", "Size: M", "Annotation: 2XFABRIC"], "B", ("FRONT", "M", None, 2)),
        (["Piece Name: FRONT", "Size: M", "Category: 1XRIB"], "B", ("FRONT", "M", None, 1)),
        (["Piece Name: FRONT", "Size: M", "Annotation: 2XL"], "B", ("FRONT", "M", None, None)),
    ],
)
def test_texts_of_a_piece(texts: list[str], block_name: str, expected: tuple[Any, ...]) -> None:
    # Texts "Key: value" of a piece in the standard as summarised; the count in a remark, "2XFABRIC", is common
    # practice.
    found = only(one(CLOSED, texts=texts, block_name=block_name))
    assert (found["name"], found["size"], found["count"], found["count_guess"]) == expected


def test_a_remark_against_the_quantity_is_pointed_out() -> None:
    # Quantity is the count of the standard; a remark is only common practice, so it does not win.
    answer = report(
        one(CLOSED, texts=["Piece Name: FRONT", "Size: M", "Quantity: 1", "Annotation: 2XFABRIC"])
    )
    assert answer["pieces"][0]["count"] == 1
    assert "2XFABRIC" in said(answer, "FRONT")


def nest(name: str, shares: dict[str, float], **texts: Any) -> list[Tags]:
    return [
        piece(polyline([(x * k, y * k) for x, y in FRONT], closed=True), name=name, size=size, **texts)
        for size, k in shares.items()
    ]


def test_sizes_in_any_order_keep_their_own_measures_wherever_they_are_placed() -> None:
    shares = {"L": 1.05, "XS": 0.9, "2XL": 1.15, "M": 1.0}
    answer = report(to_bytes(drawing(nest("FRONT", shares), style_texts())))
    found = {p["size"]: p for p in answer["pieces"]}
    assert set(found) == set(shares)
    for size, k in shares.items():
        edges = [k * edge for edge in FRONT_EDGES]
        assert_piece(found[size], area=FRONT_AREA * k * k, along=600 * k, across=320 * k, edges=edges)
    # The nest's edges are numbered alike in every size.
    first = {size: p["edges"][0]["length_mm"] / shares[size] for size, p in found.items()}
    assert max(first.values()) - min(first.values()) < 0.2


def test_a_size_that_one_piece_lacks_is_pointed_out() -> None:
    # By definition: every piece of a style is cut in every size.
    blocks = [*nest("FRONT", {"S": 0.95, "M": 1.0, "L": 1.05}), *nest("BACK", {"S": 0.95, "L": 1.05})]
    answer = report(to_bytes(drawing(blocks, style_texts())))
    (missing,) = [f for f in answer["findings"] if f["level"] == "missing"]
    assert missing["piece"] == "BACK"
    assert "size M" in missing["text"]


def test_sizes_that_stand_only_in_the_names_of_blocks() -> None:
    # Blocks are called <piece>_<size> (common practice).
    blocks = [
        piece(
            polyline([(x * k, y * k) for x, y in FRONT], closed=True),
            texts=["Piece Name: FRONT"],
            block_name=f"FRT_{size}",
        )
        for size, k in {"S": 0.95, "M": 1.0, "L": 1.05}.items()
    ]
    answer = report(to_bytes(drawing(blocks, style_texts())))
    assert [p["size"] for p in answer["pieces"]] == ["S", "M", "L"]


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_line_ends_of_any_system(ending: str) -> None:
    # DXF reference: ASCII, a line each for group code and value; line ends are those of the system.
    tags = drawing([piece(CLOSED)], style_texts())
    assert_piece(only(to_bytes(tags, ending=ending)), area=FRONT_AREA)


def test_letters_of_a_code_page_and_bytes_that_are_none() -> None:
    # DXF reference: text before Release 2007 is in the code page of $DWGCODEPAGE, else that of the system.
    german = to_bytes(drawing([piece(CLOSED, name="Größe")], style_texts()), "cp1252")
    assert only(german)["name"] == "Größe"
    told = drawing([piece(CLOSED, name="앞판")], style_texts(), header=[(9, "$DWGCODEPAGE"), (3, "ANSI_949")])
    assert only(to_bytes(told, "cp949"))["name"] == "앞판"
    broken = one(CLOSED).replace(b"Piece Name: FRONT", b"Piece Name: FR\x81\x8dNT")
    assert_piece(only(broken), area=FRONT_AREA)
    assert "letters" in said(report(broken))


def test_the_piece_is_the_block_itself_however_it_is_placed() -> None:
    # ASTM D6673 as summarised: an INSERT only spreads the pieces out for viewing.
    tags = drawing(
        [piece(CLOSED)],
        [*style_texts(), [*insert("FRONT_M", (900, 70)), (41, 2.0), (42, 2.0), (50, 90.0)]],
        inserts=False,
    )
    assert_piece(only(to_bytes(tags)), area=FRONT_AREA, along=600, across=320, edges=FRONT_EDGES)


# Damage, each with its piece and size.


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (one(CLOSED).replace(b" 20\n170.0\n", b""), "lacks one of its coordinates"),
        (one(lwpolyline(FRONT, closed=True)).replace(b" 20\n170.0\n", b""), "lacks one of its coordinates"),
        (
            one(*(line(a, b) for a, b in SHUFFLED)).replace(b" 20\n170.0\n", b""),
            "lacks one of its coordinates",
        ),
        (one(CLOSED, polyline([(x + 900, y) for x, y in FRONT], closed=True)), "two outlines in one block"),
        (one(polyline([*FRONT, (0.0, 50.0)])), "open by 50.0 mm"),
    ],
)
def test_what_is_damaged_is_refused_by_file_piece_and_size(content: bytes, why: str) -> None:
    with pytest.raises(PatternFileError, match=rf"facts\.dxf: FRONT, size M: .*{why}"):
        read_pattern(content, name="facts.dxf")


@pytest.mark.parametrize(
    ("outline", "why"),
    [
        # A bow tie: its two halves cancel out in the surveyor's formula.
        ([(0.0, 0.0), (400.0, 300.0), (400.0, 0.0), (0.0, 300.0)], "crosses itself"),
        ([*FRONT, (0.0, 5.0)], "open by 5.0 mm"),
    ],
)
def test_what_can_be_mended_is_asked_first(outline: list[Point], why: str) -> None:
    content = one(polyline(outline, closed=why == "crosses itself"))
    answer = report(content)
    assert answer["pieces"] == []
    assert [f["size"] for f in answer["findings"] if f["level"] == "ask" and why in f["text"]] == ["M"]
    assert only(content, mend=True)["mends"]


# Plain drawings.


def test_plain_drawings_give_a_piece_for_each_layer_or_block() -> None:
    pocket = [(900.0, 0.0), (1200.0, 0.0), (1200.0, 100.0), (900.0, 100.0)]
    by_layer = drawing([], [polyline(FRONT, "FRONT", closed=True), polyline(pocket, "POCKET", closed=True)])
    blocks = [
        block("FRONT", polyline(FRONT, "0", closed=True)),
        block("POCKET", polyline(pocket, "0", closed=True)),
    ]
    by_block, never_placed = drawing(blocks), drawing(blocks, inserts=False)
    for tags in (by_layer, by_block, never_placed):
        answer = report(to_bytes(tags), units="mm")
        areas = {p["name"]: p["area_mm2"] for p in answer["pieces"]}
        assert areas == {"FRONT": pytest.approx(FRONT_AREA), "POCKET": pytest.approx(30_000)}


# From the command line.


def test_the_command_writes_the_same_and_needs_units_where_there_are_none(tmp_path: Path) -> None:
    drawn, out = tmp_path / "facts.dxf", tmp_path / "out.json"
    drawn.write_bytes(one(CLOSED, units=None))
    with pytest.raises(CommandError) as refused:
        call_command("read_pattern", str(drawn), "--json", str(out))
    assert str(refused.value).startswith("facts.dxf: ")
    assert len(str(refused.value).splitlines()) == 1
    assert not out.exists()
    call_command("read_pattern", str(drawn), "--units", "mm", "--json", str(out))
    written = json.loads(out.read_text())
    assert written["schema"] == "notchbook-pattern/1"
    assert_piece(written["pieces"][0], area=FRONT_AREA, along=600, across=320, edges=FRONT_EDGES)
