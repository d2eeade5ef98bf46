"""A piece of known area and edges, and how what was read of it is held against that.

Areas within 0.1 %, lengths within 0.1 mm.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from planner.core.pattern_files.read import read_pattern
from planner.core.pattern_files.report import pattern_report
from tests.outside.pattern_writer import (
    Point,
    Tags,
    block,
    drawing,
    line,
    polyline,
    shoelace,
    style_texts,
    text,
    to_bytes,
)

#: 600 × 320 mm with one corner cut off at 45°, so that it is the same neither mirrored nor turned.
FRONT = [(0.0, 0.0), (600.0, 0.0), (600.0, 170.0), (450.0, 320.0), (0.0, 320.0)]
FRONT_AREA = 600 * 320 - 150 * 150 / 2
FRONT_EDGES = [600, 170, 150 * math.sqrt(2), 450, 320]
SIDES: list[list[Point]] = [[a, b] for a, b in zip(FRONT, [*FRONT[1:], FRONT[0]], strict=True)]
#: The sides as a file may hold them: in no order, three of them the other way round.
SHUFFLED = [SIDES[3][::-1], SIDES[0], SIDES[4][::-1], SIDES[2], SIDES[1][::-1]]
#: The cut corner as a hollow quarter circle instead.
HOLLOW_AREA = 600 * 320 - math.pi * 150**2 / 4
HOLLOW_EDGES = [600, 170, math.pi * 150 / 2, 450, 320]
CLOSED = polyline(FRONT, closed=True)


def piece(
    *drawn: Tags,
    name: str = "FRONT",
    size: str = "M",
    texts: list[str] | None = None,
    block_name: str = "",
    grain: list[Point] | None = None,
) -> Tags:
    """A block with its texts and, on layer 7, its grain line."""
    words = [f"Piece Name: {name}", f"Size: {size}", "Quantity: 1"] if texts is None else texts
    ends = grain or [(100.0, 100.0), (400.0, 100.0)]
    return block(
        block_name or f"{name}_{size}",
        *(text(word, (5, 5)) for word in words),
        *drawn,
        line(ends[0], ends[1], "7"),
    )


def one(*drawn: Tags, units: str | None = "METRIC", **said: Any) -> bytes:
    """A file with one piece."""
    return to_bytes(drawing([piece(*drawn, **said)], style_texts(units)))


def report(content: bytes, *, name: str = "facts.dxf", **answers: Any) -> dict[str, Any]:
    """What the command writes."""
    return pattern_report(read_pattern(content, name=name, **answers))


def only(content: bytes, **answers: Any) -> dict[str, Any]:
    """The one piece of a file."""
    (found,) = report(content, **answers)["pieces"]
    assert isinstance(found, dict)
    return found


def said(answer: dict[str, Any], piece_name: str = "") -> str:
    """The findings on a piece, or on all of the file."""
    return "\n".join(f["text"] for f in answer["findings"] if piece_name in ("", f["piece"]))


def assert_piece(
    found: dict[str, Any],
    *,
    area: float,
    along: float | None = None,
    across: float | None = None,
    edges: list[float] | None = None,
) -> None:
    assert found["area_mm2"] == pytest.approx(area, rel=1e-3)
    assert shoelace([(x, y) for x, y in found["outline"]]) == pytest.approx(area, rel=1e-3)
    if along is not None:
        assert found["width_mm"] == pytest.approx(along, abs=0.1)
    if across is not None:
        assert found["height_mm"] == pytest.approx(across, abs=0.1)
    if edges is not None:
        measured = [edge["length_mm"] for edge in found["edges"]]
        # The same edges in the same order round the piece; which of them is the first is not fixed.
        turns = [measured[k:] + measured[:k] for k in range(len(measured))]
        assert len(measured) == len(edges)
        assert any(turn == pytest.approx(edges, abs=0.1) for turn in turns), measured
