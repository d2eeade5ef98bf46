"""What a file holds more than once, and files that hold nothing."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

from planner.core.outline import Point
from planner.core.pattern_files.assembling import Remarks
from planner.core.pattern_files.model import JOIN_MM, MENDED, Finding, PatternFileError, ReadPiece
from planner.core.pattern_files.rings import Ring

#: Two outlines whose areas differ by no more than this share are the same one twice.
SAME_AREA_SHARE = 1e-4


class Drawn(Protocol):
    """A piece in one size, however far it is read."""

    @property
    def name(self) -> str: ...
    @property
    def size(self) -> str: ...
    @property
    def ring(self) -> Ring: ...


Piece = TypeVar("Piece", bound=Drawn)


def once_each(
    pieces: Sequence[Piece],
    remarks: Remarks,
    *,
    alike: Callable[[Piece, Piece], bool],
    again: Callable[[int], str],
    different: Callable[[int], str],
) -> list[Piece]:
    """Each piece and size once: the same outline again is left out, different ones are all refused.

    `again` and `different` say that there are so many of them.
    """
    by_key: dict[tuple[str, str], list[Piece]] = {}
    for piece in pieces:
        by_key.setdefault((piece.name, piece.size), []).append(piece)
    kept: list[Piece] = []
    for (name, size), same in by_key.items():
        if not all(alike(same[0], other) for other in same[1:]):
            text = f"{different(len(same))}, so none was read: keep the right one in the file and bring it in again"
            remarks.add("duplicate", "refused", text, piece=name, size=size)
            continue
        kept.append(same[0])
        if len(same) > 1:
            text = f"{again(len(same))}; it was read once"
            remarks.add("duplicate", "ignored", text, piece=name, size=size)
    return kept


def as_large(a: Drawn, b: Drawn) -> bool:
    """True for two outlines as large as each other, wherever they lie."""

    def box(piece: Drawn) -> Point:
        xs, ys = zip(*piece.ring.points, strict=True)
        return max(xs) - min(xs), max(ys) - min(ys)

    near = math.isclose(a.ring.area_mm2, b.ring.area_mm2, rel_tol=SAME_AREA_SHARE)
    return near and math.dist(box(a), box(b)) < JOIN_MM


def refuse_empty(pieces: Sequence[ReadPiece], findings: Sequence[Finding], name: str) -> None:
    """Raises PatternFileError where nothing was read and no mend can be asked for either."""
    if pieces or any(finding.level == "ask" and finding.kind in MENDED for finding in findings):
        return
    refused = [finding for finding in findings if finding.level == "refused"]
    if not refused:
        raise PatternFileError(f"{name}: the drawing holds no closed outline")
    more = f" (and {len(refused) - 1} more)" if len(refused) > 1 else ""
    raise PatternFileError(f"{name}: {refused[0].text}{more}")
