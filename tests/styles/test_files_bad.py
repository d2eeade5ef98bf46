"""Pattern files that cannot be read, or not without their grade rules."""

from __future__ import annotations

import io
import zipfile

import pytest

from planner.core.pattern_files.model import MOST_BYTES
from planner.styles import reviewing_uploads
from planner.styles.models import PatternFile, Piece
from tests.core.pattern_makers import DxfFile, PieceBlock, edges_of, rectangle, rules_file, text
from tests.styles import pattern_files as files
from tests.styles.bringing import bring, page_of, review, stored, take, text_of

pytestmark = pytest.mark.django_db


# --- bad files -----------------------------------------------------------------------------------------------


def zipped() -> bytes:
    box = io.BytesIO()
    with zipfile.ZipFile(box, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("top.dxf", b"0" * 5_000_000)
    return box.getvalue()


RULES = b"ASTM/D13Proposal 1 Version: D 6673-04\nAUTHOR: none\nUNITS: METRIC\nGRADE RULE TABLE: t\n"
BAD = {
    "empty": ("top.dxf", b""),
    "blank": ("top.dxf", b"\n\n  \n"),
    "truncated": ("top.dxf", files.top()[:700]),
    "binary": ("top.dxf", bytes(range(256)) * 40),
    "binary drawing": ("top.dxf", b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(200)),
    "wrong extension": ("top.dxf", b"%PDF-1.7\n1 0 obj\n"),
    "a picture": ("top.svg", b"\x89PNG\r\n\x1a\n" + bytes(100)),
    "zip": ("top.dxf", zipped()),
    "too large": ("top.dxf", b"0\n" * (MOST_BYTES // 2 + 1)),
    "no pieces": ("top.svg", files.svg()),
    "entities": (
        "top.svg",
        b'<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><svg xmlns="http://www.w3.org/2000/svg">&b;</svg>',
    ),
    "not closed": ("top.svg", b"<svg><g>"),
    "no number": ("top.svg", files.svg('<g id="a"><path d="M0 0LNaN 1e300L5 5Z"/></g>')),
    "rules alone": ("top.rul", RULES),
}


def test_a_file_that_cannot_be_read_is_refused_by_name_and_nothing_is_kept(
    maker_client, style, subtests
) -> None:
    before = Piece.objects.count()
    for kind, (name, content) in BAD.items():
        for into in (style, None):
            with subtests.test(kind, into=str(into)):
                answer = bring(maker_client, into, files.upload(content, name))
                assert answer.status_code == 422
                page = text_of(answer)
                assert 'class="errorlist"' in page
                assert f"{name}: " in page
                assert not PatternFile.objects.exists()
                assert Piece.objects.count() == before
                assert into or 'value="box top"' in page


def test_one_bad_file_of_several_keeps_none(maker_client, style) -> None:
    answer = bring(maker_client, style, files.upload(files.top()), files.upload(b"x", "other.dxf"))
    assert answer.status_code == 422
    assert "other.dxf: " in text_of(answer)
    assert not PatternFile.objects.exists()


def test_no_file_and_too_many_are_told(maker_client, style) -> None:
    assert "Choose a file first" in text_of(bring(maker_client, style))
    many = [files.upload(files.svg(files.rectangle()), f"p{i}.svg") for i in range(13)]
    assert "At most 12 pattern files at once" in text_of(bring(maker_client, style, *many))
    two = [files.upload(files.top(), "a.dxf"), files.upload(files.top(), "b.dxf")]
    assert "At most one pattern file at once" in text_of(bring(maker_client, None, *two))
    assert not PatternFile.objects.exists()


def test_too_many_files_are_refused_before_any_of_them_is_read(
    maker_client, style, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each may be of 8 MB: a hundred of them would lie in memory at once."""
    read = []
    monkeypatch.setattr(reviewing_uploads, "_read", lambda file: read.append(file.name) or (file.name, b""))
    for ending, count in (("svg", 13), ("rul", 25)):
        many = [files.upload(files.svg(files.rectangle()), f"p{i}.{ending}") for i in range(count)]
        assert f"these are {count}." in text_of(bring(maker_client, style, *many))
    assert read == []


def test_rules_go_with_the_pattern_called_alike(maker_client, style) -> None:
    stray = [files.upload(files.top(), n) for n in ("a.dxf", "b.dxf")] + [files.upload(RULES, "c.rul")]
    assert "c.rul: no pattern file has that name" in text_of(bring(maker_client, style, *stray))


def test_a_piece_drawn_twice_in_a_size_is_told(maker_client, style) -> None:
    twice = (files.rectangle("pocket"), files.rectangle("pocket", 100, 100))
    alone = bring(maker_client, style, files.upload(files.svg(*twice), "pocket.svg"))
    assert alone.status_code == 422
    assert "pocket.svg: pocket: 2 different outlines have this name and size" in text_of(alone)
    drawing = files.svg(*twice, files.rectangle("tab", 30, 60))
    page = page_of(maker_client, review(maker_client, style, drawing, "pocket.svg"))
    assert "<strong>pocket:</strong> 2 different outlines have this name and size" in page
    assert 'value="tab"' in page
    assert 'value="pocket"' not in page


def test_a_hostile_name_is_shown_as_text(maker_client, style) -> None:
    drawing = files.svg('<g id="&lt;script&gt;alert(1)&lt;/script&gt;"><rect width="50" height="60"/></g>')
    address = review(maker_client, style, drawing, "<b>x.svg")
    assert "<script>alert" not in page_of(maker_client, address)
    assert "<b>x" not in page_of(maker_client, address)


def test_a_drawing_of_hundreds_of_shapes_is_no_pattern(maker_client, style) -> None:
    drawing = files.svg(*(files.rectangle(f"p{i}") for i in range(150)))
    answer = bring(maker_client, style, files.upload(drawing, "map.svg"))
    assert answer.status_code == 422
    assert "map.svg: it holds 150 pieces; at most 100 can be taken over." in text_of(answer)


# --- grade rules beside the pattern --------------------------------------------------------------------------


def test_a_base_size_with_its_rules_gives_all_sizes(maker_client) -> None:
    box = rectangle(300, 200)
    body = edges_of(box) + "".join(text(f"# {n}", at) for n, at in enumerate(box, 1))
    drawing = DxfFile(
        [PieceBlock(body=body)], style=["Units: METRIC", "Sample Size: M", "Grade Rule Table: TABLE1"]
    ).content()
    rules = rules_file(
        {
            1: [(0, 0), (0, 0), (0, 0)],
            2: [(-10, 0), (0, 0), (12, 0)],
            3: [(-10, -6), (0, 0), (12, 8)],
            4: [(0, -6), (0, 0), (0, 8)],
        }
    )
    answer = bring(maker_client, None, files.upload(drawing, "box.dxf"), files.upload(rules, "graded.rul"))
    assert answer.status_code == 302
    take(maker_client, answer["Location"], included="yes")
    # Worked out by hand: S is 10 mm shorter and 6 mm narrower than 300 by 200 mm, L 12 mm longer and 8 mm wider.
    assert stored(Piece.objects.get()) == {"S": (290, 194), "M": (300, 200), "L": (312, 208)}


def test_rules_of_another_file_are_refused_and_a_missing_rule_is_told(maker_client, style) -> None:
    drawing = DxfFile(
        [PieceBlock(body=edges_of(rectangle(300, 200)) + text("# 9", (0, 0)))],
        style=["Units: METRIC", "Sample Size: M", "Grade Rule Table: TABLE1"],
    ).content()

    def with_rules(table: str):
        rules = rules_file({1: [(0, 0), (0, 0), (0, 0)]}, table=table)
        return bring(maker_client, style, files.upload(drawing, "box.dxf"), files.upload(rules, "box.rul"))

    answer = with_rules("OTHER")
    assert answer.status_code == 422
    assert "box.rul: these are the rules “OTHER”, but box.dxf asks for “TABLE1”" in text_of(answer)
    assert not PatternFile.objects.exists()
    page = page_of(maker_client, with_rules("TABLE1")["Location"])
    assert "<strong>FRONT M:</strong> no rule with the number 9 in box.rul" in page
    assert "What cannot be taken as it is" in page
