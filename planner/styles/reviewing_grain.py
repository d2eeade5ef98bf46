"""Pieces of a file that draws no grain, turned to the grain that the maker names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from planner.core.outline import Outline, Point
from planner.core.pattern_files.assembling import placed_marks
from planner.core.pattern_files.model import Path, ReadPattern, ReadPiece

#: The grain lies a quarter turn from where the reader took it to run.
ACROSS = "across"
AS_DRAWN = "drawn"


def without_grain(pattern: ReadPattern) -> frozenset[str]:
    """Names of the pieces for which the file draws no grain."""
    named = {finding.piece for finding in pattern.findings if finding.kind == "no grain"}
    return frozenset(pattern.piece_names()) if "" in named else frozenset(named)


def turned_as_answered(pattern: ReadPattern, answers: Mapping[str, Any]) -> ReadPattern:
    """The file with its grainless pieces a quarter turn further, where that was the answer."""
    names = without_grain(pattern)
    if answers.get("grain") != ACROSS or not names:
        return pattern
    pieces = tuple(quarter_turned(piece) if piece.name in names else piece for piece in pattern.pieces)
    return replace(pattern, pieces=pieces)


def quarter_turned(piece: ReadPiece) -> ReadPiece:
    """The piece turned by 90 degrees to the left, with its edges and marks; its nest of sizes stays together."""

    def place(points: Iterable[Point]) -> Path:
        return tuple((-y, x) for x, y in points)

    outline = Outline(place(piece.outline.points), piece.outline.edges)
    return replace(
        piece,
        outline=outline,
        marks=placed_marks(piece.marks, place, 90.0),
        mends=tuple(mend.moved(place) for mend in piece.mends),
        grain_deg=(piece.grain_deg + 90.0) % 180.0,
    )
