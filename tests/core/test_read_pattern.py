"""The door to the readers: what a file is, is told from its content, and what it is not, in one plain line."""

from __future__ import annotations

import gzip
import io
import sys
import time
import types
import zipfile
from collections.abc import Callable
from functools import cache

import pytest

from planner.core.pattern_files import dxf_tags
from planner.core.pattern_files.dxf import read_dxf
from planner.core.pattern_files.model import MOST_BYTES, MOST_PIECES, PatternFileError, ReadPattern
from planner.core.pattern_files.read import read_pattern
from planner.core.pattern_files.report import pattern_report
from tests.core.pattern_makers import (
    DxfFile,
    PieceBlock,
    edges_of,
    line,
    one_piece,
    point,
    polyline,
    rectangle,
    rules_file,
    tags,
)

GOOD = one_piece(edges_of(rectangle(300, 200)))


def zipped(content: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.dxf", content)
    return file.getvalue()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b" \r\n \n", "empty"),
        (zipped(b"0" * 1_000_000), "unpack it first"),
        (gzip.compress(GOOD), "unpack it first"),
        (b"%PDF-1.7 \n", "export the pattern as DXF or SVG"),
        (b"\x89PNG\r\n\x1a\n", "a picture"),
        (b"Some CAD Binary DXF\r\n\x1a\x00" + bytes(200), "export it as an ASCII"),
        (b"AC1027\x00\x00" + bytes(200), "export it as an ASCII"),
        (bytes(range(256)) * 4, "neither a DXF nor an SVG"),
        (b"name,size\nfront,M\n", "neither a DXF nor an SVG"),
        (rules_file({1: [(0, 0)] * 3}), "choose the drawing"),
        (GOOD[: len(GOOD) // 2], "cut off"),
        (GOOD[: GOOD.index(b"ENTITIES") + 40], "cut off"),
        (GOOD.replace(b"VERTEX", b"VER\0EX"), "bytes that are no text"),
        (GOOD.replace(b"\n70\n", b"\nseventy\n", 1), "damaged"),
        (b"0\nSECTION\n2\nENTITIES\n0\nENDSEC\n0\nEOF\n", "no closed outline"),
        (GOOD + b"\n" * MOST_BYTES, "larger than 8 MB"),
        (bytes(20_000_000), "larger than 8 MB"),
    ],
)
def test_what_is_no_drawing_is_refused_in_one_line_with_its_name(content: bytes, said: str) -> None:
    with pytest.raises(PatternFileError) as refused:
        read_pattern(content, name="top.dxf")
    assert str(refused.value).startswith("top.dxf: ")
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_file_that_ends_without_its_end_mark_but_is_whole_is_read() -> None:
    file = DxfFile([PieceBlock(body=edges_of(rectangle(300, 200)))], end="")
    assert len(read_pattern(file.content(), name="top.dxf").pieces) == 1


def test_a_wrong_extension_is_pointed_out_and_the_file_read() -> None:
    pattern = read_pattern(GOOD, name="top.svg")
    assert [f.kind for f in pattern.findings if f.kind == "extension"] == ["extension"]
    assert len(pattern.pieces) == 1
    assert "extension" not in {f.kind for f in read_pattern(GOOD, name="TOP.DXF").findings}


@pytest.mark.parametrize("start", [b"<svg", b"<?xml version='1.0'?><svg", b"\xef\xbb\xbf\n <svg"])
def test_whatever_begins_as_xml_goes_to_the_reader_of_svg(
    monkeypatch: pytest.MonkeyPatch, start: bytes
) -> None:
    asked: list[tuple[bytes, object]] = []
    stand_in = types.ModuleType("planner.core.pattern_files.svg")

    def read_svg(content: bytes, **options: object) -> ReadPattern:
        asked.append((content, options))
        return read_dxf(GOOD, name="top.svg")

    stand_in.read_svg = read_svg  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "planner.core.pattern_files.svg", stand_in)
    pattern = read_pattern(start + b" />", name="top.svg", units="mm", rules=b"x", mend=True)
    assert asked == [(start + b" />", {"name": "top.svg", "units": "mm", "mend": True})]
    assert [f.level for f in pattern.findings if f.kind == "rules"] == ["ignored"]


def many(count: int, entity: str) -> bytes:
    return DxfFile(style=["Units: METRIC"], drawn=entity * count).content()


#: Made when asked for, which takes longer than reading some of them.
BOMBS: dict[str, Callable[[], bytes]] = {
    "100,000 points in one line": lambda: one_piece(
        polyline([(i % 300, i // 300) for i in range(100_000)], closed=True)
    ),
    "10,000 loose lines": lambda: many(10_000, line((0, 0), (3, 4), "a")),
    "points without end": lambda: many(50_000, point((1, 2), "2")),
    "circles that become many points": lambda: many(
        10_000, tags((0, "CIRCLE"), (8, "a"), (10, 0), (20, 0), (40, 9000))
    ),
    "blocks without end": lambda: DxfFile(
        more_blocks=(tags((0, "BLOCK"), (2, "A")) + tags((0, "ENDBLK"))) * (MOST_PIECES + 1)
    ).content(),
    "a spline with 100,000 knots": lambda: many(
        1,
        tags(
            (0, "SPLINE"), (8, "a"), (71, 3), *[(40, i) for i in range(100_000)], *[(10, i) for i in range(9)]
        ),
    ),
    "scribbles": lambda: DxfFile(
        [
            PieceBlock(
                f"P{p}", "M", polyline([(i * 617 % 1009, i * 389 % 1013) for i in range(1_900)], closed=True)
            )
            for p in range(4)
        ]
    ).content(),
    "lines crowding in each layer": lambda: DxfFile(
        style=["Units: METRIC"],
        drawn="".join(
            line((i * 37 % 101, i * 53 % 103), (i * 61 % 107, i * 41 % 109), str(i // 290))
            for i in range(2_900)
        ),
    ).content(),
    "two hundred pairs of ends in reach of each other": lambda: one_piece(
        "".join(line((i % 20 / 2, i // 20 / 2), (5.3 + i % 7, 5.1 + i % 3), "1") for i in range(590))
    ),
    "a block that places itself": lambda: DxfFile(
        style=["Units: METRIC"],
        drawn=tags((0, "INSERT"), (2, "A"), (10, 0), (20, 0)),
        more_blocks=tags((0, "BLOCK"), (2, "A"))
        + tags((0, "INSERT"), (2, "A"), (10, 0), (20, 0), (70, 30_000), (71, 30_000)) * 500
        + tags((0, "ENDBLK")),
    ).content(),
}


@cache
def bomb_of(kind: str) -> bytes:
    """The file, made once."""
    return BOMBS[kind]()


@pytest.mark.parametrize("bomb", BOMBS)
def test_bombs_are_refused_before_they_go_off(bomb: str) -> None:
    content = bomb_of(bomb)
    start = time.process_time()
    with pytest.raises(PatternFileError):
        read_pattern(content, name="bomb.dxf")
    # Generous on purpose, for a busy machine: what goes off takes minutes and gigabytes.
    assert time.process_time() - start < 8


def test_points_beyond_the_limit_are_refused_naming_it() -> None:
    with pytest.raises(PatternFileError, match=r"FRONT, size M: .*more than 20,000 points"):
        read_pattern(bomb_of("100,000 points in one line"), name="bomb.dxf")
    with pytest.raises(PatternFileError, match="more than 2,000 blocks"):
        read_pattern(bomb_of("blocks without end"), name="bomb.dxf")


def test_an_endless_line_is_refused_before_anything_of_it_is_built(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tags of 100,000 points take seconds to be read; that there are so many can be counted at once."""

    def read_at_all(*_: object) -> None:
        raise AssertionError("the tags of the file were read")

    monkeypatch.setattr(dxf_tags, "ascii_tags_loader", read_at_all)
    with pytest.raises(PatternFileError, match=r"FRONT, size M: .*more than 20,000 points"):
        read_pattern(bomb_of("100,000 points in one line"), name="bomb.dxf")
    # One line as long as may be is left to be read, and so are many lines that are long together only.
    lines = "".join(polyline([(i, i % 7) for i in range(9_000)]) for _ in range(3))
    with pytest.raises(AssertionError, match="tags of the file"):
        read_pattern(one_piece(lines), name="long.dxf")


def test_the_report_has_an_entry_for_each_edge_and_the_fields_agreed_on() -> None:
    body = edges_of(rectangle(300, 200)) + line((0, 0), (300, 0), "6")
    report = pattern_report(read_pattern(one_piece(body, texts=["Annotation: 2XRIB"]), name="top.dxf"))
    assert (report["schema"], report["units"]) == ("notchbook-pattern/1", "METRIC")
    (piece,) = report["pieces"]
    wanted = {"name": "FRONT", "size": "M", "area_mm2": 120_000, "width_mm": 300, "height_mm": 400}
    wanted |= {"unfolded": True, "count": None, "count_guess": 2, "grain_deg": 0}
    assert {key: piece[key] for key in wanted} == wanted
    assert sorted(edge["length_mm"] for edge in piece["edges"]) == [300, 300, 400, 400]
    assert len({edge["name"] for edge in piece["edges"]}) == 3
    assert len(piece["outline"]) == 6
    for finding in report["findings"]:
        assert {"level", "piece", "size", "text"} <= finding.keys()
