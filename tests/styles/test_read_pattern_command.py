"""`manage.py read-pattern`: files in, JSON out, without a database."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from tests.core.pattern_makers import (
    DxfFile,
    PieceBlock,
    edges_of,
    one_piece,
    polyline,
    rectangle,
    rules_file,
    text,
)

BOX = rectangle(300, 200)


def file_with(folder: Path, content: bytes, name: str = "top.dxf") -> str:
    path = folder / name
    path.write_bytes(content)
    return str(path)


def test_a_file_is_read_and_written_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "new" / "out.json"
    call_command("read_pattern", file_with(tmp_path, one_piece(edges_of(BOX))), "--json", str(out))
    report = json.loads(out.read_text(encoding="utf-8"))
    assert report["schema"] == "notchbook-pattern/1"
    assert report["pieces"][0]["area_mm2"] == 60_000
    assert "graded DXF, 1 piece, sizes: M" in capsys.readouterr().out


def test_grade_rules_beside_it(tmp_path: Path) -> None:
    body = edges_of(BOX) + "".join(text(f"# {n}", at) for n, at in enumerate(BOX, 1))
    move = [(-5.0, 0.0), (0.0, 0.0), (5.0, 0.0)]
    still = [(0.0, 0.0)] * 3
    rules = file_with(tmp_path, rules_file({1: still, 2: move, 3: move, 4: still}), "top.rul")
    out = tmp_path / "out.json"
    call_command("read_pattern", file_with(tmp_path, one_piece(body)), rules, "--json", str(out))
    pieces = json.loads(out.read_text(encoding="utf-8"))["pieces"]
    assert {p["size"]: p["width_mm"] for p in pieces} == {"S": 295, "M": 300, "L": 305}


def test_units_are_asked_for_and_taken(tmp_path: Path) -> None:
    path = file_with(tmp_path, DxfFile([PieceBlock(body=edges_of(BOX))], style=[]).content())
    out = tmp_path / "out.json"
    with pytest.raises(CommandError, match=r"top\.dxf: .*--units mm or --units in") as refused:
        call_command("read_pattern", path, "--json", str(out))
    assert refused.value.returncode == 2
    assert not out.exists()
    call_command("read_pattern", path, "--units", "in", "--json", str(out))
    report = json.loads(out.read_text(encoding="utf-8"))
    assert (report["units"], report["pieces"][0]["width_mm"]) == ("asked", 7620)


def test_a_gap_is_mended_only_when_told_to(tmp_path: Path) -> None:
    path = file_with(tmp_path, one_piece(polyline([(0, 5), (0, 200), (300, 200), (300, 0), (0, 0)])))
    out = tmp_path / "out.json"
    with pytest.raises(CommandError, match=r"^top\.dxf: FRONT, size M: .*open by 5\.0 mm.*--mend") as refused:
        call_command("read_pattern", path, "--json", str(out))
    assert refused.value.returncode == 2
    assert not out.exists()
    call_command("read_pattern", path, "--mend", "--json", str(out))
    (piece,) = json.loads(out.read_text(encoding="utf-8"))["pieces"]
    assert piece["mends"][0]["kind"] == "gap"


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"hello"])
def test_what_is_refused_leaves_no_file_and_says_why_in_one_line(tmp_path: Path, content: bytes) -> None:
    out = tmp_path / "out.json"
    with pytest.raises(CommandError, match=r"^top\.dxf: ") as refused:
        call_command("read_pattern", file_with(tmp_path, content), "--json", str(out))
    assert refused.value.returncode == 2
    assert "\n" not in str(refused.value)
    assert not out.exists()


def test_a_file_that_is_not_there_and_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="No such file") as refused:
        call_command("read_pattern", str(tmp_path / "none.dxf"), "--json", str(tmp_path / "out.json"))
    assert refused.value.returncode == 2
    good = file_with(tmp_path, one_piece(edges_of(BOX)))
    with pytest.raises(CommandError) as refused:
        call_command("read_pattern", good, "--json", str(tmp_path))
    assert refused.value.returncode == 2
